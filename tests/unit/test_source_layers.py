"""Laying values on the hours: intervals, instants, sums, steps and extremes."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.climate.sources.extremes import Span, bounded
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    Run,
    bridges,
    expand_runs,
    lay_instants,
    spread_sums,
    station_pressure,
    step_marks,
)

NAN = float("nan")
AXIS = Axis(0, 13)


def stamps(*hours: int) -> np.ndarray:
    return np.array(hours, dtype=np.int64) * HOUR_S


@pytest.mark.parametrize(
    ("hours", "bridged"),
    [
        ((0, 1, 2, 3), [True, True, True]),
        ((0, 1, 2, 8, 14), [True, True, True, True]),  # hourly, then 6-hourly
        ((0, 1, 4, 10), [True, True, True]),  # 1, 3, 6
        ((0, 1, 4, 5), [True, False, True]),  # a hole of two hours
        ((0, 6, 18, 24), [True, False, True]),  # a hole in the 6-hourly part
        ((0, 6, 18), [True, False]),
        ((0, 7), [False]),
        ((0,), []),
    ],
)
def test_steps_of_the_source_are_told_from_holes(
    hours: tuple[int, ...], bridged: list[bool]
) -> None:
    assert bridges(stamps(*hours)).tolist() == bridged


def test_lines_between_instants_never_over_a_hole() -> None:
    times = stamps(0, 1, 2, 8, 14)
    values = np.array([0.0, 1.0, 2.0, 8.0, 20.0])
    laid = lay_instants(AXIS, times, values, bridges(times))
    assert laid.tolist() == [0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16]
    values[3] = NAN
    laid = lay_instants(AXIS, times, values, bridges(times))
    assert laid[:3].tolist() == [0, 1, 2]
    assert np.isnan(laid[3:]).all()


def test_nothing_before_the_first_and_after_the_last_instant() -> None:
    times = stamps(2, 3)
    laid = lay_instants(Axis(0, 6), times, np.array([2.0, 3.0]), bridges(times))
    assert np.isnan(laid[[0, 1, 4, 5]]).all()
    assert laid[2:4].tolist() == [2, 3]


def test_step_marks() -> None:
    marks = step_marks(AXIS, stamps(0, 1, 4, 10, 12))
    assert marks.tolist() == [1, 1, 3, 3, 3, 6, 6, 6, 6, 6, 6, 3, 3]


def test_runs_hold_from_start_to_before_end() -> None:
    runs = [Run(-5 * HOUR_S, 2 * HOUR_S, 1.0), Run(3 * HOUR_S, 4 * HOUR_S, 2.0),
            Run(12 * HOUR_S, 99 * HOUR_S, 3.0), Run(-9 * HOUR_S, -5 * HOUR_S, 4.0)]  # fmt: skip
    laid = expand_runs(AXIS, runs)
    assert laid[[0, 1, 3, 12]].tolist() == [1, 1, 2, 3]
    assert np.isnan(np.delete(laid, [0, 1, 3, 12])).all()


def test_sums_are_of_the_hours_that_end_inside() -> None:
    laid = spread_sums(AXIS, [Run(-2 * HOUR_S, 4 * HOUR_S, 6.0), Run(4 * HOUR_S, 5 * HOUR_S, 2.0)])
    assert laid[:6].tolist() == [1, 1, 1, 1, 1, 2]
    assert np.isnan(laid[6:]).all()


def test_pressure_at_a_place() -> None:
    # ICAO standard atmosphere, 1000 m: 898.75 hPa; MetPy rounds its constants (0.06 hPa).
    found = station_pressure(np.array([1013.25]), 1000.0)
    assert found[0] == pytest.approx(898.75, abs=0.1)
    assert station_pressure(np.array([1013.25]), 0.0)[0] == 1013.25


# --- extremes: at 0° east solar time is UTC ---------------------------------------------


def course() -> np.ndarray:
    return np.linspace(12.0, 6.0, 13)


def test_the_minimum_is_placed_at_dawn() -> None:
    air, changed = bounded(AXIS, course(), [Span(0, 6 * HOUR_S, 7.0, NAN)], 0.0)
    assert changed == 1
    assert (int(np.argmin(air[:7])), air[5]) == (5, 7.0)
    assert (air[0], air[6]) == (12.0, 9.0)
    assert air[1:5] == pytest.approx([11.0, 10.0, 9.0, 8.0])
    assert (air[7:] == course()[7:]).all()


def test_by_the_sun_not_by_utc() -> None:
    # 15° east is an hour ahead: dawn is at 04:00 UTC.
    air, _ = bounded(AXIS, course(), [Span(0, 6 * HOUR_S, 7.0, NAN)], 15.0)
    assert int(np.argmin(air[:7])) == 4


def test_an_extreme_the_course_reaches_changes_nothing() -> None:
    air, changed = bounded(AXIS, course(), [Span(0, 6 * HOUR_S, 9.0, 12.0)], 0.0)
    assert changed == 0
    assert (air == course()).all()


def test_far_from_dawn_only_a_front_counts() -> None:
    shifted = Axis(12 * HOUR_S, 13)
    spans = [Span(12 * HOUR_S, 18 * HOUR_S, 7.5, NAN)]
    assert bounded(shifted, course(), spans, 0.0)[1] == 0
    spans = [Span(12 * HOUR_S, 18 * HOUR_S, 4.0, NAN)]
    air, changed = bounded(shifted, course(), spans, 0.0)
    assert (changed, air[:7].min()) == (1, 4.0)


def test_a_span_with_a_hole_or_outside_stays() -> None:
    air = course()
    air[3] = NAN
    spans = [Span(0, 6 * HOUR_S, 0.0, NAN), Span(9 * HOUR_S, 15 * HOUR_S, 0.0, NAN)]
    found, changed = bounded(AXIS, air, spans, 0.0)
    assert changed == 0
    assert np.array_equal(found, air, equal_nan=True)
