"""Which entries are on show: a kind, a coat, words; and to read or as a table."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
)

from advisor.planning.job import Job
from advisor.record.kinds import KINDS
from advisor.record.pages import Wanted
from advisor.ui.dialogs.fields import ChoiceField
from advisor.ui.record.places import coat_options
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import text

#: Pause after the last letter before a search begins, ms.
PAUSE_MS = 250
#: Width in px at 100 % under which the search goes underneath.
BESIDE_FROM = 800
SHAPES = (("read", "To &read"), ("table", "As a &table"))


class Filters(QFrame):
    """`changed` when other entries are wanted, `shape_chosen` with "read" or "table"."""

    changed = Signal()
    shape_chosen = Signal(str)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.kind = ChoiceField("Kind of entry", [], "")
        self.coat = ChoiceField("Coat", [], "")
        self.words = QLineEdit()
        self.words.setPlaceholderText("Words in it, or its number")
        self.words.setAccessibleName("Search the record")
        self.words.setClearButtonEnabled(True)
        self.count = text("", "small")
        self.shapes: dict[str, QPushButton] = {}
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.changed)
        self._lay_out()
        kinds = [("", "every kind")] + [(k.key, k.label.lower()) for k in KINDS.values()]
        self.kind.set_options(kinds)
        self.show_job(None)
        self.kind.changed.connect(self.changed)
        self.coat.changed.connect(self.changed)
        self.words.textChanged.connect(self._pause.start)

    @property
    def waiting(self) -> bool:
        """Whether a search has not begun yet."""
        return self._pause.isActive()

    def _lay_out(self) -> None:
        self._rows = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(10)
        fields, row = QHBoxLayout(), QHBoxLayout()
        for part in (fields, row):
            part.setSpacing(10)
            self._rows.addLayout(part, 1)
        fields.addWidget(self.kind, 2)
        fields.addWidget(self.coat, 3)
        search = QVBoxLayout()
        search.setSpacing(2)
        search.addWidget(self.count)
        search.addWidget(self.words)
        search.addStretch(1)
        row.addLayout(search, 3)
        buttons = QVBoxLayout()
        buttons.addStretch(1)
        pair = QHBoxLayout()
        group = QButtonGroup(self)
        for key, words in SHAPES:
            button = self.shapes[key] = QPushButton(words)
            button.setCheckable(True)
            button.setProperty("choice", True)
            button.clicked.connect(lambda _=False, k=key: self.shape_chosen.emit(k))
            group.addButton(button)
            pair.addWidget(button)
        self.shapes["read"].setChecked(True)
        buttons.addLayout(pair)
        row.addLayout(buttons)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Go on in a second line where there is little room."""
        super().resizeEvent(event)
        room = self.width() * 100 / self._look.scale_pct
        way = QBoxLayout.Direction
        self._rows.setDirection(way.LeftToRight if room >= BESIDE_FROM else way.TopToBottom)

    def wanted(self) -> Wanted:
        """Return what is asked for."""
        kinds = (self.kind.key,) if self.kind.key else ()
        return Wanted(kinds, "", self.coat.key, self.words.text().strip())

    def show_job(self, job: Job | None) -> None:
        """Offer the coats of a job; the choice is kept while that coat is there."""
        self.coat.set_options([("", "every coat"), *coat_options(job)], self.coat.key)
        for field in (self.kind, self.coat):
            if not field.key:
                field.box.setCurrentIndex(0)

    def show_count(self, found: int, entries: int) -> None:
        """Say how many of how many are on show."""
        all_of = "1 entry" if entries == 1 else f"{entries} entries"
        self.count.setText(all_of if found == entries else f"{found} of {all_of}")

    def show_searching(self) -> None:
        """Say that the record is being read."""
        self.count.setText("looking …")
