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

from advisor.base.errors import StoreError
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
    with opened(database, clock) as store:
        window = build(Workbench(store, resources), clock)
        window.show()
        if store.put_right:
            window.desk.messages.error(store.put_right)
        begin_when_shown(window, demo)
        return app.exec()


def opened(database: Path, clock: Callable[[], float]) -> Store:
    """Open the database; where that fails, ask what to do before giving up with StoreError."""
    while True:
        try:
            store = Store(database)
            _readable(store)
        except StoreError as error:
            from advisor.ui.dialogs.rescue_dialog import opened_after_rescue

            if not opened_after_rescue(database, str(error), clock):
                raise
        else:
            return store


def _readable(store: Store) -> None:
    """Touch every table's first page: a file cut short opens, but cannot be read."""
    try:
        with store.read() as db:
            for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
                db.execute(f"SELECT 1 FROM {name} LIMIT 1").fetchone()
    except StoreError:
        store.close()
        raise


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


#: Looks for the window on screen before work starts anyway (it may have been opened minimised).
LOOKS, LOOK_EVERY_MS, AFTER_FIRST_PICTURE_MS = 60, 5, 30


def begin_when_shown(window: MainWindow, demo: bool, looks: int = LOOKS) -> None:
    """Let the window be drawn first: the heavy imports would hold its first picture up."""
    handle = window.windowHandle()
    if looks > 0 and (handle is None or not handle.isExposed()):
        again = lambda: begin_when_shown(window, demo, looks - 1)  # noqa: E731
        QTimer.singleShot(LOOK_EVERY_MS, window, again)
        return
    QTimer.singleShot(AFTER_FIRST_PICTURE_MS, window, lambda: begin(window, demo))


def begin(window: MainWindow, demo: bool) -> None:
    """Start the worker once the window is on screen."""
    window.start()
    if demo:
        window.load_demo()
