"""Big buttons in a row that folds into two where there is little room."""

from __future__ import annotations

from PySide6.QtCore import QEvent
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QPushButton, QWidget

from advisor.ui.theme import Look

_GAP = 12


class ButtonRow(QWidget):
    """Never cuts a word short: folds instead."""

    def __init__(self, look: Look, buttons: tuple[QPushButton, ...]) -> None:
        super().__init__()
        self._buttons = buttons
        self._rows: list[list[QPushButton]] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(_GAP)
        self._place([list(buttons)])
        look.changed.connect(self._fold)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fold or unfold."""
        super().resizeEvent(event)
        self._fold()

    def event(self, event: QEvent) -> bool:
        """Fold anew when a button comes or goes."""
        if event.type() == QEvent.Type.LayoutRequest:
            self._fold()
        return super().event(event)

    def _fold(self) -> None:
        shown = [button for button in self._buttons if not button.isHidden()]
        wide = sum(button.sizeHint().width() + _GAP for button in shown) - _GAP
        half = (len(shown) + 1) // 2
        rows = [shown] if wide <= self.width() else [shown[:half], shown[half:]]
        if rows != self._rows:
            self._place(rows)

    def _place(self, rows: list[list[QPushButton]]) -> None:
        self._rows = rows
        for button in self._buttons:
            self._grid.removeWidget(button)
            button.setParent(self)
        for column in range(self._grid.columnCount() + 1):
            self._grid.setColumnStretch(column, 0)
        for row, buttons in enumerate(rows):
            for column, button in enumerate(buttons):
                self._grid.addWidget(button, row, column)
        self._grid.setColumnStretch(max(len(row) for row in rows), 1 if len(rows) == 1 else 0)
