"""The shop's series: readings kept, a forecast or weather file, and the reading just taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.reading_store import LatestValue
from advisor.climate.readings import ReadingTable
from advisor.climate.series import GRID_S, STEP_H, Series, series_from_table
from advisor.physics import moist_air
from advisor.physics.surfaces import first_order_lag
from advisor.work.views import Reading

FloatArray = NDArray[np.float64]

#: A reading just taken pulls the coming hours towards it; half the pull is gone after this
#: long (assumption, until the shop's own response is known).
PULL_HALF_H = 6.0
DAY_S = 86400
#: A reading this many steps old still counts as now (an hour).
FRESH_STEPS = 12
PULL_NOTE = f"a typed reading counts less with time: half after {PULL_HALF_H:g} h"
READ = ("air_temp_c", "rh_pct", "surface_temp_c", "surface_hot_c")


def shop_series(
    table: ReadingTable,
    span_s: tuple[float, float],
    now_s: float,
    *,
    typed: Sequence[Reading] = (),
    surface_lag_h: float | None = None,
) -> Series:
    """Series over `span_s`, pulled towards what was typed. `table` is what was not typed.

    `typed` in the order of taking; the last counts most.
    """
    first, last = span_s
    series = _blank(first, last) if len(table) == 0 else _laid(table, surface_lag_h, first, last)
    series = replace(series, lead_from_s=int(now_s))
    for reading in typed:
        series = pulled(series, reading, now_s)
    return series


def _blank(first_s: float, last_s: float) -> Series:
    start = int(first_s // GRID_S) * GRID_S
    hole = np.full(int((last_s - start) // GRID_S) + 1, np.nan)
    return Series(start, hole, hole.copy(), hole.copy())


def _laid(
    table: ReadingTable, surface_lag_h: float | None, first_s: float, last_s: float
) -> Series:
    series = series_from_table(table, first_s=first_s, last_s=last_s)
    if surface_lag_h is None:
        return series
    lagged = first_order_lag(series.air_temp_c, STEP_H, surface_lag_h)
    missing = np.isnan(series.surface_temp_c)
    if not (missing & ~np.isnan(lagged)).any():
        return series
    note = f"surface assumed to follow the air with a lag of {surface_lag_h:g} h"
    filled = np.where(missing, lagged, series.surface_temp_c)
    return replace(series, surface_temp_c=filled, assumptions=(*series.assumptions, note))


def pulled(series: Series, reading: Reading, now_s: float) -> Series:
    """Pull air, dew point and surfaces to a reading, from the moment it was taken."""
    at = int(np.floor(series.index_of(max(reading.taken_s, series.start_s))))
    if not 0 <= at < len(series):
        return series
    until = int(np.floor(series.index_of(now_s)))
    air = _pull(series.air_temp_c, at, until, reading.air_temp_c)
    cold = _pull(series.surface_temp_c, at, until, reading.surface_temp_c)
    return replace(
        series,
        air_temp_c=air,
        dew_point_c=_pull(series.dew_point_c, at, until, _dew(reading, float(air[at]))),
        surface_temp_c=cold,
        surface_hot_c=_hot(series, reading, at, until, cold),
        assumptions=tuple(dict.fromkeys((*series.assumptions, PULL_NOTE))),
    )


def _dew(reading: Reading, air_temp_c: float) -> float | None:
    """Dew point of a typed humidity, with the air typed beside it or else the series'."""
    if reading.rh_pct is None or np.isnan(air_temp_c):
        return None
    return float(moist_air.dew_point_c(air_temp_c, reading.rh_pct))


def _hot(
    series: Series, reading: Reading, at: int, until: int, cold: FloatArray
) -> FloatArray | None:
    """Hottest spot as typed; else moved with the coldest, so that the sun stays in it."""
    if reading.surface_hot_c is not None:
        return np.fmax(_pull(series.hot_c, at, until, reading.surface_hot_c), cold)
    if series.surface_hot_c is None:
        return None
    moved = series.surface_hot_c + np.nan_to_num(cold - series.surface_temp_c)
    return np.fmax(moved, cold)


def _pull(values: FloatArray, at: int, until: int, read: float | None) -> FloatArray:
    """Shift values from index `at` on; a gap up to now takes the reading itself.

    A reading of the last hour stands up to now as it was taken: what is judged is what was read.
    """
    if read is None:
        return values
    out = values.copy()
    fresh = 0 <= until - at <= FRESH_STEPS
    since = until if fresh else at
    known = out[since]
    if not np.isnan(known):
        hours = np.arange(len(out) - since) * STEP_H
        out[since:] += (read - known) * np.exp2(-hours / PULL_HALF_H)
    gap = out[at : max(at, until) + 1]
    gap[np.isnan(gap) | fresh] = read
    return out


def not_followed_up(
    typed: Mapping[str, LatestValue], logged: Mapping[str, LatestValue]
) -> tuple[Reading, ...]:
    """Typed values no newer log value has overtaken, as one reading per moment."""
    moments: dict[int, dict[str, float]] = {}
    for name, value in typed.items():
        log = logged.get(name)
        if name in READ and (log is None or log.time_s <= value.time_s):
            moments.setdefault(value.time_s, {})[name] = value.value
    return tuple(
        Reading(
            taken_s,
            found.get("air_temp_c"),
            found.get("rh_pct"),
            found.get("surface_temp_c"),
            found.get("surface_hot_c"),
        )
        for taken_s, found in sorted(moments.items())
    )
