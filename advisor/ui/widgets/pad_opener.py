"""Opens the number pad when a finger or the mouse presses a field for numbers."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from advisor.ui.widgets.number_pad import NumberPad


class PadOpener(QObject):
    """Typing on a keyboard never opens it."""

    def __init__(self, pad: NumberPad) -> None:
        super().__init__(pad)
        self._pad = pad
        self._beside: list[tuple[QLineEdit, QWidget]] = []

    def add(self, field: QLineEdit, beside: QWidget) -> None:
        """Open the pad for this field from now on, next to `beside`."""
        self._beside.append((field, beside))
        field.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Open when the press is over: the press itself would take the selection away again."""
        if event.type() == QEvent.Type.MouseButtonRelease:
            for field, beside in self._beside:
                if field is watched and self._pad.field is not field:
                    self._pad.open_for(field, beside)
        if event.type() == QEvent.Type.FocusOut and self._pad.field is watched:
            self._pad.put_away()  # the next field is not hidden under it
        if event.type() == QEvent.Type.KeyPress and self._pad.field is watched:
            key = event.key() if isinstance(event, QKeyEvent) else 0
            if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._pad.put_away()
        return super().eventFilter(watched, event)
