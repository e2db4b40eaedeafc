"""The window's own keys win over what a field does with the same keys while it is typed in."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QWidget


class OwnKeys(QObject):
    """Watches whichever widget of `window` has the focus; `add` names a key that wins there.

    A line edit claims Ctrl+U as "delete to the start" on some systems, and a reading would be lost.
    """

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._keys: list[QKeySequence] = []
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._watch)

    def add(self, keys: QKeySequence) -> None:
        """Let these keys win over the field."""
        self._keys.append(keys)

    def _watch(self, _before: QWidget | None, now: QWidget | None) -> None:
        if now is not None and self._window.isAncestorOf(now):
            now.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Keep a field from claiming a key of the window, so that its shortcut is tried."""
        if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.ShortcutOverride:
            return super().eventFilter(watched, event)
        ours = QKeySequence(event.keyCombination()) in self._keys
        if ours:
            event.ignore()
        return ours
