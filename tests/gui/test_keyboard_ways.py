"""Tab goes through every pane as one reads it, comes round again, and is seen where it is."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from advisor.ui.main_window import MainWindow
from advisor.ui.panes.record import RecordPane
from advisor.work.workbench import Workbench

from .bench_window import quiet
from .conftest import NOW_S, Settle

#: Every pane, and every view of the record.
PLACES = (
    "before_mixing", "batch", "batch:form", "tonight", "coming_days", "readings",
    "record:entries", "record:coats", "record:job", "record:paper", "shop", "help",
)  # fmt: skip
#: More stops than any pane has: who is not round by then is in a trap.
MOST = 120


@pytest.fixture
def opened(
    monkeypatch: pytest.MonkeyPatch, bench: Workbench, request: pytest.FixtureRequest
) -> MainWindow:
    """The demo with its record, active, so that keys reach it."""
    quiet(monkeypatch)
    window: MainWindow = request.getfixturevalue("window")
    bench.keep_demo_record(NOW_S)
    window.activateWindow()
    return window


def open_place(window: MainWindow, settle: Settle, place: str) -> QWidget:
    """Open a pane, or one view of it; return what is in the window's stack."""
    key, _, view = place.partition(":")
    window.open_pane(key)
    settle(window)
    pane = window.stack.currentWidget()
    assert pane is not None
    if isinstance(pane, RecordPane):
        pane.open_view(view)
    elif view == "form":
        window.mix_batch("port-gloss-2")
    settle(window)
    window.activateWindow()
    return pane


def way(window: MainWindow, pane: QWidget, qtbot: QtBot) -> list[QWidget]:
    """Return where Tab goes inside a pane, from the first stop until it comes round."""
    start = window.header.tabs["before_mixing"]
    start.setFocus()
    seen: list[QWidget] = []
    for _ in range(MOST):
        focus = QApplication.focusWidget()
        assert focus is not None
        qtbot.keyClick(focus, Qt.Key.Key_Tab)
        now = QApplication.focusWidget()
        assert now is not None
        if now is start:
            return [widget for widget in seen if pane.isAncestorOf(widget) or widget is pane]
        assert now not in seen, f"{told(now)} comes twice before the first comes again"
        seen.append(now)
    raise AssertionError(f"does not come round: {[told(w) for w in seen[-4:]]}")


def told(widget: QWidget) -> str:
    """Name a widget for a message."""
    words = getattr(widget, "text", str)
    return f"{type(widget).__name__} {widget.accessibleName() or words()!r}"


def show(widget: QWidget) -> None:
    around = widget.parentWidget()
    while around is not None:
        if isinstance(around, QScrollArea):
            around.ensureWidgetVisible(widget)
        around = around.parentWidget()


def place_of(widget: QWidget, window: QWidget) -> QRect:
    return QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())


def goes_back(before: QRect, after: QRect) -> bool:
    """Whether the eye would have to go back: up without going right, or left in one row."""
    if after.bottom() < before.top():
        return after.left() < before.right()
    in_one_row = after.top() <= before.center().y() <= after.bottom()
    return in_one_row and after.center().x() < before.center().x()


@pytest.mark.parametrize("place", PLACES)
def test_tab_goes_as_one_reads(
    opened: MainWindow, settle: Settle, qtbot: QtBot, place: str
) -> None:
    pane = open_place(opened, settle, place)
    qtbot.waitUntil(opened.isActiveWindow)
    stops = way(opened, pane, qtbot)
    assert stops, "nothing is reached by Tab"
    back = []
    for before, after in pairwise(stops):
        show(after)  # both places as the page lies when Tab has come to the second
        if goes_back(place_of(before, opened), place_of(after, opened)):
            back.append(f"{told(before)} to {told(after)}")
    assert not back, "; ".join(back)
    missed = [told(w) for w in pane.findChildren(QWidget)
              if w.isVisible() and w.isEnabled() and w not in stops
              and w.focusPolicy() & Qt.FocusPolicy.TabFocus and w.focusProxy() is None
              and not isinstance(w, QScrollArea)
              and not isinstance(w.parent(), QAbstractScrollArea)]  # fmt: skip
    assert not missed, "; ".join(missed)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("place", PLACES)
def test_the_keyboard_is_seen_where_it_is(
    opened: MainWindow, settle: Settle, qtbot: QtBot, place: str, theme: str
) -> None:
    """A ring changes at least as many pixels as its widget is round by half; a caret does not."""
    opened.desk.look.set_theme(theme)
    pane = open_place(opened, settle, place)
    qtbot.waitUntil(opened.isActiveWindow)
    unseen = []
    for stop in way(opened, pane, qtbot):
        if (
            seen_pixels(opened, stop)
            < (
                stop.visibleRegion().boundingRect().width()
                + stop.visibleRegion().boundingRect().height()
            )
            / 2
        ):
            unseen.append(told(stop))
    assert not unseen, "; ".join(unseen)


def seen_pixels(window: MainWindow, stop: QWidget) -> int:
    """Count pixels of the window that differ while a widget has the keyboard."""
    show(stop)
    stop.setFocus(Qt.FocusReason.TabFocusReason)
    QApplication.processEvents()
    there = pixels(window.grab().toImage())
    window.header.tabs["before_mixing"].setFocus(Qt.FocusReason.TabFocusReason)
    QApplication.processEvents()
    gone = pixels(window.grab().toImage())
    low = window.header.height()
    return int((there != gone)[low:].any(axis=2).sum())


def pixels(image: QImage) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), -1, 4).copy()
