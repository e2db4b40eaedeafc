"""FIELD=VALUE as typed on a command line, in the form an entry keeps it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from advisor.base.errors import RangeError
from advisor.record.canonical import Json
from advisor.record.effective import PLACES
from advisor.record.entry import iso, quantity
from advisor.record.kinds import Field, Kind
from advisor.work.moments import parse_moment

_AMOUNT = re.compile(r"(-?[0-9]+(?:[.,][0-9]+)?)\s*(\S.*)?")


def read_fields(kind: Kind, words: Sequence[str], zone: ZoneInfo) -> dict[str, Json]:
    """Return the data of an entry; InputError names the field that cannot be read.

    A field of rows may stand several times, one row each.
    """
    found: dict[str, Json] = {}
    for word in words:
        name, value = _split(word)
        field = kind.field(name)
        if field.type == "rows" and value:
            rows = found.get(name, [])
            found[name] = [*rows, _row(field, value)] if isinstance(rows, list) else rows
        elif name in found:
            raise RangeError(name, "the field twice", "once")
        else:
            found[name] = read_value(field, value, zone)
    return found


def read_changes(kind: Kind, words: Sequence[str], zone: ZoneInfo) -> dict[str, Json]:
    """Return what a correction changes: fields of the kind, and at, coat, area."""
    places: dict[str, Json] = {}
    rest = []
    for word in words:
        name, value = _split(word)
        if name == "at":
            places[name] = iso(parse_moment(value, zone, "at"), zone.key)
        elif name in PLACES:
            places[name] = value
        else:
            rest.append(word)
    return {**read_fields(kind, rest, zone), **places}


def read_value(field: Field, text: str, zone: ZoneInfo) -> Json:
    """Return one value in the form of its field; "" stays what it is."""
    if not text or field.type == "rows":
        return text
    if field.type == "moment":
        return iso(parse_moment(text, zone, field.key), zone.key)
    if field.type == "quantity":
        return _quantity(field, text)
    if field.type == "quantities":
        return [_quantity(field, one) for one in re.split(r"[;,\s]+", text.strip(" ;,"))]
    return text


def _split(word: str) -> tuple[str, str]:
    name, equals, value = word.partition("=")
    if not equals or not name:
        raise RangeError("field", repr(word), "FIELD=VALUE such as air_temp=18.5")
    return name.strip(), value.strip()


def _quantity(field: Field, text: str) -> Mapping[str, Json]:
    """Return the number as typed, in the unit of the field and no other."""
    match = _AMOUNT.fullmatch(text.strip())
    unit = field.unit or ("L" if match is None else match[2] or "L")
    if match is None or (match[2] or unit) != unit:
        raise RangeError(field.key, repr(text), f"a number in {unit}, such as 18.5")
    return quantity(match[1].replace(",", "."), unit, "typed")


def _row(field: Field, text: str) -> dict[str, Json]:
    row: dict[str, Json] = {}
    for part in text.split(","):
        key, colon, value = part.partition(":")
        if not colon or key.strip() not in field.keys:
            raise RangeError(
                field.key, repr(part), f"KEY:VALUE, KEY one of {', '.join(field.keys)}"
            )
        row[key.strip()] = value.strip()
    return row
