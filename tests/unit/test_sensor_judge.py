"""A sensor that lies is flagged as it lies, and one that tells the truth is not for long."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.climate import quality
from advisor.climate.live.judge import Track, from_plain, judged_table, known_before, to_plain
from advisor.climate.readings import DOUBTFUL, Flag, ReadingTable

NOW = 1_795_000_000


def table(start_s: int, step_s: int, **columns: list[float]) -> ReadingTable:
    n = len(next(iter(columns.values())))
    times = start_s + step_s * np.arange(n, dtype=np.int64)
    arrays = {name: np.array(values, float) for name, values in columns.items()}
    return ReadingTable(times, arrays, np.zeros(n, np.uint16))


def flags_of(given_table: ReadingTable, tracks: dict[str, Track] | None = None) -> list[Flag]:
    """Flags when the rows come one at a time, as from a live sensor."""
    found, now = [], tracks or {}
    for row in range(len(given_table)):
        one = ReadingTable(
            given_table.time_s[row : row + 1],
            {k: v[row : row + 1] for k, v in given_table.columns.items()},
            given_table.flags[row : row + 1],
        )
        judged, now = judged_table(one, from_plain(to_plain(now)))  # as over a restart
        found.append(Flag(int(judged.flags[0])))
    return found


def test_a_single_spike_is_doubted_and_what_follows_is_not() -> None:
    flags = flags_of(table(NOW, 60, air_temp_c=[12.0, 12.1, 31.0, 12.1, 12.2]))
    assert flags == [0, 0, Flag.SPIKE, 0, 0]


@pytest.mark.parametrize(("told", "flag"), [(12.3, 0), (31.0, Flag.SPIKE), (54.0, Flag.UNIT)])
def test_what_comes_out_of_order_is_judged_by_what_is_believed(told: float, flag: Flag) -> None:
    """A clock set back ten minutes: every value comes out of order until it has caught up."""
    before = known_before({"air_temp_c": (12.0, NOW)})
    _, tracks = judged_table(table(NOW, 60, air_temp_c=[12.0, 12.1]), before)
    late, after = judged_table(table(NOW - 540, 60, air_temp_c=[told]), tracks)
    assert late.flags.tolist() == [flag]
    assert after == tracks
    long_ago, _ = judged_table(table(NOW - 3600, 60, air_temp_c=[told]), tracks)
    assert not long_ago.flags.any()


def test_a_true_change_is_believed_after_five_minutes_and_three_readings() -> None:
    flags = flags_of(table(NOW, 60, rh_pct=[60.0, 60.0, *[90.0 + k / 10 for k in range(9)]]))
    assert flags == [0, 0, *[Flag.SPIKE] * 5, 0, 0, 0, 0]
    fast = flags_of(table(NOW, 1, air_temp_c=[12.0, *[30.0] * 200]))
    assert all(flag == Flag.SPIKE for flag in fast[1:])  # three readings alone are three seconds


def test_garbage_is_doubted_however_long_it_lasts() -> None:
    noise = [12.0, *[30.0 if k % 2 else 45.0 for k in range(60)]]
    assert all(f & DOUBTFUL for f in flags_of(table(NOW, 60, air_temp_c=noise))[1:])


def test_fahrenheit_in_a_celsius_topic_is_doubted_for_as_long_as_it_lasts() -> None:
    """Invented cold shed: 1.0 to 4.0 °C reads 33.8 to 39.2, inside many air limits."""
    in_f = [32.0 + 1.8 * (1.0 + k / 20) for k in range(60)]
    flags = flags_of(table(NOW, 600, air_temp_c=[1.0, *in_f]))
    assert flags[0] == 0
    assert all(flag & Flag.UNIT for flag in flags[1:])


def test_the_first_message_is_compared_with_what_was_read_there_before() -> None:
    before = known_before({"air_temp_c": (3.0, NOW - 7200)})
    assert flags_of(table(NOW, 60, air_temp_c=[38.0]), before) == [Flag.UNIT]
    assert flags_of(table(NOW, 60, air_temp_c=[3.5]), before) == [0]
    old = known_before({"air_temp_c": (3.0, NOW - 10 * 86400)})
    assert flags_of(table(NOW, 60, air_temp_c=[25.0]), old) == [0]


def test_back_in_celsius_it_is_believed_again() -> None:
    values = [4.0, 39.0, 39.2, 39.2, 4.1, 4.2]
    flags = flags_of(table(NOW, 60, air_temp_c=values))
    assert flags == [0, Flag.UNIT, Flag.UNIT, Flag.UNIT, 0, 0]


def test_a_surface_in_fahrenheit_beside_air_in_celsius_is_doubted_at_once() -> None:
    assert flags_of(table(NOW, 60, air_temp_c=[6.0], surface_temp_c=[41.0])) == [Flag.UNIT]
    assert flags_of(table(NOW, 60, air_temp_c=[20.0], surface_temp_c=[38.0])) == [0]


def test_all_in_fahrenheit_with_a_dew_point_is_doubted_at_once() -> None:
    """At 5 °C and 60 % the dew point is -2.2 °C (any psychrometric chart): 41 and 28 °F."""
    row = table(NOW, 60, air_temp_c=[41.0], rh_pct=[60.0], dew_point_c=[28.0])
    assert flags_of(row) == [Flag.UNIT]


def test_temperature_and_humidity_exchanged_are_doubted_in_the_first_row() -> None:
    assert flags_of(table(NOW, 60, air_temp_c=[58.0], rh_pct=[12.0])) == [Flag.SWAPPED]


@pytest.mark.parametrize("value", [-127.0, 85.0, 999.0, 327.67])
def test_fault_codes_become_holes(value: float) -> None:
    judged, _ = judged_table(table(NOW, 60, air_temp_c=[12.0, value]), {})
    assert np.isnan(judged.columns["air_temp_c"][1])
    assert judged.flags[1] == Flag.FAULT


@pytest.mark.parametrize("name", ["air_temp_c", "rh_pct", "surface_temp_c"])
def test_a_sensor_that_stands_still_is_doubted_from_six_hours_on(name: str) -> None:
    flags = flags_of(table(NOW, 600, **{name: [17.3] * 40}))
    assert flags == [*[Flag.NONE] * 36, *[Flag.STUCK] * 4]


def test_saturated_air_may_stand_still() -> None:
    assert not any(flags_of(table(NOW, 600, rh_pct=[100.0] * 60)))


@given(
    st.lists(st.tuples(st.integers(1, 5), st.integers(60, 4000)), min_size=1, max_size=60),
)
def test_standing_still_ends_as_the_whole_table_says(rows: list[tuple[int, int]]) -> None:
    """Row by row and as one table (`climate.quality`) the newest row is stuck or not alike."""
    times = NOW + np.cumsum([step for _, step in rows])
    values = np.repeat([10.0 + value / 10 for value, _ in rows], 1)
    whole = ReadingTable(times.astype(np.int64), {"air_temp_c": values},
                         np.zeros(len(rows), np.uint16))  # fmt: skip
    batch = quality.flag_table(whole)
    assert bool(batch.flags[-1] & Flag.STUCK) == bool(flags_of(whole)[-1] & Flag.STUCK)


@given(
    st.lists(st.tuples(st.floats(-60, 130), st.floats(-5, 120), st.integers(1, 7200)), max_size=40)
)
def test_judging_never_changes_a_possible_value_nor_adds_or_loses_rows(
    rows: list[tuple[float, float, int]],
) -> None:
    times = NOW + np.cumsum([step for *_, step in rows]).astype(np.int64)
    columns = {
        "air_temp_c": np.array([r[0] for r in rows]),
        "rh_pct": np.array([r[1] for r in rows]),
    }
    whole = ReadingTable(times, columns, np.zeros(len(rows), np.uint16))
    judged, _ = judged_table(whole, {})
    assert judged.time_s.tolist() == times.tolist()
    air = judged.columns["air_temp_c"]
    inside = (columns["air_temp_c"] >= -40) & (columns["air_temp_c"] <= 60)
    assert (air[inside] == columns["air_temp_c"][inside]).all()
    assert np.isnan(air[~inside]).all()
    assert (judged.flags[~inside] & Flag.FAULT).all()


@given(st.floats(-25, 35), st.floats(-3, 3), st.integers(30, 86400))
def test_any_temperature_told_in_fahrenheit_is_doubted(was: float, change: float, gap: int) -> None:
    """Below about -25 °C and far above a paint shop's range the two scales come too near."""
    now = was + change
    flags = flags_of(table(NOW, gap, air_temp_c=[was, 32.0 + 1.8 * now]))
    assert flags[1] & (DOUBTFUL | Flag.FAULT)
