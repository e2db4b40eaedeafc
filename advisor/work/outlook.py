"""The outlook of every area: the shop's chain run once, then each area's own surface."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.outlook import (
    Ahead,
    AirAhead,
    filled,
    indoor_area,
    outdoor_area,
    scenarios,
    shop_air,
)
from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.climate.shop.response import Inputs
from advisor.climate.skin import Skin
from advisor.physics import moist_air
from advisor.planning.job import Area, Job
from advisor.work.outlook_basis import Basis
from advisor.work.outlook_views import FloatArray, OutlookView
from advisor.work.shop_air import pulled
from advisor.work.views import Reading

#: What an outlook view shows of each area.
SHOWN = ("air_temp_c", "dew_point_c", "rh_pct", "surface_temp_c", "margin_k")
HOUR_S = 3600


@dataclass(frozen=True, eq=False)
class Measured:
    """What was measured: the logged series, and the typed readings that pull it, oldest first."""

    logged: Series
    typed: Sequence[Reading] = ()


def areas_air(
    job: Job,
    basis: Basis,
    measured: Measured,
    only: Collection[str] | None = None,
    inputs: Inputs | None = None,
) -> dict[str, AreaAir]:
    """Return the air of every area (or of `only` some), as far as the outlook reaches.

    Areas alike share one, so that the same is not worked out twice.
    """
    inside = shop_air(basis.response, basis.weather, basis.state, inputs, basis.residual_k)
    in_the_open = all(area.outdoors for area in job.areas)
    done: dict[Skin, AreaAir] = {}
    found: dict[str, AreaAir] = {}
    for area in job.areas:
        if only is not None and area.id not in only:
            continue
        if area.skin not in done:
            # A log kept in the shop says nothing of the air outside.
            strange = area.outdoors and not in_the_open
            past = _forgotten(measured.logged) if strange else measured.logged
            ahead = _ahead(area, basis, inside, past)
            spans = (basis.state.time_s, basis.now_s)
            done[area.skin] = _air(ahead, past, measured.typed, spans)
        found[area.id] = done[area.skin]
    return found


def areas_by_log(
    job: Job,
    inside: AirAhead,
    measured: Measured,
    now_s: float,
    only: Collection[str] | None = None,
) -> dict[str, AreaAir]:
    """Return the air of every indoor area (or of `only` some) behind the shop's log continued.

    None at all where an imported file tells the coming air better.
    """
    if told_by_a_file(measured.logged, now_s):
        return {}
    areas = [a for a in job.areas if not a.outdoors and (only is None or a.id in only)]
    spans = (inside.start_s, now_s)
    by_skin = {
        skin: _air(indoor_area(skin, inside, measured.logged), measured.logged, measured.typed,
                   spans)
        for skin in {area.skin for area in areas}
    }  # fmt: skip
    return {area.id: by_skin[area.skin] for area in areas}


def _ahead(area: Area, basis: Basis, inside: AirAhead, past: Series) -> Ahead:
    if area.outdoors:
        return outdoor_area(area.skin, basis.weather, basis.place, past)
    return indoor_area(area.skin, inside, past)


def _air(
    ahead: Ahead, past: Series, typed: Sequence[Reading], spans_s: tuple[float, float]
) -> AreaAir:
    """Fill what is not measured, then let typed readings pull both series and courses.

    `spans_s`: from when on to fill, and now.
    """
    from_s, now_s = spans_s
    unpulled = filled(past, ahead, from_s)
    series = unpulled
    for reading in typed:
        series = pulled(series, reading, now_s)
    if told_by_a_file(past, now_s):
        return AreaAir(series)
    return AreaAir(series, scenarios(ahead, unpulled, series, now_s))


def told_by_a_file(past: Series, now_s: float) -> bool:
    """Whether an imported file already tells the coming air: the courses are not about that."""
    first = max(0, int(np.ceil(past.index_of(now_s))) + 1)
    return bool((~np.isnan(past.air_temp_c[first:])).any())


def _forgotten(series: Series) -> Series:
    """Return the grid of a series with nothing on it."""
    hole = np.full(len(series), np.nan)
    return Series(series.start_s, hole, hole.copy(), hole.copy(), lead_from_s=series.lead_from_s)


def view_of(
    area: Area, air: AreaAir, now_s: float, days: float, coming: str = "forecast"
) -> OutlookView:
    """Return one area hour by hour from the hour of now, with the 10th and 90th percentiles.

    `coming` is the origin of what is not measured.
    """
    first_s = int(now_s // HOUR_S) * HOUR_S
    time_s = np.arange(first_s, first_s + int(days * 24) * HOUR_S + 1, HOUR_S, dtype=np.int64)
    series = air.series
    at = np.rint((time_s - series.start_s) / series.step_s).astype(np.int64)
    inside = (at >= 0) & (at < len(series))
    where = np.clip(at, 0, max(0, len(series) - 1))
    columns = {n: np.where(inside, getattr(series, n)[where], np.nan) for n in SHOWN}
    low, high = ({}, {}) if air.scenarios is None else _percentiles(air.scenarios, time_s)
    told = _origin(columns["air_temp_c"], time_s, series.lead_from_s, coming)
    return OutlookView(area.id, area.name, time_s, columns, low, high, told, series.assumptions)


def _origin(
    air: FloatArray, time_s: np.ndarray, lead_from_s: int | None, coming: str
) -> tuple[str, ...]:
    """Say of every hour whether it was measured, is still to come, or is unknown."""
    lead = np.inf if lead_from_s is None else lead_from_s
    return tuple(
        "unknown" if np.isnan(a) else "measured" if t <= lead else coming
        for a, t in zip(air, time_s, strict=True)
    )


def _percentiles(
    courses: Scenarios, time_s: np.ndarray
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Return the 10th and 90th percentiles of the courses [s, n] at the hours asked."""
    at = (time_s - courses.start_s) // courses.step_s
    inside = (at >= 0) & (at < len(courses))
    where = np.clip(at, 0, max(0, len(courses) - 1))
    many = _columns(courses, where)
    low, high = {}, {}
    for name, values in many.items():
        both = _quantiles(values)
        low[name], high[name] = (np.where(inside, q, np.nan) for q in both)
    return low, high


def _columns(courses: Scenarios, where: np.ndarray) -> Mapping[str, FloatArray]:
    air, dew = courses.air_temp_c[:, where], courses.dew_point_c[:, where]
    surface = courses.surface_temp_c[:, where]
    return {
        "air_temp_c": air,
        "dew_point_c": dew,
        "rh_pct": moist_air.rh_array(air, dew),
        "surface_temp_c": surface,
        "margin_k": surface - np.asarray(moist_air.wet_point_c(air, dew), float),
    }


def _quantiles(values: FloatArray) -> FloatArray:
    """Return [2, n]: the 10th and 90th percentiles; NaN where any course has a hole."""
    return np.asarray(np.quantile(values, (0.1, 0.9), axis=0))
