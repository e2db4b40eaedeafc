"""The record to read: the newest first, by the day it was written."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QScrollArea, QVBoxLayout

from advisor.planning.words import Words
from advisor.record.effective import Effective
from advisor.record.telling import day
from advisor.ui.record.entry_row import EntryRow
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import BigButton, Tall, clear, text


class Timeline(QScrollArea):
    """`chosen` with an entry's number; `older` when more of the past is wanted."""

    chosen = Signal(int)
    older = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.rows: list[EntryRow] = []
        self._day = ""
        self.setWidgetResizable(True)
        self.setFocusPolicy(self.focusPolicy().NoFocus)
        holder = Tall()
        self._column = QVBoxLayout(holder)
        self._column.setContentsMargins(0, 0, 8, 0)
        self._column.setSpacing(6)
        self.setWidget(holder)
        self.more = BigButton("Show &older entries")
        self.more.clicked.connect(self.older)
        self.more.hide()

    def say(self, words: str) -> None:
        """Show why there is nothing to read."""
        self._empty()
        self._column.addWidget(text(words, "grey", wrap=True))
        self._column.addStretch(1)

    def show_entries(
        self,
        told: Sequence[Effective],
        words: Words,
        where: Callable[[Effective], str],
        more: bool,
        *,
        after: bool = False,
    ) -> None:
        """Show entries, newest first; `after` puts them under those on show."""
        if after:
            self._column.removeWidget(self.more)
            self._column.takeAt(self._column.count() - 1)  # the stretch under the last one
        else:
            self._empty()
        for one in told:
            self._add(one, words, where(one))
        self._column.addWidget(self.more)
        self.more.setVisible(more)
        self._column.addStretch(1)

    def mark(self, number: int) -> None:
        """Show which entry stands beside, and bring it into sight."""
        for row in self.rows:
            row.mark(row.number == number)
            if row.number == number:
                self.ensureWidgetVisible(row)

    def _add(self, told: Effective, words: Words, where: str) -> None:
        written = day(told.entry.written_s, words)
        if written != self._day:
            self._day = written
            self._column.addWidget(text(written, "title"))
        row = EntryRow(self._look, told, words, where)
        row.chosen.connect(self.chosen)
        self.rows.append(row)
        self._column.addWidget(row)

    def _empty(self) -> None:
        self._column.removeWidget(self.more)
        self.more.setParent(self)
        self.more.hide()
        clear(self._column)
        self.rows, self._day = [], ""
