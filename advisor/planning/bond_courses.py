"""Overcoating in every course of the outlook at once: `previous` says the same for one series.

The past is the same in all courses, so that its clock is added up once and carried into each.
Positions are indices in a row of `Courses.long`; those of the past before it are negative.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.coatings.clocks import ROUNDING, Clock, snap
from advisor.coatings.tables import TimeTable
from advisor.planning.case import Case, cure_min_c, next_table
from advisor.planning.courses import Courses
from advisor.planning.limits import ON_THE_LIMIT
from advisor.planning.previous import lowest_in_hour_c
from advisor.planning.series_clocks import minimum_along
from advisor.planning.timeline import Timeline

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Below:
    """The coat below along the past and along every course; no maximum where `max_table` is None.

    `hours_c` [s, width - hour]: lowest of each closed hour of the hottest surface.
    """

    courses: Courses
    past: Clock
    ahead: Clock
    max_table: TimeTable | None


def bond_holds(case: Case, courses: Courses, line: Timeline) -> BoolArray:
    """Whether the coat below is ready and its bond sure, for every start [s * m].

    A bond that is only likely asks for a test first, and so does not hold.
    """
    previous, row = case.previous, case.next_row
    assert previous is not None
    none = np.zeros(len(line.starts), dtype=bool)
    low = None if row is None else next_table(previous.product, row.min_h, runs_out=False)
    if row is None or row.forbidden or low is None:
        return none
    high = next_table(previous.product, () if previous.sanded else row.max_h, runs_out=True)
    pause, long = cure_min_c(previous.product), courses.long
    past, ahead = (minimum_along(series, low, pause) for series in (courses.past, long))
    below = Below(courses, past, ahead, high)
    reach = (line.application, line.application_end)
    if previous.reverse:
        reach = (reach[1], reach[0])
    found = ~none
    for time_s, reached in zip((previous.start_s, previous.end_s), reach, strict=True):
        painted = float(snap(np.array([long.index_of(time_s)]))[0])
        found &= _patch(below, painted, reached.reshape(courses.count, -1)).ravel()
    return found


def _patch(below: Below, painted: float, reached: FloatArray) -> BoolArray:
    """Test one patch, reached at positions in `long` [s, m]."""
    courses = below.courses
    if not -courses.shift <= painted <= courses.head + courses.ahead - 1:
        return np.zeros(reached.shape, dtype=bool)
    local = reached - courses.row_start
    found = _seen(courses, painted, local)
    if found.any():
        with np.errstate(invalid="ignore"):
            found &= local >= _ready(below, painted) - ON_THE_LIMIT
    if below.max_table is not None and found.any():
        found &= _bond_sure(below, below.max_table, painted, local)
    return found


def _seen(courses: Courses, painted: float, local: FloatArray) -> BoolArray:
    """Whether the surface is known all the way from painting to the brush."""
    first = int(np.floor(painted))
    past = courses.past
    if first < courses.head and past.next_hole[first + courses.shift] < len(past):
        return np.zeros(local.shape, dtype=bool)
    at = courses.row_start + max(first, courses.head)
    hole = courses.long.next_hole[at] - courses.row_start
    with np.errstate(invalid="ignore"):
        return np.asarray(local <= hole - 1)


def _ready(below: Below, painted: float) -> FloatArray:
    """When the patch reaches its minimum in each course [s, 1]; NaN if never."""
    courses, shift = below.courses, below.courses.shift
    if painted <= courses.head - 1:
        ready = float(below.past.when(np.array([painted + shift]))[0])
        if not np.isnan(ready):
            return np.full((courses.count, 1), ready - shift)
    rows, last = courses.rows(below.ahead.total), courses.head + courses.ahead - 1
    target = _progress(below, rows, painted) + 1.0 - ROUNDING
    first = max(courses.head, int(np.floor(painted)) + 1)
    after = np.maximum((rows < target).sum(axis=1, keepdims=True), first)
    reached = after <= last
    after = np.minimum(after, last)
    before = np.take_along_axis(rows, after - 1, 1)
    share = (target - before) / np.maximum(np.take_along_axis(rows, after, 1) - before, 1e-300)
    ready_at = np.where(reached, snap(np.maximum(after - 1 + share, painted)), np.nan)
    return np.asarray(np.fmin(ready_at, _at_once(below, painted)), float)


def _progress(below: Below, rows: FloatArray, painted: float) -> FloatArray:
    """Progress of each course's own clock [s, 1] when the patch was painted."""
    courses = below.courses
    if painted >= courses.missing:
        at = min(int(np.floor(painted)), rows.shape[1] - 2)
        low, high = rows[:, at : at + 1], rows[:, at + 1 : at + 2]
        return np.asarray(low + (painted - at) * (high - low), float)
    joint = courses.missing  # the first point that a row and the past have in common
    gone = below.past.total[joint + courses.shift] - below.past.progress(painted + courses.shift)
    return np.asarray(rows[:, joint : joint + 1] - gone, float)


