"""Sensors of a shop: what they bring is kept once, stands as it should, and cannot lie into a go.

Invented readings. The product has round limits (`own-gloss`), so that only the sensor decides.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError, StoreError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.conditions_file import read_conditions
from advisor.climate.live.sensor import Broker, Sensor, SensorState, TopicValue
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.planning.job import Area, Coat, Job
from advisor.planning.verdict import Verdict
from advisor.record import chain
from advisor.work.sensors import LEASE_S
from advisor.work.views import Reading
from advisor.work.workbench import Workbench
from tests.helpers.products import HOUR_S, MONDAY_S

NOW = MONDAY_S + 12 * HOUR_S
HEADER = "time,Temp (°C),RH (%),Surface (°C)\n"
COLD_GLOSS = """
schema = 1
id = "own-gloss"
name = "own gloss"
class = "two-part-gloss"
status = "from data sheet"
[source]
title = "invented"
[mix]
ratio = "2:1"
[limits]
air_temp_c = [-5, 45]
surface_temp_c = [-5, 45]
rh_pct = [0, 85]
[film]
volume_solids_pct = 50
dft_um = [50, 50]
loss_pct = 0
[times]
temp_c = [0, 20, 45]
pot_life_h = [8, 4, 2]
tack_free_h = [16, 4, 2]
dew_safe_h = [20, 8, 4]
"""
COATS = (Coat("side", "gloss on the side", "side", "own-gloss", 1.0),
         Coat("deck", "gloss on the deck", "deck", "own-gloss", 1.0))  # fmt: skip
JOB = Job("j", "job", "shed", "UTC", (Area("side", "side", 1.0), Area("deck", "deck", 1.0)), COATS)


def shop(store: Store, root: Path, folder: Path) -> Workbench:
    """A bench on the job and the product of these tests."""
    made = Workbench(store, root / "resources")
    path = folder / "own.toml"
    path.write_text(COLD_GLOSS, encoding="utf-8")
    made.add_product_file(path)
    made.save_job(JOB)
    return made


def empty_log(folder: Path, name: str = "shed") -> Path:
    """A log with its header and no row yet."""
    path = folder / f"{name}.csv"
    path.write_text(HEADER, encoding="utf-8")
    return path


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return empty_log(tmp_path)


def followed(log: Path, **more: object) -> Sensor:
    return replace(Sensor("shed", "Shed", "file", path=str(log)), **more)  # type: ignore[arg-type]


def row(at_s: float, air: float = 20.0, rh: float = 50.0, surface: float = 20.0) -> str:
    return f"{int(at_s)},{air},{rh},{surface}\n"


def write(log: Path, *rows: str) -> None:
    with log.open("a", encoding="utf-8") as file:
        file.writelines(rows)


def hours_of(hours: float, until_s: float = NOW, step_s: int = 60, **values: float) -> list[str]:
    """Rows up to a moment, each a hundredth off the one before: no sensor stands still."""
    count = int(hours * 3600 / step_s)
    base = {"air": 20.0, "rh": 50.0, "surface": 20.0} | values
    return [
        row(until_s - step_s * (count - 1 - k), **{n: v + k % 3 / 100 for n, v in base.items()})
        for k in range(count)
    ]


def state(bench: Workbench, now_s: float = NOW) -> SensorState:
    (found,) = bench.sensors.poll(now_s)
    return found


def measured(bench: Workbench, area: str = "") -> ReadingTable:
    return reading_store.load(bench.store, 0, 2**40, area, (Origin.MEASURED,))


def counts(found: SensorState) -> tuple[int, int, int, int]:
    return (found.rows_in, found.rows_kept, found.rows_repeated, found.rows_refused)


# --- how it stands -----------------------------------------------------------------------


def test_a_sensor_is_waiting_then_live_then_stale_then_lost(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log))
    assert state(bench).standing == "waiting"
    write(log, *hours_of(1))
    found = state(bench)
    assert (found.standing, found.last_s) == ("live", NOW)
    assert found.latest["rh_pct"] == pytest.approx(50.02, abs=1e-9)  # as written
    assert state(bench, NOW + 180).standing == "live"
    assert state(bench, NOW + 181).standing == "stale"
    assert state(bench, NOW + 1801).standing == "lost"
    bench.sensors.save(followed(log, on=False))
    assert state(bench).standing == "off"


def test_rows_are_counted_whatever_becomes_of_them(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(1), row(NOW - 60, 20.01, 50.01, 20.01), row(NOW + 7200), "x,1,2,3\n")
    found = state(bench)
    assert found.rows_in == 63 == found.rows_kept + found.rows_repeated + found.rows_refused
    assert found.rows_kept == 60 == len(measured(bench))
    assert "ahead" in found.doubt


def test_a_log_that_cannot_be_read_says_why_and_goes_on_when_it_can(
    bench: Workbench, log: Path
) -> None:
    bench.sensors.save(followed(log.with_name("none.csv")))
    assert "no such file" in state(bench).text
    log.with_name("none.csv").write_text("nothing\nof the\nkind\n", encoding="utf-8")
    assert "none.csv" in state(bench).text
    log.with_name("none.csv").write_text(HEADER + row(NOW), encoding="utf-8")
    assert state(bench).rows_kept == 1


def test_times_without_a_zone_are_the_jobs(bench: Workbench, log: Path) -> None:
    bench.save_job(replace(JOB, time_zone="Europe/Dublin"))
    bench.sensors.save(followed(log))
    write(log, "2026-07-01 12:00:00,20,50,20\n", "2026-07-01 12:01:00,20,50,20\n")
    at = 1_782_903_600  # 2026-07-01T11:00Z, an hour behind Irish summer time
    state(bench, at + 600)
    assert measured(bench).time_s.tolist() == [at, at + 60]


@pytest.mark.parametrize(
    ("change", "said"),
    [({"id": "A b"}, "id"), ({"name": " "}, "no name"), ({"path": ""}, "no file"),
     ({"step_s": 0.0}, "step"), ({"time_zone": "Mars"}, "time zone"),
     ({"kind": "mqtt"}, "no broker"),
     ({"kind": "mqtt", "broker": Broker("a b"), "values": (TopicValue("t", "", "rh_pct", "%"),)},
      "accepted: a host name"),
     ({"kind": "mqtt", "broker": Broker("h"), "values": (TopicValue("t", "x", "rh_pct", "%"),)},
      "JSONPath")],
)  # fmt: skip
def test_a_sensor_that_cannot_be_is_refused(
    bench: Workbench, log: Path, change: Mapping[str, object], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        bench.sensors.save(followed(log, **change))
    assert bench.sensors.all() == ()


def test_what_was_set_up_is_kept(bench: Workbench, log: Path) -> None:
    sensor = Sensor("damp", "Damp", "mqtt", "side", broker=Broker("h", 1884, "u", "p", True),
                    values=(TopicValue("t/+", "$.h", "rh_pct", "%"),), time_path="$.at",
                    columns=(("air_temp_c", "T1"),), instrument="probe")  # fmt: skip
    bench.sensors.save(sensor)
    bench.sensors.save(followed(log))
    assert bench.sensors.all() == (sensor, followed(log))
    bench.sensors.remove("damp")
    assert bench.sensors.all() == (followed(log),)


# --- nothing lost, nothing twice ---------------------------------------------------------


def test_a_crash_before_the_commit_neither_loses_nor_doubles(
    bench: Workbench, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(1, NOW - 3600))
    state(bench)
    write(log, *hours_of(1))
    put = reading_store.put_table

    def full(*args: object) -> int:
        put(*args)  # type: ignore[arg-type]
        raise StoreError("the disk is full")

    monkeypatch.setattr(reading_store, "put_table", full)
    found = state(bench)
    assert "not kept yet: the disk is full" in found.text
    assert len(measured(bench)) == 60
    monkeypatch.setattr(reading_store, "put_table", put)
    assert counts(state(bench)) == (120, 120, 0, 0)
    assert len(measured(bench)) == 120


def test_a_restart_goes_on_where_it_was(bench: Workbench, log: Path, root: Path) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(1, NOW - 3600))
    state(bench)
    bench.sensors.stop()
    write(log, *hours_of(1))
    again = Workbench(bench.store, root / "resources")
    assert counts(state(again)) == (120, 120, 0, 0)


def test_a_log_read_all_over_again_is_told_as_repeated(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(1))
    state(bench)
    rows = log.read_text("utf-8").splitlines(keepends=True)
    newest_first = log.with_name("part")
    newest_first.write_text("".join([rows[0], *reversed(rows[1:])]), encoding="utf-8")
    os.replace(newest_first, log)
    assert counts(state(bench)) == (120, 60, 60, 0)
    assert len(measured(bench)) == 60


def test_two_windows_follow_one_sensor_once(bench: Workbench, log: Path, root: Path) -> None:
    bench.sensors.save(followed(log))
    other = Workbench(bench.store, root / "resources")
    write(log, *hours_of(1))
    state(bench)
    write(log, row(NOW + 5))
    assert counts(state(other, NOW + 10))[1] == 60  # the other shows what the first keeps
    assert counts(state(bench, NOW + 10))[1] == 61
    write(log, row(NOW + 20))
    assert counts(state(other, NOW + 10 + LEASE_S + 1))[1] == 62  # the first has gone


def test_a_sensor_of_a_zone_keeps_its_rows_there(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log, zone="side"))
    write(log, *hours_of(1))
    state(bench)
    assert (len(measured(bench)), len(measured(bench, "side"))) == (0, 60)


# --- a sensor that lies ------------------------------------------------------------------


def verdict(bench: Workbench, now_s: float = NOW, coat: str = "side") -> Verdict:
    return bench.before_mixing(coat, now_s).verdict


def live(bench: Workbench, log: Path, **values: float) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW - 60, **values))
    state(bench, NOW - 60)


def test_a_true_sensor_gives_go(bench: Workbench, log: Path) -> None:
    live(bench, log)
    assert verdict(bench) in (Verdict.GO, Verdict.BORDERLINE)


@pytest.mark.parametrize(
    "lie",
    [
        {"air": 41.0, "rh": 45.0, "surface": 41.0},  # °F where °C was said
        {"air": 41.0, "rh": 45.0, "surface": 5.2},
        {"air": 5.0, "rh": 45.0, "surface": 41.0},
        {"air": 5.0, "rh": 4.0, "surface": 5.0},  # a humidity sensor falls dry
        {"air": 22.0, "rh": 45.0, "surface": 5.0},
        {"air": -127.0, "rh": 45.0, "surface": 5.0},  # a fault code: the value is left out
        {"air": 5.0, "rh": 0.0, "surface": 5.0},
    ],
)
def test_a_lie_never_gives_go(bench: Workbench, log: Path, lie: dict[str, float]) -> None:
    live(bench, log, air=5.0, rh=84.0, surface=5.0)  # margin under 3 K: no go when true
    assert verdict(bench) not in (Verdict.GO, Verdict.BORDERLINE)
    write(log, row(NOW, **lie))
    found = state(bench)
    assert found.doubt
    assert verdict(bench) not in (Verdict.GO, Verdict.BORDERLINE)


@pytest.mark.parametrize("name", ["air", "rh", "surface"])
def test_a_sensor_that_stands_still_never_gives_go(bench: Workbench, log: Path, name: str) -> None:
    bench.sensors.save(followed(log))
    still = {"air": 20.0, "rh": 50.0, "surface": 20.0}
    write(log, *(row(NOW - 60 * (480 - k), **{n: v + (k % 3 / 100 if n != name else 0.0)
                 for n, v in still.items()}) for k in range(481)))  # fmt: skip
    assert "stood still" in state(bench).doubt
    assert verdict(bench) is Verdict.UNKNOWN


def test_a_doubtful_value_stands_in_the_record_but_not_in_the_series(
    bench: Workbench, log: Path
) -> None:
    live(bench, log, air=5.0, rh=84.0, surface=5.0)
    write(log, row(NOW, air=41.0, rh=45.0, surface=41.0))
    state(bench)
    table = measured(bench)
    assert table.columns["air_temp_c"][-1] == 41.0
    assert table.flags[-1] & Flag.UNIT
    series = bench.airs(NOW, 1).shop
    assert np.nanmax(series.air_temp_c) < 6.0


def test_typed_by_hand_a_doubted_sensor_does_not_stand_in_the_way(
    bench: Workbench, log: Path
) -> None:
    live(bench, log)
    write(log, row(NOW, air=33.0))
    state(bench)
    assert verdict(bench) is Verdict.UNKNOWN
    bench.type_reading(Reading(NOW + 10, 20.0, 50.0, 20.0), NOW + 10)
    write(log, row(NOW + 15, air=34.0))
    state(bench, NOW + 20)
    assert verdict(bench, NOW + 20) in (Verdict.GO, Verdict.BORDERLINE)


def test_a_value_typed_before_the_doubt_does_not_cover_it(bench: Workbench, log: Path) -> None:
    live(bench, log)
    bench.type_reading(Reading(NOW - 30, 20.0, 50.0, 20.0), NOW - 30)
    write(log, row(NOW, rh=99.0))
    state(bench)
    assert verdict(bench) is Verdict.UNKNOWN


def test_a_sensor_that_fell_silent_is_no_go(bench: Workbench, log: Path) -> None:
    live(bench, log)
    late = NOW + 60 * (float(bench.settings.number("stale_after_min")) + 2)
    assert verdict(bench, late) is Verdict.UNKNOWN


def test_a_coat_goes_by_the_sensor_of_its_own_zone(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log))
    wet = log.with_name("side.csv")
    wet.write_text(HEADER, encoding="utf-8")
    bench.sensors.save(Sensor("side", "Side", "file", "side", path=str(wet)))
    write(log, *hours_of(5))
    write(wet, *hours_of(5, surface=10.5))  # dew point 9.3 °C
    bench.sensors.poll(NOW)
    assert verdict(bench, coat="deck") in (Verdict.GO, Verdict.BORDERLINE)
    assert verdict(bench, coat="side") is Verdict.WAIT


# --- the record --------------------------------------------------------------------------


def test_whole_hours_are_sealed_once_with_their_file(bench: Workbench, log: Path) -> None:
    bench.sensors.save(followed(log))
    write(log, *hours_of(2.5, NOW + 1740))
    state(bench, NOW + 1740)
    (entry,) = bench.sensors.seal(NOW + 1740)
    assert bench.sensors.seal(NOW + 1740) == ()
    data = entry.data
    assert (entry.kind, data["source"], data["sensor"]) == ("import", "measured", "Shed")
    assert data["rows_used"] == "120"
    path = Attachments(bench.store.path).path(str(data["sha256"]))
    table = read_conditions(path).table
    kept = measured(bench)
    assert table.time_s.tolist() == kept.time_s[:120].tolist()
    assert (table.columns["rh_pct"] == kept.columns["rh_pct"][:120]).all()
    assert len(bench.sensors.seal(NOW + 3600 + 300)) == 1
    with bench.store.read() as db:
        assert db.execute("SELECT count(*) FROM sensor_row").fetchone() == (0,)


def test_without_a_job_rows_wait_to_be_sealed(store: Store, root: Path, log: Path) -> None:
    bench = Workbench(store, root / "resources")
    bench.sensors.save(followed(log))
    write(log, *hours_of(2))
    state(bench)
    assert bench.sensors.seal(NOW + 7200) == ()
    bench.save_job(JOB)
    assert len(bench.sensors.seal(NOW + 7200)) == 1


def test_an_imported_file_is_in_the_record_with_hashes_of_its_lines(
    bench: Workbench, log: Path
) -> None:
    write(log, *hours_of(20, NOW - 3600, step_s=60))
    imported = bench.preview(log)
    assert bench.keep_import(imported, log.name, NOW, log) == 1200
    assert bench.keep_import(imported, log.name, NOW, log) == 0
    (entry,) = chain.entries(bench.store, "j", kinds=("import",))
    blocks = entry.data["blocks"]
    assert isinstance(blocks, list)
    lines = log.read_bytes().splitlines(keepends=True)
    assert [(b["first_line"], b["lines"]) for b in blocks] == [("1", "1000"), ("1001", "201")]

    assert blocks[1]["sha256"] == hashlib.sha256(b"".join(lines[1000:])).hexdigest()
    assert Attachments(bench.store.path).intact(str(entry.data["sha256"]))


def test_a_broker_told_in_an_error_hides_its_password() -> None:
    assert "kept quiet" not in repr(Broker("b", user="shed", password="kept quiet"))
