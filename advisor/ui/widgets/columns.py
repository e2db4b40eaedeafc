"""Three columns that fold to two and to one as room gets short."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QScrollArea, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.parts import Tall

#: Height in px at 100 % under which two columns do not show four readings above each other.
SHORT_UNDER = 460
#: Widths in px at 100 % under which the third and the second column go underneath.
THREE_FROM, TWO_FROM = 1080, 700


class Columns(QScrollArea):
    """Lays three widgets side by side while there is room; scrolls when there is none.

    `short` tells whether two columns stand side by side with little height.
    """

    short = Signal(bool)

    def __init__(self, look: Look, widgets: tuple[QWidget, QWidget, QWidget]) -> None:
        super().__init__()
        self._look, self._widgets = look, widgets
        self._count, self._short = 0, False
        self.setWidgetResizable(True)
        self.setFocusPolicy(self.focusPolicy().NoFocus)
        page = Tall()
        self._grid = QGridLayout(page)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(14)
        self.setWidget(page)
        for widget in widgets:
            # Before the first layout too: a part without a parent would be a window of its own.
            widget.setParent(page)
        look.changed.connect(self._arrange)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fold or unfold."""
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        room = self.viewport().width() * 100 / self._look.scale_pct
        count = 3 if room >= THREE_FROM else 2 if room >= TWO_FROM else 1
        short = count == 2 and self.height() * 100 / self._look.scale_pct < SHORT_UNDER
        if short != self._short:
            self._short = short
            self.short.emit(short)
        if count != self._count:
            self._count = count
            self._place(count)

    def _place(self, count: int) -> None:
        places = {
            3: ((0, 0), (0, 1), (0, 2)),
            2: ((0, 0), (0, 1), (1, 1)),
            1: ((1, 0), (0, 0), (2, 0)),
        }[count]
        for widget in self._widgets:
            self._grid.removeWidget(widget)
        for widget, (row, column) in zip(self._widgets, places, strict=True):
            self._grid.addWidget(widget, row, column, 2 if count == 2 and column == 0 else 1, 1)
        for column, stretch in enumerate({3: (31, 52, 37), 2: (31, 52, 0), 1: (1, 0, 0)}[count]):
            self._grid.setColumnStretch(column, stretch)