def _at_once(below: Below, painted: float) -> FloatArray:
    """When the minimum comes at once in each course [s, 1]; NaN if never."""
    courses = below.courses
    if below.ahead.at_once is None:
        return np.full((courses.count, 1), np.nan)
    first = max(courses.head - 1, int(np.floor(painted)))
    step = below.ahead.at_once[courses.row_start + first] - courses.row_start
    last = courses.head + courses.ahead - 1
    return np.where(step < last, np.maximum(step, painted), np.nan)


def _bond_sure(below: Below, table: TimeTable, painted: float, local: FloatArray) -> BoolArray:
    """Whether the row of the hottest hour since painting still allows the next coat."""
    courses = below.courses
    blank_from = _first_blank(below, table, painted)
    if blank_from is None:
        return np.zeros(local.shape, dtype=bool)
    allowed = table.at(_hottest_hour_c(courses, painted, local))
    with np.errstate(invalid="ignore"):
        sure = (local - painted) * courses.long.step_h <= allowed + ON_THE_LIMIT
        return np.asarray(sure & (np.ceil(local) < blank_from))


def _first_blank(below: Below, table: TimeTable, painted: float) -> IntArray | None:
    """First point [s, 1] ahead with a blank maximum; None where the past has one already."""
    courses, first = below.courses, int(np.floor(painted))
    if (
        first < courses.head
        and np.isnan(table.at(courses.past.hot_c[first + courses.shift :])).any()
    ):
        return None
    hot = courses.rows(courses.long.hot_c)[:, max(first, courses.head) :]
    blank = np.isnan(table.at(hot)) if np.isnan(table.hours).any() else np.isnan(hot)
    return np.asarray(blank.argmax(axis=1, keepdims=True) + max(first, courses.head))


def _hottest_hour_c(courses: Courses, painted: float, local: FloatArray) -> FloatArray:
    """Hottest temperature sustained for an hour since painting [s, m], as in `previous`."""
    low, hour = int(np.ceil(painted)), courses.long.hour_steps
    hot = courses.rows(courses.long.hot_c)
    first = max(low, 0)
    whole = np.fmax.accumulate(lowest_in_hour_c(hot, hour)[:, first:], axis=1)
    before = lowest_in_hour_c(courses.past.hot_c, hour)[low + courses.shift :] if low < 0 else ()
    if len(before):
        whole = np.fmax(whole, np.fmax.reduce(before))
    best, at = whole, local - hour - first
    if low > 0:  # with less than an hour gone, the hottest so far
        so_far = np.fmax.accumulate(hot[:, low : low + hour], axis=1)
        i = int(painted)
        best, at = np.concatenate((hot[:, i : i + 1], so_far, whole), axis=1), local - low + 1
    at = np.fmax(np.fmin(at, best.shape[1] - 1), 0.0).astype(np.int64)
    return np.asarray(np.take_along_axis(best, at, 1))
