"""Coats said not to be on after all: what was told of them before that counts no longer."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.record.entry import Entry


def event_of(entry: Entry) -> str:
    """Return the event of an application, "" for an entry of another kind."""
    return str(entry.data.get("event", "")) if entry.kind == "application" else ""


def since_taken_back(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Leave out applications and film readings told before their coat was taken back.

    It goes by when they were told: told again after that, even for an earlier time, they count.
    """
    kept = tuple(entries)
    back: dict[str, int] = {}
    for entry in kept:
        if event_of(entry) == "not on":
            back[entry.coat_id] = max(entry.number, back.get(entry.coat_id, 0))
    return tuple(
        entry
        for entry in kept
        if entry.kind not in ("application", "film") or entry.number > back.get(entry.coat_id, 0)
    )
