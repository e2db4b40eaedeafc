"""A button for what takes something away: it asks before it does it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QPushButton


class TwicePressed(QPushButton):
    """`meant` at the second press; moving away takes the first one back."""

    meant = Signal()

    def __init__(self, words: str, again: str) -> None:
        super().__init__(words)
        self._words, self._again = words, again
        self._asked = False
        self.clicked.connect(self._press)

    def _press(self) -> None:
        if self._asked:
            self._ask(False)
            self.meant.emit()
        else:
            self._ask(True)

    def _ask(self, asked: bool) -> None:
        self._asked = asked
        self.setText(self._again if asked else self._words)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """Take the first press back."""
        super().focusOutEvent(event)
        self._ask(False)
