"""A weather year of the past laid onto this year, and files that reach past now.

No numbers from outside: every row carries its own position in the year, so that a value tells
where it came from. Values come through unchanged, so all comparisons are exact.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import ImportedFile, ImportReport, IntArray, Origin, ReadingTable
from advisor.planning.job import Area, Coat, Job
from advisor.planning.verdict import Verdict
from advisor.work.this_year import onto_this_year
from advisor.work.workbench import Workbench

HOUR_S, DAY_S = 3600, 86400


def at(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


NOW = at("2026-06-01T12:00")


def imported(first_s: int, last_s: int, *, weather: bool = True) -> ImportedFile:
    """Hourly rows, ends included; dew point is the day of the month, wind hours from the start."""
    time_s = np.arange(first_s, last_s + 1, HOUR_S, dtype=np.int64)
    stamps = time_s.astype("datetime64[s]")
    day = (stamps.astype("datetime64[D]") - stamps.astype("datetime64[M]")).astype(int) + 1.0
    columns = {
        "air_temp_c": np.full(len(time_s), 35.0),
        "dew_point_c": day,
        "wind_m_s": np.arange(len(time_s), dtype=float),
    }
    table = ReadingTable(time_s, columns, np.zeros(len(time_s), dtype=np.uint16))
    mapping = {"format": "TMY3"} if weather else {"time": "column 1"}
    n = len(time_s)
    return ImportedFile(table, ImportReport(n, n, 0, 0, first_s, last_s, mapping))


def year(of: int, *, offset_h: int = 0) -> ImportedFile:
    """Stamps end the hour, so a year runs from 01:00 to the next 00:00 of standard time."""
    shift = offset_h * HOUR_S
    return imported(at(f"{of}-01-01T01:00") - shift, at(f"{of + 1}-01-01T00:00") - shift)


def wind_at(table: ReadingTable, time_s: int) -> float:
    row = int(np.searchsorted(table.time_s, time_s))
    assert table.time_s[row] == time_s
    return float(table.column("wind_m_s")[row])


def holes(time_s: IntArray) -> list[int]:
    return [int(t) for t in time_s[:-1][np.diff(time_s) != HOUR_S]]


@pytest.mark.parametrize("offset_h", [-9, 0, 1, 12])
def test_the_same_calendar_hours_this_year(offset_h: int) -> None:
    given = year(2022, offset_h=offset_h)
    laid = onto_this_year(given, NOW)
    assert laid.origin is Origin.ESTIMATED
    for clock in ("02-28T23:00", "03-01T00:00", "07-04T13:00", "12-30T05:00"):
        want = wind_at(given.table, at(f"2022-{clock}"))
        for this in (2025, 2026, 2027):
            assert wind_at(laid, at(f"{this}-{clock}")) == want


@pytest.mark.parametrize("offset_h", [-9, 0, 1, 12])
def test_no_hole_and_no_hour_twice_across_new_year(offset_h: int) -> None:
    laid = onto_this_year(year(2022, offset_h=offset_h), NOW)
    assert holes(laid.time_s) == []
    assert laid.time_s[0] <= NOW - 45 * DAY_S  # the longest history looked back on
    assert laid.time_s[-1] >= at("2027-12-30T00:00")
    assert all(len(values) == len(laid) == len(laid.flags) for values in laid.columns.values())


def test_29_february_of_a_leap_year_leaves_no_trace_of_a_hole() -> None:
    laid = onto_this_year(year(2020), NOW)
    assert holes(laid.time_s) == []
    assert (np.diff(laid.time_s) > 0).all()
    assert wind_at(laid, at("2026-03-02T06:00")) == (61 * 24 + 6) - 1  # 2 March is day 61 of 2020


def test_28_february_stands_in_for_a_29th_the_file_has_not() -> None:
    laid = onto_this_year(year(2022), at("2028-02-20T12:00"))
    assert holes(laid.time_s) == []
    assert wind_at(laid, at("2028-02-29T06:00")) == wind_at(laid, at("2028-02-28T06:00"))
    assert wind_at(laid, at("2028-03-01T06:00")) == wind_at(laid, at("2027-03-01T06:00"))


def test_a_leap_year_onto_a_leap_year_keeps_29_february() -> None:
    given = year(2020)
    laid = onto_this_year(given, at("2028-02-20T12:00"))
    assert wind_at(laid, at("2028-02-29T06:00")) == wind_at(given.table, at("2020-02-29T06:00"))
    assert wind_at(laid, at("2028-03-01T06:00")) == wind_at(given.table, at("2020-03-01T06:00"))


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (imported(at("2024-01-01T00:00"), at("2025-01-10T00:00"), weather=False), "a log"),
        (imported(at("2024-01-01T00:00"), at("2024-12-20T00:00")), "shorter than a year"),
        (imported(NOW - 365 * DAY_S, NOW - 59 * DAY_S - DAY_S), "shorter and recent"),
        (imported(NOW - 365 * DAY_S, NOW + HOUR_S), "reaches past now"),
        (imported(NOW - 425 * DAY_S, NOW - 59 * DAY_S), "ended 59 days ago"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_any_other_file_stays_as_it_is(given: ImportedFile, why: str) -> None:
    assert onto_this_year(given, NOW) is given.table


def test_an_empty_file_stays_as_it_is() -> None:
    given = imported(NOW, NOW)
    table = ReadingTable(np.zeros(0, dtype=np.int64), {}, np.zeros(0, dtype=np.uint16))
    assert onto_this_year(replace(given, table=table), NOW) is table


# --- kept in the shop ------------------------------------------------------------------------


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    found = Workbench(store, root / "resources")
    found.save_job(
        Job("j", "job", "shed", "UTC", (Area("hull", "hull", 8.0),),
            (Coat("c1", "enamel", "hull", "typical-alkyd", 8.0),), surface_lag_h=2.0)
    )  # fmt: skip
    return found


def origins(store: Store) -> set[str]:
    with store.read() as db:
        return {row[0] for row in db.execute("SELECT DISTINCT origin FROM reading")}


def test_a_file_past_now_counts_nothing_as_measured(bench: Workbench) -> None:
    given = imported(NOW - 2 * DAY_S, NOW + 2 * DAY_S, weather=False)
    assert bench.keep_import(given, "outlook.csv", NOW) == len(given.table)
    assert bench.latest_values(NOW) == {}
    assert bench.latest_reading(NOW) is None
    assert origins(bench.store) == {"forecast"}
    series = bench.series(NOW, 2)
    assert series.air_temp_c[int(series.index_of(NOW + DAY_S))] == 35.0


def test_a_file_up_to_now_is_measured(bench: Workbench) -> None:
    """The control: without the one hour past now the same file is a log."""
    bench.keep_import(imported(NOW - 2 * DAY_S, NOW, weather=False), "log.csv", NOW)
    values = bench.latest_values(NOW)
    assert values["air_temp_c"].value == 35.0
    assert values["air_temp_c"].time_s == NOW
    assert origins(bench.store) == {"imported"}


@pytest.mark.parametrize("weather", [False, True])
def test_the_same_file_again_adds_nothing(bench: Workbench, weather: bool) -> None:
    given = year(2022) if weather else imported(NOW - DAY_S, NOW + DAY_S, weather=False)

    def stored() -> ReadingTable:
        return reading_store.load(bench.store, NOW - 30 * DAY_S, NOW + 30 * DAY_S)

    assert bench.keep_import(given, "a.csv", NOW) >= len(given.table)
    before = stored()
    assert bench.keep_import(given, "renamed.csv", NOW + HOUR_S) == 0
    after = stored()
    assert np.array_equal(before.time_s, after.time_s)
    for name, values in before.columns.items():
        assert np.array_equal(values, after.columns[name], equal_nan=True)


def test_a_year_of_the_past_becomes_the_outlook(bench: Workbench) -> None:
    before = bench.coming_days(NOW)
    assert before.note == "No outlook yet: import a log or weather file."
    assert np.isnan(before.series.air_temp_c).all()
    bench.keep_import(year(2022), "year.csv", NOW)
    after = bench.coming_days(NOW)
    assert "No outlook" not in after.note
    assert not np.isnan(after.series.air_temp_c).any()
    assert not np.isnan(after.series.surface_temp_c).any()  # by the job's lag of 2 h
    # The dew point of each row is its day of the month: noon today is the first.
    assert after.series.dew_point_c[int(after.series.index_of(NOW))] == 1.0
    assert bench.latest_values(NOW) == {}
    assert origins(bench.store) == {"estimated"}


def test_a_year_that_was_never_there_tells_nothing(bench: Workbench) -> None:
    """An estimate is no reading: before mixing still asks for one."""
    bench.keep_import(year(2022), "year.csv", NOW)
    told = bench.before_mixing("c1", NOW)
    lost = [r.text for r in told.reasons if r.rule == "data"]
    sentence = "no reading of air temperature and humidity and coldest spot: measure and type it"
    assert sentence in lost
    assert told.verdict >= Verdict.UNKNOWN
