"""The outlook: from weather outdoors and the shop's response to each area's own air.

Everything runs on one coarse grid, central values [n] and courses [s, n] side by side, so that
what the central values do, every course does too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.climate.area_surface import (
    indoor_surface_c,
    outdoor_surface_c,
    pull_to_measured,
    sunlit_patch,
)
from advisor.climate.outdoor import FloatArray, Outdoor
from advisor.climate.place import Place
from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.climate.shop.response import Inputs, Response, State, simulate
from advisor.climate.skin import Skin

IntArray = NDArray[np.int64]
#: A measured surface counts less with time: half the pull is gone after this long (assumption,
#: the usual lag of timber and of thin metal lies on either side).
PULL_HALF_H = 6.0
#: Hours of past air the surface model runs through, so that it starts warm.
WARM_UP_S = 24 * 3600


@dataclass(frozen=True, eq=False)
class Weather:
    """Weather outdoors on one grid: central [n] and, where there is a spread, courses [s, n]."""

    central: Outdoor
    courses: Outdoor | None = None


@dataclass(frozen=True, eq=False)
class AirAhead:
    """Air of one place from `start_s` on: central [n] and courses [s, n] or None, °C."""

    start_s: int
    step_s: int
    air_temp_c: FloatArray
    dew_point_c: FloatArray
    air_courses_c: FloatArray | None = None
    dew_courses_c: FloatArray | None = None
    notes: tuple[str, ...] = ()

    @property
    def time_s(self) -> IntArray:
        """UTC seconds [n]."""
        n = len(self.air_temp_c)
        return self.start_s + self.step_s * np.arange(n, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Ahead:
    """One area on the coarse grid: central [n] columns, and the same as courses [s, n].

    Keys are `air_temp_c`, `dew_point_c`, `surface_temp_c`, and outdoors `surface_hot_c`,
    `wind_m_s`, `rain_mm`, `sun_on_patch`.
    """

    start_s: int
    step_s: int
    central: dict[str, FloatArray]
    courses: dict[str, FloatArray]
    assumptions: tuple[str, ...] = ()

    @property
    def time_s(self) -> IntArray:
        """UTC seconds [n]."""
        n = len(self.central["air_temp_c"])
        return self.start_s + self.step_s * np.arange(n, dtype=np.int64)


def shop_air(
    response: Response,
    weather: Weather,
    state: State,
    inputs: Inputs | None = None,
    residual_k: tuple[FloatArray, FloatArray] | None = None,
) -> AirAhead:
    """Return the shop's air from `state` on; `residual_k` [s, n] is the response's own doubt."""
    inside = simulate(response, weather.central, state, inputs)
    air = AirAhead(
        weather.central.start_s,
        weather.central.step_s,
        inside.air_temp_c,
        inside.dew_point_c,
        notes=inside.notes,
    )
    if weather.courses is None:
        return air
    many = simulate(response, weather.courses, state, inputs)
    warm, wet = many.air_temp_c, many.dew_point_c
    if residual_k is not None:
        warm, wet = warm + residual_k[0], wet + residual_k[1]
    return replace(air, air_courses_c=warm, dew_courses_c=np.minimum(wet, warm))


def indoor_area(skin: Skin, air: AirAhead, past: Series) -> Ahead:
    """Return one area behind the shop's air, its surface pulled to what was last measured."""
    before = _before(air, past)
    whole = np.concatenate((before, air.air_temp_c))
    step_h = air.step_s / 3600.0
    first_s = air.start_s - air.step_s * len(before)

    def surface(air_c: FloatArray) -> FloatArray:
        found = indoor_surface_c(skin, air_c, step_h)
        return _pulled(first_s, air.step_s, found, past)[..., len(before) :]

    central = {
        "air_temp_c": air.air_temp_c,
        "dew_point_c": air.dew_point_c,
        "surface_temp_c": surface(whole),
    }
    courses: dict[str, FloatArray] = {}
    if air.air_courses_c is not None and air.dew_courses_c is not None:
        shape = (len(air.air_courses_c), len(before))
        many = np.concatenate((np.broadcast_to(before, shape), air.air_courses_c), axis=1)
        courses = {
            "air_temp_c": air.air_courses_c,
            "dew_point_c": air.dew_courses_c,
            "surface_temp_c": surface(many),
        }
    return Ahead(air.start_s, air.step_s, central, courses, (_told(skin), *air.notes))


def outdoor_area(skin: Skin, weather: Weather, place: Place, past: Series) -> Ahead:
    """Return one area in the open: the weather's own air, its surface under sun, sky and wind."""
    central = _in_the_open(skin, weather.central, place, past)
    courses = {}
    if weather.courses is not None:
        courses = _in_the_open(skin, weather.courses, place, past)
    told = f"{_told(skin)}, under the sun and sky of the forecast"
    if np.isnan(central["surface_temp_c"]).all():
        told = "surface outdoors not known: the weather does not tell wind and cloud"
    elif skin.heading_deg is None and skin.tilt_deg > 0.0:
        told += "; which way it faces is not said: the sunniest side counts for the hottest spot"
    return Ahead(weather.central.start_s, weather.central.step_s, central, courses, (told,))


