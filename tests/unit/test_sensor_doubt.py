"""Every lie of a sensor is flagged and cannot give go; what is true counts at once. Invented rows.

The shop, its product and its limits are those of `test_sensors`: only the sensor decides.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.store import Store
from advisor.climate.readings import Flag
from advisor.planning.verdict import Verdict
from advisor.work.bench_side import air_kept
from advisor.work.workbench import Workbench
from tests.unit.test_sensors import NOW, empty_log, followed, hours_of, row, shop, write

DRY, WET = {"air": 20.0, "rh": 50.0, "surface": 20.0}, {"air": 12.0, "rh": 90.0, "surface": 11.0}
ALLOWED = (Verdict.GO, Verdict.BORDERLINE)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return empty_log(tmp_path)


def verdict(bench: Workbench, now_s: float) -> Verdict:
    return bench.before_mixing("side", now_s).verdict


def told(bench: Workbench, log: Path, at_s: float, **values: float) -> str:
    """Let a sensor tell one row; return what is doubted of it."""
    write(log, row(at_s, **values))
    return bench.sensors.poll(at_s)[0].doubt


@pytest.mark.parametrize("late_s", [0, 1, 61, 299])
def test_what_was_told_last_is_judged_at_once(bench: Workbench, log: Path, late_s: int) -> None:
    """Starts lie on a grid of five minutes: a row between two of its points counts too."""
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW - 60))
    bench.sensors.poll(NOW - 60)
    assert verdict(bench, NOW - 60) in ALLOWED
    assert not told(bench, log, NOW + late_s, surface=10.5)  # dew point 9.3 °C, 3 K asked
    assert verdict(bench, NOW + late_s) is Verdict.WAIT
    assert not told(bench, log, NOW + late_s + 20)
    assert verdict(bench, NOW + late_s + 20) in ALLOWED


def hung_there(bench: Workbench, folder: Path, name: str) -> Path:
    """Hang one more sensor into the shop."""
    path = empty_log(folder, name)
    bench.sensors.save(followed(path, id=name, name=name))
    return path


def test_two_sensors_of_one_zone_that_disagree_give_no_go(bench: Workbench, tmp_path: Path) -> None:
    """Whichever of the two told last: nobody can say which is right."""
    first, second = (hung_there(bench, tmp_path, name) for name in ("first", "second"))
    write(first, *hours_of(5, NOW - 60))
    write(second, *hours_of(5, NOW - 30, **WET))
    bench.sensors.poll(NOW - 30)
    for k in range(6):
        at_s = NOW + 30 * k
        write((first, second)[k % 2], row(at_s, **(DRY, WET)[k % 2]))
        assert "does not agree" in bench.sensors.poll(at_s)[k % 2].doubt
        assert verdict(bench, at_s) is Verdict.UNKNOWN
    bench.sensors.save(followed(second, id="second", name="second", on=False))
    write(first, row(NOW + 240))
    bench.sensors.poll(NOW + 240)
    assert verdict(bench, NOW + 240) in ALLOWED


def test_two_sensors_that_agree_do_not_doubt_each_other(bench: Workbench, tmp_path: Path) -> None:
    first, second = (hung_there(bench, tmp_path, name) for name in ("first", "second"))
    write(first, *hours_of(5, NOW - 60))
    write(second, *hours_of(5, NOW - 30, air=20.8, rh=54.0, surface=19.6))
    assert [found.doubt for found in bench.sensors.poll(NOW)] == ["", ""]
    assert verdict(bench, NOW) in ALLOWED


def test_what_another_sensor_told_long_ago_is_not_compared(
    bench: Workbench, tmp_path: Path
) -> None:
    first, second = (hung_there(bench, tmp_path, name) for name in ("first", "second"))
    write(second, *hours_of(1, NOW - 4 * 3600, **WET))
    write(first, *hours_of(5))
    bench.sensors.poll(NOW)
    write(first, row(NOW + 10))
    assert bench.sensors.poll(NOW + 10)[0].doubt == ""


def test_a_dew_point_above_the_air_gives_no_go(bench: Workbench, log: Path) -> None:
    """One of the two is wrong, and so perhaps the humidity it came with."""
    log.write_text("time,Temp (°C),RH (%),Surface (°C),Dew point (°C)\n", encoding="utf-8")
    bench.sensors.save(followed(log))
    write(log, *(line.replace("\n", ",9.3\n") for line in hours_of(5, NOW - 60)))
    bench.sensors.poll(NOW - 60)
    assert verdict(bench, NOW - 60) in ALLOWED
    write(log, f"{int(NOW)},20.0,50.0,20.0,25.0\n")
    assert "dew point above" in bench.sensors.poll(NOW)[0].doubt
    assert verdict(bench, NOW) is Verdict.UNKNOWN


@pytest.mark.parametrize(
    ("values", "flag"),
    [
        ({"air": 41.0, "rh": 45.0, "surface": 41.0}, Flag.UNIT | Flag.SPIKE),
        ({"air": 22.0, "rh": 45.0, "surface": 22.0}, Flag.SPIKE),
    ],
)
def test_a_lie_told_after_a_clock_was_set_back_gives_no_go(
    bench: Workbench, log: Path, values: dict[str, float], flag: Flag
) -> None:
    """The logger's clock ran 13 minutes fast and was set right: its rows come out of order."""
    wet = {"air": 5.0, "rh": 84.0, "surface": 5.0}
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW + 780, **wet))
    assert "its clock is 13 min ahead" in bench.sensors.poll(NOW)[0].doubt
    write(log, row(NOW + 31, **(wet | values)))
    bench.sensors.poll(NOW + 31)
    assert verdict(bench, NOW + 31) not in ALLOWED
    assert bench.latest_values(NOW + 31, "side")["rh_pct"].flags == flag


def test_at_the_bench_no_margin_is_told_of_a_value_in_doubt(bench: Workbench, log: Path) -> None:
    """59.5 sent as °C: 40 K above the dew point stood there in the colour of a good reading."""
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW - 60))
    bench.sensors.poll(NOW - 60)
    assert air_kept(bench, NOW - 60).air.margin_k is not None
    assert told(bench, log, NOW, surface=59.5)
    assert air_kept(bench, NOW).air.margin_k is None


def test_a_logger_switched_to_fahrenheit_stays_in_doubt(bench: Workbench, log: Path) -> None:
    """However long it goes on: after four rows it was taken for °F, and gave go without a word."""
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW - 60))
    bench.sensors.poll(NOW - 60)
    for k in range(25):
        assert told(bench, log, NOW + 60 * k, air=68.0, surface=68.0 + 0.1 * (k % 2)), k
    assert verdict(bench, NOW + 60 * 24) not in ALLOWED
    assert not told(bench, log, NOW + 1500)  # switched back: true at once
