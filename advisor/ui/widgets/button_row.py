"""Big buttons in a row that folds into more where there is little room."""

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
        rows = next((found for n in range(1, len(shown)) if self._fits(found := _split(shown, n))),
                    _split(shown, max(1, len(shown))))  # fmt: skip
        if rows != self._rows:
            self._place(rows)

    def set_order(self, buttons: tuple[QPushButton, ...]) -> None:
        """Put the same buttons into another order."""
        if buttons != self._buttons:
            self._buttons = buttons
            self._fold()

    def _fits(self, rows: list[list[QPushButton]]) -> bool:
        """Whether no column, as wide as its widest button, goes past the edge."""
        columns = [max(row[k].sizeHint().width() for row in rows if k < len(row))
                   for k in range(len(rows[0]))]  # fmt: skip
        return sum(columns) + _GAP * (len(columns) - 1) <= self.width()

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
        self._grid.setColumnStretch(max(len(row) for row in rows), 1)


def _split(buttons: list[QPushButton], rows: int) -> list[list[QPushButton]]:
    """Return them in that many rows, as even as can be, the first the longest."""
    each = max(1, -(-len(buttons) // rows))
    return [buttons[k : k + each] for k in range(0, len(buttons), each)] or [[]]
