"""Weather laid on the outlook's grid keeps its values, sums and holes."""

from __future__ import annotations

import numpy as np

from advisor.climate.outdoor import Outdoor
from advisor.climate.outdoor_grid import joined, to_grid

START = 1_779_840_000  # a whole hour
HOUR = 3600
QUARTER = 900


def hourly(**columns: list[float]) -> Outdoor:
    return Outdoor(START, HOUR, {name: np.array(v, float) for name, v in columns.items()})


def test_values_at_a_stamp_are_joined_by_straight_lines() -> None:
    found = to_grid(hourly(air_temp_c=[10, 14, 12]), START, START + 2 * HOUR, QUARTER)
    assert found.column("air_temp_c").tolist() == [10, 11, 12, 13, 14, 13.5, 13, 12.5, 12]


def test_nothing_is_made_past_the_ends_or_in_a_long_gap() -> None:
    air = [10.0, *[np.nan] * 3, 10.0, 11.0]  # four hours between values
    found = to_grid(hourly(air_temp_c=air), START - HOUR, START + 7 * HOUR, HOUR)
    told = found.column("air_temp_c")
    assert np.isnan(told[[0, 2, 3, 4, 7]]).all()
    assert told[[1, 5, 6]].tolist() == [10.0, 10.0, 11.0]


def test_rain_is_shared_out_and_keeps_its_sum() -> None:
    found = to_grid(hourly(air_temp_c=[1, 1, 1], rain_mm=[0, 4, 2]),
                    START, START + 2 * HOUR, QUARTER)  # fmt: skip
    rain = found.column("rain_mm")
    assert rain.tolist() == [0, 1, 1, 1, 1, 0.5, 0.5, 0.5, 0.5]
    assert rain.sum() == 6.0


def test_a_mean_stands_in_the_middle_of_its_hour() -> None:
    """Sun 100, 300, 200 over three hours: half past the second hour begins it is 300."""
    found = to_grid(hourly(air_temp_c=[1] * 4, sun_w_m2=[0, 100, 300, 200]),
                    START, START + 3 * HOUR, 1800)  # fmt: skip
    sun = found.column("sun_w_m2")
    # Step means of half hours between middles at −½ h, ½ h, 1½ h, 2½ h, read at their middles.
    assert np.allclose(sun, [25.0, 75.0, 150.0, 250.0, 275.0, 225.0, 200.0], atol=1e-9)


def test_the_past_counts_before_the_forecast_and_fills_it() -> None:
    past = Outdoor(START, HOUR, {"air_temp_c": np.array([1.0, 2.0, np.nan])})
    ahead = Outdoor(START + HOUR, HOUR, {"air_temp_c": np.array([9.0, 8.0, 7.0])})
    found = joined(past, ahead)
    assert found.start_s == START
    assert found.column("air_temp_c").tolist() == [1.0, 2.0, 8.0, 7.0]
