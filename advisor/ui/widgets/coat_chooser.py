"""The box that chooses the coat, with an arrow that can be seen."""

from __future__ import annotations

from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox

from advisor.ui.theme import Look


class CoatChooser(QComboBox):
    """A combo box as tall as a target."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the box, then the arrow."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self._look.colour("ink"), self._look.px(2)))
        size = self._look.px(6)
        middle = QPointF(self.width() - self._look.px(24), self.height() / 2)
        painter.drawPolyline(
            QPolygonF(
                [
                    middle + QPointF(-size, -size / 2),
                    middle + QPointF(0, size / 2),
                    middle + QPointF(size, -size / 2),
                ]
            )
        )
        painter.end()
