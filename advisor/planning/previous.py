"""Overcoating, tested per patch when the brush reaches it.

The minimum is a clock on the patch's coldest temperature. The maximum is tested twice: by
the row of the hottest surface sustained for an hour since the patch was painted (bond sure;
the rule of public specifications) and by its clock (bond likely).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import STEP_H, Series
from advisor.coatings.clocks import snap
from advisor.coatings.product import NextCoat
from advisor.planning.case import Case, Previous, next_table, previous_clocks
from advisor.planning.limits import ON_THE_LIMIT, AtStart
from advisor.planning.timeline import Phase, Timeline

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: Grid points in a closed hour.
HOUR_POINTS = 13


@dataclass(frozen=True, eq=False)
class Bond:
    """One patch of the coat below, for each start [m]."""

    early: BoolArray
    closed: BoolArray
    doubtful: BoolArray
    unknown: BoolArray


def previous_coat(case: Case, series: Series, timeline: Timeline) -> AtStart:
    """Join the findings of the first and the last patch."""
    assert case.previous is not None
    m = len(timeline.starts)
    none, every = np.zeros(m, dtype=bool), np.ones(m, dtype=bool)
    row = case.next_row
    if row is None:
        return AtStart("previous_coat", Phase.START, none, every, none, "data sheet")
    if row.forbidden:
        return AtStart("previous_coat", Phase.START, every, none, none, "forbidden pair")
    bonds = [
        bond(case.previous, row, series, painted, reached)
        for painted, reached in patches(case.previous, series, timeline)
    ]
    early, closed, doubtful, unknown = (
        np.logical_or.reduce([getattr(b, name) for b in bonds])
        for name in ("early", "closed", "doubtful", "unknown")
    )
    return AtStart(
        "previous_coat", Phase.APPLICATION, early | closed, unknown, doubtful, "data sheet", closed
    )


def patches(
    previous: Previous, series: Series, timeline: Timeline
) -> tuple[tuple[float, FloatArray], tuple[float, FloatArray]]:
    """When the first and last patch were painted (grid index) and when the brush is there."""
    first, last = (series.index_of(t) for t in (previous.start_s, previous.end_s))
    reach = (timeline.application, timeline.application_end)
    if previous.reverse:
        reach = (reach[1], reach[0])
    return (first, reach[0]), (last, reach[1])


def bond(
    previous: Previous, row: NextCoat, series: Series, painted: float, reached: FloatArray
) -> Bond:
    """Test one patch, painted at a grid index, reached at grid indices [m]."""
    painted = float(snap(np.array([painted]))[0])
    seen = _seen(series, painted, reached)
    early, unknown = _minimum(previous, row, series, painted, reached)
    closed, doubtful, blank = _maximum(previous, row, series, painted, reached)
    return Bond(early & seen, closed & seen, doubtful & seen, unknown | blank | ~seen)


def _seen(series: Series, painted: float, reached: FloatArray) -> BoolArray:
    """Whether the surface is known all the way from painting to the brush."""
    if not 0 <= painted <= len(series) - 1:
        return np.zeros(len(reached), dtype=bool)
    hole = series.next_hole[int(painted)]
    with np.errstate(invalid="ignore"):
        return np.asarray((reached <= hole - 1) & (reached >= painted))


def _minimum(
    previous: Previous, row: NextCoat, series: Series, painted: float, reached: FloatArray
) -> tuple[BoolArray, BoolArray]:
    table = next_table(previous.product, row.min_h, runs_out=False)
    none = np.zeros(len(reached), dtype=bool)
    if table is None:
        return none, ~none
    clock = previous_clocks(previous.product, table, series.surface_temp_c, runs_out=False)
    ready = float(clock.when(np.array([painted]))[0])
    with np.errstate(invalid="ignore"):
        return ~(reached >= ready - ON_THE_LIMIT), none


def _maximum(
    previous: Previous, row: NextCoat, series: Series, painted: float, reached: FloatArray
) -> tuple[BoolArray, BoolArray, BoolArray]:
    table = next_table(previous.product, row.max_h, runs_out=True)
    none = np.zeros(len(reached), dtype=bool)
    if table is None or not 0 <= painted <= len(series) - 1:
        return none, none, none
    hot = hottest_hour_c(series, painted, reached)
    clock = previous_clocks(previous.product, table, series.hot_c, runs_out=True)
    allowed = table.at(hot)
    with np.errstate(invalid="ignore"):
        sure = (reached - painted) * STEP_H <= allowed + ON_THE_LIMIT
        used = clock.progress(np.nan_to_num(reached)) - clock.progress(painted)
        likely = used <= 1.0 + ON_THE_LIMIT
    blank = np.isnan(allowed) | _blank_on_the_way(table.at(series.hot_c), painted, reached)
    known = ~blank & ~np.isnan(reached)
    return ~sure & ~likely & known, ~sure & likely & known, blank


def _blank_on_the_way(hours: FloatArray, painted: float, reached: FloatArray) -> BoolArray:
    blank = np.concatenate(([0], np.cumsum(np.isnan(hours))))
    low = int(np.ceil(painted))
    high = np.clip(np.nan_to_num(np.floor(reached)), low - 1, len(hours) - 1).astype(np.int64)
    return np.asarray(blank[high + 1] > blank[low])


def hottest_hour_c(series: Series, painted: float, reached: FloatArray) -> FloatArray:
    """Hottest temperature sustained for an hour between painting and each moment [m].

    With less than an hour gone, the hottest so far.
    """
    low = int(np.ceil(painted))
    hot = series.hot_c[low:]
    if len(hot) == 0:
        return np.full(len(reached), series.hot_c[int(painted)])
    so_far = np.fmax.accumulate(hot)
    best = so_far.copy()
    if len(hot) >= HOUR_POINTS:
        view = np.lib.stride_tricks.sliding_window_view(hot, HOUR_POINTS)
        best[HOUR_POINTS - 1 :] = np.fmax.accumulate(view.min(axis=1))
    at = np.floor(np.nan_to_num(reached, nan=0.0)).astype(np.int64) - low
    inside = best[np.clip(at, 0, len(best) - 1)]
    return np.where(at < 0, series.hot_c[int(painted)], inside)
