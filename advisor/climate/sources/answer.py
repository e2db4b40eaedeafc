"""Walking through a JSON answer while keeping the place for the error message."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import UTC, datetime

from advisor.climate.sources.source import BadAnswer

#: The largest real answer (51 members, 15 days) is under 3 MB.
MOST_BYTES = 30_000_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LAST_S = 7_258_118_400  # 2200
_MOST_SHOWN = 60
_MOST_REASON = 140
#: Where services put the reason of a refusal.
_REASONS = ("reason", "detail", "title")


@dataclass(frozen=True)
class Node:
    """A value in an answer and where it stands."""

    source: str
    where: str
    value: object

    def bad(self, accepted: str) -> BadAnswer:
        """Return the error for this value."""
        return BadAnswer(self.source, self.where, shown(self.value), accepted)

    def key(self, name: str) -> Node:
        """Return a value that must be there (it may be null)."""
        if not isinstance(self.value, dict):
            raise self.bad(f'an object with "{name}"')
        if name not in self.value:
            raise BadAnswer(self.source, self._below(name), "nothing", f'"{name}"')
        return Node(self.source, self._below(name), self.value[name])

    def maybe(self, name: str) -> Node | None:
        """Return a value, None where it is absent or null."""
        if not isinstance(self.value, dict):
            raise self.bad("an object")
        found = self.value.get(name)
        return None if found is None else Node(self.source, self._below(name), found)

    def path(self, dotted: str) -> Node:
        """Return the value at `a.b.c`."""
        node = self
        for name in dotted.split("."):
            node = node.key(name)
        return node

    def items(self) -> list[Node]:
        """Return the values of a list."""
        if not isinstance(self.value, list):
            raise self.bad("a list")
        return [Node(self.source, f"{self.where}[{i}]", v) for i, v in enumerate(self.value)]

    def some(self) -> list[Node]:
        """Return the values of a list that must not be empty."""
        found = self.items()
        if not found:
            raise BadAnswer(self.source, self.where, "an empty list", "at least one value")
        return found

    def text(self) -> str:
        """Return a text."""
        if not isinstance(self.value, str):
            raise self.bad("a text")
        return self.value

    def number(self) -> float:
        """Return a finite number, NaN for null."""
        if self.value is None:
            return math.nan
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            raise self.bad("a number or null")
        try:
            number = float(self.value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self.bad("a finite number")
        return number

    def time_s(self, offset_s: int | None = None) -> int:
        """Return an ISO 8601 time as UTC seconds.

        A time must tell its offset, unless `offset_s` says by how much the source's local
        times are ahead of UTC.
        """
        try:
            moment = datetime.fromisoformat(self.text())
        except ValueError:
            raise self.bad("a time such as 2031-05-04T14:00:00Z") from None
        if moment.tzinfo is None:
            if offset_s is None:
                raise self.bad("a time with its offset, such as 2031-05-04T14:00:00Z")
            seconds = (moment.replace(tzinfo=UTC) - _EPOCH).total_seconds() - offset_s
        else:
            seconds = (moment - _EPOCH).total_seconds()
        return self._in_calendar(seconds)

    def unix_s(self) -> int:
        """Return a number of seconds since 1970."""
        return self._in_calendar(self.number())

    def _in_calendar(self, seconds: float) -> int:
        if not 0 <= seconds < _LAST_S or seconds != int(seconds):  # NaN fails too
            raise self.bad("a whole second between 1970 and 2200")
        return int(seconds)

    def _below(self, name: str) -> str:
        return f"{self.where}.{name}" if self.where else name


def read_json(source: str, body: bytes) -> Node:
    """Return the object an answer holds, or raise `BadAnswer` (HTML, broken off, a refusal)."""
    if len(body) > MOST_BYTES:
        raise BadAnswer(source, "answer", f"{len(body)} bytes", f"at most {MOST_BYTES} bytes")
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadAnswer(source, "answer", "bytes that are not UTF-8", "JSON") from None
    if not text.strip():
        raise BadAnswer(source, "answer", "nothing", "JSON")
    if text.lstrip().startswith("<"):
        found = "a web page, such as a network's sign-in page"
        raise BadAnswer(source, "answer", found, "JSON")
    value = _loaded(source, text)
    if not isinstance(value, dict):
        raise BadAnswer(source, "answer", shown(value), "an object")
    return Node(source, "", value)


def _loaded(source: str, text: str) -> object:
    try:
        value: object = json.loads(text)
    except json.JSONDecodeError as error:
        found = f"JSON that breaks at character {error.pos} of {len(text)}"
        raise BadAnswer(source, "answer", found, "whole JSON") from None
    except (ValueError, RecursionError):
        raise BadAnswer(source, "answer", "JSON out of all proportion", "whole JSON") from None
    return value


def refuse_refusal(root: Node, wanted: str) -> None:
    """Raise `BadAnswer` with the service's own reason where the answer is a refusal."""
    if isinstance(root.value, dict) and wanted not in root.value:
        for name in _REASONS:
            reason = root.maybe(name)
            if reason is not None and isinstance(reason.value, str):
                found = shown(reason.value, _MOST_REASON)
                raise BadAnswer(root.source, name, found, f'an answer with "{wanted}"')


def shown(value: object, most: int = _MOST_SHOWN) -> str:
    """Write a value of an answer in one short line."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if value is None:
        return "null"
    text = f'"{value}"' if isinstance(value, str) else _digits(value)
    text = "".join(c if c.isprintable() else " " for c in text)
    return text if len(text) <= most else text[: most - 1] + "…"


def _digits(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a huge number"
    return str(value)
