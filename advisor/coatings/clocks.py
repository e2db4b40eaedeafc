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
    event comes at once (n if none).
    """

    total: FloatArray
    at_once: FloatArray | None = None

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
        after = np.searchsorted(self.total, target, side="left")
        reached = (after <= last) & (start <= last)
        after = np.minimum(np.maximum(after, 1), last)
        before = self.total[after - 1]
        share = (target - before) / np.maximum(self.total[after] - before, 1e-300)
        event = snap(np.maximum(after - 1 + share, start))
        event = np.where(reached, event, np.nan)
        return event if self.at_once is None else np.fmin(event, self._at_once(start))

    def _at_once(self, start: FloatArray) -> FloatArray:
        assert self.at_once is not None
        last = len(self.total) - 1
        known = ~np.isnan(start) & (start <= last)
        step = self.at_once[np.where(known, np.maximum(start, 0.0), 0.0).astype(np.int64)]
        return np.where(known & (step < last), np.maximum(step, start), np.nan)


def minimum_clock(table: TimeTable, temp_c: FloatArray, pause_below_c: float) -> Clock:
    """Clock of a time to be reached; stands still in the cold and where the cell is blank."""
    hours = table.at(temp_c)
    with np.errstate(invalid="ignore"):
        running = temp_c >= pause_point_c(table, pause_below_c)
    return _clock(hours, running)


def maximum_clock(table: TimeTable, temp_c: FloatArray) -> Clock:
    """Clock of a time that runs out; it never stands still."""
    return _clock(table.at(temp_c), np.ones(len(temp_c), dtype=bool))


def pause_point_c(table: TimeTable, cure_min_c: float) -> float:
    """Temperature under which a minimum clock stands still."""
    return cure_min_c if table.one_row else max(cure_min_c, float(table.temp_c[0]))


def _clock(hours: FloatArray, running: BoolArray) -> Clock:
    """Add up mean rates; a blank cell stands still."""
    total = np.zeros(len(hours))
    with np.errstate(invalid="ignore"):
        at_once = (hours <= AT_ONCE_H) & running
        counts = running & (hours > AT_ONCE_H)
    rate = np.zeros(len(hours))
    np.divide(1.0, hours, out=rate, where=counts)
    np.cumsum((rate[1:] + rate[:-1]) * (STEP_H / 2.0), out=total[1:])
    return Clock(total, _next_step(at_once) if at_once.any() else None)


def _next_step(at_once: BoolArray) -> FloatArray:
    """First step at or after each grid point with such a point at either end; n if none."""
    n = len(at_once)
    steps = np.append(at_once[:-1] | at_once[1:], False)
    marked = np.where(steps, np.arange(n), n)
    return np.minimum.accumulate(marked[::-1])[::-1].astype(float)
