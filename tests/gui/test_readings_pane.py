"""The Readings pane by hand: picture, table, filters, sensors as they stand, a reading typed."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate.live.sensor import Broker, Sensor, SensorState, TopicValue
from advisor.climate.reading_store import save_table
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.ui.desk import Desk
from advisor.ui.dialogs.sensor_dialog import SensorDialog
from advisor.ui.dialogs.type_reading import NOTHING, TypeReadingDialog
from advisor.ui.messages import MessageBar
from advisor.ui.panes.at_the_work import EXCHANGED
from advisor.ui.panes.readings import NONE_SUCH, NOTHING_YET, ReadingsPane
from advisor.ui.plots.readings_plot import CLOSEST_S, FURTHEST_S
from advisor.ui.theme import Look
from advisor.work.readings_look import DOUBTS, doubts
from advisor.work.workbench import Workbench

from .conftest import NOW_S, Clock

pytestmark = pytest.mark.gui
LEFT = Qt.MouseButton.LeftButton


class FakeSensors:
    """Stands in for the sensors of a bench."""

    def __init__(self) -> None:
        self.states_now: tuple[SensorState, ...] = ()
        self.saved: list[Sensor] = []
        self.removed: list[str] = []
        self.error: InputError | None = None

    def states(self, now_s: float) -> tuple[SensorState, ...]:
        if self.error is not None:
            raise self.error
        return self.states_now

    def save(self, sensor: Sensor) -> None:
        self.saved.append(sensor)

    def remove(self, sensor_id: str) -> None:
        self.removed.append(sensor_id)


@pytest.fixture
def sensors(bench: Workbench) -> FakeSensors:
    made = FakeSensors()
    bench.__dict__["sensors"] = made  # before the bench makes its own
    return made


@pytest.fixture
def desk(
    qapp: QApplication, bench: Workbench, clock: Clock, sensors: FakeSensors
) -> Iterator[Desk]:
    bench.load_demo(NOW_S)
    with bench.store.write() as db:  # the demo's own readings would hide what a test puts in
        db.execute("DELETE FROM reading")
        db.execute("DELETE FROM reading_span")
    bar = MessageBar()
    made = Desk(bench, clock, Look("light", 100), bar)
    yield made
    made.close()
    bar.deleteLater()


def log(
    rows: int, origin: Origin = Origin.IMPORTED, step_s: int = 600, ends_s: float = NOW_S - 300
) -> ReadingTable:
    time_s = int(ends_s) - step_s * np.arange(rows - 1, -1, -1, dtype=np.int64)
    hours = time_s / 3600
    air = 12 + 4 * np.sin(hours / 4)
    flags = np.zeros(rows, np.uint16)
    flags[-3:-2] = Flag.SPIKE
    columns = {"air_temp_c": air, "rh_pct": 70 - 5 * np.sin(hours / 4), "surface_temp_c": air - 1}
    return ReadingTable(time_s, columns, flags, origin)


def keep(desk: Desk, table: ReadingTable, area: str | None = None) -> None:
    save_table(desk.bench.store, table, desk.bench.readings_area if area is None else area)


def settle(qtbot: QtBot, pane: ReadingsPane) -> None:
    desk = pane._desk
    for _ in range(4):
        qtbot.waitUntil(desk.idle, timeout=20_000)
        QApplication.processEvents()
    table = pane.card.table.pages
    if table.rowCount():
        qtbot.waitUntil(lambda: table.row(0) is not None, timeout=20_000)


def opened(qtbot: QtBot, desk: Desk) -> ReadingsPane:
    pane = ReadingsPane(desk)
    qtbot.addWidget(pane)
    pane.resize(1280, 740)
    pane.show()
    pane.refresh()
    settle(qtbot, pane)
    return pane


def cells(pane: ReadingsPane, row: int) -> tuple[str, ...]:
    found = pane.card.table.pages.row(row)
    assert found is not None
    return found.cells


# --- picture and table --------------------------------------------------------------------


def test_what_was_read_stands_in_picture_and_table(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    ribbons = pane.card.plot.fetched.ribbons
    assert [one.origin for one in ribbons] == [Origin.IMPORTED]
    assert pane.card.age.text() == "last reading 5 min ago"
    assert not pane.card.ring.stale
    assert pane.card.count.text() == "300 rows"
    time, zone, air, rh, dew, surface, margin, source, doubt = cells(pane, 0)
    assert (time, zone, source, doubt) == ("14 May 09:05", "The shop", "imported", "")
    assert all(words.endswith("°C") for words in (air, dew, surface))
    assert (rh[-1], margin[-1]) == ("%", "K")


def test_a_doubtful_value_is_flagged_in_words(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    row = pane.card.table.pages.row(2)
    assert row is not None
    assert row.cells[-1] == "a jump and back"
    assert row.doubt
    assert row.told.endswith("In doubt: a jump and back")
    qtbot.mouseClick(pane.card.filters.doubtful, LEFT)
    settle(qtbot, pane)
    assert pane.card.count.text() == "1 row"
    assert cells(pane, 0) == row.cells


@pytest.mark.parametrize("flag", [flag for flag in Flag if flag])
def test_every_flag_has_words(flag: Flag) -> None:
    assert doubts(int(flag)) == (DOUBTS[flag],)
    assert doubts(int(flag) | 1 << 15) == (DOUBTS[flag], "in doubt")


def test_nothing_read_says_what_to_do(desk: Desk, qtbot: QtBot) -> None:
    pane = opened(qtbot, desk)
    assert pane.card.plot.words == NOTHING_YET
    assert pane.card.table.empty_words == NOTHING_YET
    assert pane.card.ring.stale
    assert pane.card.age.text() == "nothing read yet"
    assert pane.sensors.none.isVisible()


def test_an_old_reading_breaks_the_ring(desk: Desk, qtbot: QtBot, clock: Clock) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    clock.now_s += 3 * 3600
    pane.tick()
    assert pane.card.ring.stale
    assert pane.card.age.text() == "too old: 3 h 5 min ago"


def test_filters_by_source_and_day(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    keep(desk, log(50, Origin.MEASURED, 60))
    pane = opened(qtbot, desk)
    filters = pane.card.filters

    def choose(box, key: str) -> None:
        box.setCurrentIndex(box.findData(key))
        box.activated.emit(box.currentIndex())
        settle(qtbot, pane)

    choose(filters.source, "measured")
    assert pane.card.count.text() == "50 rows"
    choose(filters.source, "typed")
    assert pane.card.table.empty_words == NONE_SUCH
    choose(filters.source, "imported")
    choose(filters.days, "day")
    # The job's zone is an hour ahead of UTC in May: its day began at 23:00; the log ends 08:05.
    assert filters.days.currentText() == "Wed 14 May 2031"
    assert pane.card.count.text() == "55 rows"
    qtbot.mouseClick(filters.earlier, LEFT)
    settle(qtbot, pane)
    assert filters.days.currentText() == "Tue 13 May 2031"
    assert pane.card.count.text() == "144 rows"
    choose(filters.days, "shown")
    axis = pane.card.plot.axis
    times = log(300).time_s
    inside = int(((times >= int(axis.first_s)) & (times <= int(axis.last_s))).sum())
    assert pane.card.count.text() == f"{inside} rows"


def test_a_row_tapped_is_found_in_the_picture(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(3000))
    pane = opened(qtbot, desk)
    row = pane.card.table.pages.row(0)
    pane.card.table.scrollToBottom()
    model = pane.card.table.pages
    qtbot.waitUntil(lambda: model.row(2999) is not None, timeout=20_000)
    oldest = model.row(2999)
    assert row is not None
    assert oldest is not None
    pane.card.table.chosen.emit(oldest)
    axis = pane.card.plot.axis
    assert axis.first_s <= float(str(oldest.key)) <= axis.last_s
    assert pane.card.told.text() == oldest.told


def test_a_tap_on_the_picture_tells_the_moment(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    plot = pane.card.plot
    at = QPoint(int(plot.axis.x(NOW_S - 3900)), plot.height() // 2)
    qtbot.mouseClick(plot, LEFT, pos=at)
    assert plot.moment_s == NOW_S - 3900
    assert pane.card.told.text().startswith("14 May 08:05, imported: surface ")
    assert "margin" in pane.card.told.text()


def test_units_of_the_reader(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    desk.set_units("us")
    settle(qtbot, pane)
    assert cells(pane, 0)[2].endswith("°F")
    surface = pane.card.plot.fetched.ribbons[0].lines["surface_temp_c"]
    assert float(np.nanmin(surface)) > 40.0


def test_zones_are_kept_apart(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    area = desk.bench.job_in_hand().areas[0]
    keep(desk, log(20, Origin.MEASURED), area.id)
    pane = opened(qtbot, desk)
    box = pane.card.zone_box
    box.setCurrentIndex(box.findData(area.id))
    box.activated.emit(box.currentIndex())
    settle(qtbot, pane)
    assert pane.card.count.text() == "20 rows"
    assert cells(pane, 0)[1] == area.name
    assert [one.origin for one in pane.card.plot.fetched.ribbons] == [Origin.MEASURED]


def test_readings_that_come_in_are_followed(desk: Desk, qtbot: QtBot, sensors: FakeSensors) -> None:
    keep(desk, log(200, Origin.MEASURED, 60))
    sensors.states_now = (state("live", rows_kept=200),)
    pane = opened(qtbot, desk)
    later_s = NOW_S + 4000
    keep(desk, log(2, Origin.MEASURED, 60, later_s))
    sensors.states_now = (state("live", rows_kept=202),)
    pane._look_at_sensors()
    settle(qtbot, pane)
    assert pane.card.count.text() == "202 rows"
    assert pane.card.plot.axis.last_s > later_s


def test_a_store_that_fails_is_told(
    desk: Desk, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)

    def broken(area: str) -> None:
        raise InputError("the disk could not be read")

    monkeypatch.setattr(pane.look, "reach", broken)
    pane._load()
    settle(qtbot, pane)
    assert pane.card.plot.words == "the disk could not be read"
    assert pane.card.table.empty_words == "the disk could not be read"


# --- moving -------------------------------------------------------------------------------


def test_the_picture_asks_ahead_and_once(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(20_000, step_s=60))
    pane = opened(qtbot, desk)
    plot = pane.card.plot
    plot.pan(-6)
    settle(qtbot, pane)
    asked: list[tuple[float, float, int]] = []
    plot.wanted.connect(lambda *a: asked.append(a))
    plot.pan(-0.1)
    assert asked == []  # there are two views in hand
    plot.pan(-0.7)
    plot.pan(-0.05)
    assert len(asked) == 1
    settle(qtbot, pane)
    have = plot.fetched
    assert have.first_s < plot.axis.first_s
    assert plot.axis.last_s < have.last_s


def test_zoom_has_its_ends_and_pan_stays_with_the_readings(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(300))
    pane = opened(qtbot, desk)
    plot = pane.card.plot
    for _ in range(40):
        plot.zoom(0.5)
    assert plot.axis.last_s - plot.axis.first_s == pytest.approx(CLOSEST_S)
    for _ in range(60):
        plot.zoom(2.0)
    assert plot.axis.last_s - plot.axis.first_s == pytest.approx(FURTHEST_S)
    pane.card.show_last_day()
    plot.pan(100.0)
    first, last = float(log(300).time_s[0]), float(log(300).time_s[-1])
    assert plot.axis.first_s <= last
    plot.pan(-1000.0)
    assert plot.axis.last_s >= first
    settle(qtbot, pane)


def test_keys_move_the_picture(desk: Desk, qtbot: QtBot) -> None:
    keep(desk, log(3000))
    pane = opened(qtbot, desk)
    plot = pane.card.plot
    was = plot.axis
    qtbot.keyClick(plot, Qt.Key.Key_Left)
    assert plot.axis.first_s < was.first_s
    qtbot.keyClick(plot, Qt.Key.Key_Plus)
    assert plot.axis.last_s - plot.axis.first_s == pytest.approx((was.last_s - was.first_s) / 2)
    qtbot.keyClick(plot, Qt.Key.Key_Home)
    assert plot.axis.first_s <= float(log(3000).time_s[0]) <= plot.axis.last_s
    settle(qtbot, pane)


# --- sensors ------------------------------------------------------------------------------


def state(standing: str, **more: object) -> SensorState:
    sensor = Sensor("a", "By the keel", "file", path="keel.csv")
    made = SensorState(sensor, "live", NOW_S - 20, standing, {"air_temp_c": 13.2})
    return replace(made, standing=standing, **more)


def test_each_sensor_stands_in_words_and_shape(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors
) -> None:
    sensors.states_now = (state("live", rows_in=12, rows_kept=11, rows_repeated=1),)
    pane = opened(qtbot, desk)
    (row,) = pane.sensors.rows
    assert row.mark.state == "fresh"
    assert row.stands.text() == "live: 20 s ago; 11 of 12 rows kept, 1 repeated"
    assert row.latest.text() == "air 13.2 °C"
    sensors.states_now = (
        state("lost", last_s=NOW_S - 86_400, text="its folder is gone", doubt="a jump"),
    )
    pane._look_at_sensors()
    settle(qtbot, pane)
    assert pane.sensors.rows == (row,)
    assert row.mark.state == "failed"
    assert row.stands.text() == "lost: 24 h ago, Tue 09:10; its folder is gone"
    assert row.doubt.text() == "In doubt: a jump"


def test_sensors_that_cannot_be_asked_leave_the_picture(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors
) -> None:
    keep(desk, log(300))
    sensors.error = InputError("the sensors cannot be read")
    pane = opened(qtbot, desk)
    assert pane.sensors.trouble.text() == "the sensors cannot be read"
    assert pane.card.count.text() == "300 rows"


def dialog(qtbot: QtBot, desk: Desk, sensor: Sensor | None) -> SensorDialog:
    from advisor.work.readings_look import ReadingsLook

    made = SensorDialog(desk, ReadingsLook(desk.bench).zones(), sensor)
    qtbot.addWidget(made)
    made.show()
    return made


def test_a_file_is_set_up_to_be_followed(desk: Desk, qtbot: QtBot, sensors: FakeSensors) -> None:
    made = dialog(qtbot, desk, None)
    made.accept()
    assert sensors.saved == []
    assert made.name.error == "give it a name"
    assert made.path.error == "choose what is followed"
    made.name.line.setText("By the keel")
    made.path.line.setText("logs/keel.csv")
    made.zone.choose(desk.bench.job_in_hand().areas[0].id)
    made.step.line.setText("0")
    made.accept()
    assert sensors.saved == []
    made.step.line.setText("30")
    made.accept()
    qtbot.waitUntil(made.isHidden)
    (kept,) = sensors.saved
    assert (kept.name, kept.kind, kept.path, kept.step_s) == (
        "By the keel", "file", "logs/keel.csv", 30.0,
    )  # fmt: skip
    assert kept.zone == desk.bench.job_in_hand().areas[0].id
    assert kept.id


def test_values_over_mqtt_are_set_up(desk: Desk, qtbot: QtBot, sensors: FakeSensors) -> None:
    made = dialog(qtbot, desk, None)
    made.kind.choose("mqtt")
    made.name.line.setText("Deck")
    made.port.line.setText("70000")
    made.accept()
    assert sensors.saved == []
    assert made.host.error
    assert made.port.error == "1 to 65535"
    assert made.values.topics["air_temp_c"].error == "name one topic at least"
    made.host.line.setText("broker.local")
    made.port.line.setText("1884")
    made.values.topics["air_temp_c"].line.setText("shed/deck")
    made.values.paths["air_temp_c"].line.setText("$.air")
    made.values.units["air_temp_c"].choose("°F")
    made.accept()
    qtbot.waitUntil(made.isHidden)
    (kept,) = sensors.saved
    assert kept.broker == Broker("broker.local", 1884)
    assert kept.values == (TopicValue("shed/deck", "$.air", "air_temp_c", "°F"),)


def test_a_known_sensor_keeps_what_the_form_has_no_row_for(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors
) -> None:
    pressure = TopicValue("shed/p", "", "pressure_hpa", "hPa")
    air = TopicValue("shed/a", "", "air_temp_c", "°C")
    known = Sensor("a", "Deck", "mqtt", broker=Broker("b"), values=(air, pressure))
    made = dialog(qtbot, desk, known)
    made.on.switch.click()
    made.accept()
    qtbot.waitUntil(made.isHidden)
    assert sensors.saved == [replace(known, on=False)]


def test_a_sensor_is_taken_away_at_the_second_press(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors
) -> None:
    made = dialog(qtbot, desk, Sensor("a", "Deck", "file", path="x.csv"))
    qtbot.mouseClick(made.remove, LEFT)
    assert sensors.removed == []
    qtbot.mouseClick(made.remove, LEFT)
    qtbot.waitUntil(made.isHidden)
    assert sensors.removed == ["a"]


def test_a_share_that_holds_the_sensors_up_does_not_hold_up_the_window(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sensors are locked while one is read; the window must not wait for that."""
    answers, done_by = threading.Event(), []

    def remove(sensor_id: str) -> None:
        done_by.append(threading.current_thread())
        answers.wait(5.0)  # a bound, so that a window that waits fails and does not hang
        raise InputError("the share is gone")

    monkeypatch.setattr(sensors, "remove", remove)
    made = dialog(qtbot, desk, Sensor("a", "Deck", "file", path="x.csv"))
    qtbot.mouseClick(made.remove, LEFT)
    qtbot.mouseClick(made.remove, LEFT)
    assert not made.keep.isEnabled()
    answers.set()
    qtbot.waitUntil(made.said.isVisible)
    assert made.said.text() == "the share is gone"
    assert made.keep.isEnabled()
    assert threading.main_thread() not in done_by


