"""What is due shows in an open dialog too: the bar over the panes is out of reach under it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QWidget

from advisor.ui.alarm_bar import AlarmBar
from advisor.ui.bench_watch import BenchWatch
from advisor.ui.theme import Look


class AlarmInDialogs(QObject):
    """Puts an alarm bar at the top of whatever blocks `window`, and of what blocks that.

    The system's own windows for choosing files have no place for one.
    """

    def __init__(self, window: QWidget, watch: BenchWatch, look: Look) -> None:
        super().__init__(window)
        self._watch, self._look = watch, look
        window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Look at what was opened over the window."""
        if event.type() == QEvent.Type.WindowBlocked:
            dialog = QApplication.activeModalWidget()
            if dialog is not None and dialog is not watched:
                self._put_into(dialog)
        return super().eventFilter(watched, event)

    def _put_into(self, dialog: QWidget) -> None:
        layout = dialog.layout()
        if layout is None or layout.menuBar() is not None:
            return
        bar = AlarmBar(self._watch, self._look)
        layout.setMenuBar(bar)  # over all that is in it, whatever kind of layout it is
        bar.show_view(self._watch.view)
        dialog.installEventFilter(self)
