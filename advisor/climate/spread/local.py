"""What the archive says of one forecast: its likely bias, and error courses to draw from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import HOUR_S, IntArray, Learned, running_mean, size_features

FloatArray = NDArray[np.float64]

#: Past forecasts issued near the same hour of the day count most: bias and spread have a daily
#: course. Standard deviation of that nearness, hours, and the least a forecast counts.
HOUR_NEAR, LEAST_COUNT = 3.0, 0.02
#: Ridge, in forecasts: how many it takes before bias and swing are half believed.
BIAS_RIDGE, SWING_RIDGE = 3.0, 3.0
#: Hours over which the swing's coefficients are smoothed along lead.
SMOOTH_H = 13


#: How much an error may be smaller or larger than usual for what its forecast shows.
SMALLEST, LARGEST = 0.25, 4.0
#: Independent forecasts before that is half believed.
SIZE_RIDGE = 5.0


@dataclass(frozen=True, eq=False)
class Errors:
    """What to add to a forecast [n_lead]; left-over courses [k, n_lead] to draw from.

    The courses are of usual size; `size` [n_lead] is how much larger they are this time.
    """

    add: FloatArray
    courses: FloatArray
    size: FloatArray

    def spread(self, share: FloatArray) -> FloatArray:
        """Standard deviation this time, [n_lead]; that of usual size never falls with lead."""
        return np.asarray(self.size * np.sqrt(never_falling(share @ self.courses**2)))


@dataclass(frozen=True, eq=False)
class Local:
    """For one forecast: errors of air, K, and of the bent distance of the dew point below it.

    `share` [k] says how often each past forecast is drawn; both belong together.
    """

    air: Errors
    below: Errors
    share: FloatArray


def local(learned: Learned, issued_s: int, shown: FloatArray) -> Local:
    """Fit bias and what a forecast shows of its error, with past ones weighted by their hour.

    `shown` [n_lead, p] are the `features` of the forecast in hand.
    """
    count = near_in_day((learned.issued_s - issued_s) / HOUR_S, LEAST_COUNT)
    worth = _independent(learned.issued_s, count)
    share = count / count.sum()
    past, here = learned.sized, size_features(shown)
    found = []
    for errors in (learned.air_k, learned.below):
        fit = _ridge(learned.shown, errors, share * worth)
        left = errors - np.einsum("klp,lp->kl", learned.shown, fit)
        left -= share @ left
        was, now = _sizes(past, here, left[:, : learned.reach], share, worth)
        courses = left / was * _finite(worth)
        found.append(Errors(np.einsum("lp,lp->l", shown, fit), courses, now))
    return Local(found[0], found[1], share)


def _sizes(
    past: FloatArray, here: FloatArray, left: FloatArray, share: FloatArray, worth: float
) -> tuple[FloatArray, FloatArray]:
    """Return how large errors were [k, n_lead] and will be [n_lead] for what forecasts show.

    1 is usual at that lead. One regression of absolute errors over all leads the archive speaks
    for, and 1 past them.
    """
    reach = left.shape[1]
    usual = running_mean(np.sqrt(share @ left**2), 25)
    known = past[:, :reach]
    counted = share[:, None, None] * known
    square = np.einsum("klp,klq->pq", counted, known, optimize=True)
    square[np.diag_indices(len(square))] += 1e-9
    right = np.einsum("klp,kl->p", counted, np.abs(left) / np.maximum(usual, 1e-9), optimize=True)
    fit = np.linalg.solve(square, right)
    mean = max(1e-9, float(share @ (known @ fit).mean(axis=1)))
    believed = worth / (worth + SIZE_RIDGE)
    within = np.arange(past.shape[1]) < reach
    was, now = (
        np.where(within, np.clip(q @ fit / mean, SMALLEST, LARGEST) ** believed, 1.0)
        for q in (past, here)
    )
    return was, now


def near_in_day(apart_h: FloatArray, least: float) -> FloatArray:
    """Return how much each of a past counts [k], by how near in time of day it is, hours apart."""
    off_h = (apart_h + 12.0) % 24.0 - 12.0
    return np.asarray(least + np.exp(-0.5 * (off_h / HOUR_NEAR) ** 2))


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

    The slopes need none: they are pooled over leads and drawn to 0.
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


def to_spread(courses: FloatArray, spread: FloatArray) -> FloatArray:
    """Centre courses [s, n] and bring each time to its spread [n], whatever the sample's was."""
    centred = courses - courses.mean(axis=0)
    return np.asarray(centred * (spread / np.maximum(1e-9, centred.std(axis=0))))