def test_a_sensor_dialog_left_while_it_waits_tells_the_window(
    desk: Desk, qtbot: QtBot, sensors: FakeSensors, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = threading.Event()

    def remove(sensor_id: str) -> None:
        answers.wait(5.0)
        raise InputError("the share is gone")

    monkeypatch.setattr(sensors, "remove", remove)
    made = dialog(qtbot, desk, Sensor("a", "Deck", "file", path="x.csv"))
    qtbot.mouseClick(made.remove, LEFT)
    qtbot.mouseClick(made.remove, LEFT)
    qtbot.mouseClick(made.cancel, LEFT)
    assert made.isHidden()
    assert desk.operations.idle()  # a verdict need not wait for the share
    answers.set()
    qtbot.waitUntil(lambda: "the share is gone" in desk.messages.text)


# --- a reading by hand --------------------------------------------------------------------


def by_hand(qtbot: QtBot, desk: Desk) -> TypeReadingDialog:
    from advisor.work.readings_look import ReadingsLook

    made = TypeReadingDialog(desk, ReadingsLook(desk.bench).zones()[0])
    qtbot.addWidget(made)
    made.show()
    return made


def test_a_reading_by_hand_is_kept(desk: Desk, qtbot: QtBot, store: Store) -> None:
    made = by_hand(qtbot, desk)
    made.accept()
    assert made.said.text() == NOTHING
    made.boxes["air_temp_c"].field.setText("14,2")
    made.boxes["rh_pct"].field.setText("71")
    made.boxes["surface_temp_c"].field.setText("12.0")
    with qtbot.waitSignal(made.accepted, timeout=20_000):
        made.accept()
    latest = desk.bench.latest_values(NOW_S)
    assert latest["air_temp_c"].value == 14.2
    assert latest["surface_temp_c"].origin is Origin.TYPED
    pane = opened(qtbot, desk)
    assert cells(pane, 0)[7] == "typed"


def test_exchanged_spots_are_not_kept(desk: Desk, qtbot: QtBot) -> None:
    made = by_hand(qtbot, desk)
    made.boxes["surface_temp_c"].field.setText("14")
    made.boxes["surface_hot_c"].field.setText("12")
    assert made.boxes["surface_hot_c"].problem.text() == EXCHANGED
    made.accept()
    assert made.isVisible()
    assert desk.bench.latest_values(NOW_S) == {}
