"""Learn how wrong a source is here, by lead, from its past forecasts and what happened."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import (
    HOUR_S,
    LEAD_H,
    ErrorModel,
    ErrorPairs,
    IntArray,
    Learned,
    bend,
    features,
    level_filled,
)
from advisor.climate.spread.prior import SLOW_H, prior

FloatArray = NDArray[np.float64]

#: Forecasts of one source this far apart count as independent: a day later the air mass, the
#: model run and most of the error are others (judgement).
INDEPENDENT_S = 24 * HOUR_S
#: Closer ones than this say the same again and are left out.
THIN_S = 6 * HOUR_S
#: Most forecasts kept, the latest: a year and a half of one a day.
MOST = 600
#: The archive has no say under the first number of independent forecasts, all of it from the
#: second on; half of it at about 30.
FIRST, FULL = 10, 50
#: Independent forecasts the prior's size is worth against what was learned.
PRIOR_WORTH = 15.0
#: A forecast with more of its leads unverified than this is not learned from yet.
MOST_MISSING = 0.25


def learn(pairs: ErrorPairs) -> ErrorModel:
    """Return the error model of a source; the prior alone while the archive is short.

    Uses nothing but the pairs. Forecasts not yet verified to three quarters are left out. The
    prior at no lead at all is how a place differs from the source.
    """
    usual = prior(pairs.source)
    kept = _usable(pairs)
    independent = count_independent(pairs.issued_s[kept])
    if independent < FIRST:
        return replace(usual, independent=independent)
    learned, dew_k = _learned(pairs, kept, usual)
    air, dew = (
        sd * _scale(e[:, : learned.reach], sd[: learned.reach], independent)
        for sd, e in ((usual.air_sd_k, learned.air_k), (usual.dew_sd_k, dew_k))
    )
    weight = min(1.0, (independent - FIRST) / (FULL - FIRST))
    place = [float(sd[0]) * pairs.own_truth for sd in (usual.air_sd_k, usual.dew_sd_k)]
    air, dew = np.hypot(air, place[0]), np.hypot(dew, place[1])
    return ErrorModel(pairs.source, air, dew, independent, weight, learned, place[0], place[1])


def count_independent(issued_s: IntArray) -> int:
    """Count forecasts at least a day apart."""
    return len(_apart(np.sort(issued_s), INDEPENDENT_S))


def _apart(issued_s: IntArray, least_s: int) -> list[int]:
    """Return positions of rising times that are at least so far apart."""
    found: list[int] = []
    for i, at in enumerate(issued_s.tolist()):
        if not found or at - int(issued_s[found[-1]]) >= least_s:
            found.append(i)
    return found


def _reach(pairs: ErrorPairs) -> int:
    """Number of leads at which at least half of the forecasts say something."""
    said = np.isfinite(pairs.foretold_air_c) & np.isfinite(pairs.foretold_dew_c)
    often = said.sum(axis=0) >= max(1, len(pairs) / 2)
    return int(often.nonzero()[0][-1]) + 1 if often.any() else 0


def _usable(pairs: ErrorPairs) -> IntArray:
    """Return rows verified well enough, thinned, the latest of them."""
    reach = _reach(pairs)
    known = np.isfinite(pairs.air_k[:, :reach]) & np.isfinite(pairs.dew_k[:, :reach])
    rows = np.flatnonzero(known.mean(axis=1) >= 1.0 - MOST_MISSING) if reach else np.arange(0)
    rows = rows[np.argsort(pairs.issued_s[rows], kind="stable")]
    return np.asarray(rows[_apart(pairs.issued_s[rows], THIN_S)][-MOST:], dtype=np.int64)


def _learned(pairs: ErrorPairs, rows: IntArray, usual: ErrorModel) -> tuple[Learned, FloatArray]:
    """Return what is kept, and the errors of dew point, K."""
    rng = np.random.default_rng(len(rows))
    air = _filled(pairs.air_k[rows] / usual.air_sd_k, rng) * usual.air_sd_k
    dew = _filled(pairs.dew_k[rows] / usual.dew_sd_k, rng) * usual.dew_sd_k
    said_air, said_dew = pairs.foretold_air_c[rows], pairs.foretold_dew_c[rows]
    said_k = level_filled(said_air) - level_filled(said_dew)
    below = bend(said_k + air - dew) - bend(said_k)
    shown = features(said_air, said_dew)
    return Learned(pairs.issued_s[rows], air, below, shown, _reach(pairs)), dew


def _filled(unit: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Fill holes and tails of errors [k, n_lead], in the prior's size, by wandering on."""
    keep = np.exp(-1.0 / SLOW_H)
    filled = unit.copy()
    noise = np.sqrt(np.nanmean(unit**2)) * rng.standard_normal(unit.shape)
    missing = np.isnan(unit)
    filled[:, 0] = np.where(missing[:, 0], noise[:, 0], unit[:, 0])
    for j in range(1, len(LEAD_H)):
        onward = keep * filled[:, j - 1] + np.sqrt(1.0 - keep**2) * noise[:, j]
        filled[:, j] = np.where(missing[:, j], onward, unit[:, j])
    return filled


def _scale(errors_k: FloatArray, sd_k: FloatArray, independent: int) -> float:
    """Size of errors [k, n] against the prior's, drawn to 1 while there are few."""
    bias = errors_k.mean(axis=0) * independent / (independent + PRIOR_WORTH)
    ratio = float(np.mean(((errors_k - bias) / sd_k) ** 2))
    return float(np.sqrt((PRIOR_WORTH + independent * ratio) / (PRIOR_WORTH + independent)))
