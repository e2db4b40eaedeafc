"""The picture of the week by hand and by keyboard, and the axis it lies on."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from advisor.ui.main_window import MainWindow
from advisor.ui.plots.axis import Axis, days_between
from advisor.ui.plots.lines import curves, pieces

from .conftest import NOW_S, Settle

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def week(window: MainWindow, settle: Settle) -> MainWindow:
    window.open_pane("coming_days")
    settle(window)
    return window


def test_a_lane_for_every_coat_still_to_do(week: MainWindow) -> None:
    job = week.desk.bench.job()
    assert job is not None
    assert week.coming_days.picture is not None
    shown = [lane.lane.coat.id for lane in week.coming_days.picture.lanes]
    assert shown == [coat.id for coat in job.next_coats()]


def test_bars_are_the_windows_of_the_bench(week: MainWindow) -> None:
    picture = week.coming_days.picture
    assert picture is not None
    for lane in picture.lanes:
        good = [w for w in lane.lane.windows if w.verdict <= 1]
        bars = [b for b in lane.bars if b.kind in ("go", "close")]
        assert [(b.first_s, b.last_s) for b in bars] == [
            (lane.starts_s[w.first], lane.starts_s[w.last]) for w in good
        ]
    assert any(b.kind == "sand" for lane in picture.lanes for b in lane.bars)


def test_keys_choose_and_the_foot_tells_why(week: MainWindow, qtbot: QtBot, settle: Settle) -> None:
    view, foot = week.coming_days.view, week.coming_days.foot
    assert view.selection == (0, 0)
    told = foot.title.text()
    assert "start 09:10" in told
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view.selection == (0, 1)
    qtbot.keyClick(view, Qt.Key.Key_Right, CTRL)
    assert view.selection == (0, 13)
    settle(week)
    assert "start 10:15" in foot.title.text()
    qtbot.keyClick(view, Qt.Key.Key_Down)
    assert view.selection == (1, 13)
    qtbot.keyClick(view, Qt.Key.Key_Home)
    assert view.selection == (1, 0)


def test_shift_jumps_to_the_next_window(week: MainWindow, qtbot: QtBot) -> None:
    view = week.coming_days.view
    lane = view.lane()
    assert lane is not None
    opens = [b.first_s for b in lane.bars if b.kind in ("go", "close")]
    qtbot.keyClick(view, Qt.Key.Key_Right, SHIFT)
    assert lane.starts_s[view.selection[1]] == min(s for s in opens if s > lane.starts_s[0])


def test_hover_chooses_a_start(week: MainWindow, qtbot: QtBot, settle: Settle) -> None:
    view = week.coming_days.view
    box = view.lane_box(2)
    qtbot.mouseMove(view, QPoint(view.width() // 2, int(box.center().y())))
    settle(week)
    assert view.selection[0] == 2
    lane = view.lane()
    assert lane is not None
    kind = lane.kind(view.selection[1])
    words = {"go": "Go", "close": "Close call", "wait": "Wait", "sand": "Sand first"}
    assert week.coming_days.foot.title.text().startswith(words[kind])


def test_zoom_and_home(week: MainWindow, qtbot: QtBot) -> None:
    view = week.coming_days.view
    before = view.axis
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert view.axis.last_s - view.axis.first_s < before.last_s - before.first_s
    qtbot.keyClick(view, Qt.Key.Key_Home)
    assert view.axis == before


def test_the_picture_follows_the_readings(week: MainWindow, settle: Settle) -> None:
    view = week.coming_days.view
    before = view.grab().toImage()
    work = week.before_mixing.work
    work.boxes["surface_temp_c"].field.setText("6.0")
    for name in ("air_temp_c", "rh_pct", "surface_hot_c"):
        work.boxes[name].confirm()
    week.before_mixing.record.click()
    settle(week)
    assert view.grab().toImage() != before


def test_the_week_speaks_of_the_reading_in_the_boxes(window: MainWindow, settle: Settle) -> None:
    """Typed and not kept yet: the verdict and the week must not part."""
    window.open_pane("coming_days")
    settle(window)
    kept = window.coming_days.view.grab().toImage()
    window.open_pane("before_mixing")
    window.before_mixing.work.boxes["surface_temp_c"].field.setText("6.0")
    settle(window)
    assert window.before_mixing.answer.mark.kind == "wait"
    window.open_pane("coming_days")
    settle(window)
    assert window.coming_days.view.grab().toImage() != kept


def test_units_reach_the_picture(week: MainWindow, settle: Settle) -> None:
    before = week.coming_days.view.grab().toImage()
    week.switch_units()
    settle(week)
    assert week.coming_days.view.grab().toImage() != before


@given(
    x=st.floats(0, 1000),
    first=st.floats(0, 4e9),
    span=st.floats(3600, 2e6),
    factor=st.floats(0.2, 5),
)
def test_axis_goes_there_and_back(x: float, first: float, span: float, factor: float) -> None:
    axis = Axis(first, first + span, 100.0, 1100.0)
    # Seconds near 4e9 carry 5e-7 s; over a pixel of at least 3.6 s that is far under 1e-6 px.
    assert axis.x(axis.at(x)) == pytest.approx(x, abs=1e-6)
    about = axis.at(x)
    assert axis.zoomed(factor, about).x(about) == pytest.approx(x, abs=1e-3)


def test_days_across_the_clock_change() -> None:
    """Europe/London, 30 March 2031: clocks go forward, the day has 23 hours."""
    zone = ZoneInfo("Europe/London")
    first = NOW_S - 46 * 86400  # 29 March
    days = days_between(first, first + 3 * 86400, first, zone)
    hours = [(day.end_s - day.start_s) / 3600 for day in days]
    assert 23.0 in hours
    assert [day.strength for day in days][:4] == ["", "", "likely", "outlook"]


def test_holes_are_not_bridged() -> None:
    x = np.arange(6.0)
    y = np.array([1.0, 2.0, np.nan, 4.0, 5.0, np.nan])
    assert [piece.size() for piece in pieces(x, y)] == [2, 2]


def test_drawing_takes_at_most_a_few_points_a_pixel(week: MainWindow) -> None:
    picture = week.coming_days.picture
    assert picture is not None
    axis = Axis(float(picture.time_s[0]), float(picture.time_s[-1]), 0.0, 200.0)
    assert len(curves(picture, axis, "metric").x) <= 3 * 200 * 2
