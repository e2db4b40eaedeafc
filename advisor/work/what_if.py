"""What if: the week under a change to the shop's air, through the same chain as without it.

What a change adds to air, dew point and surface is laid on the series as they stand, so that a
week under no change is the week as it is, and what was measured keeps its pull.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.area_surface import indoor_surface_c
from advisor.climate.outdoor import Outdoor
from advisor.climate.scenarios import Scenarios
from advisor.climate.series import FloatArray, Series
from advisor.climate.shop.changed_air import AsIs, ChangedAir, as_is, changed_air
from advisor.climate.shop.response import Response, State
from advisor.climate.shop.shop import Change, Shop
from advisor.climate.skin import Skin
from advisor.planning.job import Area
from advisor.planning.verdict import Verdict
from advisor.work import what_if_words as words
from advisor.work.days import DAY_S, Week, coming_days
from advisor.work.outlook_views import WhatIf
from advisor.work.views import ComingDays, Lane
from advisor.work.what_if_move import Away, away_of, job_moved

#: Nothing is moved.
NOWHERE: Mapping[str, AreaAir] = MappingProxyType({})


@dataclass(frozen=True, eq=False)
class Setting:
    """All that stays the same while a slider is dragged.

    `week` by its central values alone, `now` the week as it is, `go_h_now` its hours by coat.
    """

    week: Week
    shop: AsIs
    now: ComingDays
    go_h_now: Mapping[str, float]

    @property
    def until_s(self) -> float:
        """End of the days shown, UTC seconds."""
        return self.week.now_s + self.week.days * DAY_S


def prepare(week: Week, shop: Shop, response: Response, outdoor: Outdoor, state: State) -> Setting:
    """Reckon the week as it is.

    `outdoor` [n] (central values) begins at `state.time_s`, at or before now, on the grid of the
    outlook (15 minutes is enough).
    """
    plain = {id(air): AreaAir(air.series) for air in week.areas.values()}  # areas alike stay one
    central = {name: plain[id(air)] for name, air in week.areas.items()}
    return setting_of(replace(week, areas=central), as_is(shop, response, outdoor, state))


def setting_of(week: Week, shop: AsIs) -> Setting:
    """Return the setting of a week without spread in a shop already reckoned."""
    now = coming_days(week)
    return Setting(week, shop, now, hours_by_coat(now))


def what_if(setting: Setting, change: Change, elsewhere: Mapping[str, AreaAir] = NOWHERE) -> WhatIf:
    """Return the week under a change, its hours and kWh; RangeError when it cannot be.

    `elsewhere` holds the areas that `change.move` takes to another place, as they are there.
    """
    week, air = changed_week(setting, change, elsewhere)
    shown = coming_days(week)
    found, before = hours_by_coat(shown), setting.go_h_now
    electric, fuel = kwh(setting, air)
    gained = tuple((coat_id, hours - before[coat_id]) for coat_id, hours in found.items())
    go_h, go_h_now = sum(found.values()), sum(before.values())
    text = words.headline(change, go_h, go_h_now, (electric, fuel), week.words)
    return WhatIf(
        change, shown, go_h, go_h_now, electric + fuel, text,
        words.notes(change, setting.shop, week.words), gained,
    )  # fmt: skip


def changed_week(
    setting: Setting, change: Change, elsewhere: Mapping[str, AreaAir] = NOWHERE
) -> tuple[Week, ChangedAir]:
    """Return the week on the air as a change makes it, and that air.

    Areas alike stay one, so that nothing is worked out twice.
    """
    at, week = setting.shop, setting.week
    air = changed_air(at, change, week.now_s)
    lifted = _Lifted(
        at.outdoor.time_s.astype(float),
        np.nan_to_num(air.air_temp_c - at.indoor.air_temp_c),
        np.nan_to_num(air.dew_point_c - at.indoor.dew_point_c),
        at.step_h,
    )
    if not (elsewhere or lifted.anything):
        return week, air
    job = job_moved(week.job, change) if elsewhere else week.job
    done: dict[tuple[int, int, Skin], AreaAir] = {}
    areas = {}
    for area_id in {coat.area_id for coat in week.job.next_coats()}:
        area, here, there = week.job.area(area_id), week.air(area_id), elsewhere.get(area_id)
        key = (id(here), id(there), area.skin)
        if key not in done:
            done[key] = _changed(area, here, there, lifted, away_of(change, week.now_s, area))
        areas[area_id] = done[key]
    return replace(week, job=job, areas=areas), air


def _changed(
    area: Area, here: AreaAir, there: AreaAir | None, lifted: _Lifted, away: Away
) -> AreaAir:
    """Return one area with the change on whatever of it is in the shop, and gone where it goes."""
    if not area.outdoors:
        here = lifted.onto(here, area.skin)
    if there is None:
        return here
    return away.spliced(here, lifted.onto(there, away.skin) if area.outdoors else there)


@dataclass(frozen=True, eq=False)
class _Lifted:
    """What a change adds to the shop's air and dew point, K [n] at `time_s`."""

    time_s: FloatArray
    air_k: FloatArray
    dew_k: FloatArray
    step_h: float

    @property
    def anything(self) -> bool:
        """Whether it changes the air at all."""
        return bool(self.air_k.any() or self.dew_k.any())

    def onto(self, air: AreaAir, skin: Skin) -> AreaAir:
        """Return an area's air with the change on it; every course moves as the series does."""
        if not self.anything:
            return air
        series = self._on_series(air.series, skin)
        courses = None if air.scenarios is None else _along(air.scenarios, air.series, series)
        return AreaAir(series, courses)

    def _on_series(self, series: Series, skin: Skin) -> Series:
        """Return a series with the change on it. The surface follows its air linearly."""
        times = series.time_s.astype(float)
        surface_k = indoor_surface_c(skin, self.air_k, self.step_h, 0.0)
        air, dew, surface = (
            np.interp(times, self.time_s, values, left=0.0)
            for values in (self.air_k, self.dew_k, surface_k)
        )
        changed = series.air_temp_c + air
        hot = series.surface_hot_c
        return replace(
            series,
            air_temp_c=changed,
            dew_point_c=np.minimum(series.dew_point_c + dew, changed),
            surface_temp_c=series.surface_temp_c + surface,
            surface_hot_c=None if hot is None else hot + surface,
        )


