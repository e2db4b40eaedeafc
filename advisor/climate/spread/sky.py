"""Wind, cloud, sun and rain of the courses: varied simply, for no archive speaks of them.

Every figure is judgement, of the size seen when forecasts are laid beside stations. They vary
apart from air and dew point: a course with more cloud is not a warmer night in it, which leaves
the doubt of a surface outdoors a little too wide rather than too narrow.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import HOUR_S, LEAD_H
from advisor.climate.spread.prior import at_lead, wandering
from advisor.physics.sun import cloud_factor

FloatArray = NDArray[np.float64]

#: How long a departure lasts, hours.
LASTS_H, SHOWER_H = 12.0, 5.0
#: Departures grow to full size over two days: wind as a factor, cloud in points.
GROWN_H = 48.0
WIND = (0.2, 0.45)
CLOUD_PCT = (15.0, 35.0)
#: Rain comes early or late by hours, in other amounts, not at all, or where none was foretold.
RAIN_SHIFT_H = (0.5, 3.0)
RAIN_AMOUNT = 0.6
RAIN_STAYS_OUT = (0.1, 0.3)
RAIN_UNFORETOLD = (0.005, 0.04)
SHOWER_MM_H = 0.4


def vary(
    central: Mapping[str, FloatArray],
    lead_h: FloatArray,
    step_s: int,
    count: int,
    rng: np.random.Generator,
) -> dict[str, FloatArray]:
    """Return courses [count, n] of the columns there are; wind and rain never below 0."""
    grown = np.clip(lead_h / GROWN_H, 0.0, 1.0)
    wind, cloud = (at_lead(wandering(rng, count, len(LEAD_H), LASTS_H), lead_h) for _ in range(2))
    found: dict[str, FloatArray] = {}
    if "wind_m_s" in central:
        found["wind_m_s"] = _wind(central["wind_m_s"], _between(WIND, grown) * wind)
    if "cloud_pct" in central:
        shift = _between(CLOUD_PCT, grown) * cloud
        found["cloud_pct"] = np.clip(central["cloud_pct"] + shift, 0.0, 100.0)
    if "sun_w_m2" in central:
        shift = _between(CLOUD_PCT, grown) * cloud
        found["sun_w_m2"] = sun_under(central, np.clip(_usual_cloud(central) + shift, 0.0, 100.0))
    if "rain_mm" in central:
        found["rain_mm"] = _rain(central["rain_mm"], lead_h, step_s, count, rng)
    return found


def sun_under(central: Mapping[str, FloatArray], cloud_pct: FloatArray) -> FloatArray:
    """Return the forecast's sun as it is under another cloud [s, n]; its own where unknown."""
    usual = cloud_factor(_usual_cloud(central))
    share = cloud_factor(cloud_pct) / usual
    return np.asarray(central["sun_w_m2"] * np.where(np.isnan(share), 1.0, share))


def _usual_cloud(central: Mapping[str, FloatArray]) -> FloatArray:
    return central.get("cloud_pct", np.full(len(central["sun_w_m2"]), 50.0))


def _between(ends: tuple[float, float], grown: FloatArray) -> FloatArray:
    return np.asarray(ends[0] + (ends[1] - ends[0]) * grown)


def _wind(wind_m_s: FloatArray, factor: FloatArray) -> FloatArray:
    """Vary by a factor, with half a metre a second so that a calm may stir."""
    return np.maximum((wind_m_s + 0.5) * np.exp(factor) - 0.5, 0.0)


def _rain(
    rain_mm: FloatArray, lead_h: FloatArray, step_s: int, count: int, rng: np.random.Generator
) -> FloatArray:
    n = len(rain_mm)
    grown = np.clip(lead_h / GROWN_H, 0.0, 1.0)
    shift_h = rng.standard_normal((count, 1)) * _between(RAIN_SHIFT_H, grown)
    at = np.arange(n) - np.rint(shift_h * HOUR_S / step_s).astype(np.int64)
    moved = rain_mm[np.clip(at, 0, n - 1)] if n else np.empty((count, 0))
    moved = np.where(np.isnan(moved), rain_mm, moved)
    chance = _chance(rng, count, lead_h)
    amount = np.exp(RAIN_AMOUNT * rng.standard_normal((count, 1)))
    stays_out = chance < _between(RAIN_STAYS_OUT, grown)
    shower = np.where(chance > 1.0 - _between(RAIN_UNFORETOLD, grown), SHOWER_MM_H, 0.0)
    wet = np.where(stays_out, 0.0, moved * amount)
    return np.where(np.isnan(rain_mm), np.nan, np.maximum(wet, shower * step_s / HOUR_S))


def _chance(rng: np.random.Generator, count: int, lead_h: FloatArray) -> FloatArray:
    """Lasting numbers evenly spread over 0 to 1: normal ones through the logistic curve.

    1 / (1 + exp(-1.702 z)) is within 0.01 of the normal distribution.
    """
    unit = at_lead(wandering(rng, count, len(LEAD_H), SHOWER_H), lead_h)
    return np.asarray(1.0 / (1.0 + np.exp(-1.702 * unit)))
