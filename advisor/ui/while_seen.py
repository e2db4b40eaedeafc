"""A tick that runs only while it can be seen: a hidden or minimised window costs nothing."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget


class WhileSeen(QObject):
    """`tick` every `every_ms` while the widget is on show and wanted; once at once when it is."""

    tick = Signal()

    def __init__(self, widget: QWidget, every_ms: int) -> None:
        super().__init__(widget)
        self._widget, self._window = widget, widget.window()
        self._wanted = False
        self._timer = QTimer(self)
        self._timer.setInterval(every_ms)
        self._timer.timeout.connect(self.tick)
        widget.installEventFilter(self)

    @property
    def ticking(self) -> bool:
        """Whether it ticks now."""
        return self._timer.isActive()

    def want(self, on: bool, every_ms: int | None = None) -> None:
        """Say whether there is anything to tick for."""
        self._wanted = on
        if every_ms is not None and every_ms != self._timer.interval():
            self._timer.setInterval(every_ms)
        self.look()

    def look(self) -> None:
        """Start or stop, by whether the widget can be seen."""
        seen = self._widget.isVisible() and not self._widget.window().isMinimized()
        if seen and self._wanted and not self._timer.isActive():
            self._timer.start()
            self.tick.emit()
        elif not (seen and self._wanted):
            self._timer.stop()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Follow the widget onto its window, and both as they come and go."""
        kind = event.type()
        if kind == QEvent.Type.Show and self._window is not self._widget.window():
            self._window = self._widget.window()
            self._window.installEventFilter(self)
        if kind in (QEvent.Type.Show, QEvent.Type.Hide, QEvent.Type.WindowStateChange):
            self.look()
        return super().eventFilter(watched, event)
