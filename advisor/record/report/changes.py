"""Corrections on paper: what was, struck through, what is, and which entry changed it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.record.effective import ENTRY, Change, Effective, effective, value_of
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS, Field
from advisor.record.report.blocks import NOT_KEPT, Cell, Run
from advisor.record.report.say import Say

_PLACE_LABELS = (("at", "When"), ("area", "Area"), ("coat", "Coat"), (ENTRY, "The whole entry"))


@dataclass(frozen=True, eq=False)
class Changes:
    """Every entry with its corrections, by its number."""

    by_number: Mapping[int, Effective]

    def of_entry(self, number: int) -> tuple[Change, ...]:
        """Return the corrections of one entry, the first made first."""
        found = self.by_number.get(number)
        return found.changes if found else ()

    def now(self, entry: Entry) -> Entry:
        """Return the entry as it counts now."""
        found = self.by_number.get(entry.number)
        return found.now if found else entry

    def struck_by(self, entry: Entry) -> Change | None:
        """Return the correction that took the whole entry back."""
        return next((c for c in self.of_entry(entry.number) if c.field == ENTRY), None)

    def shown(self, entry: Entry, key: str, say: Say) -> Cell:
        """Return a field: each earlier value struck through, then the one that counts."""
        field = field_of(entry.kind, key)
        changes = [c for c in self.of_entry(entry.number) if c.field == key]
        first = say.field(field, value_of(entry, key))
        whole = self.struck_by(entry) is not None
        if not changes:
            return (Run(first, struck=whole),) if first else ()
        runs = [Run(first or NOT_KEPT, struck=True)]
        for at, change in enumerate(changes):
            text = say.field(field, change.now) or NOT_KEPT
            runs += [Run(" "), Run(text, struck=whole or at < len(changes) - 1)]
            runs.append(Run(f" [No {change.number}]", "quiet"))
        return tuple(runs)

    def moved(self, entry: Entry) -> Cell:
        """Return what was corrected of an entry's coat or area, or that it was struck out."""
        runs: list[Run] = []
        for change in self.of_entry(entry.number):
            if change.field in ("area", "coat"):
                runs.append(Run(f"\n{change.field}: ", "doubt"))
                runs.append(Run(str(change.was or NOT_KEPT), "doubt", struck=True))
                runs.append(Run(f" {change.now or NOT_KEPT} [No {change.number}]", "doubt"))
            elif change.field == ENTRY:
                runs.append(Run(f"\nstruck out [No {change.number}]", "doubt", bold=True))
        return tuple(runs)


def changes_of(entries: Sequence[Entry]) -> Changes:
    """Read the corrections of a record."""
    return Changes({found.entry.number: found for found in effective(entries)})


def field_of(kind: str, key: str) -> Field:
    """Return the declaration of a field; one of an older program is named by its key."""
    known = KINDS.get(kind)
    fields = known.fields if known else ()
    places = dict(_PLACE_LABELS)
    place = Field(key, places.get(key, key), "moment" if key == "at" else "text")
    return next((f for f in fields if f.key == key), place)
