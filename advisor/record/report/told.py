"""What the pages are written from: the review, its corrections, the words and the photos."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.record.canonical import NO_HASH
from advisor.record.entry import Entry
from advisor.record.report.blocks import NOT_KEPT, Cell, Run, cell
from advisor.record.report.changes import Changes, changes_of, field_of
from advisor.record.report.say import Say, late
from advisor.record.review_types import CoatReview, JobReview

#: What is written of an area rather than of a coat, and belongs on the coat's page.
_OF_AREA = frozenset({"reading", "preparation"})
#: Preparation this long before the first coat of an area still belongs to it.
_BEFORE_FIRST_S = 14 * 86400


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

    def lines(self, entry: Entry, keys: tuple[str, ...]) -> Cell:
        """Return several fields of an entry, a line for each."""
        runs: list[Run] = []
        for key in keys:
            label = field_of(entry.kind, key).label.lower()
            feed = "\n" if runs else ""
            runs += [Run(f"{feed}{label}: ", "quiet"), *self.text(entry, key)]
        return tuple(runs)

    def numbered(self, entry: Entry) -> Cell:
        """Return the number of an entry, so that it can be found in the list."""
        return cell(f"{entry.number}")

    def when(self, entry: Entry) -> Cell:
        """Return when it happened, with a mark where it was written late."""
        shown = self.changes.shown(entry, "at", self.say)
        mark = late(entry.late_s)
        return (*shown, *((Run("\n"), *mark) if mark else ()), *self.changes.moved(entry))

    def entries_of(self, coat: CoatReview) -> tuple[Entry, ...]:
        """Return the entries of a coat: its own, its area's about it, and their corrections."""
        numbers = {e.number for e in coat.entries}
        begin, end = self._span(coat)
        for entry in self.review.entries:
            now = self.changes.now(entry)
            own = coat.coat_id in (entry.coat_id, now.coat_id)
            near = now.area_id == coat.area_id and begin <= now.at_s <= end
            if own or (near and not now.coat_id and now.kind in _OF_AREA):
                numbers.add(entry.number)
        numbers |= {e.number for e in self.review.entries if _corrected(e) in numbers}
        return tuple(e for e in self.review.entries if e.number in numbers)

    def _span(self, coat: CoatReview) -> tuple[float, float]:
        """Return from the coat below to dew-safe or the coat above, UTC seconds."""
        same = [c for c in self.review.coats if c.area_id == coat.area_id]
        before = [_ready_s(c, coat) for c in same if c.ended_s <= coat.started_s]
        after = [c.started_s for c in same if c.started_s > coat.ended_s]
        begin = max(before, default=coat.started_s - _BEFORE_FIRST_S)
        until = coat.dew_safe_s if coat.dew_safe_s is not None else self.review.made_s
        return begin, min([until, *after])


def _corrected(entry: Entry) -> int:
    """Return the number of the entry a correction points at, 0 for any other."""
    number = str(entry.data.get("corrects", "")) if entry.kind == "correction" else ""
    return int(number) if number.isdigit() else 0


def _ready_s(below: CoatReview, coat: CoatReview) -> float:
    """Return when the coat below could take dew, or its end where that came too late."""
    ready = below.dew_safe_s
    return ready if ready is not None and ready < coat.started_s else below.ended_s


def told(review: JobReview, say: Say, photo: Callable[[str], Path | None]) -> Told:
    """Return what pages are written from; the head printed is that of the entries printed."""
    head = review.entries[-1].hash if review.entries else NO_HASH
    return Told(replace(review, head=head), say, changes_of(review.entries), photo)
