"""Was it inside the limits? Every coat that went on, with the look back on the chosen one."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from advisor.record.review_types import CoatReview, JobReview, Standing
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.record.coat_card import CoatCard, shape
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import Tall, capital, clear, restyle, text
from advisor.ui.widgets.verdict_mark import VerdictMark

STANDINGS: Mapping[Standing, str] = MappingProxyType(
    {"inside": "Inside the limits", "outside": "Outside a limit", "not known": "Not known"}
)
_NONE = (
    "No coat is on yet. Once one is, it stands here with its readings against the limits that "
    "were in force: plain readings, apart from all advice."
)
BESIDE_FROM = 900


class CoatRow(QFrame):
    """`chosen` with the coat's id."""

    chosen = Signal(str)

    def __init__(self, look: Look, review: CoatReview) -> None:
        super().__init__()
        self.setObjectName("box")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.coat_id = review.coat_id
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 10, 12, 10)
        row.setSpacing(12)
        top = Qt.AlignmentFlag.AlignTop
        row.addWidget(VerdictMark(look, 30, shape(review.standing)), 0, top)
        column = QVBoxLayout()
        column.setSpacing(2)
        name = capital(f"{review.coat_name}, {review.area_name}")
        column.addWidget(text(name, "strong", wrap=True))
        column.addWidget(text(STANDINGS[review.standing], wrap=True))
        row.addLayout(column, 1)
        self.setAccessibleName(f"{name}: {STANDINGS[review.standing]}")

    def mark(self, on: bool) -> None:
        """Show whether this is the one beside."""
        restyle(self, "lit", "true" if on else "false")

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Choose it."""
        super().mousePressEvent(event)
        self.setFocus()
        self.chosen.emit(self.coat_id)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Choose it; up and down go from coat to coat."""
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.chosen.emit(self.coat_id)
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self.focusNextPrevChild(key == Qt.Key.Key_Down)
        else:
            super().keyPressEvent(event)


class CoatsView(QWidget):
    """`page_wanted` with the coat whose page is to be written, `entry_wanted` with a number."""

    page_wanted = Signal(str)
    entry_wanted = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._coat_id = ""
        self.review: JobReview | None = None
        self.rows: dict[str, CoatRow] = {}
        self.card = CoatCard(desk)
        self.card.page_wanted.connect(self.page_wanted)
        self.card.entry_wanted.connect(self.entry_wanted)
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 8, 0)
        self._list.setSpacing(8)
        self._pair = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._pair.setContentsMargins(0, 0, 0, 0)
        self._pair.setSpacing(14)
        self._pair.addWidget(self._left(), 30)
        self._pair.addWidget(self.card, 70)

    def _left(self) -> QScrollArea:
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        holder.setLayout(self._list)
        area.setWidget(holder)
        area.setMinimumWidth(220)
        return area

    def refresh(self) -> None:
        """Look back on every coat of the job in hand."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        if self.review is None:
            self._say("Looking back …")
        self._desk.slow.run("review", lambda: bench.reviews.job(now_s), self._show, self._failed)

    def _failed(self, failure: Failure) -> None:
        self.review = None
        self._say(failure.text)
        if failure.details:
            self._desk.messages.failure(failure)

    def _say(self, words: str) -> None:
        clear(self._list)
        self.rows = {}
        self._list.addWidget(text(words, "grey", wrap=True))
        self._list.addStretch(1)
        self.card.hide()

    def _show(self, review: JobReview) -> None:
        self.review = review
        if not review.coats:
            self._say(_NONE)
            return
        clear(self._list)
        self.rows = {}
        for coat in reversed(review.coats):
            row = self.rows[coat.coat_id] = CoatRow(self._desk.look, coat)
            row.chosen.connect(self.choose)
            self._list.addWidget(row)
        for problem in review.problems:
            self._list.addWidget(text(problem, "bad", wrap=True))
        self._list.addStretch(1)
        known = self._coat_id in self.rows
        self.choose(self._coat_id if known else review.coats[-1].coat_id)

    def choose(self, coat_id: str) -> None:
        """Show the look back on one coat."""
        found = [c for c in self.review.coats if c.coat_id == coat_id] if self.review else []
        if not found:
            return
        self._coat_id = coat_id
        for key, row in self.rows.items():
            row.mark(key == coat_id)
        self.card.show_review(found[0])
        self.card.show()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put the look back underneath where there is little room."""
        super().resizeEvent(event)
        room = self.width() * 100 / self._desk.look.scale_pct
        way = QBoxLayout.Direction
        self._pair.setDirection(way.LeftToRight if room >= BESIDE_FROM else way.TopToBottom)
