"""The record as a table: rows are read by the page, whatever the length of the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.base.store import Store
from advisor.planning.job import Job
from advisor.planning.words import Words
from advisor.record.effective import Effective
from advisor.record.kinds import KINDS
from advisor.record.pages import IntArray, corrected_page
from advisor.record.telling import day_and_clock, late, title
from advisor.ui.record.places import place_of
from advisor.ui.widgets.paged_table import Heading, TableRow

HEADINGS = (
    Heading("No.", 70, figures=True),
    Heading("When", 220),
    Heading("Kind", 150),
    Heading("What", 0),
    Heading("Where", 170),
    Heading("By", 100),
)


@dataclass(frozen=True, eq=False)
class EntryPages:
    """Rows of the entries found, the newest first. Reads on a worker, holds no widget."""

    store: Store
    job: Job
    numbers: IntArray
    corrected: Mapping[int, tuple[int, ...]]
    words: Words

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        return len(self.numbers)

    def page(self, first: int, count: int) -> Sequence[TableRow]:
        """Return up to `count` rows from position `first`."""
        newest = self.numbers[::-1][first : first + count]
        told = corrected_page(self.store, self.job.id, newest, self.corrected)
        return tuple(self._row(one) for one in told)

    def _row(self, told: Effective) -> TableRow:
        entry, kind = told.entry, KINDS.get(told.entry.kind)
        what = title(told.now, self.words)
        marks = [late(entry)] if late(entry) else []
        if told.struck_out:
            marks.append("struck out")
        elif told.changes:
            marks.append("corrected")
        whole = f"{what} ({', '.join(marks)})" if marks else what
        label = entry.kind if kind is None else kind.label
        when = day_and_clock(told.now.at_s, self.words)
        cells = (str(entry.number), when, label, whole, place_of(self.job, told.now), entry.by)
        return TableRow(cells, entry.number, told.struck_out, told=whole)
