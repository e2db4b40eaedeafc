"""What the archive says of one forecast: its likely bias, and error courses to draw from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import HOUR_S, IntArray, Learned, running_mean

FloatArray = NDArray[np.float64]

#: Past forecasts issued near the same hour of the day count most: bias and spread have a daily
#: course. Standard deviation of that nearness, hours, and the least a forecast counts.
HOUR_NEAR, LEAST_COUNT = 3.0, 0.02
#: Ridge, in forecasts: how many it takes before bias and swing are half believed.
BIAS_RIDGE, SWING_RIDGE = 3.0, 3.0
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


def local(learned: Learned, issued_s: int, shown: FloatArray) -> Local:
    """Fit bias and what a forecast shows of its error, with past ones weighted by their hour.

    `shown` [n_lead, p] are the `features` of the forecast in hand.
    """
    count = _nearness(learned.issued_s, issued_s)
    worth = _independent(learned.issued_s, count)
    share = count / count.sum()
    found = []
    for errors in (learned.air_k, learned.dew_k):
        fit = _ridge(learned.shown, errors, share * worth)
        left = errors - np.einsum("klp,lp->kl", learned.shown, fit)
        left -= share @ left
        found.append((np.einsum("lp,lp->l", shown, fit), left * _finite(worth)))
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
    """Weighted ridge regression at every lead: coefficients [n_lead, p], smoothed along lead.

    The sums are smoothed over neighbouring leads, the bias (column 0) then taken at each.
    """
    counted = known * count[:, None, None]
    square = np.einsum("klp,klq->lpq", counted, known, optimize=True)
    right = np.einsum("klp,kl->lp", counted, errors_k, optimize=True)
    square, right = (running_mean(np.moveaxis(a, 0, -1), SMOOTH_H) for a in (square, right))
    square, right = np.moveaxis(square, -1, 0), np.moveaxis(right, -1, 0)
    index = np.arange(known.shape[-1])
    size = np.einsum("lpp->lp", square) / count.sum()
    square[:, index, index] += np.where(index == 0, BIAS_RIDGE, SWING_RIDGE) * size + 1e-6
    fit = np.linalg.solve(square, right[..., None])[..., 0]
    left = errors_k - np.einsum("klp,lp->kl", known[..., 1:], fit[:, 1:])
    fit[:, 0] = count @ left / (count.sum() + BIAS_RIDGE)
    return np.asarray(fit)


def _finite(worth: float) -> float:
    """Widening for few forecasts: their own mean is not the mean, and the next is one more.

    Not for the slopes as well: these are pooled over leads and drawn to 0, and the dressing and
    the pooled spread widen enough; with it, chances on invented weather were 1 to 3 points too
    cautious.
    """
    return float(np.sqrt((worth + 1.0) / max(1.0, worth - 1.0)))


def never_falling(variance: FloatArray) -> FloatArray:
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
