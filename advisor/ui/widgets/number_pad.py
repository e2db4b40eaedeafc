"""A number pad for gloves, laid over the page beside the field it writes into."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QPushButton, QWidget

from advisor.ui.widgets.parts import BigButton

_KEYS = (("7", "8", "9"), ("4", "5", "6"), ("1", "2", "3"), ("-", "0", "."))


class NumberPad(QFrame):
    """Writes into the field that opened it. Putting it away keeps what was typed.

    A press on anything else puts it away too.
    """

    closed = Signal()

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self._page = page
        self.setObjectName("pad")
        self._field: QLineEdit | None = None
        grid = QGridLayout(self)
        for row, keys in enumerate(_KEYS):
            for column, key in enumerate(keys):
                grid.addWidget(self._key(key), row, column)
        rub = self._key("⌫")
        rub.setAccessibleName("Rub out the last digit")
        grid.addWidget(rub, 4, 0)
        done = BigButton("Done", main=True)
        done.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        done.clicked.connect(self.put_away)
        grid.addWidget(done, 4, 1, 1, 2)
        self.hide()

    @property
    def field(self) -> QLineEdit | None:
        """Return the field being written into, None while put away."""
        return self._field

    def open_for(self, field: QLineEdit, anchor: QWidget) -> None:
        """Show under `anchor`, clear of its row; the first key replaces the old number."""
        self._field = field
        field.setFocus()
        field.selectAll()
        self.adjustSize()
        self.move(self._place(anchor))
        self.show()
        self.raise_()

    def put_away(self) -> None:
        """Hide; the field keeps its text."""
        if self._field is not None:
            field, self._field = self._field, None
            field.deselect()
            field.editingFinished.emit()
        self.hide()
        self.closed.emit()

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Look at presses and keys; only while on show, since all events of the program go by."""
        super().showEvent(event)
        self._app().installEventFilter(self)

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: N802
        """Look at presses no longer."""
        super().hideEvent(event)
        self._app().removeEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Put the pad away at a press beside it, which what was pressed still gets, or Escape."""
        if isinstance(event, QKeyEvent) and isinstance(watched, QWidget):
            here = watched is self._page or self._page.isAncestorOf(watched)
            pressed = event.type() == QEvent.Type.KeyPress
            if here and pressed and event.key() == Qt.Key.Key_Escape:
                self.put_away()
                return True
        if event.type() == QEvent.Type.MouseButtonPress and isinstance(watched, QWidget):
            own = watched in (self._field, self) or self.isAncestorOf(watched)
            if not own:
                self.put_away()
        return super().eventFilter(watched, event)

    @staticmethod
    def _app() -> QCoreApplication:
        app = QCoreApplication.instance()
        assert app is not None  # no widget without one
        return app

    def _key(self, key: str) -> QPushButton:
        button = QPushButton("−" if key == "-" else key)
        button.setProperty("key", True)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.clicked.connect(lambda: self._press(key))
        return button

    def _press(self, key: str) -> None:
        if self._field is None:
            return
        if key == "⌫":
            self._field.backspace()
        else:
            self._field.insert(key)

    def _place(self, anchor: QWidget) -> QPoint:
        page = self._page
        corner = anchor.mapTo(page, QPoint(0, anchor.height() + 4))
        if corner.y() + self.height() > page.height():
            above = anchor.mapTo(page, QPoint(0, -self.height() - 4))
            beside = anchor.mapTo(page, QPoint(anchor.width() + 8, 0))
            corner = above if above.y() >= 4 else beside
        x = max(4, min(corner.x(), page.width() - self.width() - 4))
        y = max(4, min(corner.y(), page.height() - self.height() - 4))
        return QPoint(x, y)
