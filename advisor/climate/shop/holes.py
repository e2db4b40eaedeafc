"""Holes in an even series: short ones bridged by a straight line, long ones kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: Longest hole, from known value to known value, that is bridged.
LONGEST_GAP_S = 3 * 3600


def bridged(values: FloatArray, step_s: int) -> tuple[FloatArray, BoolArray]:
    """Return values without NaN, and from where on they are not to be trusted; both as given.

    [n] or [s, n]. A hole of at most three hours between two values becomes a straight line. From
    a longer hole on, or one open at either end, the mask is True to the end: what a shop does
    after weather nobody knows cannot be known.
    """
    bad = ~np.isfinite(values)
    if not bad.any():
        return values, np.zeros(values.shape, bool)
    rows = values.reshape(-1, values.shape[-1])
    filled, lost = np.empty(rows.shape), np.empty(rows.shape, bool)
    for k, row in enumerate(rows):
        filled[k], long = filled_row(row, step_s)
        lost[k] = np.logical_or.accumulate(long)
    return filled.reshape(values.shape), lost.reshape(values.shape)


def filled_row(row: FloatArray, step_s: int) -> tuple[FloatArray, BoolArray]:
    """Return a row [n] without NaN, and where its holes are over three hours or open at an end."""
    n = len(row)
    known = np.flatnonzero(np.isfinite(row))
    if len(known) == 0:
        return np.zeros(n), np.ones(n, bool)
    index = np.arange(n)
    filled = np.interp(index, known, row[known])
    after = np.searchsorted(known, index, side="left")
    right = known[np.minimum(after, len(known) - 1)]
    before = np.searchsorted(known, index, side="right") - 1
    left = known[np.maximum(before, 0)]
    long = (right - left) * step_s > LONGEST_GAP_S
    long |= (before < 0) | (after >= len(known))
    return filled, long & ~np.isfinite(row)
