"""What if, by hand: levers, the picture that follows, chances after a pause, and the way back."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QComboBox, QPushButton, QSlider, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate.shop.shop import Change
from advisor.planning.verdict import Verdict
from advisor.planning.words import Words
from advisor.ui.main_window import MainWindow
from advisor.ui.panes.coming_days import chance_words
from advisor.ui.plots.picture import week_picture
from advisor.ui.widgets.lever import Lever
from advisor.ui.widgets.what_if_box import ASK, Offer
from advisor.ui.widgets.what_if_words import change_words
from advisor.work.outlook_views import WhatIf
from advisor.work.views import StartDetail

from .conftest import NOW_S, Settle
from .outlook_bench import OutlookBench
from .test_window import cut_texts

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def bench(store: Store, root: Path) -> OutlookBench:
    made = OutlookBench(store, root / "resources")
    made.begin()
    return made


@pytest.fixture
def week(window: MainWindow, settle: Settle, qtbot: QtBot) -> MainWindow:
    """Coming days with the box open."""
    window.open_pane("coming_days")
    settle(window)
    qtbot.mouseClick(window.coming_days.what_if, LEFT)
    settle(window)
    return window


def press_at(qtbot: QtBot, lever: Lever, position: int) -> None:
    """Press the track where a position lies."""
    x = round(lever.track.x_of(position))
    qtbot.mouseClick(lever.track, LEFT, pos=QPoint(x, lever.track.height() // 2))


def test_opening_changes_nothing_but_offers(week: MainWindow, bench: OutlookBench) -> None:
    pane = week.coming_days
    assert pane.box.isVisible()
    assert pane.box.sentence.text() == ASK
    assert pane.view.what_if == ""
    assert bench.calls.tried == []
    lane = pane.view.lane()
    assert lane is not None
    assert bench.calls.cheapest == [lane.lane.coat.id]
    assert len(pane.box.findChildren(Offer)) == 2


def test_a_lever_repaints_the_week_and_says_so(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    pane = week.coming_days
    before = pane.view.grab().toImage()
    press_at(qtbot, pane.box.heater, 4)
    settle(week)
    assert pane.box.heater.number.text() == "2.0 kW"
    assert bench.calls.tried[-1] == Change(heater_kw=2.0)
    assert pane.view.what_if == "2.0 kW electric heater"
    assert pane.view.grab().toImage() != before
    assert "28 kWh" in pane.box.sentence.text()
    assert pane.foot.title.text().startswith("What if, ")


def test_chances_follow_after_the_pause(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    for _ in range(3):
        qtbot.keyClick(week.coming_days.box.heater.track, Qt.Key.Key_Right)
    settle(week)
    assert bench.calls.chances == [Change(heater_kw=1.5)]
    assert "(with chances)" in week.coming_days.box.sentence.text()
    assert week.coming_days.picture is not None
    assert week.coming_days.picture.band is not None


def test_a_dragged_lever_never_queues(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch,
    settle: Settle,
) -> None:  # fmt: skip
    """While one change is worked out nine more are wanted: only the last of them is."""
    gate, begun = threading.Event(), threading.Event()
    plain = bench.what_if

    def slow(prepared: object, change: Change) -> WhatIf:
        begun.set()
        gate.wait(20)
        return plain(prepared, change)

    monkeypatch.setattr(bench, "what_if", slow)
    track = week.coming_days.box.heater.track
    qtbot.mousePress(track, LEFT, pos=QPoint(round(track.width() / 2), 10))
    qtbot.waitUntil(begun.is_set)
    for k in range(1, 10):
        qtbot.mouseMove(track, QPoint(round(track.x_of(k)), 10))
    qtbot.mouseRelease(track, LEFT, pos=QPoint(round(track.x_of(9)), 10))
    gate.set()
    settle(week)
    assert [c.heater_kw for c in bench.calls.tried] == [4.0, 4.5]
    assert week.coming_days.view.what_if == "4.5 kW electric heater"


def test_every_lever_makes_its_change(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    box = week.coming_days.box
    for lever in (box.heater, box.drier, box.damp, box.tent, box.begin):
        qtbot.keyClick(lever.track, Qt.Key.Key_Right)
    qtbot.keyClick(box.air.track, Qt.Key.Key_Right)
    qtbot.keyClick(box.floor.track, Qt.Key.Key_Left)
    qtbot.keyClick(box.end.track, Qt.Key.Key_Left)
    box.kind.choose("unvented")
    settle(week)
    # Levers count from the full hour: 08:10 UTC now, so 09:00 and its 1st and 71st hour after.
    nine = NOW_S + 50 * 60
    assert box.change() == Change(
        heater_kw=0.5, heater_kind="unvented", dehumidifier_l_per_day=2.0, air_changes=1.5,
        damp_litres=1.0, damp_m2=15.0, tent_m3=box.tent.value,
        from_s=nine + 3600, until_s=nine + 71 * 3600,
    )  # fmt: skip
    assert box.tent.value > 0
    assert bench.calls.tried[-1] == box.change()
    assert "water and CO2" in box.notes.text()
    assert box.notes.isVisible()


def test_the_work_is_moved_by_a_choice(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    """All areas of the demo stand in the shop, so the yard alone is offered."""
    pane = week.coming_days
    box = pane.box.place.box
    assert [box.itemText(k) for k in range(box.count())] == ["Work stays", "In the yard"]
    pane.box.place.choose("outdoors")
    settle(week)
    assert bench.calls.tried[-1] == Change(move="outdoors")
    assert pane.view.what_if == "work in the yard"
    qtbot.mouseClick(pane.box.as_it_is, LEFT)
    settle(week)
    assert pane.box.place.key == ""
    assert pane.view.what_if == ""


def test_each_place_is_offered_where_some_work_is_not(week: MainWindow) -> None:
    box = week.coming_days.box
    for indoors, outdoors, keys in (
        (True, True, ["", "outdoors", "indoors"]), (False, True, ["", "indoors"]),
    ):  # fmt: skip
        box.show_places(indoors=indoors, outdoors=outdoors)
        assert [box.place.box.itemData(k) for k in range(box.place.box.count())] == keys


def test_from_stays_before_until(week: MainWindow, qtbot: QtBot) -> None:
    box = week.coming_days.box
    qtbot.keyClick(box.end.track, Qt.Key.Key_Home)
    assert (box.begin.value, box.end.value) == (0.0, 1.0)
    qtbot.keyClick(box.begin.track, Qt.Key.Key_End)
    assert box.begin.value < box.end.value


def test_as_it_is_takes_everything_back(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    pane = week.coming_days
    before = pane.view.grab().toImage()
    press_at(qtbot, pane.box.heater, 10)
    press_at(qtbot, pane.box.damp, 20)
    settle(week)
    qtbot.mouseClick(pane.box.as_it_is, LEFT)
    settle(week)
    assert pane.box.change() == Change()
    assert pane.view.what_if == ""
    assert pane.box.sentence.text() == ASK
    assert pane.view.grab().toImage() == before
    assert not pane.foot.title.text().startswith("What if")


def test_closing_the_box_takes_the_change_back(
    week: MainWindow, qtbot: QtBot, settle: Settle
) -> None:
    press_at(qtbot, week.coming_days.box.heater, 10)
    settle(week)
    qtbot.mouseClick(week.coming_days.what_if, LEFT)
    settle(week)
    assert not week.coming_days.box.isVisible()
    assert week.coming_days.view.what_if == ""
    assert week.coming_days.foot.turn.isVisible() or not week.coming_days.foot.turn.text()


def test_a_suggestion_sets_the_levers(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    box = week.coming_days.box
    first = box.findChildren(Offer)[0]
    qtbot.mouseClick(first, LEFT)
    settle(week)
    assert box.heater.value == 1.0
    assert (box.begin.value, box.end.value) == (9.0, 23.0)
    assert bench.calls.tried[-1].until_s == bench.calls.tried[-1].from_s + 14 * 3600  # type: ignore[operator]
    assert week.coming_days.view.what_if == "1.0 kW electric heater, from 19:00 until Thu 09:00"


def test_suggestions_follow_the_coat_in_hand(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    qtbot.keyClick(week.coming_days.view, Qt.Key.Key_Down)
    settle(week)
    lane = week.coming_days.view.lane()
    assert lane is not None
    assert bench.calls.cheapest[-1] == lane.lane.coat.id
    assert len(set(bench.calls.cheapest)) == 2


def test_a_minute_later_the_change_is_still_on(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    press_at(qtbot, week.coming_days.box.heater, 4)
    settle(week)
    done = len(bench.calls.tried)
    week.tick()
    settle(week)
    assert len(bench.calls.tried) == done + 1
    assert week.coming_days.view.what_if == "2.0 kW electric heater"
    assert week.coming_days.view.graphicsEffect() is None


def test_no_outlook_says_why(
    window: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    bench.shop_now = None
    window.open_pane("coming_days")
    settle(window)
    qtbot.mouseClick(window.coming_days.what_if, LEFT)
    press_at(qtbot, window.coming_days.box.heater, 4)
    settle(window)
    assert "say what the shop is" in window.coming_days.box.sentence.text()
    assert window.coming_days.view.what_if == ""
    assert window.coming_days.view.graphicsEffect() is None


def test_a_change_that_fails_says_why_and_the_next_is_tried(
    week: MainWindow, bench: OutlookBench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch,
    settle: Settle,
) -> None:  # fmt: skip
    def fail(prepared: object, change: Change) -> WhatIf:
        raise InputError("tent_m3: found 900; accepted: less than the shop")

    with monkeypatch.context() as broken:
        broken.setattr(bench, "what_if", fail)
        press_at(qtbot, week.coming_days.box.tent, 3)
        settle(week)
        assert "less than the shop" in week.coming_days.box.sentence.text()
        assert week.coming_days.view.what_if == ""
    press_at(qtbot, week.coming_days.box.heater, 4)
    settle(week)
    assert week.coming_days.view.what_if.startswith("2.0 kW electric heater")


def test_units_reach_levers_and_picture(week: MainWindow, qtbot: QtBot, settle: Settle) -> None:
    box = week.coming_days.box
    box.drier.show_value(20.0)
    box.drier.changed.emit()
    settle(week)
    assert box.drier.number.text() == "20 L/day"
    week.switch_units()
    settle(week)
    # 20 L / 3.785411784 L (US gallon of 231 cubic inches) = 5.28.
    assert box.drier.number.text() == "5.3 gal/day"
    assert week.coming_days.view.what_if == "dehumidifier 5.3 gal/day"


def test_gloves_and_keyboard(week: MainWindow, qtbot: QtBot) -> None:
    box = week.coming_days.box
    for track in box.findChildren(QSlider):
        assert min(track.width(), track.height()) >= 44
        assert track.accessibleName()
        assert track.focusPolicy() & Qt.FocusPolicy.TabFocus
    for made in (*box.findChildren(QPushButton), *box.findChildren(QComboBox)):
        assert made.height() >= 44
        assert made.focusPolicy() & Qt.FocusPolicy.TabFocus
    week.activateWindow()
    qtbot.waitUntil(week.isActiveWindow)
    box.heater.track.setFocus()
    seen: list[QWidget] = []
    for _ in range(14):
        focus = QApplication.focusWidget()
        assert focus is not None
        seen.append(focus)
        qtbot.keyClick(focus, Qt.Key.Key_Tab)
    wanted = [box.heater.track, box.kind.box, box.drier.track, box.air.track, box.damp.track,
              box.floor.track, box.tent.track, box.place.box, box.begin.track,
                  box.end.track]  # fmt: skip
    assert seen[: len(wanted)] == wanted


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080), (1024, 700)])
@pytest.mark.parametrize("scale_pct", [100, 150])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_of_the_box_runs_out_of_its_place(
    week: MainWindow, settle: Settle, size: tuple[int, int], scale_pct: int, units: str
) -> None:
    week.resize(*size)
    week.desk.look.set_scale(scale_pct)
    week.desk.set_units("us" if units == "us" else "metric")
    change = Change(7.5, "unvented", 58.0, 12.0, 39.0, 95.0, 0.0, NOW_S + 36000, NOW_S + 172800)
    week.coming_days.box.show_change(change)
    settle(week)
    for _ in range(5):
        QApplication.processEvents()
    assert cut_texts(week.coming_days) == []


def test_the_band_is_drawn_and_told(week: MainWindow, bench: OutlookBench) -> None:
    plain = week.coming_days.picture
    assert plain is not None
    view, words = week.coming_days.view, week.desk.words()
    soft = view.grab().toImage()
    view.show_week(replace(plain, band=None), words.zone, "metric")
    assert view.grab().toImage() != soft


def test_a_what_if_picture_is_made_from_its_week(bench: OutlookBench) -> None:
    bench.load_demo(NOW_S)
    prepared = bench.prepare_what_if(NOW_S, 7)
    answer = bench.what_if(prepared, Change(heater_kw=1.0))
    picture = week_picture(answer.week)
    was = week_picture(bench.coming_days(NOW_S))
    later = (picture.time_s > NOW_S) & ~np.isnan(was.surface_c)
    assert later.sum() > 100
    assert (picture.surface_c - was.surface_c)[later] == pytest.approx(2.0, abs=1e-9)


@pytest.mark.parametrize(
    ("chance", "told"),
    [(None, ""), (0.0, "fewer than 1 of 10"), (0.09, "fewer than 1 of 10"), (0.7, "7 of 10"),
     (0.899, "8 of 10"), (0.9, "9 of 10"), (0.94, "9 of 10"), (0.96, "19 of 20"),
     (0.995, "99 of 100"), (1.0, "every course")],
)  # fmt: skip
def test_chances_in_words_are_never_rounded_up(chance: float | None, told: str) -> None:
    detail = StartDetail(0.0, Verdict.GO, False, "", "", (), (), "", chance)
    words = chance_words(detail)
    assert (told in words) if told else words == ""


def test_changes_in_words() -> None:
    from zoneinfo import ZoneInfo

    words = Words("us", ZoneInfo("Europe/London"), NOW_S)
    change = Change(1.5, "vented", 10.0, 4.0, 8.0, 20.0, 30.0, None, NOW_S + 3000)
    # 8 L = 2.1 US gal, 20 m² = 215 ft², 30 m³ = 1059 ft³.
    assert change_words(change, words) == (
        "1.5 kW vented heater, dehumidifier 2.6 gal/day, air change × 4, 2.1 US gal on the floor "
        "over 215 ft², tent of 1059 ft³, until 10:00"
    )
    assert change_words(Change(from_s=NOW_S), words) == ""
    assert change_words(Change(move="outdoors", until_s=NOW_S + 3000), words) == (
        "work in the yard, until 10:00"
    )
