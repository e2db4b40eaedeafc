"""Checks a parsed TOML table against `resources/schemas/product-1.json`.

Knows the part of JSON Schema 2020-12 that file uses, and "date" as a type, since TOML has
dates. It stops at the first fault and says where, what was found and what is accepted.
"""

from __future__ import annotations

import datetime as dt
import difflib
import functools
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from advisor.base.errors import FileFormatError
from advisor.base.paths import resource

Node = Mapping[str, Any]

_TYPE_WORDS = MappingProxyType(
    {
        "object": "a table",
        "array": "a list in square brackets",
        "string": "text in quotes",
        "number": "a number",
        "boolean": "true or false",
        "date": "a date",
    }
)


class _MisfitError(Exception):
    """One value that does not fit; turned into a FileFormatError at the border."""

    def __init__(self, where: str, found: str, accepted: str) -> None:
        super().__init__(where)
        self.where, self.found, self.accepted = where, found, accepted


@functools.cache
def product_schema() -> Node:
    """Read the description of schema 1 of product files."""
    text = resource("schemas", "product-1.json").read_text(encoding="utf-8")
    schema: Node = json.loads(text)
    return schema


def check(value: object, schema: Node, file_name: str) -> None:
    """Raise FileFormatError at the first place where `value` departs from `schema`."""
    try:
        _Checker(schema).node(value, schema, "")
    except _MisfitError as fault:
        raise FileFormatError(file_name, fault.where, fault.found, fault.accepted) from None


def shown(value: object) -> str:
    """Write a found value in a few words, as the user's file has it."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = "".join(c if c.isprintable() else " " for c in text)
    return text if len(text) <= 60 else text[:57] + "..."


def nearest(word: str, words: Sequence[str]) -> str:
    """Return the entry of `words` most like `word`; `words` must not be empty."""
    by_lower = {known.lower(): known for known in words}
    close = difflib.get_close_matches(word.lower(), list(by_lower), n=1, cutoff=0.0)
    return by_lower[close[0]]


def is_number(value: object) -> bool:
    """Whether a TOML value is a finite number (a Boolean is not)."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # an integer beyond the range of floats
        return False


_TYPE_TESTS: Mapping[str, Callable[[object], bool]] = MappingProxyType(
    {
        "object": lambda value: isinstance(value, dict),
        "array": lambda value: isinstance(value, list),
        "string": lambda value: isinstance(value, str),
        "number": is_number,
        "boolean": lambda value: isinstance(value, bool),
        "date": lambda value: isinstance(value, dt.date),
    }
)


