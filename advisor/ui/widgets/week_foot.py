"""The foot of the week: the chosen start in words."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from advisor.ui.theme import Look
from advisor.ui.widgets.elided import Elided
from advisor.ui.widgets.parts import text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark


class WeekFoot(QFrame):
    """Shape, what start, why, and what would turn it. Always as high, so nothing jumps."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("card")
        self._look = look
        self._short = False
        self.mark = VerdictMark(look, 44, "working")
        self.title = text("Choose a start", "title", wrap=True)
        self.why = text("Point at a lane, or use the arrow keys.", wrap=True)
        self.turn = text("", "grey", wrap=True)
        self.line = Elided("", "strong")
        column = QVBoxLayout()
        column.setSpacing(3)
        for label in (self.title, self.why, self.turn, self.line):
            column.addWidget(label)
        column.addStretch(1)
        self._row = QHBoxLayout(self)
        self._row.setSpacing(16)
        self._row.addWidget(self.mark)
        self._row.addLayout(column, 1)
        look.changed.connect(self._relook)
        self._relook()

    def set_short(self, on: bool) -> None:
        """Take one line, where something else needs the room."""
        if on != self._short:
            self._short = on
            self._relook()

    def _relook(self) -> None:
        self.setMinimumHeight(self._look.px(40 if self._short else 112))
        self.mark.set_size(20 if self._short else 44)
        pad = 8 if self._short else 10
        self._row.setContentsMargins(18, pad, 18, pad)
        self.line.setVisible(self._short)
        for label in (self.title, self.why):
            label.setVisible(not self._short)
        self.turn.setVisible(bool(self.turn.text()) and not self._short)

    def show_words(self, title: str, why: str) -> None:
        """Show a plain message."""
        self.show_start("unknown", title, why, "")

    def show_start(self, kind: Kind, title: str, why: str, turn: str) -> None:
        """Show a start."""
        self.mark.set_kind(kind)
        self.title.setText(title)
        self.why.setText(why[:1].upper() + why[1:])
        self.turn.setText(f"What would turn it: {turn}" if turn else "")
        self.turn.setVisible(bool(turn) and not self._short)
        self.line.setText(f"{title}; {why}" if why else title)
