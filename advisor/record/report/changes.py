"""Corrections on paper: what was, struck through, what is, and who changed it, when and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.record.canonical import Json
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS, Field
from advisor.record.report.blocks import NOT_KEPT, Cell, Run
from advisor.record.report.say import Say


@dataclass(frozen=True)
class Change:
    """One field of one entry as a correction changes it; `by_entry` is the correction."""

    number: int
    field: str
    was: Json
    now: Json
    reason: str
    by_entry: Entry


@dataclass(frozen=True)
class Changes:
    """All corrections of a record, in the order they were made."""

    all: tuple[Change, ...]

    def of(self, number: int, field: str) -> tuple[Change, ...]:
        """Return the corrections of one field of one entry, the first made first."""
        return tuple(c for c in self.all if c.number == number and c.field == field)

    def of_entry(self, number: int) -> tuple[Change, ...]:
        """Return the corrections of one entry."""
        return tuple(c for c in self.all if c.number == number)

    def shown(self, entry: Entry, key: str, say: Say) -> Cell:
        """Return a field: each earlier value struck through, then the one that counts."""
        field = field_of(entry.kind, key)
        found = self.of(entry.number, key)
        first = say.field(field, entry.data.get(key))
        if not found:
            return (Run(first),) if first else ()
        runs = [Run(first or NOT_KEPT, struck=True)]
        for at, change in enumerate(found):
            text = say.field(field, change.now) or NOT_KEPT
            runs.append(Run(f" {text}", struck=at < len(found) - 1))
            runs.append(Run(f" [No {change.by_entry.number}]", "quiet"))
        return tuple(runs)

    def counts(self, entry: Entry, key: str) -> Json:
        """Return the value that counts now."""
        found = self.of(entry.number, key)
        return found[-1].now if found else entry.data.get(key)


def changes_of(entries: Sequence[Entry]) -> Changes:
    """Read the corrections of a record; a correction of a correction keeps both in print."""
    found = []
    for entry in entries:
        if entry.kind != "correction":
            continue
        number = _whole(entry.data.get("corrects"))
        rows = entry.data.get("values") or ()
        for row in rows if isinstance(rows, list | tuple) else ():
            if isinstance(row, Mapping):
                found.append(Change(number, str(row.get("field", "")), row.get("was"),
                                    row.get("now"), str(entry.data.get("reason", "")),
                                    entry))  # fmt: skip
    return Changes(tuple(found))


def field_of(kind: str, key: str) -> Field:
    """Return the declaration of a field; one of an older program is named by its key."""
    known = KINDS.get(kind)
    fields = known.fields if known else ()
    return next((f for f in fields if f.key == key), Field(key, key))


def _whole(value: Json) -> int:
    text = str(value)
    return int(text) if text.isdigit() else 0
