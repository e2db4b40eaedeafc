"""Clocks that add up cure along a temperature history.

An event happens when the integral of dt/τ(T) reaches 1: the equivalent-age sum of the
maturity method (ASTM C1074). Rates are taken at grid points, with the mean rate and linear
progress within a step. Times are float grid indices; an event within 1e-6 step of a grid
point is that point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.coatings.tables import TimeTable

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
STEP_H = 5.0 / 60.0
SNAP = 1e-6
#: A time as short as this is an event at once; it is kept out of the running total.
AT_ONCE_H = 1e-8
#: Guards a target that rounding put a hair above a sum that then pauses for hours.
ROUNDING = 1e-12


def snap(index: FloatArray) -> FloatArray:
    """Move float grid indices within 1e-6 step of a grid point onto it."""
    nearest = np.rint(index)
    snapped = np.array(index, float)
    np.copyto(snapped, nearest, where=np.abs(index - nearest) <= SNAP)
    return snapped


@dataclass(frozen=True, eq=False)
class Clock:
    """Progress at grid points: `total` [n], starting at 0 and never falling.

    `at_once` [n], where there is any: the first step at or after each grid point in which the
    event comes at once (n if none). With `courses` not 0 the points are so many histories of
    equal length end to end, the last point of each a hole; each adds up by itself, and
    `start` holds as many moments for each.
    """

    total: FloatArray
    at_once: FloatArray | None = None
    courses: int = 0

    def progress(self, index: FloatArray | float) -> FloatArray:
        """Return progress at float grid indices, linear within a step."""
        last = len(self.total) - 1
        at = np.fmax(np.fmin(index, last), 0.0)  # fmin also gives an unknown index a place
        before = np.minimum(at.astype(np.int64), last - 1)
        low = self.total[before]
        return np.asarray(low + (at - before) * (self.total[before + 1] - low), float)

    def when(self, start: FloatArray) -> FloatArray:
        """Return float indices at which one whole time has passed since `start`; NaN if never."""
        last = len(self.total) - 1
        target = self.progress(start) + 1.0 - ROUNDING
        after = self._first_at(target)
        reached = (after <= last) & (start <= last)
        after = np.minimum(np.maximum(after, 1), last)
        before = self.total[after - 1]
        share = (target - before) / np.maximum(self.total[after] - before, 1e-300)
        event = snap(np.maximum(after - 1 + share, start))
        event = np.where(reached, event, np.nan)
        return event if self.at_once is None else np.fmin(event, self._at_once(start))

    def _first_at(self, target: FloatArray) -> NDArray[np.int64]:
        """First point whose total is no less than each target; past the end if none."""
        if not self.courses:
            return np.searchsorted(self.total, target, side="left")
        rows, wanted = self.total.reshape(self.courses, -1), target.reshape(self.courses, -1)
        after = np.empty(wanted.shape, dtype=np.int64)
        width = rows.shape[1]
        # One search a course: a single running total over all would lose digits on the way.
        for k in range(self.courses):
            after[k] = np.searchsorted(rows[k], wanted[k], side="left")
        none = after == width
        after += width * np.arange(self.courses)[:, np.newaxis]
        after[none] = len(self.total)
        return after.ravel()

    def _at_once(self, start: FloatArray) -> FloatArray:
        assert self.at_once is not None
        last = len(self.total) - 1
        known = ~np.isnan(start) & (start <= last)
        step = self.at_once[np.where(known, np.maximum(start, 0.0), 0.0).astype(np.int64)]
        return np.where(known & (step < last), np.maximum(step, start), np.nan)


def minimum_clock(
    table: TimeTable,
    temp_c: FloatArray,
    pause_below_c: float,
    step_h: float = STEP_H,
    courses: int = 0,
) -> Clock:
    """Clock of a time to be reached; stands still in the cold and where the cell is blank."""
    hours = table.at(temp_c)
    with np.errstate(invalid="ignore"):
        running = temp_c >= pause_point_c(table, pause_below_c)
    return _clock(hours, running, step_h, courses)


def maximum_clock(table: TimeTable, temp_c: FloatArray, step_h: float = STEP_H) -> Clock:
    """Clock of a time that runs out; it never stands still."""
    return _clock(table.at(temp_c), np.ones(len(temp_c), dtype=bool), step_h)


def pause_point_c(table: TimeTable, cure_min_c: float) -> float:
    """Temperature under which a minimum clock stands still."""
    return cure_min_c if table.one_row else max(cure_min_c, float(table.temp_c[0]))


def _clock(hours: FloatArray, running: BoolArray, step_h: float, courses: int = 0) -> Clock:
    """Add up mean rates; a blank cell stands still."""
    total = np.zeros(len(hours))
    with np.errstate(invalid="ignore"):
        at_once = (hours <= AT_ONCE_H) & running
        counts = running & (hours > AT_ONCE_H)
    rate = np.zeros(len(hours))
    np.divide(1.0, hours, out=rate, where=counts)
    sums, rates = total.reshape(max(courses, 1), -1), rate.reshape(max(courses, 1), -1)
    np.cumsum((rates[:, 1:] + rates[:, :-1]) * (step_h / 2.0), axis=1, out=sums[:, 1:])
    return Clock(total, _next_step(at_once, courses) if at_once.any() else None, courses)


def _next_step(at_once: BoolArray, courses: int) -> FloatArray:
    """First step at or after each grid point with such a point at either end; n if none."""
    n = len(at_once)
    steps = np.append(at_once[:-1] | at_once[1:], False)
    if courses:  # nothing happens from the last point of a course on, nor in the hole after
        steps.reshape(courses, -1)[:, -2:] = False
    marked = np.where(steps, np.arange(n), n)
    return np.minimum.accumulate(marked[::-1])[::-1].astype(float)
