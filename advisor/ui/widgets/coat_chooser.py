"""The box that chooses the coat, with an arrow that can be seen."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox, QStyle, QStyleOptionComboBox, QStylePainter

from advisor.ui.theme import Look


class CoatChooser(QComboBox):
    """A combo box as tall as a target."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the box, the name as far as it fits, then the arrow."""
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        room = self.width() - self._look.px(64)
        whole = self.currentText()
        option.currentText = self.fontMetrics().elidedText(whole, Qt.TextElideMode.ElideRight, room)
        self.setToolTip(whole)
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
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
