"""The shop's series: readings and forecast on one grid, pulled towards the latest reading."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.physics import moist_air
from advisor.work.shop_air import DAY_S, PULL_HALF_H, pulled, shop_series
from advisor.work.views import Reading
from tests.helpers.products import HOUR_S, MONDAY_S, NAN, readings, series, steady

NOW = MONDAY_S + 12 * HOUR_S
AT_NOW = 144


def hourly(first_h: int, last_h: int, **columns: float) -> object:
    times = [MONDAY_S + h * HOUR_S for h in range(first_h, last_h + 1)]
    return readings(times, **{k: np.full(len(times), v) for k, v in columns.items()})


def span(days: int) -> tuple[float, float]:
    """A week back, and three days past the days asked for."""
    return NOW - 7 * DAY_S, NOW + (days + 3) * DAY_S


def test_no_readings_at_all_is_a_week_of_holes() -> None:
    found = shop_series(readings([]), span(4), NOW)
    assert found.start_s == NOW - 7 * DAY_S
    assert found.end_s == NOW + 7 * DAY_S
    for values in (found.air_temp_c, found.dew_point_c, found.surface_temp_c):
        assert np.isnan(values).all()
    assert found.lead_from_s == NOW


def test_the_holes_are_not_one_shared_array() -> None:
    found = shop_series(readings([]), span(1), NOW)
    found.air_temp_c[0] = 1.0
    assert np.isnan(found.dew_point_c[0])


def test_readings_are_laid_from_a_week_back_to_the_days_ahead() -> None:
    table = hourly(0, 24, air_temp_c=15.0, dew_point_c=8.0, surface_temp_c=14.0)
    found = shop_series(table, span(2), NOW)  # type: ignore[arg-type]
    assert (found.start_s, found.end_s) == (NOW - 7 * DAY_S, NOW + 5 * DAY_S)
    low, high = (round(found.index_of(MONDAY_S + h * HOUR_S)) for h in (0, 24))
    assert (found.air_temp_c[low : high + 1] == 15.0).all()
    assert np.isnan(found.air_temp_c[[low - 1, high + 1]]).all()


def test_a_missing_surface_stays_missing_without_a_lag() -> None:
    table = hourly(0, 24, air_temp_c=15.0, dew_point_c=8.0)
    found = shop_series(table, span(2), NOW)  # type: ignore[arg-type]
    assert np.isnan(found.surface_temp_c).all()
    assert found.assumptions == ()


def test_a_lag_fills_only_what_is_missing_and_is_named() -> None:
    times = np.arange(0, 25) * HOUR_S + MONDAY_S
    surface = np.where(np.arange(25) < 6, 9.0, NAN)
    table = readings(times, air_temp_c=np.full(25, 15.0), dew_point_c=np.full(25, 8.0),
                     surface_temp_c=surface)  # fmt: skip
    found = shop_series(table, span(2), NOW, surface_lag_h=2.0)
    low = round(found.index_of(MONDAY_S))
    assert (found.surface_temp_c[low : low + 61] == 9.0).all()
    # Steady air: the lagged surface has caught up with it.
    assert found.surface_temp_c[low + 61 : low + 289] == pytest.approx(15.0)
    assert np.isnan(found.surface_temp_c[low + 289])
    assert found.assumptions == ("surface assumed to follow the air with a lag of 2 h",)


def test_a_lag_that_fills_nothing_is_not_named() -> None:
    table = hourly(0, 24, air_temp_c=15.0, dew_point_c=8.0, surface_temp_c=14.0)
    assert shop_series(table, span(2), NOW, surface_lag_h=2.0).assumptions == ()  # type: ignore[arg-type]


# --- the pull --------------------------------------------------------------------------------


def reading(**values: float) -> Reading:
    return Reading(NOW, **values)  # type: ignore[arg-type]


def test_the_reading_counts_fully_now_and_half_after_six_hours() -> None:
    on = steady(48, air=20.0, dew=10.0, surface=20.0)
    found = pulled(on, reading(air_temp_c=16.0, rh_pct=80.0, surface_temp_c=12.0), NOW)
    dew = float(moist_air.dew_point_c(16.0, 80.0))
    later = AT_NOW + round(PULL_HALF_H * 12)
    for values, read, was in (
        (found.air_temp_c, 16.0, 20.0),
        (found.dew_point_c, dew, 10.0),
        (found.surface_temp_c, 12.0, 20.0),
        (found.hot_c, 12.0, 20.0),
    ):
        assert values[AT_NOW] == pytest.approx(read, abs=1e-9)
        assert values[AT_NOW - 1] == was
        assert values[later] == pytest.approx((read + was) / 2, abs=1e-9)
        assert values[2 * later - AT_NOW] == pytest.approx(was + (read - was) / 4, abs=1e-9)
    assert found.assumptions == ("a typed reading counts less with time: half after 6 h",)


def test_the_series_given_is_left_alone() -> None:
    on = steady(48)
    pulled(on, reading(air_temp_c=1.0, rh_pct=80.0, surface_temp_c=1.0), NOW)
    assert (on.air_temp_c == 20.0).all()
    assert (on.surface_temp_c == 20.0).all()


def test_what_was_not_read_is_not_pulled() -> None:
    on = steady(48)
    found = pulled(on, reading(air_temp_c=16.0), NOW)
    assert (found.dew_point_c == on.dew_point_c).all()
    assert (found.surface_temp_c == on.surface_temp_c).all()
    found = pulled(on, reading(rh_pct=80.0), NOW)  # humidity alone: with the air known already
    assert (found.air_temp_c == on.air_temp_c).all()
    at = int(on.index_of(NOW))
    assert found.rh_pct[at] == pytest.approx(80.0, abs=1e-5)  # the polish stops at 1e-6 points


def test_the_hot_spot_is_pulled_by_its_own_reading() -> None:
    on = series(20.0, 10.0, np.full(577, 18.0), hot=24.0)
    found = pulled(on, reading(surface_temp_c=15.0, surface_hot_c=30.0), NOW)
    assert found.surface_temp_c[AT_NOW] == 15.0
    assert found.hot_c[AT_NOW] == 30.0


def test_without_an_outlook_only_now_is_known() -> None:
    on = series(np.full(577, NAN), NAN, NAN)
    found = pulled(on, reading(air_temp_c=16.0, rh_pct=60.0, surface_temp_c=12.0), NOW)
    known = np.flatnonzero(~np.isnan(found.surface_temp_c))
    assert known.tolist() == [AT_NOW]
    assert found.margin_k[AT_NOW] == pytest.approx(12.0 - float(moist_air.dew_point_c(16, 60)))
    assert np.isnan(found.margin_k[AT_NOW + 1])


def test_a_reading_some_minutes_old_holds_until_now() -> None:
    on = series(np.full(577, NAN), NAN, NAN)
    old = Reading(NOW - 1500, 16.0, 60.0, 12.0)
    found = pulled(on, old, NOW)
    known = np.flatnonzero(~np.isnan(found.surface_temp_c))
    assert (known[0], known[-1], len(known)) == (AT_NOW - 5, AT_NOW, 6)


def test_a_hole_after_now_stays_a_hole() -> None:
    surface = np.full(577, 20.0)
    surface[200:240] = NAN
    found = pulled(series(20.0, 10.0, surface), reading(surface_temp_c=12.0), NOW)
    assert np.isnan(found.surface_temp_c[200:240]).all()


def test_a_reading_between_grid_points_pulls_from_the_one_before() -> None:
    found = pulled(steady(48), Reading(NOW + 299, 16.0), NOW + 299)
    assert found.air_temp_c[AT_NOW] == 16.0


def test_a_reading_outside_the_series_changes_nothing() -> None:
    on = steady(6)
    assert pulled(on, reading(air_temp_c=1.0), NOW) is on


def test_an_impossible_humidity_is_refused() -> None:
    with pytest.raises(RangeError):
        pulled(steady(48), reading(air_temp_c=16.0, rh_pct=0.0), NOW)
    with pytest.raises(RangeError):
        pulled(steady(48), reading(air_temp_c=16.0, rh_pct=120.0), NOW)
