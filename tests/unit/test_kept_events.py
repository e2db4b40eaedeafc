"""What is done at the bench and its entry: both are kept, or neither. Invented data throughout."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.physics.moist_air import dew_point_c
from advisor.planning.job import Laid
from advisor.record import chain
from advisor.record.entry import Entry, number_of
from advisor.work import instrument_list
from advisor.work.instrument_list import Instrument, keep_instrument
from advisor.work.views import Reading
from advisor.work.workbench import Workbench
from tests.helpers.live_bench import MIN, NOW, again, bench_with_job

DAY_S = 86400.0


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return bench_with_job(store, root, tmp_path)


def last(bench: Workbench) -> Entry:
    return chain.entries(bench.store, "j")[-1]


READING = Reading(NOW, 20.0, 50.0, 12.5, 14.0)


def test_a_reading_with_its_dew_point_and_margin(bench: Workbench) -> None:
    bench.type_reading(READING, NOW + MIN, "side", reason="start")
    entry = last(bench)
    assert (entry.kind, entry.area_id, entry.at_s, entry.late_s) == ("reading", "side", NOW, MIN)
    assert entry.data["air_temp"] == {"value": "20", "unit": "°C", "source": "typed"}
    dew = dew_point_c(20.0, 50.0)
    # One decimal is kept.
    assert number_of(entry.data["dew_point"]) == pytest.approx(dew, abs=0.05)
    assert number_of(entry.data["margin"]) == pytest.approx(12.5 - dew, abs=0.05)
    assert "over water" in str(entry.data["formula"])
    assert number_of(entry.data["pressure"]) == pytest.approx(1013.2, abs=0.1)
    assert entry.data["reason"] == "start"
    assert bench.latest_values(NOW + MIN)["surface_temp_c"].value == 12.5


def test_below_freezing_the_frost_point_counts(bench: Workbench) -> None:
    bench.type_reading(Reading(NOW, -5.0, 80.0, -4.0))
    data = last(bench).data
    frost, dew = number_of(data["frost_point"]), number_of(data["dew_point"])
    assert frost is not None
    assert dew is not None
    assert frost > dew
    assert number_of(data["margin"]) == pytest.approx(-4.0 - frost, abs=0.1)


def test_a_reading_without_humidity_has_no_dew_point(bench: Workbench) -> None:
    bench.type_reading(Reading(NOW, 20.0, None, 12.5))
    assert "dew_point" not in last(bench).data
    assert "margin" not in last(bench).data


def test_without_a_job_a_reading_is_kept_without_an_entry(store: Store, root: Path) -> None:
    bare = Workbench(store, root / "resources")
    assert bare.type_reading(READING) is None
    assert bare.latest_values(NOW)["air_temp_c"].value == 20.0


@pytest.mark.parametrize("bad", [Reading(NOW, 99.0, 50.0), Reading(NOW, 20.0, 0.0), Reading(NOW)])
def test_a_reading_that_cannot_be_leaves_nothing(bench: Workbench, bad: Reading) -> None:
    with pytest.raises(InputError):
        bench.type_reading(bad)
    assert chain.entries(bench.store, "j") == ()
    assert bench.latest_values(NOW) == {}


def test_a_coat_on_and_taken_back(bench: Workbench) -> None:
    bench.lay_coat("first", NOW - 3600, NOW, NOW + MIN)
    entry = last(bench)
    assert (entry.data["event"], entry.at_s, entry.late_s) == ("finish", NOW, MIN)
    assert entry.data["began"] == "2026-06-01T09:00:00+00:00"
    assert bench.job_in_hand().coat("first").laid == Laid(NOW - 3600, NOW)
    bench.unlay_coat("first", NOW + 2 * MIN)
    assert last(bench).data["event"] == "not on"
    assert bench.job_in_hand().coat("first").laid is None


def test_preparation(bench: Workbench) -> None:
    bench.log_dried(NOW, "side")
    assert (last(bench).data["what"], last(bench).area_id) == ("dried and wiped", "side")
    bench.log_sanded(NOW, "side", NOW + MIN)
    assert last(bench).data["what"] == "sanded and wiped"
    assert last(bench).late_s == MIN
    with bench.store.read() as db:
        kinds = [kind for (kind,) in db.execute("SELECT kind FROM event ORDER BY id")]
    assert kinds == ["dried", "sanded", "dried"]


DOINGS: list[Callable[[Workbench], object]] = [
    lambda b: b.type_reading(READING),
    lambda b: b.lay_coat("first", NOW - 3600, NOW),
    lambda b: b.unlay_coat("second", NOW),
    lambda b: b.log_dried(NOW, "side"),
    lambda b: b.log_sanded(NOW, "side"),
    lambda b: keep_instrument(b, Instrument("probe"), NOW),
]


@pytest.mark.parametrize("do", DOINGS)
def test_both_are_kept_or_neither(
    bench: Workbench, monkeypatch: pytest.MonkeyPatch, do: Callable[[Workbench], object]
) -> None:
    """The record refuses at the last moment: what the entry speaks of is not there either."""
    bench.save_job(bench.job_in_hand().with_coat(
        replace(bench.job_in_hand().coat("second"), laid=Laid(NOW - 7200, NOW - 3600))
    ))  # fmt: skip
    before = everything(bench)

    def refuse(*_: object) -> None:
        raise OSError("power cut")

    monkeypatch.setattr(bench.record, "append", refuse)
    with pytest.raises(OSError, match="power cut"):
        do(bench)
    assert everything(bench) == before


def everything(bench: Workbench) -> list[object]:
    tables = ("reading", "event", "job", "entry", "instrument")
    with bench.store.read() as db:
        return [db.execute(f"SELECT * FROM {table}").fetchall() for table in tables]


def test_another_window_changes_the_job_in_between(bench: Workbench) -> None:
    """The coat is laid on the job as it stands when it is written, not as it was read."""
    other = again(bench)
    stale = bench.job_in_hand()
    other.lay_coat("second", NOW - 3600, NOW)
    assert stale.coat("second").laid is None
    bench.lay_coat("first", NOW - 3600, NOW)
    job = again(bench).job_in_hand()
    assert job.coat("first").laid is not None
    assert job.coat("second").laid is not None


# --- instruments -------------------------------------------------------------------------------

PROBE = Instrument("probe", "surface", "contact", "S-17", "2025-05-01", "2026-05-01", "±0.5 K")


def test_an_instrument_is_kept_and_entered(bench: Workbench) -> None:
    keep_instrument(bench, PROBE, NOW)
    assert instrument_list.instruments_kept(bench.store) == (PROBE,)
    assert last(bench).data["serial"] == "S-17"
    keep_instrument(bench, replace(PROBE, due="2027-05-01"), NOW)
    assert [one.due for one in instrument_list.instruments_kept(bench.store)] == ["2027-05-01"]
    assert len(chain.entries(bench.store, "j", kinds=("instrument",))) == 2
    instrument_list.remove_instrument(bench.store, "probe")
    assert instrument_list.instruments_kept(bench.store) == ()
    assert len(chain.entries(bench.store, "j", kinds=("instrument",))) == 2


def test_a_reading_says_with_what_and_that_it_is_out_of_date(bench: Workbench) -> None:
    keep_instrument(bench, PROBE, NOW)
    bench.type_reading(READING)
    entry = last(bench)
    assert entry.data["surface_temp"]["instrument"] == "probe"  # type: ignore[index, call-overload]
    assert "instrument" not in entry.data["air_temp"]  # type: ignore[operator]
    known = entry.known["instruments"][0]  # type: ignore[index]
    assert known["out_of_date"] == "yes"  # type: ignore[index, call-overload]
    assert known["serial"] == "S-17"  # type: ignore[index, call-overload]


def test_two_that_read_the_same_are_not_guessed_between(bench: Workbench) -> None:
    keep_instrument(bench, PROBE, NOW)
    keep_instrument(bench, replace(PROBE, id="gun"), NOW)
    bench.type_reading(READING)
    assert "instrument" not in last(bench).data["surface_temp"]  # type: ignore[operator]


@pytest.mark.parametrize(("due", "out"), [("2026-05-31", True), ("2026-06-01", False), ("", False)])
def test_due_on_the_day_itself_is_in_date(due: str, out: bool) -> None:
    assert replace(PROBE, due=due).out_of_date(NOW, "Europe/London") is out


@pytest.mark.parametrize(
    ("zone", "out"), [("UTC", False), ("Pacific/Auckland", True), ("America/Vancouver", False)]
)
def test_the_day_is_that_of_the_shop(zone: str, out: bool) -> None:
    """At 20:00 UTC it is the next morning in the far east."""
    evening_s = datetime(2026, 5, 31, 20, tzinfo=UTC).timestamp()
    assert replace(PROBE, due="2026-05-31").out_of_date(evening_s, zone) is out
    night_s = datetime(2026, 6, 1, 3, tzinfo=UTC).timestamp()
    west = zone == "America/Vancouver"
    assert replace(PROBE, due="2026-05-31").out_of_date(night_s, zone) is not west


def test_a_day_that_is_none(bench: Workbench) -> None:
    with pytest.raises(RangeError, match="due"):
        keep_instrument(bench, replace(PROBE, due="next spring"), NOW)
    assert instrument_list.instruments_kept(bench.store) == ()


def test_typed_readings_of_the_store_are_as_before(bench: Workbench) -> None:
    bench.type_reading(READING)
    rows = reading_store.load(bench.store, int(NOW - DAY_S), int(NOW + DAY_S))
    assert list(rows.column("surface_hot_c")) == [14.0]
