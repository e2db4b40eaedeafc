"""One entry to read: its mark, its clock time, what happened, and what was corrected."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout

from advisor.planning.words import Words
from advisor.record.effective import Effective
from advisor.record.telling import Fact, Was, clock, day_and_clock, facts, late, title
from advisor.ui.record.kind_mark import KindMark
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import restyle, text


def struck(words: str) -> QLabel:
    """Make a label with a line through it, still to be read."""
    label = text(words, "grey", wrap=True)
    font = label.font()
    font.setStrikeOut(True)
    label.setFont(font)
    label.setAccessibleName(f"struck through: {words}")
    return label


def why_corrected(was: Was, words: Words) -> str:
    """Return reason, person and time of a correction."""
    by = was.by or "name not given"
    return f"{was.reason}; {by}, {day_and_clock(was.written_s, words)}, entry {was.number}"


class EntryRow(QFrame):
    """`chosen` with the entry's number on a tap, Enter or Space."""

    chosen = Signal(int)

    def __init__(self, look: Look, told: Effective, words: Words, where: str) -> None:
        super().__init__()
        self.setObjectName("box")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.number = told.entry.number
        self.told = told
        self._lay_out(look, told, words, where)

    def _lay_out(self, look: Look, told: Effective, words: Words, where: str) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 8, 12, 8)
        row.setSpacing(12)
        top = Qt.AlignmentFlag.AlignTop
        row.addWidget(KindMark(look, told.entry.kind), 0, top)
        row.addWidget(text(clock(told.now.at_s, words), "strong"), 0, top)
        column = QVBoxLayout()
        column.setSpacing(2)
        headline = title(told.now, words)
        column.addWidget(struck(headline) if told.struck_out else text(headline, wrap=True))
        for fact in facts(told, words):
            for was in fact.was:
                self._corrected(column, fact, was, words)
        by = told.entry.by or "name not given"
        under = (where, by, late(told.entry), f"entry {told.entry.number}")
        column.addWidget(text(", ".join(part for part in under if part), "small", wrap=True))
        row.addLayout(column, 1)
        self.setAccessibleName(f"{clock(told.now.at_s, words)} {headline}, {', '.join(under)}")

    def _corrected(self, column: QVBoxLayout, fact: Fact, was: Was, words: Words) -> None:
        if fact.key != "entry":
            column.addWidget(struck(f"{fact.label} {was.text}"))
        column.addWidget(text(f"Corrected: {why_corrected(was, words)}", "small", wrap=True))

    def mark(self, on: bool) -> None:
        """Show whether this is the one beside."""
        restyle(self, "lit", "true" if on else "false")

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Choose it."""
        super().mousePressEvent(event)
        self.setFocus()
        self.chosen.emit(self.number)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Choose it; up and down go from row to row."""
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.chosen.emit(self.number)
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self.focusNextPrevChild(key == Qt.Key.Key_Down)
        else:
            super().keyPressEvent(event)
