"""The outlook of every area: the shop's chain run once, then each area's own surface."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

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
    """What is known without the outlook, on one grid.

    `logged` is all that was imported, also what a file tells of the coming hours; `read` only
    what was read here up to now. `typed` readings pull, oldest first; `in_hand` is what stands
    in the boxes, read at the area in hand.
    """

    logged: Series
    read: Series
    typed: Sequence[Reading] = ()
    in_hand: Reading | None = None

    def strange(self, *, in_hand: bool) -> Measured:
        """Return what this tells of an area in the open when the log is kept in a shop: nothing.

        But the reading in hand, where it was taken there.
        """
        blank = forgotten(self.logged)
        return Measured(blank, blank, (), self.in_hand if in_hand else None)

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Everything typed, the reading in hand last."""
        return (*self.typed, *(() if self.in_hand is None else (self.in_hand,)))


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
    inside = replace(inside, notes=(*inside.notes, *basis.notes))
    in_the_open = all(area.outdoors for area in job.areas)
    done: dict[Skin, AreaAir] = {}
    found: dict[str, AreaAir] = {}
    for area in job.areas:
        if only is not None and area.id not in only:
            continue
        if area.skin not in done:
            known = measured
            if area.outdoors and not in_the_open:
                known = measured.strange(in_hand=only is not None)
            ahead = _ahead(area, basis, inside, known.read)
            done[area.skin] = _air(ahead, known, (basis.fill_from_s, basis.now_s))
        found[area.id] = done[area.skin]
    return found


def areas_by_log(
    job: Job,
    inside: AirAhead,
    measured: Measured,
    now_s: float,
    only: Collection[str] | None = None,
) -> dict[str, AreaAir]:
    """Return the air of every indoor area (or of `only` some) behind the shop's log continued."""
    areas = [a for a in job.areas if not a.outdoors and (only is None or a.id in only)]
    by_skin = {
        skin: _air(indoor_area(skin, inside, measured.read), measured, (inside.start_s, now_s))
        for skin in {area.skin for area in areas}
    }
    return {area.id: by_skin[area.skin] for area in areas}


def _ahead(area: Area, basis: Basis, inside: AirAhead, read: Series) -> Ahead:
    if area.outdoors:
        return outdoor_area(area.skin, basis.weather, basis.place, read)
    ahead = indoor_area(area.skin, inside, read)
    return ahead if basis.surface_known else _without_surface(ahead)


def _without_surface(ahead: Ahead) -> Ahead:
    """Return air alone: a surface of which nothing tells is not taken to be as the air."""

    def blank(columns: dict[str, FloatArray]) -> dict[str, FloatArray]:
        surface = columns["surface_temp_c"]
        return {**columns, "surface_temp_c": np.full(surface.shape, np.nan)}

    courses = blank(ahead.courses) if ahead.courses else ahead.courses
    return replace(ahead, central=blank(ahead.central), courses=courses)


def _air(ahead: Ahead, known: Measured, spans_s: tuple[float, float]) -> AreaAir:
    """Fill what is not known; what a file and typed readings say moves the courses along.

    `spans_s`: from when on to fill, and now.
    """
    from_s, now_s = spans_s
    model = filled(known.read, ahead, from_s)
    series = filled(known.logged, ahead, from_s)
    for reading in known.readings:
        series = pulled(series, reading, now_s)
    return AreaAir(series, scenarios(ahead, model, series, now_s), _read_until_s(known.read))


def _read_until_s(read: Series) -> float | None:
    """Return the last moment with air that was read, None where none was."""
    seen = np.flatnonzero(~np.isnan(read.air_temp_c))
    return read.time_at(int(seen[-1])) if len(seen) else None


def forgotten(series: Series) -> Series:
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
    told = _origin(columns["air_temp_c"], time_s, air.read_until_s, coming)
    return OutlookView(area.id, area.name, time_s, columns, low, high, told, series.assumptions)


def _origin(
    air: FloatArray, time_s: np.ndarray, read_until_s: float | None, coming: str
) -> tuple[str, ...]:
    """Say of every hour whether it was measured, is still to come, or is unknown."""
    until_s = -np.inf if read_until_s is None else read_until_s
    return tuple(
        "unknown" if np.isnan(a) else "measured" if t <= until_s else coming
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
