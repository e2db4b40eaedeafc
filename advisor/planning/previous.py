"""Overcoating, tested per patch when the brush reaches it.

The minimum is a clock on the patch's coldest temperature. The maximum is tested twice: by
the row of the hottest surface sustained for an hour since the patch was painted (bond sure;
the rule of public specifications) and by its clock (bond likely).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import Series
from advisor.coatings.clocks import Clock, snap
from advisor.coatings.product import NextCoat
from advisor.coatings.tables import TimeTable
from advisor.planning.case import Case, Previous, cure_min_c, next_table
from advisor.planning.limits import ON_THE_LIMIT, AtStart
from advisor.planning.series_clocks import maximum_along, minimum_along
from advisor.planning.timeline import Phase, Timeline

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: Five-minute steps in an hour.
HOUR_STEPS = 12


@dataclass(frozen=True, eq=False)
class Bond:
    """One patch of the coat below, for each start [m]."""

    early: BoolArray
    closed: BoolArray
    doubtful: BoolArray
    unknown: BoolArray


@dataclass(frozen=True, eq=False)
class Overcoating:
    """The data sheet's minimum and maximum along one series; None where it has none."""

    series: Series
    minimum: Clock | None
    maximum: Clock | None
    max_table: TimeTable | None
    blanks: NDArray[np.int64] | None
    hour_c: FloatArray

    @classmethod
    def of(cls, previous: Previous, row: NextCoat, series: Series) -> Overcoating:
        """Lay the clocks of the coat below along the series."""
        low = next_table(previous.product, row.min_h, runs_out=False)
        maximum_h = () if previous.sanded else row.max_h
        high = next_table(previous.product, maximum_h, runs_out=True)
        cure_min = cure_min_c(previous.product)
        minimum = None if low is None else minimum_along(series, low, cure_min)
        maximum = None if high is None else maximum_along(series, high)
        blanks = None
        if high is not None and (np.isnan(high.hours).any() or np.isnan(series.hot_c).any()):
            blanks = np.concatenate(([0], np.cumsum(np.isnan(high.at(series.hot_c)))))
        return cls(
            series,
            minimum,
            maximum,
            high,
            blanks,
            lowest_in_hour_c(series.hot_c, series.hour_steps),
        )


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
    over = Overcoating.of(case.previous, row, series)
    pairs = patches(case.previous, series, timeline)
    bonds = [bond(over, painted, reached) for painted, reached in pairs]
    early, closed, doubtful, unknown = (
        np.logical_or.reduce([getattr(b, name) for b in bonds])
        for name in ("early", "closed", "doubtful", "unknown")
    )
    return AtStart(
        "previous_coat", Phase.APPLICATION, early | closed, unknown, doubtful, "data sheet", closed
    )


def ready_s(previous: Previous, row: NextCoat, series: Series) -> float | None:
    """Return when the last patch reaches its minimum, in UTC seconds; None where not known."""
    minimum, last = Overcoating.of(previous, row, series).minimum, series.index_of(previous.end_s)
    if minimum is None or not 0 <= last <= len(series) - 1:
        return None
    ready = float(minimum.when(np.array([last]))[0])
    known = ready <= int(series.next_hole[int(last)]) - 1
    return series.time_at(ready) if known else None


def patches(
    previous: Previous, series: Series, timeline: Timeline
) -> tuple[tuple[float, FloatArray], tuple[float, FloatArray]]:
    """When the first and last patch were painted (grid index) and when the brush is there."""
    first, last = (series.index_of(t) for t in (previous.start_s, previous.end_s))
    reach = (timeline.application, timeline.application_end)
    if previous.reverse:
        reach = (reach[1], reach[0])
    return (first, reach[0]), (last, reach[1])


