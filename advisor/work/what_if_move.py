"""What if the work were moved: each area's air at the place where it is not.

What was read and logged was read where the work stands. Moved into the yard it has the weather's
own air, sun and wind, and nothing measured; moved into the shop it has the shop's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.area_air import AreaAir
from advisor.climate.area_surface import indoor_surface_c
from advisor.climate.outlook import Weather
from advisor.climate.scenarios import FloatArray, Scenarios
from advisor.climate.series import Series
from advisor.climate.shop.shop import Change, Move
from advisor.climate.skin import Skin
from advisor.planning.job import Area, Job
from advisor.work.days import Week
from advisor.work.outlook import Measured, areas_air, forgotten
from advisor.work.outlook_basis import Basis

BoolArray = NDArray[np.bool_]
Columns = TypeVar("Columns", Series, Scenarios)
#: What only the open has, and what a shop keeps off.
OPEN = ("wind_m_s", "rain_mm", "sun_on_patch")


def moved_areas(job: Job, move: Move) -> tuple[Area, ...]:
    """Return the areas a move takes elsewhere, as they are there; RangeError for no such place."""
    if move not in ("", "indoors", "outdoors"):
        raise RangeError("move", repr(move), "indoors or outdoors")
    if not move:
        return ()
    out = move == "outdoors"
    return tuple(replace(area, outdoors=out) for area in job.areas if area.outdoors != out)


def elsewhere(week: Week, basis: Basis, move: Move, *, spread: bool) -> Mapping[str, AreaAir]:
    """Lay out the areas that a move takes elsewhere, as they would be there all along."""
    areas = moved_areas(week.job, move)
    if not areas:
        return {}
    kept_indoors = not all(area.outdoors for area in week.job.areas)
    # The log tells of the place it was kept in and of no other.
    known = week.series if move == "indoors" and kept_indoors else forgotten(week.series)
    if not spread:
        basis = replace(basis, weather=Weather(basis.weather.central), residual_k=None)
    job = replace(week.job, areas=areas)
    return areas_air(job, basis, Measured(known, known))


def job_moved(job: Job, change: Change) -> Job:
    """Return the job with the rules of the open counted wherever the work is there at all."""
    always = change.from_s is None and change.until_s is None
    moved = {area.id: area for area in moved_areas(job, change.move)}
    if change.move == "indoors" and not always:
        return job
    return replace(job, areas=tuple(moved.get(area.id, area) for area in job.areas))


@dataclass(frozen=True)
class Away:
    """The hours the work is elsewhere, UTC seconds, and what it is made of there."""

    from_s: float
    until_s: float
    skin: Skin

    def spliced(self, here: AreaAir, there: AreaAir) -> AreaAir:
        """Return the air round the work as it goes there and comes back."""
        series = self._join(here.series, there.series, here.series.time_s)
        for_good = self.until_s == np.inf
        taken = () if for_good else here.series.assumptions
        notes = dict.fromkeys((*taken, *there.series.assumptions))
        return AreaAir(replace(series, assumptions=tuple(notes)), self._courses(here, there))

    def _courses(self, here: AreaAir, there: AreaAir) -> Scenarios | None:
        ours, theirs = here.scenarios, there.scenarios
        if ours is None or theirs is None or not _alike(ours, theirs):
            return None
        return self._join(ours, theirs, ours.start_s + ours.step_s * np.arange(len(ours)))

    def _join(self, here: Columns, there: Columns, time_s: NDArray[np.int64]) -> Columns:
        away = (time_s >= self.from_s) & (time_s < self.until_s)
        step_h = here.step_s / 3600.0
        cold = _surface(here.surface_temp_c, there.surface_temp_c, away, self.skin, step_h)
        hot = None
        if here.surface_hot_c is not None or there.surface_hot_c is not None:
            both = (_hot(here), _hot(there))
            hot = np.maximum(cold, _surface(*both, away, self.skin, step_h))
        columns: dict[str, Any] = {name: _open(here, there, name, away, self.skin) for name in OPEN}
        return replace(
            here,
            air_temp_c=np.where(away, there.air_temp_c, here.air_temp_c),
            dew_point_c=np.where(away, there.dew_point_c, here.dew_point_c),
            surface_temp_c=cold, surface_hot_c=hot, **columns,
        )  # fmt: skip


def away_of(change: Change, now_s: float, area: Area) -> Away:
    """Return when a change has an area at the place where it is not now."""
    skin = replace(area, outdoors=not area.outdoors).skin
    from_s = now_s if change.from_s is None else max(now_s, change.from_s)
    return Away(from_s, np.inf if change.until_s is None else change.until_s, skin)


def _hot(at: Series | Scenarios) -> FloatArray:
    return at.surface_temp_c if at.surface_hot_c is None else at.surface_hot_c


def _open(
    here: Series | Scenarios, there: Series | Scenarios, name: str, away: BoolArray, skin: Skin
) -> FloatArray | None:
    """Return wind, rain or sun where the work is in the open, and none of it in the shop."""
    outside, out = (there, away) if skin.outdoors else (here, ~away)
    values = getattr(outside, name)
    return None if values is None else np.where(out, values, 0.0)


def _surface(
    here: FloatArray, there: FloatArray, away: BoolArray, skin: Skin, step_h: float
) -> FloatArray:
    """Return the surface [n] or [s, n]: it brings its warmth along and loses it by and by."""
    found = np.where(away, there, here)
    edges = np.flatnonzero(np.diff(away, prepend=False))
    if not len(edges):
        return found
    fading, carried = _fading(skin, away.size + 1, step_h), 0.0
    for k, end in zip(edges, [*edges[1:], away.size], strict=True):
        left, come_to = (here, there) if away[k] else (there, here)
        brought = np.nan_to_num(left[..., k] + carried - come_to[..., k])
        found[..., k:end] += brought[..., np.newaxis] * fading[: end - k]
        carried = brought * fading[end - k]
    return found


@lru_cache(maxsize=32)
def _fading(skin: Skin, n: int, step_h: float) -> FloatArray:
    """Return what is left of a kelvin brought along, step by step, in still air [n]."""
    found = indoor_surface_c(skin, np.zeros(n), step_h, 1.0)
    found[0] = 1.0  # the slab's few modes lose some of a step at once
    found.setflags(write=False)
    return found


def _alike(a: Scenarios, b: Scenarios) -> bool:
    return (a.start_s, a.step_s, a.air_temp_c.shape) == (b.start_s, b.step_s, b.air_temp_c.shape)
