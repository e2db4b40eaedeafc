"""Many forecasts of the past at once: starts along a log, each run on the weather that came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import linear, moisture, vapour
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.observe import (
    Record,
    heat_states,
    heat_steps,
    water_states,
    water_steps,
)
from advisor.climate.shop.thermal import Thermal

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Runs:
    """Starts [s] on the grid of a log and steps ahead [l], rising, the first at least 1."""

    starts: IntArray
    ahead: IntArray

    @property
    def index(self) -> IntArray:
        """Grid index of each start and lead [s, l]."""
        return np.asarray(self.starts[:, None] + self.ahead)

    @property
    def every(self) -> IntArray:
        """Grid index of every step from the start to the last lead [s, last + 1]."""
        return np.asarray(self.starts[:, None] + np.arange(int(self.ahead[-1]) + 1))


def runs_in(
    known: BoolArray, driven: BoolArray, step_h: float, every_h: float, horizon_h: float
) -> Runs:
    """Return all starts `every_h` hours apart from which a whole run can be judged.

    A start needs a reading there and on half of the day before it; its run needs weather
    throughout and readings on half of it. Leads are whole hours, or steps where longer.
    """
    n, per_day = len(known), max(1, round(24.0 / step_h))
    last = max(1, round(horizon_h / step_h))
    starts = np.arange(0, max(0, n - last), max(1, round(every_h / step_h)))
    seen = np.concatenate([[0], np.cumsum(known)])
    blind = np.concatenate([[0], np.cumsum(~driven)])
    before = seen[starts + 1] - seen[np.maximum(starts + 1 - per_day, 0)]
    during = seen[starts + last + 1] - seen[starts + 1]
    whole = blind[starts + last + 1] == blind[starts]
    good = known[starts] & whole & (2 * before >= per_day) & (2 * during >= last)
    stride = max(1, round(1.0 / step_h))
    return Runs(starts[good], np.arange(stride, last + 1, stride))


def heat_ahead(model: Thermal, record: Record, runs: Runs) -> FloatArray:
    """Return shop air, °C, forecast from each start [s, l].

    One run through the whole log serves all starts: by superposition a run differs from it only
    by what its start differs, fading with the powers of the step.
    """
    step, push = heat_steps(model, record)
    states = heat_states(model, record)
    states[record.air_known, 0] = record.air_c[record.air_known]
    return _ahead(step.keep, push, states, runs)


def water_ahead(model: Moisture, record: Record, runs: Runs) -> FloatArray:
    """Return vapour pressure, hPa, forecast from each start [s, l], the air as measured."""
    keep, push = water_steps(model, record)
    states = water_states(model, record)
    states[record.dew_known, 0] = record.vapour_hpa[record.dew_known]
    return (_ahead if keep.ndim == 2 else _ahead_varying)(keep, push, states, runs)


def _ahead(keep: FloatArray, push: FloatArray, states: FloatArray, runs: Runs) -> FloatArray:
    whole = linear.run(keep, np.zeros(len(keep)), push)
    fading = linear.powers(keep, int(runs.ahead[-1]))[runs.ahead - 1, 0, :]
    return np.asarray(whole[runs.index, 0] + (states - whole)[runs.starts] @ fading.T)


def _ahead_varying(
    keep: FloatArray, push: FloatArray, states: FloatArray, runs: Runs
) -> FloatArray:
    """Return the same where each step keeps its own; what the start differs fades step by step."""
    whole = linear.run_varying(keep, np.zeros(keep.shape[-1]), push)
    off = (states - whole)[runs.starts, :, None]
    course = np.empty((int(runs.ahead[-1]), len(runs.starts)))
    for j, row in enumerate(course):
        off = keep[runs.starts + j] @ off
        row[:] = off[:, 0, 0]
    return np.asarray(whole[runs.index, 0] + course[runs.ahead - 1].T)


def dew_ahead(model: Moisture, record: Record, runs: Runs, air_c: FloatArray) -> FloatArray:
    """Return dew point, °C, [s, l], the shop's air as forecast at every step, [s, last]."""
    every = runs.every
    air = np.concatenate([record.air_c[runs.starts, None], air_c], axis=1)
    states = water_states(model, record)[runs.starts]
    states[:, 0] = record.vapour_hpa[runs.starts]
    around = moisture.Around(record.air_out_c[every], record.vapour_out_hpa[every], air)
    keep, push = moisture.steps(model, record.step_h, around, np.zeros(1))
    held = moisture.run(keep, states, push)[..., 0]
    dew = np.minimum(vapour.dew_c(held), air)
    return np.asarray(dew[:, runs.ahead])
