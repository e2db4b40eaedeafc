"""Sensors are followed whatever pane is on show, and let go when the window closes."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from advisor.base.errors import StoreError
from advisor.climate.live.sensor import Sensor, SensorState
from advisor.ui.main_window import MainWindow
from advisor.work.workbench import Workbench

from .conftest import Clock, Settle

LOG = "time,air temperature C,humidity %,surface temperature C\n"


@pytest.fixture
def logger(bench: Workbench, window: MainWindow, settle: Settle) -> Sensor:
    folder = bench.store.path.parent
    (folder / "log.csv").write_text(LOG, encoding="utf-8")
    sensor = Sensor("logger", "Logger", "file", path=str(folder / "log.csv"))
    bench.sensors.save(sensor)
    window.desk.sensing.poll()
    settle(window)
    return sensor


def test_nothing_is_written_where_no_sensor_is_set_up(
    window: MainWindow, bench: Workbench, settle: Settle
) -> None:
    window.desk.sensing.poll()
    settle(window)
    assert window.desk.sensing.states == ()
    with bench.store.read() as db:
        assert db.execute("SELECT count(*) FROM sensor_state").fetchone() == (0,)


def test_what_a_log_brings_reaches_the_boxes(
    window: MainWindow, bench: Workbench, logger: Sensor, settle: Settle, clock: Clock
) -> None:
    clock.now_s += 120  # 08:12 UTC
    with open(logger.path, "a", encoding="utf-8") as log:
        log.write("2031-05-14T08:11:30Z,14.3,61,13.1\n")
    for _ in range(2):  # a line is believed when the file has stood still for a look
        window.desk.sensing.poll()
        settle(window)
    (state,) = window.desk.sensing.states
    assert state.sensor.id == "logger"
    window.tick()
    settle(window)
    assert window.before_mixing.work.boxes["air_temp_c"].value == pytest.approx(14.3)


def test_a_fault_of_the_store_is_told_once(
    window: MainWindow, bench: Workbench, logger: Sensor, settle: Settle,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def broken(now_s: float) -> tuple[SensorState, ...]:
        raise StoreError("the disk is full: make room")

    monkeypatch.setattr(bench.sensors, "poll", broken)
    window.desk.sensing.poll()
    settle(window)
    assert "the disk is full" in window.desk.messages.text
    window.desk.messages.hide()
    window.desk.sensing.poll()
    settle(window)
    assert window.desk.messages.text == ""


def test_closing_lets_another_window_follow(
    window: MainWindow, bench: Workbench, logger: Sensor, qtbot: QtBot
) -> None:
    window.close()
    with bench.store.read() as db:
        held = db.execute("SELECT count(*) FROM sensor_state WHERE id = ' follower'").fetchone()
    assert held == (0,)
