"""Panes made when first opened, and the bar that leads to all of them however narrow."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from advisor.ui.header import PANES, STAY
from advisor.ui.late_panes import MAKERS
from advisor.ui.main_window import MainWindow

from .conftest import Settle


def test_the_start_makes_none_of_them(window: MainWindow) -> None:
    assert window.late.made() == ()


def test_a_pane_is_made_once(window: MainWindow, settle: Settle) -> None:
    window.open_pane("batch")
    settle(window)
    first = window.stack.currentWidget()
    window.open_pane("tonight")
    window.open_pane("batch")
    settle(window)
    assert window.stack.currentWidget() is first
    assert window.late.made() == ("batch",)


def test_every_late_pane_has_its_tab() -> None:
    assert set(MAKERS) <= set(dict(PANES))
    assert sorted(STAY) == sorted(dict(PANES))


@pytest.mark.parametrize("size", [640, 800, 1024, 1280, 1920])
@pytest.mark.parametrize("scale_pct", [100, 150])
def test_every_pane_is_reached(window: MainWindow, size: int, scale_pct: int) -> None:
    window.resize(size, 800)
    window.desk.look.set_scale(scale_pct)
    header = window.header
    for key, _ in PANES:
        window.header.show_pane(key)
        QApplication.processEvents()
        assert header.tabs[key].isVisible(), key
        for other, _ in PANES:
            assert header.tabs[other].isVisible() != header.in_menu[other].isVisible(), other
        for tab in header.tabs.values():
            assert not tab.isVisible() or tab.width() >= tab.sizeHint().width() - 1, tab.text()
        right = header.menu.geometry().right()
        assert right <= header.width()


def test_all_fit_at_1280(window: MainWindow) -> None:
    window.resize(1280, 800)
    QApplication.processEvents()
    assert all(tab.isVisible() for tab in window.header.tabs.values())
    assert window.header.clock.isVisible()
    assert window.header.job_name.isVisible()


def test_the_menu_opens_what_the_bar_left_out(window: MainWindow, settle: Settle) -> None:
    window.resize(640, 800)
    QApplication.processEvents()
    assert window.header.in_menu["shop"].isVisible()
    window.header.in_menu["shop"].trigger()
    settle(window)
    assert window.stack.currentWidget() is window.shop
    assert window.header.tabs["shop"].isVisible()
