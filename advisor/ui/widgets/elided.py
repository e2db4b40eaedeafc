"""A label that ends in "…" where there is no room, with the whole text as its tooltip."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy


class Elided(QLabel):
    """As wide as its text if it may, no wider than it must."""

    def __init__(self, words: str, role: str) -> None:
        super().__init__(words)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setProperty("role", role)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Room for a few letters."""
        whole = super().sizeHint()
        return QSize(min(whole.width(), 60), whole.height())

    def sizeHint(self) -> QSize:  # noqa: N802
        """Room for the whole text."""
        whole = super().sizeHint()
        return QSize(whole.width() + 2, whole.height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw what fits."""
        painter = QPainter(self)
        short = painter.fontMetrics().elidedText(
            self.text(), Qt.TextElideMode.ElideRight, self.width()
        )
        self.setToolTip("" if short == self.text() else self.text())
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, short)
        painter.end()