def _in_the_open(skin: Skin, outdoor: Outdoor, place: Place, past: Series) -> dict[str, FloatArray]:
    cold, hot = outdoor_surface_c(skin, outdoor, place)
    pulled = _pulled(outdoor.start_s, outdoor.step_s, cold, past)
    # The hottest spot moves with the coldest, so that the sun stays in it.
    found = {"surface_temp_c": pulled, "surface_hot_c": hot + (pulled - cold)}
    if skin.heading_deg is not None or skin.tilt_deg == 0.0:
        # Without a heading some side is in the sun all day, and that is no help to anyone.
        found["sun_on_patch"] = sunlit_patch(skin, outdoor, place).astype(np.float64)
    for name in ("air_temp_c", "dew_point_c", "wind_m_s", "rain_mm"):
        if name in outdoor.columns:
            found[name] = outdoor.columns[name]
    return found


def _told(skin: Skin) -> str:
    thick = "" if skin.thickness_mm is None else f"{skin.thickness_mm:g} mm "
    return f"surface computed for {thick}{skin.substrate} behind the air"


def _before(air: AirAhead, past: Series) -> FloatArray:
    """Return the measured air before the outlook on its grid, as far as it reaches unbroken."""
    times = np.arange(air.start_s - WARM_UP_S, air.start_s, air.step_s, dtype=np.int64)
    values = _read(past, past.air_temp_c, times)
    holes = np.flatnonzero(np.isnan(values))
    return values[holes[-1] + 1 :] if len(holes) else values


def _read(series: Series, values: FloatArray, time_s: IntArray) -> FloatArray:
    """Read a column of a series at moments; NaN outside it and beside holes."""
    if len(series) == 0:
        return np.full(len(time_s), np.nan)
    return _between(series.start_s, series.step_s, values, time_s)


def _between(start_s: int, step_s: int, values: FloatArray, time_s: IntArray) -> FloatArray:
    """Read values [n] of an even grid on straight lines; a hole there is a hole here."""
    at, last = (time_s - start_s) / step_s, len(values) - 1
    low = np.clip(np.floor(at).astype(np.int64), 0, last)
    high = np.minimum(low + 1, last)
    part = at - low
    found = np.where(part == 0, values[low], values[low] * (1 - part) + values[high] * part)
    return np.where((at < 0) | (at > last), np.nan, found)


def _pulled(first_s: int, step_s: int, model_c: FloatArray, past: Series) -> FloatArray:
    """Return the model [n] or [s, n] pulled to the last surface measured, each by itself."""
    last = np.flatnonzero(~np.isnan(past.surface_temp_c))[-1:]
    times = first_s + step_s * np.arange(model_c.shape[-1], dtype=np.int64)
    measured_s = past.start_s + past.step_s * last
    return pull_to_measured(model_c, times, measured_s, past.surface_temp_c[last], PULL_HALF_H)


def filled(series: Series, ahead: Ahead, from_s: float) -> Series:
    """Return the series with what is not measured after `from_s` taken from the outlook.

    A value measured, typed or imported stays; a hole before the last one stays a hole.
    """
    grid = series.time_s
    columns: dict[str, Any] = {}
    for name in ("air_temp_c", "dew_point_c", "surface_temp_c", "surface_hot_c", "wind_m_s",
                 "rain_mm", "sun_on_patch"):  # fmt: skip
        known = getattr(series, name)
        told = ahead.central.get(name)
        if told is None:
            continue
        values = np.full(len(grid), np.nan) if known is None else known
        here = _between(ahead.start_s, ahead.step_s, told, grid)
        columns[name] = _fill(values, here, grid, from_s)
    if "surface_hot_c" not in columns and series.surface_hot_c is not None:
        # One hottest spot is known for a while: after that the coldest stands for both.
        hot, cold = series.surface_hot_c, columns["surface_temp_c"]
        columns["surface_hot_c"] = np.where(np.isnan(hot), cold, hot)
    notes = tuple(dict.fromkeys((*series.assumptions, *ahead.assumptions)))
    return replace(series, **columns, assumptions=notes)


def _fill(known: FloatArray, told: FloatArray, grid_s: IntArray, from_s: float) -> FloatArray:
    """Take what is told after the last known value (and not before `from_s`)."""
    seen = np.flatnonzero(~np.isnan(known))
    last = int(seen[-1]) if len(seen) else -1
    use = np.isnan(known) & (grid_s >= from_s) & (np.arange(len(known)) > last)
    return np.where(use, told, known)


def scenarios(ahead: Ahead, unpulled: Series, series: Series, from_s: float) -> Scenarios | None:
    """Return the courses from `from_s` on, moved by what typed readings moved the series."""
    if not ahead.courses:
        return None
    first = max(0, int((from_s - ahead.start_s) // ahead.step_s))
    times = ahead.time_s[first:]
    if len(times) == 0:
        return None

    def moved(name: str) -> FloatArray | None:
        told = ahead.courses.get(name)
        if told is None:
            return None
        before, after = getattr(unpulled, name), getattr(series, name)
        if before is None or after is None:
            return told[:, first:]
        shift = _read(series, after, times) - _read(unpulled, before, times)
        return np.asarray(told[:, first:] + np.nan_to_num(shift))

    air, dew, surface = (moved(n) for n in ("air_temp_c", "dew_point_c", "surface_temp_c"))
    assert air is not None
    assert dew is not None
    assert surface is not None
    return Scenarios(
        int(times[0]),
        ahead.step_s,
        air,
        np.minimum(dew, air),
        surface,
        moved("surface_hot_c"),
        moved("wind_m_s"),
        moved("rain_mm"),
        moved("sun_on_patch"),
    )
