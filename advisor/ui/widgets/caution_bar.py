"""Cautions: always at the same place, never a pop-up."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QVBoxLayout

from advisor.ui.widgets.parts import text

FIRST = "The maker's data sheet, local rules and licensed practice come first."


class CautionBar(QFrame):
    """One line of what can hurt with this coat, one line of who has the last word."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("caution")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 16, 8)
        column.setSpacing(2)
        self.words = text("", wrap=True)
        self.first = text(FIRST, "small", wrap=True)
        column.addWidget(self.words)
        column.addWidget(self.first)
        self.words.hide()

    def show_cautions(self, cautions: list[str], sources: str = "") -> None:
        """Show what can hurt; the sources are the tooltip."""
        self.words.setText(" ".join(cautions))
        self.words.setVisible(bool(cautions))
        self.setToolTip(sources)
