"""Parts side by side that go on in the next line where there is no more room."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class Flow(QLayout):
    """Lays parts out like words of a text; each keeps the size it wants."""

    def __init__(self, parent: QWidget | None = None, gap: int = 8) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._gap = gap
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:  # noqa: N802
        """Put one more part at the end."""
        self._items.append(item)

    def count(self) -> int:
        """Return how many parts there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:  # noqa: N802
        """Return a part."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # noqa: N802
        """Take a part out."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:  # noqa: N802
        """Want no more room than is needed."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:  # noqa: N802
        """Tell that the height goes by the width."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802
        """Return the height all lines need."""
        return self._lay(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, box: QRect) -> None:  # noqa: N802
        """Lay the parts out."""
        super().setGeometry(box)
        self._lay(box, move=True)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return room for the widest part."""
        return self.minimumSize()

    def minimumSize(self) -> QSize:  # noqa: N802
        """Return room for the widest part."""
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.sizeHint())
        return size

    def _lay(self, box: QRect, *, move: bool) -> int:
        x, y, tall = box.x(), box.y(), 0
        for item in self._items:
            widget = item.widget()
            if widget is not None and widget.isHidden():
                continue
            size = item.sizeHint()
            if x > box.x() and x + size.width() > box.x() + box.width():
                x, y, tall = box.x(), y + tall + self._gap, 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), size))
            x, tall = x + size.width() + self._gap, max(tall, size.height())
        return y + tall - box.y()
