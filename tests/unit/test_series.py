"""Readings on the five-minute grid: lines, holes of three hours, ends, derived columns."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.climate.series import GRID_S, Series, dew_rows, on_grid, series_from_table
from advisor.physics import moist_air
from tests.helpers.products import HOUR_S, MONDAY_S, NAN, readings, series, steady

H3 = 3 * HOUR_S


def grid(first: int, last: int) -> np.ndarray:
    return np.arange(first, last + 1, GRID_S, dtype=np.int64)


def laid(times: list[int], values: list[float], last: int) -> np.ndarray:
    return on_grid(np.array(times, dtype=np.int64), np.array(values), grid(0, last))


def test_a_straight_line_between_readings() -> None:
    assert laid([0, 1200], [10.0, 14.0], 1200).tolist() == [10.0, 11.0, 12.0, 13.0, 14.0]


def test_readings_off_the_grid_are_drawn_onto_it() -> None:
    # 100 s to 700 s, 1 K per 100 s: at 300 s 12 K, at 600 s 15 K; before and after nothing.
    found = laid([100, 700], [10.0, 16.0], 900)
    assert np.isnan(found[[0, 3]]).all()
    assert found[1:3] == pytest.approx([12.0, 15.0], abs=1e-12)


def test_three_hours_are_bridged_and_a_second_more_is_a_hole() -> None:
    assert not np.isnan(laid([0, H3], [10.0, 13.0], H3)).any()
    found = laid([0, H3 + 1], [10.0, 13.0], H3)
    assert found[0] == 10.0
    assert np.isnan(found[1:]).all()


def test_a_row_without_a_value_does_not_shorten_a_gap() -> None:
    found = laid([0, HOUR_S, 2 * HOUR_S, H3 + 300], [10.0, NAN, NAN, 13.0], H3 + 300)
    assert np.isnan(found[1:-1]).all()
    assert found[-1] == 13.0


def test_nothing_before_the_first_or_after_the_last() -> None:
    found = on_grid(np.array([600, 900]), np.array([1.0, 2.0]), grid(0, 1500))
    assert np.isnan(found[[0, 1, 4, 5]]).all()
    assert found[2:4].tolist() == [1.0, 2.0]


def test_a_single_reading_is_one_point() -> None:
    found = laid([300], [5.0], 900)
    assert found[1] == 5.0
    assert np.isnan(found[[0, 2, 3]]).all()


def test_no_valid_value_at_all() -> None:
    assert np.isnan(laid([0, 300], [NAN, NAN], 600)).all()


def test_grid_is_whole_multiples_of_five_minutes_inside_the_readings() -> None:
    table = readings([MONDAY_S + 10, MONDAY_S + 1510], air_temp_c=[10, 12], dew_point_c=[5, 5],
                     surface_temp_c=[10, 10])  # fmt: skip
    found = series_from_table(table)
    assert found.start_s == MONDAY_S + 300
    assert len(found) == 5
    assert found.time_s[-1] == MONDAY_S + 1500 == found.end_s
    assert not np.isnan(found.air_temp_c).any()


def test_each_column_has_its_own_holes() -> None:
    times = [MONDAY_S + k * HOUR_S for k in range(5)]
    table = readings(times, air_temp_c=[10] * 5, dew_point_c=[5] * 5,
                     surface_temp_c=[10, NAN, NAN, NAN, 10])  # fmt: skip
    found = series_from_table(table)
    assert not np.isnan(found.air_temp_c).any()
    assert np.isnan(found.surface_temp_c[1:-1]).all()
    assert np.isnan(found.margin_k[1:-1]).all()
    assert not np.isnan(found.margin_k[[0, -1]]).any()


def test_a_missing_surface_is_never_the_air() -> None:
    table = readings([MONDAY_S, MONDAY_S + 600], air_temp_c=[10, 10], rh_pct=[50, 50])
    found = series_from_table(table)
    assert np.isnan(found.surface_temp_c).all()
    assert found.assumptions == ()


def test_asked_for_the_surface_lags_behind_the_air_and_says_so() -> None:
    table = readings([MONDAY_S, MONDAY_S + HOUR_S], air_temp_c=[10, 16], dew_point_c=[5, 5])
    found = series_from_table(table, surface_lag_h=2.0)
    # Ramp R behind a lag τ: R τ (1 − e^(−t/τ)), the closed solution.
    behind = 6.0 * 2.0 * (1 - np.exp(-0.5))
    assert found.surface_temp_c[-1] == pytest.approx(16.0 - behind, abs=1e-9)
    assert found.assumptions == ("surface assumed to follow the air with a lag of 2 h",)


def test_first_and_last_can_reach_past_the_readings() -> None:
    table = readings([MONDAY_S], air_temp_c=[10.0], dew_point_c=[5.0], surface_temp_c=[9.0])
    found = series_from_table(table, first_s=MONDAY_S - 300, last_s=MONDAY_S + 600)
    assert np.isnan(found.air_temp_c[[0, 2, 3]]).all()
    assert found.air_temp_c[1] == 10.0


def test_an_empty_table_is_an_empty_series() -> None:
    found = series_from_table(readings([]))
    assert len(found) == 0
    assert found.margin_k.tolist() == []


def test_dew_point_is_linear_between_readings_not_humidity() -> None:
    times = [MONDAY_S, MONDAY_S + 2 * HOUR_S]
    table = readings(times, air_temp_c=[10, 20], rh_pct=[90, 50], surface_temp_c=[10, 10])
    found = series_from_table(table)
    ends = [float(moist_air.dew_point_c(t, rh)) for t, rh in ((10.0, 90.0), (20.0, 50.0))]
    # Exact halves of the ends; the polish of the dew point is good to 1e-8 K.
    assert found.dew_point_c[12] == pytest.approx(sum(ends) / 2, abs=1e-7)
    assert abs(found.rh_pct[12] - 70.0) > 1.0


def test_a_given_dew_point_wins_over_humidity_row_by_row() -> None:
    table = readings([0, 300, 600], air_temp_c=[20, 20, NAN], rh_pct=[50, 50, 50],
                     dew_point_c=[NAN, 3.0, NAN])  # fmt: skip
    found = dew_rows(table)
    assert found[0] == pytest.approx(float(moist_air.dew_point_c(20.0, 50.0)), abs=1e-9)
    assert found[1] == 3.0
    assert np.isnan(found[2])


def test_rh_of_zero_gives_no_dew_point() -> None:
    table = readings([0, 300], air_temp_c=[20, 20], rh_pct=[0, 50])
    assert np.isnan(dew_rows(table)[0])


def test_margin_uses_the_frost_point_below_freezing() -> None:
    found = series([1.0], [-5.0], [0.0])
    # At −5 °C over water the frost point is about 0.6 K higher (from memory: Td −5 ↔ Tf −4.4).
    assert 4.3 < found.margin_k[0] < 4.5
    assert series([20.0], [10.0], [14.0]).margin_k[0] == pytest.approx(4.0, abs=1e-9)


def test_hot_spot_is_the_surface_unless_known() -> None:
    assert steady(1.0).hot_c is not None
    assert series([20.0], [5.0], [15.0]).hot_c.tolist() == [15.0]
    assert series([20.0], [5.0], [15.0], hot=[25.0]).hot_c.tolist() == [25.0]


def test_next_hole() -> None:
    found = series([20.0] * 6, 5.0, [15, 15, NAN, 15, NAN, 15]).next_hole
    assert found.tolist() == [2, 2, 2, 4, 4, 6, 6]


def test_index_and_time_are_inverse() -> None:
    found = steady(2.0)
    assert found.index_of(MONDAY_S + 450) == 1.5
    assert found.time_at(1.5) == MONDAY_S + 450


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [(0, 600, [0, 1, 2]), (1, 599, [1]), (-900, 99999, [0, 1, 2, 3, 4]), (301, 599, [])],
)
def test_part(first: int, last: int, expected: list[int]) -> None:
    whole = series(np.arange(5.0), 0.0, 10.0, hot=12.0, wind=np.arange(5.0), rain=0.0)
    found = whole.part(MONDAY_S + first, MONDAY_S + last)
    assert found.air_temp_c.tolist() == expected
    assert found.wind_m_s is not None
    assert found.wind_m_s.tolist() == expected
    if expected:
        assert found.start_s == MONDAY_S + 300 * expected[0]


def test_rain_counts_for_the_time_before_its_row() -> None:
    times = [MONDAY_S, MONDAY_S + HOUR_S, MONDAY_S + 2 * HOUR_S]
    table = readings(times, air_temp_c=[10] * 3, dew_point_c=[5] * 3, surface_temp_c=[9] * 3,
                     rain_mm=[0.0, 1.2, 0.0])  # fmt: skip
    rain = series_from_table(table).rain_mm
    assert rain is not None
    assert rain[0] == 0.0
    assert (rain[1:13] == 1.2).all()
    assert (rain[13:] == 0.0).all()


def test_wind_and_rain_stay_out_when_nobody_measured_them() -> None:
    table = readings([MONDAY_S, MONDAY_S + 300], air_temp_c=[1, 1], rain_mm=[NAN, NAN])
    found = series_from_table(table)
    assert found.rain_mm is None
    assert found.wind_m_s is None
    assert found.surface_hot_c is None


def test_rain_after_its_last_row_is_not_known() -> None:
    times = [MONDAY_S, MONDAY_S + HOUR_S]
    table = readings(times, air_temp_c=[10, 10], rain_mm=[0.0, NAN])
    rain = series_from_table(table).rain_mm
    assert rain is not None
    assert np.isnan(rain[1:]).all()


def test_a_series_knows_its_length() -> None:
    assert len(Series(0, np.zeros(3), np.zeros(3), np.zeros(3))) == 3
