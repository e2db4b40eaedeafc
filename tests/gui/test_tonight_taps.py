"""Tonight: what is seen on a film is noted by one tap; the data sheet's minimum stands."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from advisor.record import chain
from advisor.ui.main_window import MainWindow
from advisor.work.live_views import STANDS

from .conftest import NOW_S, Settle


@pytest.fixture
def night(window: MainWindow, settle: Settle) -> MainWindow:
    window.desk.bench.lay_coat("port-gloss-2", NOW_S - 7200, NOW_S - 3600)
    window.open_pane("tonight")
    settle(window)
    return window


def tap(window: MainWindow, what: str) -> list[QPushButton]:
    name = f"second gloss, port side: {what} now"
    return [b for b in window.tonight.findChildren(QPushButton) if b.accessibleName() == name]


def test_one_tap_keeps_what_was_seen(night: MainWindow, settle: Settle, qtbot: QtBot) -> None:
    (button,) = tap(night, "tack-free")
    assert (button.text(), button.height() >= 44) == ("Tack-free now", True)
    assert any(STANDS in label.text() for label in night.tonight.findChildren(QLabel))
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settle(night)
    bench = night.desk.bench
    entry = chain.entries(bench.store, bench.job_in_hand().id, kinds=("observation",))[-1]
    assert (entry.coat_id, entry.data["what"]) == ("port-gloss-2", "tack-free")
    assert STANDS in night.desk.messages.text
    assert tap(night, "tack-free") == []
    assert len(tap(night, "tape-dry")) == 1


def test_the_demo_opened_from_the_window_gets_its_record(
    night: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    bench = night.desk.bench
    night.desk.now_s = lambda: NOW_S + 2 * 86400.0  # type: ignore[method-assign]
    night.load_demo()
    settle(night)
    qtbot.waitUntil(lambda: bench.record.head().entries > 50, timeout=60_000)
    settle(night)
    assert {e.by for e in chain.entries(bench.store, bench.job_in_hand().id)} == {"Demo crew"}
