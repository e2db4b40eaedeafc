"""From one forecast to many equally likely courses of the weather."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.outdoor_grid import to_grid
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.spread.errors import (
    HOUR_S,
    LEAD_H,
    ErrorModel,
    Learned,
    Measured,
    along,
    bend,
    features,
    level_filled,
    made_s,
    unbend,
)
from advisor.climate.spread.local import Errors, local, never_falling, to_spread
from advisor.climate.spread.members import (
    JOINT,
    coarse_variance,
    dress,
    member_courses,
    percentile_factor,
)
from advisor.climate.spread.prior import at_lead, unit_courses
from advisor.climate.spread.sky import sun_under, vary

FloatArray = NDArray[np.float64]
COUNT = 200
#: Kernel noise on courses drawn from the archive, in standard deviations, so that few do not
#: repeat; the whole keeps its spread.
DRESS = 0.2
#: A reading's pull is gone after this long even where errors still resemble each other.
PULL_H = 72.0


@dataclass(frozen=True, eq=False)
class ErrorCourses:
    """What to add to a forecast of air or dew point: courses [s, n_lead] about `add_k` [n_lead].

    `spread_k` [n_lead] is the standard deviation of the courses at each lead. It falls only where
    the archive says that errors do, for what the forecast shows.
    """

    courses_k: FloatArray
    spread_k: FloatArray
    add_k: FloatArray


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
    """Return `count` courses [s, n] from the step at or before `now_s` to the forecast's end.

    Lead counts from when the forecast was made, so an old one is doubted more. NaN outside the
    forecast and in its holes. Where `measured` is given, all courses pass through it and part
    from there. The same forecast, model and seed give the same courses.
    """
    rng = np.random.default_rng(seed)
    start_s = int(now_s // step_s) * step_s
    central = to_grid(forecast.hourly, start_s, forecast.hourly.end_s, step_s)
    lead_h = (central.time_s - made_s(forecast)) / HOUR_S
    many = member_courses(forecast, count, central.time_s, rng)
    errors = error_courses(forecast, model, count, rng)
    columns = vary(central.columns, lead_h, step_s, count, rng)
    columns |= _of_members(many, columns, central)
    for name, error in zip(JOINT, errors, strict=True):
        said = central.column(name)
        away = _away(error, lead_h, None if name not in many else many[name] - said)
        if measured is not None:
            away = _through(away, lead_h, *_missed(forecast, measured, name))
        columns[name] = said + away
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temp_c"])
    for name in central.columns.keys() - columns.keys():
        columns[name] = np.broadcast_to(central.columns[name], (count, len(central)))
    return Outdoor(start_s, step_s, columns, central.derived)


def _of_members(
    many: Mapping[str, FloatArray], varied: Mapping[str, FloatArray], central: Outdoor
) -> dict[str, FloatArray]:
    """Return what the members say besides air and dew point, [s, n], and the sun of their cloud.

    Past a member's end, and in its holes, a course is what it would be without members.
    """
    found: dict[str, FloatArray] = {}
    for name in many.keys() - set(JOINT):
        usual = varied.get(name, central.column(name))
        found[name] = np.where(np.isnan(many[name]), usual, many[name])
    if "cloud_pct" in found and "sun_w_m2" in central.columns:
        sun = sun_under(central.columns, found["cloud_pct"])
        told = many.get("sun_w_m2")
        found["sun_w_m2"] = sun if told is None else np.where(np.isnan(told), sun, told)
    return found


def error_courses(
    forecast: Forecast, model: ErrorModel, count: int, rng: np.random.Generator
) -> tuple[ErrorCourses, ErrorCourses]:
    """Draw errors of air and dew point: from the archive as far as it has a say, else the prior."""
    coarse = coarse_variance(forecast)
    factor = percentile_factor(forecast, model.air_sd_k)
    usual_sd = (
        np.sqrt((model.air_sd_k * factor) ** 2 + coarse),
        np.sqrt(model.dew_sd_k**2 + coarse),
    )
    usual = [u * sd for u, sd in zip(unit_courses(rng, count, len(LEAD_H)), usual_sd, strict=True)]
    if model.learned is None:
        zero = np.zeros(len(LEAD_H))
        air, dew = (
            _settled(courses, np.sqrt(never_falling(sd**2)), zero)
            for courses, sd in zip(usual, usual_sd, strict=True)
        )
        return air, dew
    from_archive = rng.permutation(np.arange(count) < round(model.weight * count))[:, None]
    found = []
    for own, other, sd, place in zip(
        _from_archive(forecast, model.learned, usual, rng),
        usual,
        usual_sd,
        (model.air_place_k, model.dew_place_k),
        strict=True,
    ):
        add = own.mean(axis=0)
        variance = model.weight * (own.var(axis=0) + place**2) + (1.0 - model.weight) * sd**2
        found.append(_settled(np.where(from_archive, own - add, other), np.sqrt(variance), add))
    return found[0], found[1]


def _from_archive(
    forecast: Forecast, learned: Learned, usual: Sequence[FloatArray], rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return errors of air and dew point [s, n_lead], K, drawn together, as the archive has them.

    The dew point's are drawn as its distance below the air, which is never less than nothing.
    """
    time_s = made_s(forecast) + HOUR_S * np.array(LEAD_H, dtype=np.int64)
    said_air, said_dew = (along(forecast.hourly, name, time_s) for name in JOINT)
    here = local(learned, made_s(forecast), features(said_air, said_dew))
    rows = _pick(rng, here.share, len(usual[0]))
    air = _dressed(here.air, here.share, rows, usual[0])
    below = _dressed(here.below, here.share, rows, usual[0] - usual[1])
    said_k = np.maximum(0.0, level_filled(said_air) - level_filled(said_dew))
    return air, air - (unbend(bend(said_k) + below) - said_k)


