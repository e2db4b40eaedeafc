"""Quality flags: what is flagged, what becomes NaN, and that nothing is taken out.

The thresholds are common practice for shed loggers (from memory); the tests sit one step on
either side of each.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from advisor.climate.quality import flag_table, flagged_rows, quality_notes
from advisor.climate.readings import Flag, ReadingTable

START = 1_700_000_000


def table(step_s: int = 600, **columns: list[float]) -> ReadingTable:
    rows = len(next(iter(columns.values())))
    values = {name: np.array(column, dtype=np.float64) for name, column in columns.items()}
    times = START + np.arange(rows, dtype=np.int64) * step_s
    return ReadingTable(times, values, np.zeros(rows, dtype=np.uint16))


def rows_with(found: ReadingTable, flag: Flag) -> list[int]:
    return np.flatnonzero(found.flags & np.uint16(flag)).tolist()


def lively(rows: int, around: float) -> list[float]:
    """Return values that never repeat from row to row."""
    return [around + 0.1 * (i % 3) for i in range(rows)]


def test_a_clean_table_is_left_alone() -> None:
    given_table = table(air_temp_c=lively(50, 12.0), rh_pct=lively(50, 70.0))
    found = flag_table(given_table)
    assert flagged_rows(found) == 0
    assert quality_notes(found) == ()
    np.testing.assert_array_equal(found.column("rh_pct"), given_table.column("rh_pct"))


def test_an_empty_table() -> None:
    assert len(flag_table(table(air_temp_c=[]))) == 0


@pytest.mark.parametrize(
    ("name", "value", "bad"),
    [
        ("rh_pct", 0.0, True),
        ("rh_pct", -1.0, True),
        ("rh_pct", 0.1, False),
        ("rh_pct", 105.1, True),
        ("air_temp_c", -40.1, True),
        ("air_temp_c", -40.0, False),
        ("air_temp_c", 60.0, False),
        ("air_temp_c", 60.1, True),
        ("air_temp_c", float("inf"), True),
        ("dew_point_c", -46.0, True),
        ("surface_temp_c", 72.0, False),
        ("surface_temp_c", 85.0, True),  # power-on value of a common probe
        ("pressure_hpa", 99300.0, True),  # Pa taken for hPa
        ("wind_m_s", 468.5, True),  # 1048 mph, in a real airport file
        ("rain_mm", -0.1, True),
    ],
)
def test_impossible_values_become_blank_and_flagged(name: str, value: float, bad: bool) -> None:
    found = flag_table(table(**{name: [value]}))
    assert np.isnan(found.column(name)[0]) == bad
    assert rows_with(found, Flag.FAULT) == ([0] if bad else [])


def test_rh_just_past_100_is_clamped() -> None:
    found = flag_table(table(rh_pct=[100.0, 100.1, 105.0]))
    assert found.column("rh_pct").tolist() == [100.0, 100.0, 100.0]
    assert rows_with(found, Flag.CLAMPED) == [1, 2]


def test_dew_point_above_air() -> None:
    found = flag_table(table(air_temp_c=[10.0] * 4, dew_point_c=[10.0, 10.2, 10.3, 10.4]))
    dew = found.column("dew_point_c")
    assert dew[:3].tolist() == [10.0, 10.0, 10.0]
    assert np.isnan(dew[3])
    assert rows_with(found, Flag.CLAMPED) == [1, 2]
    assert rows_with(found, Flag.DEW_ABOVE_AIR) == [3]
    assert found.column("air_temp_c").tolist() == [10.0] * 4


@pytest.mark.parametrize("name", ["air_temp_c", "rh_pct"])
@pytest.mark.parametrize(("rows", "stuck"), [(37, True), (36, False)])
def test_stuck_for_six_hours_at_ten_minutes(name: str, rows: int, stuck: bool) -> None:
    """37 rows at 10 minutes span 6 h exactly, 36 span 5 h 50."""
    values = [*lively(5, 20.0), *[44.0] * rows, *lively(5, 20.0)]
    found = flag_table(table(**{name: values}))
    assert rows_with(found, Flag.STUCK) == (list(range(5, 5 + rows)) if stuck else [])
    np.testing.assert_array_equal(found.column(name), values)


@pytest.mark.parametrize(("rows", "stuck"), [(12, True), (11, False)])
def test_stuck_needs_twelve_samples(rows: int, stuck: bool) -> None:
    found = flag_table(table(3600, rh_pct=[60.0] * rows))
    assert bool(rows_with(found, Flag.STUCK)) == stuck


def test_saturated_air_is_not_a_stuck_sensor() -> None:
    found = flag_table(table(rh_pct=[100.0] * 100, air_temp_c=lively(100, 8.0)))
    assert rows_with(found, Flag.STUCK) == []


def test_a_hole_or_a_blank_ends_a_stuck_run() -> None:
    holed = table(rh_pct=[60.0] * 50)
    times = holed.time_s + np.where(np.arange(50) >= 25, 4 * 3600, 0)
    holed = ReadingTable(times, holed.columns, holed.flags)
    assert flagged_rows(flag_table(holed)) == 0
    blank = table(rh_pct=[*[60.0] * 25, float("nan"), *[60.0] * 25])
    assert flagged_rows(flag_table(blank)) == 0


@pytest.mark.parametrize(
    ("name", "size", "spike"),
    [
        ("air_temp_c", 8.1, True),
        ("air_temp_c", -8.1, True),
        ("air_temp_c", 7.9, False),
        ("rh_pct", 25.1, True),
        ("rh_pct", 24.9, False),
    ],
)
def test_a_jump_and_back(name: str, size: float, spike: bool) -> None:
    found = flag_table(table(**{name: [30.0, 30.0, 30.0 + size, 30.0, 30.0]}))
    assert rows_with(found, Flag.SPIKE) == ([2] if spike else [])
    assert found.column(name)[2] == 30.0 + size  # kept


def test_a_step_that_stays_is_no_spike() -> None:
    found = flag_table(table(air_temp_c=[10.0, 10.1, 20.0, 20.1, 20.0, 20.1, 10.0]))
    assert rows_with(found, Flag.SPIKE) == []


def test_several_samples_must_fit_in_a_quarter_of_an_hour() -> None:
    values = [10.0, 10.0, 30.0, 31.0, 30.0, 10.0, 10.0]
    # Leaves after row 1, back at row 5: four steps.
    assert rows_with(flag_table(table(225, air_temp_c=values)), Flag.SPIKE) == [2, 3, 4]
    assert rows_with(flag_table(table(226, air_temp_c=values)), Flag.SPIKE) == []


def test_hourly_jumps_are_weather() -> None:
    assert flagged_rows(flag_table(table(3600, rh_pct=[50.0, 90.0, 50.0]))) == 0


def test_a_spike_beside_a_blank() -> None:
    found = flag_table(table(60, air_temp_c=[10.0, float("nan"), 30.0, float("nan"), 10.1]))
    assert rows_with(found, Flag.SPIKE) == [2]


def test_exchanged_columns_are_suggested_for_the_whole_table() -> None:
    found = flag_table(table(air_temp_c=lively(20, 55.0), rh_pct=lively(20, 14.0)))
    assert rows_with(found, Flag.SWAPPED) == list(range(20))
    np.testing.assert_array_equal(found.column("air_temp_c"), lively(20, 55.0))
    assert any("exchanged" in note for note in quality_notes(found))


def test_a_dry_hot_day_is_not_exchanged_columns() -> None:
    found = flag_table(table(air_temp_c=lively(20, 38.0), rh_pct=lively(20, 14.0)))
    assert rows_with(found, Flag.SWAPPED) == []


def test_earlier_flags_and_the_given_table_are_kept() -> None:
    given_table = table(rh_pct=[0.0, 50.0])
    given_table.flags[1] = Flag.AMBIGUOUS_TIME
    found = flag_table(given_table)
    assert found.flags.tolist() == [Flag.FAULT, Flag.AMBIGUOUS_TIME]
    assert given_table.flags.tolist() == [0, Flag.AMBIGUOUS_TIME]
    assert given_table.column("rh_pct")[0] == 0.0


def test_notes_count_rows() -> None:
    notes = quality_notes(flag_table(table(rh_pct=[0.0, 0.0, 101.0])))
    assert [note.split()[0] for note in notes] == ["2", "1"]


VALUES = st.floats(-60.0, 120.0) | st.just(float("nan")) | st.sampled_from([0.0, 10.0, 100.0])


@given(hnp.arrays(np.float64, (40, 3), elements=VALUES), st.sampled_from([60, 600, 3600]))
def test_nothing_is_dropped_or_changed_without_a_flag(values: np.ndarray, step_s: int) -> None:
    names = ("air_temp_c", "rh_pct", "dew_point_c")
    given_table = table(step_s, **{name: values[:, i].tolist() for i, name in enumerate(names)})
    found = flag_table(given_table)
    assert found.time_s.tolist() == given_table.time_s.tolist()
    changed = np.zeros(40, dtype=bool)
    for name in names:
        before, after = given_table.column(name), found.column(name)
        changed |= ~((before == after) | (np.isnan(before) & np.isnan(after)))
    assert np.all(found.flags[changed] != 0)
    air, dew, rh = (found.column(n) for n in ("air_temp_c", "dew_point_c", "rh_pct"))
    assert not np.any(dew > air)
    assert not np.any((rh <= 0.0) | (rh > 100.0))
    again = flag_table(found)
    for name in names:
        np.testing.assert_array_equal(again.column(name), found.column(name))
