"""Starts the window.

Order, so that a window you can type in is there as soon as an empty one would be:
1. Qt, the store, the settings; nothing that needs MetPy, pandas, SciPy or requests-cache.
2. The window, with the job's name and the kept readings, is built and shown.
3. Only when it is on screen the worker starts; the first verdict, and MetPy with it, comes
   from there. Until then the page says "working it out", never a remembered go.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtGui import QFont, QIcon
from PySide6.QtWidgets import QApplication

from advisor.base.store import Store
from advisor.ui.desk import Desk
from advisor.ui.main_window import MainWindow
from advisor.ui.messages import MessageBar
from advisor.ui.theme import Look
from advisor.work.workbench import Workbench


def run(
    argv: list[str],
    *,
    database: Path,
    resources: Path,
    demo: bool,
    clock: Callable[[], float] = time.time,
) -> int:
    """Show the window until it is closed; StoreError when the database cannot be used."""
    app = application(argv, resources)
    with Store(database) as store:
        window = build(Workbench(store, resources), clock)
        window.show()
        QTimer.singleShot(0, window, lambda: begin(window, demo))
        return app.exec()


def application(argv: list[str], resources: Path) -> QApplication:
    """Return the one application of the process."""
    found = QApplication.instance()
    app = found if isinstance(found, QApplication) else QApplication(argv)
    app.setApplicationName("advisor")
    app.setApplicationDisplayName("Painting-window advisor")
    app.setStyle("Fusion")
    app.setWindowIcon(QIcon(str(resources / "icons" / "advisor.svg")))
    font = QFont(app.font())
    font.setFeature(QFont.Tag("tnum"), 1)  # figures of one width, so that columns line up
    app.setFont(font)
    return app


def build(bench: Workbench, clock: Callable[[], float]) -> MainWindow:
    """Build the window with the kept choices; nothing is worked out yet."""
    settings = bench.settings
    look = Look(settings.text("theme"), int(settings.number("scale_pct")))
    return MainWindow(Desk(bench, clock, look, MessageBar()))


def begin(window: MainWindow, demo: bool) -> None:
    """Start the worker once the window is on screen."""
    window.start()
    if demo:
        window.load_demo()
