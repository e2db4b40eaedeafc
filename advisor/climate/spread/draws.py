"""From one forecast to many equally likely courses of the weather."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.spread.errors import HOUR_S, LEAD_H, ErrorModel, Measured, along, made_s
from advisor.climate.spread.prior import unit_courses

FloatArray = NDArray[np.float64]
COUNT = 200


def scenario_outdoor(
    forecast: Forecast,
    model: ErrorModel,
    *,
    now_s: float,
    count: int = COUNT,
    seed: int = 0,
    step_s: int = SCENARIO_STEP_S,
    measured: Measured | None = None,
) -> Outdoor:
    """Return `count` courses [s, n] of a forecast from `now_s` to its end.

    Lead counts from when the forecast was made, so an old one is doubted more. NaN outside the
    forecast. Where `measured` is given, all courses pass through it.
    """
    rng = np.random.default_rng(seed)
    start_s = int(now_s // step_s) * step_s
    n = max(0, (forecast.hourly.end_s - start_s) // step_s + 1)
    time_s = start_s + step_s * np.arange(n, dtype=np.int64)
    air_k, dew_k = unit_courses(rng, count, len(LEAD_H))
    lead = (time_s - made_s(forecast)) / HOUR_S
    errors = [_at_lead(e, lead) for e in (air_k * model.air_sd_k, dew_k * model.dew_sd_k)]
    air = along(forecast.hourly, "air_temp_c", time_s) + errors[0]
    dew = np.minimum(along(forecast.hourly, "dew_point_c", time_s) + errors[1], air)
    columns = {"air_temp_c": air, "dew_point_c": dew}
    for name in forecast.hourly.columns:
        if name not in columns:
            columns[name] = np.broadcast_to(along(forecast.hourly, name, time_s), air.shape)
    return Outdoor(start_s, step_s, columns, forecast.hourly.derived)


def _at_lead(courses: FloatArray, lead_h: FloatArray) -> FloatArray:
    """Read hourly courses [s, n_lead] at leads [n], on straight lines; the ends hold."""
    at = np.clip(lead_h, 0.0, len(LEAD_H) - 1.0)
    low = np.minimum(at.astype(np.int64), len(LEAD_H) - 2)
    part = at - low
    return np.asarray(courses[:, low] * (1.0 - part) + courses[:, low + 1] * part)