def bond(over: Overcoating, painted: float, reached: FloatArray) -> Bond:
    """Test one patch, painted at a grid index, reached at grid indices [m]."""
    painted = float(snap(np.array([painted]))[0])
    if painted > len(over.series) - 1:  # not on before the series ends: nothing goes over it
        nothing = np.zeros(len(reached), dtype=bool)
        return Bond(~np.isnan(reached), nothing, nothing, np.isnan(reached))
    seen = _seen(over.series, painted, reached)
    early, unknown = _minimum(over, painted, reached)
    closed, doubtful, blank = _maximum(over, painted, reached)
    return Bond(early & seen, closed & seen, doubtful & seen, unknown | blank | ~seen)


def _seen(series: Series, painted: float, reached: FloatArray) -> BoolArray:
    """Whether the surface is known all the way from painting to the brush."""
    if not 0 <= painted <= len(series) - 1:
        return np.zeros(len(reached), dtype=bool)
    hole = series.next_hole[int(painted)]
    with np.errstate(invalid="ignore"):
        return np.asarray(reached <= hole - 1)


def _minimum(over: Overcoating, painted: float, reached: FloatArray) -> tuple[BoolArray, BoolArray]:
    none = np.zeros(len(reached), dtype=bool)
    if over.minimum is None:
        return none, ~none
    ready = float(over.minimum.when(np.array([painted]))[0])
    with np.errstate(invalid="ignore"):
        return ~(reached >= ready - ON_THE_LIMIT), none


def _maximum(
    over: Overcoating, painted: float, reached: FloatArray
) -> tuple[BoolArray, BoolArray, BoolArray]:
    none = np.zeros(len(reached), dtype=bool)
    table, clock, series = over.max_table, over.maximum, over.series
    if table is None or clock is None or not 0 <= painted <= len(series) - 1:
        return none, none, none
    allowed = table.at(hottest_hour_c(over, painted, reached))
    with np.errstate(invalid="ignore"):
        sure = (reached - painted) * series.step_h <= allowed + ON_THE_LIMIT
        open_until = float(clock.when(np.array([painted]))[0])
        likely = ~(reached > open_until + ON_THE_LIMIT)
    blank = np.isnan(allowed) | _blank_on_the_way(over.blanks, painted, reached)
    open_to_tell = ~sure & ~blank & ~np.isnan(reached)
    return open_to_tell & ~likely, open_to_tell & likely, blank


def _blank_on_the_way(
    blanks: NDArray[np.int64] | None, painted: float, reached: FloatArray
) -> BoolArray:
    if blanks is None:
        return np.zeros(len(reached), dtype=bool)
    low = int(np.floor(painted))  # a part step takes its rate from both its ends
    high = np.clip(np.nan_to_num(np.ceil(reached)), low - 1, len(blanks) - 2).astype(np.int64)
    return np.asarray(blanks[high + 1] > blanks[low])


def hottest_hour_c(over: Overcoating, painted: float, reached: FloatArray) -> FloatArray:
    """Hottest temperature sustained for an hour between painting and each moment [m].

    With less than an hour gone, the hottest so far.
    """
    low, surface = int(np.ceil(painted)), over.series.hot_c
    so_far = np.fmax.accumulate(surface[low : low + over.series.hour_steps])
    whole = np.fmax.accumulate(over.hour_c[low:])
    best = np.concatenate(([surface[int(painted)]], so_far, whole))
    at = np.fmax(np.fmin(reached - low + 1, len(best) - 1), 0.0)
    return best[at.astype(np.int64)]


def lowest_in_hour_c(surface_c: FloatArray, hour_steps: int = HOUR_STEPS) -> FloatArray:
    """Lowest of each closed hour [.., n - 12] of surface histories, by doubling the stretch."""
    lowest, length = surface_c, 1
    if surface_c.shape[-1] <= hour_steps:
        return np.empty((*surface_c.shape[:-1], 0))
    while length <= hour_steps:
        more = min(length, hour_steps + 1 - length)
        lowest = np.minimum(lowest[..., :-more], lowest[..., more:])
        length += more
    return lowest
