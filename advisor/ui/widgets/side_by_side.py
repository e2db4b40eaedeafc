"""Two cards side by side, one over the other where there is little room."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QScrollArea, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.parts import Tall

#: Width in px at 100 % from which they stand beside each other.
BESIDE_FROM = 900


class SideBySide(QScrollArea):
    """Scrolls what does not fit."""

    def __init__(self, look: Look, left: QWidget, right: QWidget) -> None:
        super().__init__()
        self._look = look
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._pair = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._pair.setContentsMargins(0, 0, 8, 0)
        self._pair.setSpacing(14)
        for card in (left, right):
            self._pair.addWidget(card, 1, Qt.AlignmentFlag.AlignTop)
        holder = Tall()
        holder.setLayout(self._pair)
        self.setWidget(holder)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put the second underneath where there is little room."""
        super().resizeEvent(event)
        way = QBoxLayout.Direction
        beside = self.width() * 100 / self._look.scale_pct >= BESIDE_FROM
        self._pair.setDirection(way.LeftToRight if beside else way.TopToBottom)
