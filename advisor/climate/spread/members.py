"""Ensemble members and percentiles of a source, as far as a forecast carries them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.outdoor_grid import to_grid
from advisor.climate.spread.errors import HOUR_S, LEAD_H, along, made_s

FloatArray = NDArray[np.float64]
JOINT = ("air_temp_c", "dew_point_c")
#: Fewer members than this say little of the spread.
FEWEST = 5
#: Members are always dressed with at least this share of the known error's variance: ensembles
#: spread too little near the ground (well known of them; the figure is judgement).
LEAST_DRESS = 0.2
#: Width from the 10th to the 90th percentile of a normal distribution, standard deviations.
TENTH_TO_NINETIETH = 2.563
#: Percentiles may narrow or widen the usual error by no more than this.
NARROW, WIDE = 0.5, 2.5


def member_courses(
    forecast: Forecast, count: int, time_s: NDArray[np.int64], rng: np.random.Generator
) -> dict[str, FloatArray]:
    """Return members [count, n] at moments of an even grid, each course one member in all columns.

    Empty where the forecast has none of both air and dew point.
    """
    if any(len(forecast.members.get(name, ())) < FEWEST for name in JOINT) or not len(time_s):
        return {}
    many = min(len(values) for values in forecast.members.values())
    rows = rng.permutation(np.arange(count) % many)
    step_s = int(time_s[1] - time_s[0]) if len(time_s) > 1 else HOUR_S
    laid = [_on_grid(forecast, m, time_s, step_s) for m in range(many)]
    return {name: np.stack([one[name] for one in laid])[rows] for name in laid[0]}


def _on_grid(
    forecast: Forecast, member: int, time_s: NDArray[np.int64], step_s: int
) -> Mapping[str, FloatArray]:
    hourly = forecast.hourly
    columns = {name: values[member] for name, values in forecast.members.items()}
    weather = Outdoor(hourly.start_s, hourly.step_s, columns)
    return to_grid(weather, int(time_s[0]), int(time_s[-1]), step_s).columns


def dress(spread_k: FloatArray, member_k: FloatArray) -> FloatArray:
    """Return the factor [n] on error courses of `spread_k` [n] over members apart by `member_k`.

    Together they are as wide as the known error, or as the members where these are wider.
    """
    left = 1.0 - (member_k / np.maximum(spread_k, 1e-9)) ** 2
    return np.sqrt(np.clip(np.nan_to_num(left, nan=1.0), LEAST_DRESS, 1.0))


def percentile_factor(forecast: Forecast, air_sd_k: FloatArray) -> FloatArray:
    """Return how much wider than usual [n_lead] the source itself is of its air; 1 not said."""
    low, high = forecast.low10.get("air_temp_c"), forecast.high90.get("air_temp_c")
    if low is None or high is None:
        return np.ones_like(air_sd_k)
    hourly = forecast.hourly
    width = Outdoor(hourly.start_s, hourly.step_s, {"air_temp_c": high - low})
    time_s = made_s(forecast) + HOUR_S * np.array(LEAD_H, dtype=np.int64)
    told = along(width, "air_temp_c", time_s) / TENTH_TO_NINETIETH / air_sd_k
    known = np.isfinite(told)
    if not known.any():
        return np.ones_like(air_sd_k)
    # Where the percentiles end, the last of them fades back to the usual over a day.
    last = int(np.flatnonzero(known)[-1])
    filled = np.interp(np.arange(len(told)), np.flatnonzero(known), told[known])
    fade = np.clip((np.arange(len(told)) - last) / 24.0, 0.0, 1.0)
    return np.asarray(np.clip(filled, NARROW, WIDE) * (1.0 - fade) + fade)


def coarse_variance(forecast: Forecast) -> FloatArray:
    """Variance [n_lead], K², added where the source's own step is longer than an hour.

    A straight line over 6 h misses a day's course of 4 K amplitude by up to 4 (1 - cos 45°) =
    1.2 K, some 0.6 K in the root mean square; over 3 h by a quarter of that.
    """
    hourly = forecast.hourly
    steps = Outdoor(hourly.start_s, hourly.step_s, {"air_temp_c": forecast.step_h})
    time_s = made_s(forecast) + HOUR_S * np.array(LEAD_H, dtype=np.int64)
    step_h = np.clip(np.nan_to_num(along(steps, "air_temp_c", time_s), nan=1.0), 1.0, 6.0)
    return np.asarray((0.6 * (step_h**2 - 1.0) / 35.0) ** 2)
