"""What if, as the window asks it: prepared once, then answered for every move of a slider."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.scenarios import FloatArray, Scenarios
from advisor.climate.series import Series
from advisor.climate.shop.shop import Change
from advisor.work.cheapest import cheapest
from advisor.work.days import DAY_S, Week, coming_days
from advisor.work.outlook_basis import Basis
from advisor.work.outlook_views import Suggestion, WhatIf
from advisor.work.spread_band import band_of
from advisor.work.what_if import Setting, changed_week, prepare, what_if

#: A window is looked for in the two days of which one speaks plainly.
WANTED_S = 2 * DAY_S


@dataclass(frozen=True, eq=False)
class Prepared:
    """All that stays the same while a slider is dragged, and the week with its spread."""

    setting: Setting
    week: Week


def prepared(week: Week, basis: Basis) -> Prepared:
    """Lay out what every change of this week starts from."""
    at = prepare(week, basis.shop, basis.response, basis.weather.central, basis.state)
    return Prepared(at, week)


def answered(at: Prepared, change: Change) -> WhatIf:
    """Return the week under a change, by its central values."""
    return what_if(at.setting, change)


def with_chances(at: Prepared, change: Change) -> WhatIf:
    """Return the same with every course moved as the central values are. Slow."""
    plain = what_if(at.setting, change)
    moved, _ = changed_week(at.setting, change)
    areas = {
        area_id: _moved(air, moved.air(area_id).series) for area_id, air in at.week.areas.items()
    }
    week = replace(at.week, areas=areas)
    shown = replace(coming_days(week), band=band_of(week.air(week.shown_area)))
    return replace(plain, week=shown)


def suggested(at: Prepared, coat_id: str) -> tuple[Suggestion, ...]:
    """Return the cheapest changes that open a window for a coat in the next two days."""
    now_s = at.week.now_s
    return cheapest(at.setting, coat_id, (now_s, now_s + WANTED_S))


def _moved(air: AreaAir, changed: Series) -> AreaAir:
    if air.scenarios is None or changed is air.series:
        return air
    many = air.scenarios
    times = (many.start_s + many.step_s * np.arange(len(many))).astype(float)

    def shift(name: str) -> FloatArray:
        by = np.nan_to_num(getattr(changed, name) - getattr(air.series, name))
        return np.asarray(np.interp(times, air.series.time_s, by))

    warm = many.air_temp_c + shift("air_temp_c")
    surface = shift("surface_temp_c")
    hot = many.surface_hot_c
    courses: Scenarios = replace(
        many,
        air_temp_c=warm,
        dew_point_c=np.minimum(many.dew_point_c + shift("dew_point_c"), warm),
        surface_temp_c=many.surface_temp_c + surface,
        surface_hot_c=None if hot is None else hot + surface,
    )
    return AreaAir(changed, courses)
