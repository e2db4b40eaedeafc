"""The forecast the week rests on: mark, name, age, what is wrong with it, credit."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QWidget

from advisor.planning.words import Words
from advisor.ui.theme import Look
from advisor.ui.widgets.elided import Elided
from advisor.ui.widgets.parts import restyle
from advisor.ui.widgets.source_mark import SourceMark, source_line
from advisor.work.views import SourceView


class SourceLine(QWidget):
    """One line, hidden where the week rests on no forecast."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.mark = SourceMark(look, 18)
        self.line = Elided("", "small")
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 2, 16, 2)
        row.setSpacing(8)
        row.addWidget(self.mark)
        row.addWidget(self.line, 1)
        self.hide()

    def show_source(self, source: SourceView | None, words: Words) -> None:
        """Show a source as it stands now."""
        self.setVisible(source is not None)
        if source is not None:
            self.mark.set_state(source.state)
            self.line.setText(source_line(source, words))
            restyle(self.line, "role", "bad" if source.state in ("old", "failed") else "small")