@dataclass(frozen=True)
class _Checker:
    root: Node

    def node(self, value: object, node: Node, where: str) -> None:
        """Check one value against one node of the schema."""
        node = self._resolved(node)
        self._choice(value, node, where)
        self._type(value, node, where)
        if isinstance(value, dict):
            self._table(value, node, where)
        elif isinstance(value, list):
            self._list(value, node, where)
        elif isinstance(value, str):
            self._text(value, node, where)
        elif is_number(value):
            self._bounds(value, node, where)

    def _resolved(self, node: Node) -> Node:
        if "$ref" not in node:
            return node
        name = str(node["$ref"]).removeprefix("#/$defs/")
        return {**self.root["$defs"][name], **node}

    def _choice(self, value: object, node: Node, where: str) -> None:
        wanted = node.get("enum", [node["const"]] if "const" in node else None)
        if wanted is not None and not any(_same(value, option) for option in wanted):
            raise _MisfitError(where, shown(value), _options(value, wanted, node))
        options = node.get("anyOf")
        if options is not None and not any(self._fits(value, option, where) for option in options):
            fault = self._deepest(value, options, where)
            raise _MisfitError(fault.where, fault.found, str(node["description"]))

    def _fits(self, value: object, node: Node, where: str) -> bool:
        try:
            self.node(value, node, where)
        except _MisfitError:
            return False
        return True

    def _deepest(self, value: object, options: Sequence[Node], where: str) -> _MisfitError:
        """Return the fault farthest inside the value: the option the user meant."""
        deepest = _MisfitError(where, shown(value), "")
        for option in options:
            try:
                self.node(value, option, where)
            except _MisfitError as fault:
                if len(fault.where) > len(deepest.where):
                    deepest = fault
        return deepest

    def _type(self, value: object, node: Node, where: str) -> None:
        kinds = node.get("type")
        if kinds is None:
            return
        kinds = [kinds] if isinstance(kinds, str) else kinds
        if not any(_TYPE_TESTS[kind](value) for kind in kinds):
            words = " or ".join(_TYPE_WORDS[kind] for kind in kinds)
            raise _MisfitError(where, shown(value), str(node.get("description", words)))

    def _table(self, table: Mapping[str, object], node: Node, where: str) -> None:
        known: Node = node.get("properties", {})
        for key in table:
            if key not in known:
                raise _unknown_key(where, key, list(known))
        for key in node.get("required", ()):
            if key not in table:
                wanted = self._resolved(known[key])
                raise _MisfitError(_inside(where, key), "nothing", _accepted(wanted))
        for key, value in table.items():
            self.node(value, known[key], _inside(where, key))

    def _list(self, values: Sequence[object], node: Node, where: str) -> None:
        low, high = node.get("minItems", 0), node.get("maxItems", math.inf)
        if not low <= len(values) <= high:
            raise _MisfitError(where, shown(values), _accepted(node))
        for index, value in enumerate(values):
            try:
                self.node(value, node.get("items", {}), f"{where}[{index}]")
            except _MisfitError as fault:
                # A painter counts from one, the key from zero: say which value is meant.
                if fault.where == f"{where}[{index}]" and not isinstance(value, dict):
                    fault.found += f" (value {index + 1} of {len(values)})"
                raise

    def _text(self, value: str, node: Node, where: str) -> None:
        fits = node.get("minLength", 0) <= len(value.strip() if "minLength" in node else value)
        fits = fits and len(value) <= node.get("maxLength", math.inf)
        if not fits or ("pattern" in node and not re.fullmatch(node["pattern"], value)):
            raise _MisfitError(where, shown(value), _accepted(node))

    def _bounds(self, value: Any, node: Node, where: str) -> None:
        low, high = node.get("minimum", -math.inf), node.get("maximum", math.inf)
        if not low <= value <= high or value <= node.get("exclusiveMinimum", -math.inf):
            raise _MisfitError(where, shown(value), _accepted(node))


def _same(value: object, option: object) -> bool:
    """Compare without taking `true` for 1."""
    return isinstance(value, bool) == isinstance(option, bool) and value == option


def _inside(where: str, key: str) -> str:
    key = key if re.fullmatch(r"[\w-]+", key) else shown(key)
    return f"{where}.{key}" if where else key


def _accepted(node: Node) -> str:
    if "description" in node:
        return str(node["description"])
    if "enum" in node:
        return _options("", node["enum"], node)
    kind = node.get("type", "number")
    low, high = node.get("minimum", node.get("exclusiveMinimum")), node.get("maximum")
    words = _TYPE_WORDS[kind if isinstance(kind, str) else kind[0]]
    return words if low is None else f"{words}, above {low} and up to {high}"


def _options(value: object, options: Sequence[object], node: Node) -> str:
    if "description" in node:
        return str(node["description"])
    words = [str(option) for option in options]
    listed = ", ".join(f'"{word}"' for word in words)
    if isinstance(value, str) and value and len(words) > 3:
        return f'the nearest is "{nearest(value, words)}"; all: {listed}'
    return f"one of {listed}"


def _unknown_key(where: str, key: str, known: Sequence[str]) -> _MisfitError:
    close = nearest(key, known)
    accepted = f'the nearest key is "{close}"; all here: {", ".join(known)}'
    return _MisfitError(_inside(where, key), "an unknown key", accepted)
