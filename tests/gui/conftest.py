"""A window on the demo job at a fixed clock."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.base.store import Store
from advisor.ui.app import build
from advisor.ui.main_window import MainWindow
from advisor.work import outlook_basis
from advisor.work.workbench import Workbench

NOW_S = datetime(2031, 5, 14, 8, 10, tzinfo=UTC).timestamp()


class Clock:
    """A clock a test turns by hand."""

    def __init__(self) -> None:
        self.now_s = NOW_S

    def __call__(self) -> float:
        return self.now_s


Settle = Callable[[MainWindow], None]


#: Courses of the outlook in a window under test: verdicts and pictures go the same way as with
#: the 200 of the program (`all_courses` marks tests with all of them), in a tenth of the time.
FEW = 20


@pytest.fixture(autouse=True)
def few_courses(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw few courses unless a test is marked to want all."""
    if request.node.get_closest_marker("all_courses") is None:
        drawn = functools.partial(outlook_basis.scenario_outdoor, count=FEW)
        monkeypatch.setattr(outlook_basis, "scenario_outdoor", drawn)


@pytest.fixture(autouse=True)
def nothing_left(qapp: QApplication) -> Iterator[None]:
    """Take down what a test closed: without a loop of its own Qt keeps it, and each style sheet
    put on later is worked out for the windows of all tests before."""
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def settle(qtbot: QtBot) -> Settle:
    """Wait until nothing is being worked out."""

    def wait(window: MainWindow) -> None:
        def quiet() -> bool:
            waiting = window.before_mixing.waiting or not window.coming_days.idle()
            return window.desk.idle() and not waiting

        qtbot.waitUntil(quiet, timeout=60_000)

    return wait


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    return Workbench(store, root / "resources")


@pytest.fixture
def window(
    qapp: QApplication, bench: Workbench, clock: Clock, settle: Settle
) -> Iterator[MainWindow]:
    """The demo, settled, at 1280 by 800."""
    bench.load_demo(NOW_S)
    if not bench.settings.text("person"):
        bench.settings.set("person", "A. Painter")
    opened = build(bench, clock)
    opened.show()
    opened.start()
    settle(opened)
    yield opened
    opened.close()
    opened.deleteLater()
    qapp.setStyleSheet("")
