"""Thermal lag: holes, limits, and independence of the step."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.physics.surfaces import LUMPED_BIOT, biot, first_order_lag, lumped_time_constant_h


def test_no_lag_is_air_itself_and_not_the_same_array() -> None:
    air = np.array([1.0, 5.0, np.nan, 2.0])
    found = first_order_lag(air, 0.5, 0.0)
    assert np.array_equal(found, air, equal_nan=True)
    found[0] = 99.0
    assert air[0] == 1.0


def test_steady_air_stays() -> None:
    assert np.array_equal(first_order_lag(np.full(50, 7.25), 0.1, 3.0), np.full(50, 7.25))


def test_a_hole_is_a_hole_and_the_lag_starts_afresh_after_it() -> None:
    before, after = [10.0, 14.0, 11.0], [3.0, 9.0, 9.0]
    found = first_order_lag([*before, np.nan, np.nan, *after], 0.5, 2.0)
    assert np.array_equal(found[:3], first_order_lag(before, 0.5, 2.0))
    assert np.isnan(found[3:5]).all()
    assert np.array_equal(found[5:], first_order_lag(after, 0.5, 2.0))
    assert found[5] == 3.0


def test_the_step_does_not_matter_where_air_is_linear() -> None:
    # Exact for piecewise-linear air: halving the step changes rounding only.
    coarse = np.random.default_rng(7).normal(10.0, 4.0, 200)
    fine = np.interp(np.arange(0.0, 199.25, 0.25), np.arange(200.0), coarse)
    assert first_order_lag(fine, 0.25, 1.7)[::4] == pytest.approx(
        first_order_lag(coarse, 1.0, 1.7), abs=1e-11
    )


def test_the_surface_stays_between_the_coldest_and_hottest_air() -> None:
    air = np.random.default_rng(8).normal(10.0, 4.0, 5000)
    found = first_order_lag(air, 1 / 12, 0.8)
    assert found.min() >= air.min()
    assert found.max() <= air.max()
    assert found.std() < air.std()


@pytest.mark.parametrize("lag_h", [1e-9, 1e9])
def test_extreme_lags_reach_air_and_standstill(lag_h: float) -> None:
    air = np.array([5.0, 15.0, 15.0])
    wanted = air if lag_h < 1 else np.full(3, 5.0)
    assert first_order_lag(air, 1.0, lag_h) == pytest.approx(wanted, abs=1e-7)


def test_short_series() -> None:
    assert first_order_lag([], 1.0, 1.0).shape == (0,)
    assert first_order_lag([4.0], 1.0, 1.0).tolist() == [4.0]


@pytest.mark.parametrize(("step", "lag"), [(0.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, np.nan)])
def test_impossible_steps_and_lags_are_refused(step: float, lag: float) -> None:
    with pytest.raises(RangeError):
        first_order_lag([1.0, 2.0], step, lag)


def test_two_dimensions_are_refused() -> None:
    with pytest.raises(RangeError, match="one series"):
        first_order_lag(np.zeros((2, 2)), 1.0, 1.0)


def test_timber_is_too_thick_to_move_as_one() -> None:
    # Plywood 6 mm, conductivity 0.17 W/mK (from memory, notes 4), indoor coefficient 7.7.
    assert biot(7.7, 0.006, 0.17) > LUMPED_BIOT
    # Steel 10 mm, 50 W/mK (public table citing EN ISO 10456).
    assert biot(7.7, 0.010, 50.0) < LUMPED_BIOT


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_plates_need_positive_figures(bad: float) -> None:
    with pytest.raises(RangeError, match="thickness_m"):
        lumped_time_constant_h(7850.0, 460.0, bad, 8.0)
    with pytest.raises(RangeError, match="conductivity"):
        biot(8.0, 0.01, bad)
