"""The look back on one coat: how it stands, then and now, every limit, gaps and dips."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
)

from advisor.planning.words import Words
from advisor.record.review_types import CoatReview
from advisor.record.review_words import Line, gap_lines, lines
from advisor.record.telling import day_and_clock
from advisor.ui.desk import Desk
from advisor.ui.widgets.parts import BigButton, Tall, capital, clear, text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark

_APART = "Plain readings against the limits in force, nothing else. The maker's data sheet, local \
rules and licensed practice come first."


class CoatCard(QScrollArea):
    """`page_wanted` with the coat's id, `entry_wanted` with the number of a defect."""

    page_wanted = Signal(str)
    entry_wanted = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.page: BigButton | None = None
        self.causes: list[QPushButton] = []
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        outer = QVBoxLayout(holder)
        outer.setContentsMargins(0, 0, 8, 0)
        frame = QFrame()
        frame.setObjectName("card")
        self._column = QVBoxLayout(frame)
        self._column.setContentsMargins(20, 16, 20, 16)
        self._column.setSpacing(8)
        outer.addWidget(frame)
        outer.addStretch(1)
        self.setWidget(holder)

    def show_review(self, review: CoatReview) -> None:
        """Show the look back on a coat."""
        clear(self._column)
        self.causes, words = [], self._desk.words()
        self._head(review, words)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(6)
        grid.setColumnStretch(1, 3)
        grid.setColumnStretch(2, 6)
        for line in lines(review, words):
            self._line(grid, line)
        self._column.addLayout(grid)
        for name, texts in gap_lines(review, words):
            self._column.addWidget(text(name, "strong", wrap=True))
            for one in texts:
                self._column.addWidget(text(capital(one), wrap=True))
        self._defects(review)
        self._column.addWidget(text(_APART, "small", wrap=True))

    def _head(self, review: CoatReview, words: Words) -> None:
        row = QHBoxLayout()
        row.setSpacing(16)
        mark = VerdictMark(self._desk.look, 48, shape(review.standing))
        row.addWidget(mark, 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout()
        column.setSpacing(2)
        name = capital(f"{review.coat_name}, {review.area_name}")
        column.addWidget(text(name, "title", wrap=True))
        column.addWidget(text(review.summary, "strong", wrap=True))
        revision = f", revision {review.product_revision}" if review.product_revision else ""
        column.addWidget(text(f"{review.product_name}{revision}", "grey", wrap=True))
        column.addWidget(text(_times(review, words), "grey", wrap=True))
        row.addLayout(column, 1)
        self.page = BigButton("&Page for this coat (PDF)")
        coat_id = review.coat_id
        self.page.clicked.connect(lambda: self.page_wanted.emit(coat_id))
        row.addWidget(self.page, 0, Qt.AlignmentFlag.AlignTop)
        self._column.addLayout(row)
        if review.decision is not None:
            frame = QFrame()
            frame.setObjectName("inset")
            inner = QVBoxLayout(frame)
            inner.addWidget(text("Decided then, and what the rules say now", "strong", wrap=True))
            inner.addWidget(text(capital(review.decision.text), wrap=True))
            self._column.addWidget(frame)

    def _line(self, grid: QGridLayout, line: Line) -> None:
        row, top = grid.rowCount(), Qt.AlignmentFlag.AlignTop
        grid.addWidget(VerdictMark(self._desk.look, 20, shape(line.standing)), row, 0, top)
        grid.addWidget(text(line.name, "strong", wrap=True), row, 1, top)
        inner = QVBoxLayout()
        inner.setSpacing(0)
        inner.addWidget(text(f"{capital(line.standing)}: {line.text}", wrap=True))
        if line.under:
            inner.addWidget(text(line.under, "small", wrap=True))
        grid.addLayout(inner, row, 2)

    def _defects(self, review: CoatReview) -> None:
        for entry in review.entries:
            if entry.kind == "defect":
                name = str(entry.data.get("defect") or entry.data.get("text") or "this defect")
                button = BigButton(f"Why the {name}?")
                button.clicked.connect(lambda _=False, n=entry.number: self.entry_wanted.emit(n))
                self.causes.append(button)
                self._column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)


def shape(standing: str) -> Kind:
    """Return the shape of a standing: filling means that the limits were kept."""
    return "go" if standing == "inside" else "wait" if standing == "outside" else "unknown"


def _times(review: CoatReview, words: Words) -> str:
    began, ended = day_and_clock(review.started_s, words), day_and_clock(review.ended_s, words)
    found = [f"first patch {began}, last patch {ended}"]
    if review.tack_free_s is not None:
        found.append(f"tack-free {day_and_clock(review.tack_free_s, words)}")
    if review.dew_safe_s is not None:
        found.append(f"could take dew {day_and_clock(review.dew_safe_s, words)}")
    return capital(", ".join(found))
