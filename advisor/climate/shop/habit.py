"""The shop's habit: what may be foretold from its own log alone, without any weather."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop.runs import Runs

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Habit:
    """Mean of each UTC hour of the day [24], and the share of what is off it now that stays [l]."""

    by_hour: FloatArray
    stays: FloatArray

    def ahead(self, time_s: IntArray, values: FloatArray, runs: Runs) -> FloatArray:
        """Return what habit foretells from each start, [s, l]."""
        usual = self.by_hour[_hours(time_s)]
        off = (values - usual)[runs.starts, None]
        return np.asarray(usual[runs.index] + off * self.stays)


def habit_of(time_s: IntArray, values: FloatArray, known: BoolArray, ahead: IntArray) -> Habit:
    """Return the habit of a series [n] where `known`, for steps `ahead` [l].

    An hour never seen takes the mean of all.
    """
    hours = _hours(time_s)
    some = values[known]
    mean = float(some.mean()) if some.size else 0.0
    seen = np.bincount(hours[known], minlength=24)
    total = np.bincount(hours[known], some - mean, minlength=24)
    by_hour = mean + total / np.maximum(seen, 1)
    off = np.where(known, values - by_hour[hours], 0.0)
    stays = [_stays(off, known, int(k)) for k in ahead]
    return Habit(by_hour, np.array(stays))


def _stays(off: FloatArray, known: BoolArray, steps: int) -> float:
    """Return the slope of what is off `steps` later on what is off now, 0 to 1."""
    both = known[:-steps] & known[steps:]
    now, later = off[:-steps][both], off[steps:][both]
    scale = float(np.sum(np.square(now)))
    return float(np.clip(np.sum(now * later) / scale, 0.0, 1.0)) if scale > 0.0 else 0.0


def _hours(time_s: IntArray) -> IntArray:
    return np.asarray(time_s % 86400 // 3600)
