"""Canonical JSON of RFC 8785, for what is hashed: text, whole numbers, yes and no; no fractions.

A measured number is text as it was entered, with its unit beside it, so that no reader rounds it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import TypeAlias, cast

from advisor.base.errors import InputError

Json: TypeAlias = "bool | int | str | Sequence[Json] | Mapping[str, Json] | None"

#: Hash before the first entry of a record.
NO_HASH = "0" * 64


def canonical(value: Json) -> bytes:
    """Return the bytes of RFC 8785; InputError where the value has a fraction or no JSON form."""
    import rfc8785

    _refuse_fractions(value)
    try:
        return rfc8785.dumps(cast("dict[str, int]", value))
    except rfc8785.CanonicalizationError as error:
        raise InputError(f"record: found {error}; accepted: text and whole numbers") from error


def digest(line: bytes) -> str:
    """Return SHA-256 in lower-case hexadecimal."""
    return hashlib.sha256(line).hexdigest()


def parsed(line: bytes) -> dict[str, Json]:
    """Return the object of a stored line."""
    return cast("dict[str, Json]", json.loads(line))


def _refuse_fractions(value: Json) -> None:
    if isinstance(value, float):
        raise InputError(f"record: found the number {value!r}; accepted: numbers as text")
    if isinstance(value, Mapping):
        for inner in value.values():
            _refuse_fractions(inner)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for inner in value:
            _refuse_fractions(inner)