def _along(many: Scenarios, series: Series, changed: Series) -> Scenarios:
    """Return courses moved by what moved the series."""
    times = (many.start_s + many.step_s * np.arange(len(many))).astype(float)

    def shift(name: str) -> FloatArray:
        by = np.nan_to_num(getattr(changed, name) - getattr(series, name))
        return np.asarray(np.interp(times, series.time_s, by))

    warm = many.air_temp_c + shift("air_temp_c")
    surface = shift("surface_temp_c")
    hot = many.surface_hot_c
    return replace(
        many,
        air_temp_c=warm,
        dew_point_c=np.minimum(many.dew_point_c + shift("dew_point_c"), warm),
        surface_temp_c=many.surface_temp_c + surface,
        surface_hot_c=None if hot is None else hot + surface,
    )


def kwh(setting: Setting, air: ChangedAir) -> tuple[float, float]:
    """Return electricity and fuel drawn in the days shown, kWh."""
    shown = setting.shop.outdoor.time_s <= setting.until_s
    step_kwh = setting.shop.step_h / 1000.0
    electric, fuel = (float(w[shown].sum()) * step_kwh for w in (air.electric_w, air.fuel_w))
    return electric, fuel


def hours_by_coat(shown: ComingDays) -> dict[str, float]:
    """Return hours of go or close-call starts of every coat still to do."""
    return {lane.coat.id: go_hours(lane) for lane in shown.lanes}


def go_hours(lane: Lane) -> float:
    """Return hours of go or close-call starts in a lane."""
    good = lane.judged.verdicts <= Verdict.BORDERLINE
    return float(np.count_nonzero(good)) * lane.judged.series.step_s / 3600.0
