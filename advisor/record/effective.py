"""Entries as they count now: corrections applied, with what was said first still beside them.

A correction never changes the entry it points at. Each row of its `values` names a field of the
entry's data, or "at", "coat" or "area"; `now` is the value in the form of that field, "" where
the field is struck out without another value. The row of the field ENTRY strikes out the whole
entry. Later corrections go over earlier ones; all of them stay to be shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from advisor.record.canonical import Json
from advisor.record.entry import Data, Entry, iso

#: What a correction may change besides the data of the entry.
PLACES = ("at", "area", "coat")
#: Name of the field that strikes out the whole entry, and what it then is.
ENTRY, STRUCK_OUT = "entry", "struck out"


@dataclass(frozen=True)
class Change:
    """One field changed by one correction: what it was, what it is, why, by whom and when."""

    field: str
    was: Json
    now: Json
    reason: str
    by: str
    written_s: float
    number: int


@dataclass(frozen=True)
class Effective:
    """An entry with its corrections. `entry` is the original, `now` the same as it counts now.

    `now` keeps number, hash and line of the original. `struck_out` entries count for nothing.
    """

    entry: Entry
    now: Entry
    changes: tuple[Change, ...] = ()

    @property
    def struck_out(self) -> bool:
        """Whether the whole entry was taken back."""
        return any(change.field == ENTRY for change in self.changes)

    def changed(self, field: str) -> tuple[Change, ...]:
        """Return what was changed in one field, oldest first."""
        return tuple(change for change in self.changes if change.field == field)


def effective(entries: Iterable[Entry]) -> tuple[Effective, ...]:
    """Return every entry but the corrections, in order, with the corrections that point at it.

    A correction counts only where number and hash of what it corrects both fit.
    """
    kept = tuple(entries)
    changes: dict[tuple[str, str], list[Change]] = {}
    for entry in kept:
        if entry.kind == "correction":
            changes.setdefault(_target(entry), []).extend(_changes(entry))
    return tuple(
        _applied(entry, tuple(changes.get((str(entry.number), entry.hash), ())))
        for entry in kept
        if entry.kind != "correction"
    )


def counting(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries as they count now, struck-out ones and corrections left out."""
    return tuple(found.now for found in effective(entries) if not found.struck_out)


def value_of(entry: Entry, field: str) -> Json:
    """Return what an entry says of a field a correction may name; None where nothing."""
    if field == "at":
        return iso(entry.at_s, entry.zone)
    if field in PLACES:
        return entry.area_id if field == "area" else entry.coat_id
    return entry.data.get(field)


def _target(correction: Entry) -> tuple[str, str]:
    data = correction.data
    return str(data.get("corrects", "")), str(data.get("corrects_hash", ""))


def _changes(correction: Entry) -> list[Change]:
    rows = correction.data.get("values", ())
    assert isinstance(rows, Sequence)
    return [
        Change(
            str(row["field"]),
            row.get("was"),
            row.get("now"),
            str(correction.data.get("reason", "")),
            correction.by,
            correction.written_s,
            correction.number,
        )
        for row in rows
        if isinstance(row, Mapping)
    ]


def _applied(entry: Entry, changes: tuple[Change, ...]) -> Effective:
    data: dict[str, Json] = dict(entry.data)
    now = entry
    for change in changes:
        if change.field in PLACES:
            now = _moved(now, change)
        elif change.field != ENTRY:
            data = _set(data, change)
    return Effective(entry, replace(now, data=data) if changes else entry, changes)


def _moved(entry: Entry, change: Change) -> Entry:
    text = str(change.now or "")
    if change.field == "at":
        return replace(entry, at_s=datetime.fromisoformat(text).timestamp())
    return replace(entry, area_id=text) if change.field == "area" else replace(entry, coat_id=text)


def _set(data: Data, change: Change) -> dict[str, Json]:
    """Return the data with one field as it is now; nothing in place of a value takes it out."""
    rest = {key: value for key, value in data.items() if key != change.field}
    return rest if change.now in ("", None) else {**rest, change.field: change.now}
