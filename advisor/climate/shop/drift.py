"""Whether the shop has changed since its response was fitted: doors, heater, lining.

The last three days' misses (24 h ahead, with the weather that came) against those of each day of
the fit's cross-validation. By rank, so that no shape of error is assumed: where days are alike
(exchangeable), all of the last three fall among the worst by chance in at most 1 check of 200 for
air and 1 of 200 for dew point, together 1 of 100. Checks on following days share days, and are
not independent.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop.observe import Record, record_of
from advisor.climate.shop.response import Response, ShopLog
from advisor.climate.shop.runs import runs_in
from advisor.climate.shop.screen import screened
from advisor.climate.shop.skill import kept, misses, rms

FloatArray = NDArray[np.float64]

RECENT_DAYS = 3
#: Chance of calling a change where there is none: of air, and of dew point.
FALSE_ALARM = 0.005
#: A change nobody would notice is none: the last days must miss this many times the usual.
LEAST_RATIO = 1.5
_DAY_S = 86400
_EVERY_H = 4.0
_HORIZON_H = 24.0


@dataclass(frozen=True)
class Changed:
    """Whether the shop's air or moisture has changed, in words, and by how much it now misses.

    `…_ratio` are the median miss of the last days over that of the fit's days; NaN where it cannot
    be said.
    """

    air: bool
    dew: bool
    air_ratio: float
    dew_ratio: float
    text: str

    def __bool__(self) -> bool:
        """Whether anything has changed."""
        return self.air or self.dew


def has_changed(response: Response, log: ShopLog) -> Changed:
    """Compare the last three days of the log with the days of the fit.

    The log should reach a week back, so that where the shop stood is known. An unfitted response,
    or too little log, gives no change and says so.
    """
    nan = float("nan")
    clean = screened(log)
    if not response.fitted or not np.isfinite(clean.log.air_temp_c).any():
        return Changed(False, False, nan, nan, "")
    recent = _recent(response, record_of(clean.log))
    air, air_ratio = _worse(recent.air_day_k, response.spread.air_day_k)
    dew, dew_ratio = _worse(recent.dew_day_k, response.spread.dew_day_k)
    return Changed(air, dew, air_ratio, dew_ratio, _words(air, dew, recent))


@dataclass(frozen=True)
class _Recent:
    """RMSE of each of the last days, and the mean miss (said minus measured), K."""

    air_day_k: tuple[float, ...]
    dew_day_k: tuple[float, ...]
    air_bias_k: float
    dew_bias_k: float


def _recent(response: Response, record: Record) -> _Recent:
    runs = runs_in(record.air_known, record.air_driven, record.step_h, _EVERY_H, _HORIZON_H)
    end_s = int(record.time_s[-1])
    first_s = end_s - RECENT_DAYS * _DAY_S - int(_HORIZON_H * 3600)
    runs = kept(runs, record, first_s, None)
    if len(runs.starts) == 0:
        return _Recent((), (), float("nan"), float("nan"))
    missed = misses(response, record, runs)
    day = np.minimum((missed.start_s - first_s) // _DAY_S, RECENT_DAYS - 1)
    air = tuple(rms(missed.air_k[day == k]) for k in range(RECENT_DAYS))
    dew = tuple(rms(missed.dew_k[day == k]) for k in range(RECENT_DAYS))
    return _Recent(air, dew, _mean(missed.air_k), _mean(missed.dew_k))


def _worse(recent: tuple[float, ...], usual: tuple[float, ...]) -> tuple[bool, float]:
    """Return whether all recent days are among the worst, and the ratio of the medians."""
    if len(recent) < RECENT_DAYS or not np.isfinite(recent).all() or not usual:
        return False, float("nan")
    ratio = float(np.median(recent) / np.median(usual))
    worst = allowed_above(len(usual))
    if worst < 0:
        return False, ratio
    above = int(np.sum(np.array(usual) >= min(recent)))
    return above <= worst and ratio >= LEAST_RATIO, ratio


def allowed_above(days: int) -> int:
    """Return how many of the fit's days may be as bad as the best of the last three; −1: none do.

    Of `days` + 3 days in random order the three stand among the worst r + 3 with the chance
    C(r + 3, 3) / C(days + 3, 3).
    """
    orders = comb(days + RECENT_DAYS, RECENT_DAYS)
    allowed = -1
    while comb(allowed + 1 + RECENT_DAYS, RECENT_DAYS) <= FALSE_ALARM * orders:
        allowed += 1
    return allowed


def _words(air: bool, dew: bool, recent: _Recent) -> str:
    parts = []
    if air:
        side = "warmer" if recent.air_bias_k < 0.0 else "colder"
        parts.append(f"{abs(recent.air_bias_k):.1f} K {side} than before (heater, doors, lining?)")
    if dew:
        side = "damper" if recent.dew_bias_k < 0.0 else "drier"
        parts.append(
            f"dew point {abs(recent.dew_bias_k):.1f} K {side} than before (doors, something wet?)"
        )
    return (
        f"the shop seems to have changed in the last three days: {'; '.join(parts)}"
        if parts
        else ""
    )


def _mean(miss: FloatArray) -> float:
    some = miss[np.isfinite(miss)]
    return float(some.mean()) if some.size else float("nan")
