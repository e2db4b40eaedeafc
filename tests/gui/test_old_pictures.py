"""What was worked out before a change does not stand as current; a coat can be taken off again."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.errors import InputError
from advisor.ui.main_window import MainWindow
from advisor.ui.widgets.twice_pressed import TwicePressed
from advisor.work.views import FilmTonight
from advisor.work.workbench import Workbench

from .conftest import NOW_S, Settle


def faded(widget: QWidget) -> bool:
    return widget.graphicsEffect() is not None


def fail(*_: object) -> None:
    raise InputError("log: found nothing; accepted: readings")


@pytest.fixture
def week(window: MainWindow, settle: Settle) -> MainWindow:
    window.open_pane("coming_days")
    settle(window)
    return window


@pytest.fixture
def night(window: MainWindow, settle: Settle) -> MainWindow:
    window.desk.bench.lay_coat("port-gloss-2", NOW_S - 7200, NOW_S - 3600)
    window.open_pane("tonight")
    settle(window)
    return window


def test_the_week_fades_until_the_new_one_is_there(week: MainWindow, settle: Settle) -> None:
    pane = week.coming_days
    assert not faded(pane.view)
    pane.refresh()
    assert faded(pane.view)
    assert faded(pane.foot)
    settle(week)
    assert not faded(pane.view)
    assert not faded(pane.foot)


def test_no_start_of_an_old_week_is_explained(
    week: MainWindow, settle: Settle, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    pane, asked = week.coming_days, []
    detail = Workbench.start_detail

    def note(self: Workbench, lane: object, *rest: object) -> object:
        asked.append(lane)
        return detail(self, lane, *rest)

    monkeypatch.setattr(Workbench, "start_detail", note)
    pane.refresh()
    qtbot.keyClick(pane.view, Qt.Key.Key_Right)
    settle(week)
    assert pane.picture is not None
    assert asked == [pane.picture.lanes[0].lane]
    assert pane.view.selection == (0, 1)


def test_the_chosen_start_is_told_anew_with_a_new_week(
    week: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    view = week.coming_days.view
    qtbot.keyClick(view, Qt.Key.Key_Down)
    with qtbot.waitSignal(view.chosen, timeout=60_000) as told:
        week.coming_days.refresh()
    assert told.args == list(view.selection)
    settle(week)


def test_a_week_that_fails_is_cleared(
    week: MainWindow, settle: Settle, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    pane = week.coming_days
    qtbot.keyClick(pane.view, Qt.Key.Key_Down)
    chosen = pane.view.selection
    with monkeypatch.context() as broken:
        broken.setattr(Workbench, "coming_days", fail)
        pane.refresh()
        settle(week)
    assert pane.picture is None
    assert pane.view.lane() is None
    assert "found nothing" in pane.notice.text()
    assert pane.foot.title.text() == "Can't tell"
    assert not faded(pane.foot)
    pane.refresh()
    settle(week)
    assert pane.view.selection == chosen
    assert "start" in pane.foot.title.text()


def test_tonight_fades_until_the_new_one_is_there(night: MainWindow, settle: Settle) -> None:
    pane = night.tonight
    assert not faded(pane._holder)
    pane.refresh()
    assert faded(pane._holder)
    settle(night)
    assert not faded(pane._holder)
    assert pane.films


def test_a_night_that_fails_is_cleared(
    night: MainWindow, settle: Settle, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Workbench, "tonight", fail)
    night.tonight.refresh()
    settle(night)
    assert night.tonight.films == ()
    assert not faded(night.tonight._holder)


def undo_of(window: MainWindow, film: FilmTonight) -> QPushButton:
    name = f"{film.coat.name}, {film.area.name}: not on after all"
    return next(b for b in window.tonight.findChildren(TwicePressed) if b.accessibleName() == name)


def test_a_coat_laid_by_mistake_is_taken_off(
    night: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    film = next(f for f in night.tonight.films if f.coat.id == "port-gloss-2")
    button = undo_of(night, film)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settle(night)
    job = night.desk.bench.job()
    assert job is not None
    assert job.coat("port-gloss-2").laid is not None, "the first press only asks"
    assert button.text() == "Press again: it is not on"
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settle(night)
    job = night.desk.bench.job()
    assert job is not None
    assert job.coat("port-gloss-2").laid is None
    assert "port-gloss-2" not in [f.coat.id for f in night.tonight.films]
    assert "no longer noted as on" in night.desk.messages.text


def test_moving_away_takes_the_first_press_back(night: MainWindow, qtbot: QtBot) -> None:
    button = undo_of(night, night.tonight.films[0])
    night.activateWindow()
    button.setFocus()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    night.tonight.setFocus()
    assert button.text() == "Not on after all"
