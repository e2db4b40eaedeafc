"""The cautions, and who is writing beside them; underneath where there is little width."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.who import Who

#: Width in px at 100 % under which who is writing goes underneath.
BESIDE_FROM = 850


class CautionsAndWho(QWidget):
    """One line above the buttons of a page that keeps entries."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.cautions, self.who = CautionBar(), Who()
        self._row = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(14)
        self._row.addWidget(self.cautions, 1)
        self._row.addWidget(self.who)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fold or unfold."""
        super().resizeEvent(event)
        way = QBoxLayout.Direction
        beside = self.width() * 100 / self._look.scale_pct >= BESIDE_FROM
        self._row.setDirection(way.LeftToRight if beside else way.TopToBottom)

    def set_short(self, short: bool) -> None:
        """Leave the name out where height is short, but not while it is being asked for."""
        self.who.setVisible(not short or self.who.asking)
