"""Outdoor weather from a source's own hours onto the even grid of the outlook."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import OUTDOOR_COLUMNS, FloatArray, Outdoor
from advisor.climate.series import on_grid

IntArray = NDArray[np.int64]


def to_grid(weather: Outdoor, first_s: float, last_s: float, step_s: int) -> Outdoor:
    """Lay [n] weather on whole multiples of `step_s` inside [first_s, last_s].

    Values at a stamp are joined by straight lines over at most three hours; a mean of the step
    before stands in the middle of that step; a sum is shared out over it. No value is made past
    either end: there and in longer gaps it is NaN.
    """
    start = -int(-first_s // step_s) * step_s
    grid = np.arange(start, int(last_s // step_s) * step_s + 1, step_s, dtype=np.int64)
    columns = {
        name: _column(name, weather, grid, step_s)
        for name in OUTDOOR_COLUMNS
        if name in weather.columns
    }
    columns.setdefault("air_temp_c", np.full(len(grid), np.nan))
    return Outdoor(start, step_s, columns, weather.derived)


def _column(name: str, weather: Outdoor, grid_s: IntArray, step_s: int) -> FloatArray:
    values, times = weather.columns[name], weather.time_s
    if name == "rain_mm":
        return _shared_out(times, values, weather.step_s, grid_s, step_s)
    if name == "sun_w_m2":
        middle = times - weather.step_s // 2
        return _held_ends(middle, values, grid_s + (-step_s // 2), weather.step_s)
    return on_grid(times, values, grid_s)


def _held_ends(
    middle_s: IntArray, values: FloatArray, grid_s: IntArray, source_step_s: int
) -> FloatArray:
    """Join means at the middle of their steps; hold the first and last half step."""
    valid = ~np.isnan(values)
    if not valid.any():
        return np.full(len(grid_s), np.nan)
    joined = on_grid(middle_s, values, grid_s)
    first, last = middle_s[valid][[0, -1]]
    half = source_step_s / 2
    at_start = (grid_s < first) & (grid_s >= first - half)
    at_end = (grid_s > last) & (grid_s <= last + half)
    joined[at_start] = values[valid][0]
    joined[at_end] = values[valid][-1]
    return joined


def _shared_out(
    times: IntArray, values: FloatArray, source_step_s: int, grid_s: IntArray, step_s: int
) -> FloatArray:
    """Give each grid step its share of the sum of the source's step it lies in."""
    after = np.searchsorted(times, grid_s, side="left")
    inside = (after < len(times)) & (grid_s > times[0] - source_step_s)
    after = np.minimum(after, len(times) - 1)
    share = min(1.0, step_s / source_step_s)
    return np.where(inside, values[after] * share, np.nan)


def joined(past: Outdoor, ahead: Outdoor) -> Outdoor:
    """Return one weather from two on one grid; where both have a value `past` counts."""
    step = past.step_s
    start = min(past.start_s, ahead.start_s)
    n = (max(past.end_s, ahead.end_s) - start) // step + 1
    columns: dict[str, FloatArray] = {}
    for name in OUTDOOR_COLUMNS:
        if name not in past.columns and name not in ahead.columns:
            continue
        out = np.full(n, np.nan)
        for part in (ahead, past):
            at = (part.start_s - start) // step
            values = part.column(name)
            seen = ~np.isnan(values)
            out[at : at + len(values)][seen] = values[seen]
        columns[name] = out
    return Outdoor(start, step, columns, past.derived | ahead.derived)
