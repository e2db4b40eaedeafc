"""From one forecast to many equally likely courses of the weather."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.spread.errors import (
    HOUR_S,
    LEAD_H,
    ErrorModel,
    Measured,
    along,
    made_s,
    swing,
)
from advisor.climate.spread.local import local, never_falling
from advisor.climate.spread.prior import unit_courses

FloatArray = NDArray[np.float64]
COUNT = 200
#: Kernel noise on courses drawn from the archive, in standard deviations, so that few do not
#: repeat; the whole keeps its spread.
DRESS = 0.3


@dataclass(frozen=True, eq=False)
class ErrorCourses:
    """Errors to add to a forecast, [s, n_lead], and their spread [n_lead], never falling."""

    air_k: FloatArray
    dew_k: FloatArray


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
    courses = error_courses(forecast, model, count, rng)
    lead = (time_s - made_s(forecast)) / HOUR_S
    air_k, dew_k = (_at_lead(e, lead) for e in (courses.air_k, courses.dew_k))
    if measured is not None:
        air_k, dew_k = _through(forecast, measured, courses, lead, (air_k, dew_k))
    air = along(forecast.hourly, "air_temp_c", time_s) + air_k
    dew = np.minimum(along(forecast.hourly, "dew_point_c", time_s) + dew_k, air)
    columns = {"air_temp_c": air, "dew_point_c": dew}
    for name in forecast.hourly.columns:
        if name not in columns:
            columns[name] = np.broadcast_to(along(forecast.hourly, name, time_s), air.shape)
    return Outdoor(start_s, step_s, columns, forecast.hourly.derived)


def error_courses(
    forecast: Forecast, model: ErrorModel, count: int, rng: np.random.Generator
) -> ErrorCourses:
    """Draw error courses: from the archive as far as it has a say, else of the prior's shape."""
    air, dew = unit_courses(rng, count, len(LEAD_H))
    air, dew = air * model.air_sd_k, dew * model.dew_sd_k
    if model.learned is None:
        return ErrorCourses(_to_spread(air, model.air_sd_k), _to_spread(dew, model.dew_sd_k))
    time_s = made_s(forecast) + HOUR_S * np.array(LEAD_H, dtype=np.int64)
    swings = [swing(along(forecast.hourly, c, time_s)) for c in ("air_temp_c", "dew_point_c")]
    here = local(model.learned, made_s(forecast), swings[0], swings[1])
    rows = _pick(rng, here.share, count)
    drawn = np.arange(count) < round(model.weight * count)
    drawn = rng.permutation(drawn)[:, None]
    found = []
    for own, usual, sd, add in (
        (here.air_k, air, model.air_sd_k, here.air_add_k),
        (here.dew_k, dew, model.dew_sd_k, here.dew_add_k),
    ):
        variance = model.weight * (here.share @ own**2) + (1.0 - model.weight) * sd**2
        spread = np.sqrt(never_falling(variance))
        dressed = (own[rows] + DRESS * usual) / np.sqrt(1.0 + DRESS**2)
        found.append(_to_spread(np.where(drawn, dressed, usual), spread) + add)
    return ErrorCourses(found[0], found[1])


def _pick(rng: np.random.Generator, share: FloatArray, count: int) -> NDArray[np.int64]:
    """Draw rows by their share, evenly (systematic sampling), in random order."""
    at = (np.arange(count) + rng.random()) / count
    rows = np.searchsorted(np.cumsum(share), at * (1.0 - 1e-12))
    return rng.permutation(np.minimum(rows, len(share) - 1))


def _to_spread(courses: FloatArray, spread: FloatArray) -> FloatArray:
    """Centre courses [s, n_lead] and bring each lead to its spread."""
    centred = courses - courses.mean(axis=0)
    return np.asarray(centred * (spread / np.maximum(1e-9, centred.std(axis=0))))


def _through(
    forecast: Forecast,
    measured: Measured,
    courses: ErrorCourses,
    lead_h: FloatArray,
    errors: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Bend all courses through a reading; its pull fades as errors forget each other."""
    when = np.array([measured.time_s])
    lead = (when - made_s(forecast)) / HOUR_S
    found = []
    for name, value, hourly, error in (
        ("air_temp_c", measured.air_temp_c, courses.air_k, errors[0]),
        ("dew_point_c", measured.dew_point_c, courses.dew_k, errors[1]),
    ):
        seen = value - float(along(forecast.hourly, name, when)[0])
        if not np.isfinite(seen):
            found.append(error)
            continue
        there = _at_lead(hourly, lead)[:, 0]
        found.append(error + _pull(error, there, lead_h - lead[0]) * (seen - there)[:, None])
    return found[0], found[1]


def _pull(error: FloatArray, there: FloatArray, since_h: FloatArray) -> FloatArray:
    """How far a miss at the reading carries to each time [n]: 1 there, fading for good."""
    own = there - there.mean()
    spread = float(np.sqrt(np.mean(own**2)))
    centred = error - error.mean(axis=0)
    wide = np.maximum(1e-9, np.sqrt(np.mean(centred**2, axis=0)))
    alike = np.clip(own @ centred / len(own) / (wide * max(spread, 1e-9)), 0.0, 1.0)
    fade = np.clip(1.0 - np.abs(since_h) / 72.0, 0.0, 1.0)
    after = since_h >= 0.0
    alike = np.where(after, np.minimum.accumulate(np.where(after, alike, 1.0)), 1.0)
    return np.asarray(alike * fade * wide / max(spread, 1e-9))


def _at_lead(courses: FloatArray, lead_h: FloatArray) -> FloatArray:
    """Read hourly courses [s, n_lead] at leads [n], on straight lines; the ends hold."""
    at = np.clip(lead_h, 0.0, len(LEAD_H) - 1.0)
    low = np.minimum(at.astype(np.int64), len(LEAD_H) - 2)
    part = at - low
    return np.asarray(courses[:, low] * (1.0 - part) + courses[:, low + 1] * part)
