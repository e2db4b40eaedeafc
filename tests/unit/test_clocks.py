"""Cure clocks: numbers in, numbers out. Indices are five-minute steps, 12 to the hour."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.coatings.clocks import (
    STEP_H,
    Clock,
    maximum_clock,
    minimum_clock,
    pause_point_c,
    snap,
)
from advisor.coatings.tables import TimeTable
from tests.helpers.products import INF, NAN, ROWS

FOUR_H = TimeTable.of(ROWS, (8.0, 4.0, 2.0))


def when(clock: Clock, *start: float) -> list[float]:
    return clock.when(np.array(start)).tolist()


def steady(temp_c: float, hours: float = 24.0) -> np.ndarray:
    return np.full(round(hours * 12) + 1, temp_c)


@pytest.mark.parametrize(
    ("index", "expected"),
    [
        (5.0, 5.0), (5.0000009, 5.0), (4.9999991, 5.0),
        (5.000002, 5.000002), (4.999998, 4.999998), (-0.0000005, 0.0),
    ],
)  # fmt: skip
def test_snap_within_a_millionth_of_a_step(index: float, expected: float) -> None:
    assert snap(np.array([index]))[0] == expected


def test_snap_leaves_what_is_not_known() -> None:
    assert np.isnan(snap(np.array([NAN]))[0])


@pytest.mark.parametrize(("temp", "hours"), [(10.0, 8.0), (20.0, 4.0), (30.0, 2.0), (45.0, 2.0)])
def test_steady_temperature_takes_the_table_time(temp: float, hours: float) -> None:
    clock = minimum_clock(FOUR_H, steady(temp), -INF)
    assert when(clock, 0.0) == [hours * 12]  # snapped, hence exact
    assert when(clock, 7.0) == [hours * 12 + 7]


def test_a_start_inside_a_step_counts_from_there() -> None:
    clock = minimum_clock(FOUR_H, steady(20.0), -INF)
    # Linear progress inside a step; 1e-9 step is rounding of the sum.
    assert when(clock, 3.25)[0] == pytest.approx(48 + 3.25, abs=1e-9)


def test_mean_rate_within_a_step() -> None:
    # One step from 20 to 30 °C: rates 1/4 and 1/2 per hour, mean 3/8 per hour.
    clock = minimum_clock(FOUR_H, np.array([20.0, 30.0, 30.0]), -INF)
    assert clock.total[1] == pytest.approx(0.375 * STEP_H, rel=1e-12)
    assert clock.total[2] == pytest.approx((0.375 + 0.5) * STEP_H, rel=1e-12)
    assert clock.progress(0.5)[()] == pytest.approx(0.375 * STEP_H / 2, rel=1e-12)


def test_half_the_time_at_each_of_two_temperatures() -> None:
    # 2 h at 20 °C are half; at 30 °C the other half takes 1 h. The rise costs one step at 3/8
    # instead of 1/2: the hours after it make up 1/8 x 1/12 h at 1/2 per hour, 1/48 h.
    temps = np.concatenate((np.full(25, 20.0), np.full(60, 30.0)))
    found = when(minimum_clock(FOUR_H, temps, -INF), 0.0)[0] * STEP_H
    assert found == pytest.approx(3.0 + 1 / 48, abs=1e-9)


def test_below_the_lowest_row_it_pauses() -> None:
    cold = np.concatenate((np.full(13, 20.0), np.full(100, 9.9), np.full(60, 20.0)))
    clock = minimum_clock(FOUR_H, cold, -INF)
    # Steps into and out of the pause run at half rate: 12 + 36 steps, 100 paused points, and
    # two halves instead of none.
    assert when(clock, 0.0)[0] == pytest.approx(48 + 100, abs=1e-9)
    assert np.ptp(clock.total[13:113]) == 0.0


def test_on_the_lowest_row_it_runs() -> None:
    assert when(minimum_clock(FOUR_H, steady(10.0), -INF), 0.0) == [96.0]


def test_cure_minimum_pauses_above_the_lowest_row() -> None:
    assert when(minimum_clock(FOUR_H, steady(11.9), 12.0), 0.0) == pytest.approx([NAN], nan_ok=True)
    assert not np.isnan(when(minimum_clock(FOUR_H, steady(12.0), 12.0), 0.0)[0])


def test_pause_point() -> None:
    assert pause_point_c(FOUR_H, 5.0) == 10.0
    assert pause_point_c(FOUR_H, 12.0) == 12.0
    one = TimeTable.of((23.0,), (4.0,))
    assert pause_point_c(one, 5.0) == 5.0
    assert pause_point_c(one, -INF) == -INF


def test_one_row_runs_in_the_cold_at_half_speed() -> None:
    one = TimeTable.of((23.0,), (4.0,))
    assert when(minimum_clock(one, steady(13.0), 5.0), 0.0) == [96.0]


@pytest.mark.parametrize("cell", [NAN, INF])
def test_blank_and_unlimited_never_come(cell: float) -> None:
    table = TimeTable.of(ROWS, (cell, cell, cell))
    clock = minimum_clock(table, steady(20.0), -INF)
    assert clock.total.max() == 0.0
    assert np.isnan(when(clock, 0.0)[0])


def test_a_time_of_zero_is_at_once() -> None:
    clock = minimum_clock(TimeTable.of(ROWS, (0.0, 0.0, 0.0)), steady(20.0), -INF)
    assert when(clock, 0.0, 17.0) == [0.0, 17.0]
    assert when(clock, 3.5)[0] == pytest.approx(3.5, abs=1e-6)


def test_a_hole_stands_still_and_never_counts() -> None:
    temps = steady(20.0)
    temps[10:14] = NAN
    total = minimum_clock(FOUR_H, temps, -INF).total
    assert np.isfinite(total).all()
    assert total[13] == total[10]


def test_past_the_end_is_not_known() -> None:
    clock = minimum_clock(FOUR_H, steady(20.0, 4.0), -INF)
    assert when(clock, 0.0) == [48.0]  # the last point itself
    found = when(clock, 0.001, 49.0, NAN)
    assert np.isnan(found).all()


def test_progress_is_held_to_the_series() -> None:
    clock = Clock(np.array([0.0, 1.0, 3.0]))
    assert clock.progress(np.array([-1.0, 0.5, 1.5, 2.0, 9.0])).tolist() == [0, 0.5, 2.0, 3.0, 3.0]


def test_one_point_reaches_nothing() -> None:
    assert np.isnan(when(minimum_clock(FOUR_H, np.array([20.0]), -INF), 0.0)[0])


def test_an_event_is_never_before_its_start() -> None:
    clock = minimum_clock(TimeTable.of(ROWS, (1.0, 0.0, 0.0)), steady(20.0), -INF)
    starts = np.linspace(0, 100, 401)
    assert (clock.when(starts) >= starts - 1e-6).all()


def test_a_target_rounding_put_a_hair_over_a_pause_is_still_reached() -> None:
    # Ten hours in tenths sum to a hair under or over 1: a pause right after must not cost hours.
    temps = np.concatenate((np.full(121, 20.0), np.full(200, 0.0), np.full(20, 20.0)))
    clock = minimum_clock(TimeTable.of(ROWS, (20.0, 10.0, 5.0)), temps, -INF)
    assert when(clock, 0.0) == [120.0]


def test_the_maximum_never_pauses_and_halves_above_the_top() -> None:
    table = TimeTable.of(ROWS, (8.0, 4.0, 2.0), runs_out=True)
    assert when(maximum_clock(table, steady(-5.0)), 0.0) == [96.0]
    assert when(maximum_clock(table, steady(40.0)), 0.0) == [12.0]


def test_an_unlimited_maximum_never_closes() -> None:
    table = TimeTable.of(ROWS, (INF, INF, INF), runs_out=True)
    clock = maximum_clock(table, steady(20.0))
    assert clock.total.max() == 0.0


def test_a_maximum_of_zero_is_over_at_once() -> None:
    table = TimeTable.of(ROWS, (0.0, 0.0, 0.0), runs_out=True)
    assert when(maximum_clock(table, steady(20.0)), 5.0) == [5.0]
