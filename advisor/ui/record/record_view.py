"""The record on show: filtered, to read or as a table, with the chosen entry whole beside it."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.planning.job import Job
from advisor.planning.words import Words
from advisor.record.effective import Effective
from advisor.record.pages import Corrections, Found, Wanted, corrected_page, corrections, find
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.record.details import Details
from advisor.ui.record.entry_table import HEADINGS, EntryPages
from advisor.ui.record.filters import Filters
from advisor.ui.record.places import place_of
from advisor.ui.record.timeline import Timeline
from advisor.ui.widgets.paged_table import PagedTable, TableRow

#: Entries put under each other at a time; widgets are dear.
AT_ONCE = 40
#: Width in px at 100 % under which the chosen entry goes underneath.
BESIDE_FROM = 900
#: Width in px at 100 % from which the table has room for all columns beside an entry.
KIND_FROM = 1700
_EMPTY = (
    "Nothing is in the record yet. It fills as you work: readings, batches, coats. "
    "What happened away from the window is added with “Add to the record”."
)
_NONE = "No entry answers. Clear the words, or choose every kind and every coat."


@dataclass(frozen=True, eq=False)
class Loaded:
    """What was read of the record: which entries, the newest of them, all corrections."""

    wanted: Wanted
    found: Found
    told: tuple[Effective, ...]
    corrected: Corrections


def load(store: Store, job_id: str, wanted: Wanted, known: Corrections | None) -> Loaded:
    """Read which entries answer and the newest of them. For a worker."""
    found, corrected = find(store, job_id, wanted), corrections(store, job_id, known)
    told = corrected_page(store, job_id, _newest(found, 0), corrected.of)
    return Loaded(wanted, found, told, corrected)


def _newest(found: Found, after: int) -> list[int]:
    return [int(n) for n in found.numbers[::-1][after : after + AT_ONCE]]


class RecordView(QWidget):
    """`correct_wanted` with an Effective, `causes_wanted` with the number of a defect."""

    correct_wanted = Signal(object)
    causes_wanted = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._job: Job | None = None
        self._words: Words | None = None
        self._loaded: Loaded | None = None
        self._chosen = 0
        self._shown: tuple[object, ...] = ()
        self.filters, self.timeline = Filters(desk.look), Timeline(desk.look)
        self.table = PagedTable(desk.look, HEADINGS, desk.operations)
        self.details = Details(Attachments(desk.bench.store.path))
        self.may_correct = True
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        self._stack = QStackedWidget()
        self._stack.addWidget(self.timeline)
        self._stack.addWidget(self.table)
        self._pair = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._pair.setSpacing(14)
        self._pair.addWidget(self._stack, 60)
        self._pair.addWidget(self.details, 40)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addWidget(self.filters)
        column.addLayout(self._pair, 1)

    def _connect(self) -> None:
        self.filters.changed.connect(self.refresh)
        self.filters.shape_chosen.connect(self._shape)
        self.timeline.chosen.connect(self.choose)
        self.timeline.older.connect(self._older)
        self.table.chosen.connect(self._from_table)
        self.details.correct_wanted.connect(self._correct)
        self.details.closed.connect(self._closed)
        self.details.causes_wanted.connect(self.causes_wanted)
        self._desk.look.changed.connect(self._turn)

    # --- what is shown -------------------------------------------------------------------

    def show_job(self, job: Job) -> None:
        """Show the record of a job."""
        if self._job is None or self._job.id != job.id:
            self._chosen, self._loaded = 0, None
            self.details.show_nothing()
        self._job = job
        self.filters.show_job(job)
        self.refresh()

    def refresh(self) -> None:
        """Read the record anew."""
        if self._job is None:
            return
        self.filters.show_searching()
        store, job_id, wanted = self._desk.bench.store, self._job.id, self.filters.wanted()
        known = None if self._loaded is None else self._loaded.corrected
        self._desk.operations.run(
            "record", lambda: load(store, job_id, wanted, known), self._show, self._failed
        )

    def choose(self, number: int) -> None:
        """Show one entry whole."""
        if self._job is None or self._loaded is None:
            return
        self._chosen = number
        store, job_id, of = self._desk.bench.store, self._job.id, self._loaded.corrected.of
        self._desk.operations.run(
            "record entry", lambda: corrected_page(store, job_id, [number], of), self._show_entry
        )

    def _failed(self, failure: Failure) -> None:
        self._shown = ()
        self.filters.count.setText("")
        self.timeline.say(failure.text)
        self.table.show_pages(None, failure.text)

    def _show(self, loaded: Loaded) -> None:
        if self._job is None:
            return
        self._loaded, self._words = loaded, self._desk.words()
        found = loaded.found
        self.filters.show_count(len(found.numbers), found.entries)
        pages = EntryPages(
            self._desk.bench.store, self._job, found.numbers, loaded.corrected.of, self._words
        )
        nothing = _NONE if found.entries else _EMPTY
        shown = (self._job, self._words.units, loaded.wanted, loaded.corrected.hash)
        if shown == self._shown:
            return  # nothing moves under the reader's eyes
        self._shown = shown
        self.table.show_pages(pages, nothing)
        if not loaded.told:
            self.timeline.say(nothing)
            return
        more = len(found.numbers) > len(loaded.told)
        self.timeline.show_entries(loaded.told, self._words, self._place, more)
        if self._chosen:
            self.choose(self._chosen)

    def _older(self) -> None:
        if self._job is None or self._loaded is None:
            return
        loaded, store, job_id = self._loaded, self._desk.bench.store, self._job.id
        numbers = _newest(loaded.found, len(self.timeline.rows))
        self._desk.operations.run(
            "record older",
            lambda: corrected_page(store, job_id, numbers, loaded.corrected.of),
            lambda told: self._show_older(loaded, told),
        )

    def _show_older(self, loaded: Loaded, told: tuple[Effective, ...]) -> None:
        if loaded is not self._loaded or self._words is None:
            return  # another filter came between
        more = len(self.timeline.rows) + len(told) < len(loaded.found.numbers)
        self.timeline.show_entries(told, self._words, self._place, more, after=True)

    def _show_entry(self, told: tuple[Effective, ...]) -> None:
        if not told:
            return
        words = self._desk.words()
        self.details.show_entry(told[0], self._job, words, correct=self.may_correct)
        self._turn()
        self.timeline.mark(told[0].entry.number)

    def _place(self, told: Effective) -> str:
        return place_of(self._job, told.now)

    def _from_table(self, row: TableRow) -> None:
        if isinstance(row.key, int):
            self.choose(row.key)

    def _closed(self) -> None:
        self._chosen = 0
        self.timeline.mark(0)
        self._turn()

    def _correct(self, number: int) -> None:
        told = self.details.told
        if told is not None and told.entry.number == number:
            self.correct_wanted.emit(told)

    # --- shape ---------------------------------------------------------------------------

    def _shape(self, key: str) -> None:
        self._stack.setCurrentWidget(self.table if key == "table" else self.timeline)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put the chosen entry underneath where there is little room."""
        super().resizeEvent(event)
        self._turn()

    def _turn(self) -> None:
        room = self.width() * 100 / self._desk.look.scale_pct
        way = QBoxLayout.Direction
        narrow = room < BESIDE_FROM
        self._pair.setDirection(way.TopToBottom if narrow else way.LeftToRight)
        # Where there is no room for both, the chosen entry has all of it until it is closed.
        self._stack.setVisible(not narrow or self.details.isHidden())
        half = room < KIND_FROM and not self.details.isHidden()
        for column, heading in enumerate(HEADINGS):
            self.table.setColumnHidden(column, half and heading.words in ("Kind", "Where"))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Let a narrow window be narrow."""
        return QSize(300, 300)