def _dressed(
    errors: Errors, share: FloatArray, rows: NDArray[np.int64], other: FloatArray
) -> FloatArray:
    """Return courses [s, n_lead] of the archive with a little of another shape's upon them."""
    spread = errors.spread(share)
    unit = errors.courses[rows] / np.maximum(1e-9, np.sqrt(share @ errors.courses**2))
    noise = other / np.maximum(1e-9, other.std(axis=0))
    return errors.add + to_spread(unit + DRESS * noise, spread)


def _pick(rng: np.random.Generator, share: FloatArray, count: int) -> NDArray[np.int64]:
    """Draw rows by their share, evenly (systematic sampling), in random order."""
    at = (np.arange(count) + rng.random()) / count
    rows = np.searchsorted(np.cumsum(share), at * (1.0 - 1e-12))
    return rng.permutation(np.minimum(rows, len(share) - 1))


def _settled(courses_k: FloatArray, spread_k: FloatArray, add_k: FloatArray) -> ErrorCourses:
    return ErrorCourses(to_spread(courses_k, spread_k), spread_k, add_k)


def _away(error: ErrorCourses, lead_h: FloatArray, members_k: FloatArray | None) -> FloatArray:
    """Return how far the courses are from the forecast, [s, n].

    A straight line between two hours of unlike error is narrower than both; brought back.
    """
    spread, add = at_lead(error.spread_k, lead_h), at_lead(error.add_k, lead_h)
    own = to_spread(at_lead(error.courses_k, lead_h), spread)
    if members_k is None:
        return np.asarray(own + add)
    there = np.nan_to_num(members_k)  # past the members' end the known error serves alone
    together = there + dress(spread, there.std(axis=0)) * own
    wide = np.maximum.accumulate(together.std(axis=0))
    return np.asarray(to_spread(together, wide) + together.mean(axis=0) + add)


def _missed(forecast: Forecast, measured: Measured, name: str) -> tuple[float, float]:
    """Return lead (h) of a reading and what it was above the forecast, NaN where not known."""
    value = measured.air_temp_c if name == "air_temp_c" else measured.dew_point_c
    said = float(along(forecast.hourly, name, np.array([measured.time_s]))[0])
    return (measured.time_s - made_s(forecast)) / HOUR_S, value - said


def _through(
    away_k: FloatArray, lead_h: FloatArray, seen_lead_h: float, missed_k: float
) -> FloatArray:
    """Bend courses [s, n] through a reading; its pull fades as errors forget each other.

    Up to the reading all are what it says; from there the spread grows to what it was.
    """
    since_h = lead_h - seen_lead_h
    if not np.isfinite(missed_k) or not len(lead_h) or since_h[-1] < 0.0:
        return away_k
    first = int(np.argmax(since_h >= 0.0))
    mean = away_k.mean(axis=0)
    centred = away_k - mean
    wide = np.maximum(1e-9, centred.std(axis=0))
    alike = _alike(centred / wide, first, since_h)
    there = centred[:, first : first + 1] / wide[first]
    apart = to_spread(centred - alike * wide * there, wide * np.sqrt(1.0 - alike**2))
    pulled = mean + alike * wide / wide[first] * (missed_k - mean[first])
    return np.asarray(pulled + apart)


def _alike(unit: FloatArray, first: int, since_h: FloatArray) -> FloatArray:
    """Correlation [n] of errors with the one at `first`: 1 there, never rising after it."""
    found = np.clip(unit[:, first] @ unit / len(unit), 0.0, 1.0)
    found[: first + 1] = 1.0
    fade = np.clip(1.0 - since_h / PULL_H, 0.0, 1.0)
    return np.asarray(np.minimum.accumulate(np.nan_to_num(found)) * np.minimum(fade, 1.0))
