"""What the pages are written from: the review, its corrections, the words and the photos."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from advisor.record.canonical import NO_HASH
from advisor.record.entry import Entry
from advisor.record.report.blocks import NOT_KEPT, Cell, Run, cell
from advisor.record.report.changes import Changes, changes_of, field_of
from advisor.record.report.say import Say, late
from advisor.record.review_types import CoatReview, JobReview

#: Preparation this long before the first coat of an area still belongs to it.
_BEFORE_FIRST_S = 14 * 86400
#: A reading this long before mixing is looked at with the coat.
_BEFORE_MIXING_S = 3600
#: A stretch in which nothing lies.
_NEVER = (float("inf"), float("-inf"))


@dataclass(frozen=True, eq=False)
class Told:
    """`photo` finds a kept file by its SHA-256, None where it is missing."""

    review: JobReview
    say: Say
    changes: Changes
    photo: Callable[[str], Path | None]

    def text(self, entry: Entry, key: str) -> Cell:
        """Return one field with its corrections, "not kept" where there is nothing."""
        return self.changes.shown(entry, key, self.say) or (Run(NOT_KEPT, "quiet"),)

    def lines(self, entry: Entry, keys: Sequence[str], among: Sequence[Entry] = ()) -> Cell:
        """Return several fields of an entry, a line for each; those none `among` holds go out.

        What the entry does not hold is named together in the last line.
        """
        runs: list[Run] = []
        missing = []
        for key in self.held(among, keys) if among else keys:
            label = field_of(entry.kind, key).label.lower()
            value = self.changes.shown(entry, key, self.say)
            feed = "\n" if runs else ""
            if value:
                runs += [Run(f"{feed}{label}: ", "quiet"), *value]
            else:
                missing.append(label)
        if missing:
            feed = "\n" if runs else ""
            runs.append(Run(f"{feed}{NOT_KEPT}: {', '.join(missing)}", "quiet"))
        return tuple(runs) or (Run(NOT_KEPT, "quiet"),)

    def said(self, entry: Entry | None, kind: str, keys: Sequence[str]) -> Cell:
        """Return several fields as sentences: what is held, then the names of what is not."""
        runs: list[Run] = []
        missing = []
        for key in keys:
            value = self.changes.shown(entry, key, self.say) if entry else ()
            label = field_of(kind, key).label
            if value:
                runs += [Run(f"{' · ' if runs else ''}{label}: ", "quiet"), *value]
            else:
                missing.append(label.lower())
        if missing:
            stop = ". " if runs else ""
            runs.append(Run(f"{stop}Not kept: {', '.join(missing)}.", "quiet"))
        return tuple(runs)

    def numbered(self, entry: Entry) -> Cell:
        """Return the number of an entry, so that it can be found in the list."""
        return cell(f"{entry.number}")

    def when(self, entry: Entry) -> Cell:
        """Return when it happened, with a mark where it was written late."""
        shown = self.changes.shown(entry, "at", self.say)
        mark = late(entry.late_s)
        return (*shown, *((Run("\n"), *mark) if mark else ()), *self.changes.moved(entry))

    def held(self, entries: Sequence[Entry], keys: Sequence[str]) -> tuple[str, ...]:
        """Return those of some fields that any of the entries holds or once held."""
        return tuple(k for k in keys if any(self.changes.shown(e, k, self.say) for e in entries))

    @cached_property
    def _by_number(self) -> dict[int, Entry]:
        return {entry.number: entry for entry in reversed(self.review.entries)}

    def corrected(self, correction: Entry) -> Entry | None:
        """Return the entry a correction points at, None where there is none of its number."""
        return self._by_number.get(_corrected(correction))

    def entries_of(self, coat: CoatReview) -> tuple[Entry, ...]:
        """Return the entries of a coat: its own, its area's about it, and their corrections."""
        numbers = {e.number for e in coat.entries}
        spans = self._spans(coat)
        for entry in self.review.entries:
            now = self.changes.now(entry)
            begin, end = spans.get(now.kind, _NEVER)
            near = now.area_id == coat.area_id and begin <= now.at_s <= end
            if coat.coat_id in (entry.coat_id, now.coat_id) or (near and not now.coat_id):
                numbers.add(entry.number)
        numbers |= {e.number for e in self.review.entries if _corrected(e) in numbers}
        return tuple(e for e in self.review.entries if e.number in numbers)

    def _spans(self, coat: CoatReview) -> dict[str, tuple[float, float]]:
        """Return from when to when preparation and readings of an area are a coat's, UTC seconds.

        Preparation: from the coat below to this coat's last patch. Readings: from the first
        preparation (an hour before mixing without one) until it can take dew or is coated over.
        """
        same = [c for c in self.review.coats if c.area_id == coat.area_id]
        before = [c.ended_s for c in same if c.ended_s <= coat.started_s]
        after = [c.started_s for c in same if c.started_s > coat.ended_s]
        below_s = max(before, default=coat.started_s - _BEFORE_FIRST_S)
        times = [self.changes.now(e) for e in self.review.entries if e.kind == "preparation"]
        prepared = [e.at_s for e in times if e.area_id == coat.area_id
                    and below_s <= e.at_s <= coat.ended_s]  # fmt: skip
        mixed = [b.mixed_s for b in coat.batches]
        first_s = min([*prepared, *(at_s - _BEFORE_MIXING_S for at_s in (*mixed, coat.started_s))])
        until = coat.dew_safe_s if coat.dew_safe_s is not None else self.review.made_s
        return {"preparation": (below_s, coat.ended_s),
                "reading": (max(below_s, first_s), min([until, *after]))}  # fmt: skip


def _corrected(entry: Entry) -> int:
    """Return the number of the entry a correction points at, 0 for any other."""
    number = str(entry.data.get("corrects", "")) if entry.kind == "correction" else ""
    return int(number) if number.isdigit() else 0


def told(review: JobReview, say: Say, photo: Callable[[str], Path | None]) -> Told:
    """Return what pages are written from; the head printed is that of the entries printed."""
    head = review.entries[-1].hash if review.entries else NO_HASH
    return Told(replace(review, head=head), say, changes_of(review.entries), photo)
