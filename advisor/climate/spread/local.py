"""What the archive says of one forecast: its likely bias, and error courses to draw from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import HOUR_S, IntArray, Learned

FloatArray = NDArray[np.float64]

#: Past forecasts issued near the same hour of the day count most: bias and spread have a daily
#: course. Standard deviation of that nearness, hours, and the least a forecast counts.
HOUR_NEAR, LEAST_COUNT = 3.0, 0.02
#: Ridge, in forecasts: how many it takes before bias and swing are half believed.
BIAS_RIDGE, SWING_RIDGE = 3.0, 10.0
#: Hours over which the swing's coefficients are smoothed along lead.
SMOOTH_H = 13


@dataclass(frozen=True, eq=False)
class Local:
    """For one forecast: what to add to it [n_lead], and left-over courses [k, n_lead].

    `share` [k] says how often each course is drawn; air and dew point belong together.
    """

    air_add_k: FloatArray
    dew_add_k: FloatArray
    air_k: FloatArray
    dew_k: FloatArray
    share: FloatArray


def local(
    learned: Learned, issued_s: int, air_swing_k: FloatArray, dew_swing_k: FloatArray
) -> Local:
    """Fit bias and swing by lead, with past forecasts weighted by their hour of the day."""
    count = _nearness(learned.issued_s, issued_s)
    worth = _independent(learned.issued_s, count)
    swings = np.stack((np.ones_like(learned.air_k), learned.air_swing_k, learned.dew_swing_k), -1)
    now = np.stack((np.ones_like(air_swing_k), air_swing_k, dew_swing_k), -1)
    share = count / count.sum()
    found = []
    for errors in (learned.air_k, learned.dew_k):
        fit = _ridge(swings, errors, share * worth)
        left = errors - np.einsum("klp,lp->kl", swings, fit)
        left -= share @ left
        found.append((np.einsum("lp,lp->l", now, fit), left * _finite(worth)))
    (air_add, air), (dew_add, dew) = found
    return Local(air_add, dew_add, air, dew, share)


def _nearness(issued_s: IntArray, now_s: int) -> FloatArray:
    apart_h = ((issued_s - now_s) / HOUR_S + 12.0) % 24.0 - 12.0
    return LEAST_COUNT + np.exp(-0.5 * (apart_h / HOUR_NEAR) ** 2)


def _independent(issued_s: IntArray, count: FloatArray) -> float:
    """Independent forecasts the weighted ones are worth: the best of each day."""
    days = issued_s // (24 * HOUR_S)
    best: dict[int, float] = {}
    for day, worth in zip(days.tolist(), count.tolist(), strict=True):
        best[day] = max(best.get(day, 0.0), min(1.0, worth))
    return sum(best.values())


def _ridge(known: FloatArray, errors_k: FloatArray, count: FloatArray) -> FloatArray:
    """Weighted ridge regression at every lead: coefficients [n_lead, 3], smoothed along lead."""
    square = np.einsum("k,klp,klq->lpq", count, known, known)
    size = np.einsum("lpp->lp", square) / count.sum()
    ridge = np.array([BIAS_RIDGE, SWING_RIDGE, SWING_RIDGE]) * size + 1e-6
    index = np.arange(3)
    square[:, index, index] += ridge
    right = np.einsum("k,klp,kl->lp", count, known, errors_k)
    fit = np.linalg.solve(square, right[..., None])[..., 0]
    fit[:, 1:] = smooth(fit[:, 1:], SMOOTH_H)
    left = errors_k - np.einsum("klp,lp->kl", known[..., 1:], fit[:, 1:])
    fit[:, 0] = count @ left / (count.sum() + BIAS_RIDGE)
    return np.asarray(fit)


def smooth(values: FloatArray, width: int) -> FloatArray:
    """Return running means along the first axis, narrower at the ends."""
    total = np.cumsum(np.concatenate((np.zeros_like(values[:1]), values)), axis=0)
    at = np.arange(len(values))
    low, high = np.maximum(0, at - width // 2), np.minimum(len(values), at + width // 2 + 1)
    return np.asarray(
        (total[high] - total[low]) / (high - low).reshape(-1, *[1] * (values.ndim - 1))
    )


def _finite(worth: float) -> float:
    """Widening for what a fit of three numbers to few forecasts hides."""
    return float(np.sqrt((worth + 1.0) / max(1.0, worth - 3.0)))


def never_falling(variance: FloatArray, weight: FloatArray | None = None) -> FloatArray:
    """Return the nearest values that never fall (pool adjacent violators)."""
    blocks: list[list[float]] = []
    for value in variance.tolist():
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            last, before = blocks.pop(), blocks[-1]
            total = before[1] + last[1]
            before[0] = (before[0] * before[1] + last[0] * last[1]) / total
            before[1] = total
    return np.concatenate([np.full(int(size), value) for value, size in blocks])
