"""What the shop's response misses even with the true weather, as courses to add on top."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.local import never_falling, to_spread
from advisor.climate.spread.prior import wandering

FloatArray = NDArray[np.float64]
HOUR_S = 3600


class Misses(Protocol):
    """How far a response missed: sd in K at hours ahead, and its hourly correlation."""

    @property
    def lead_h(self) -> tuple[float, ...]:
        """Hours ahead of the last reading."""

    @property
    def air_sd_k(self) -> tuple[float, ...]:
        """Standard deviation of air."""

    @property
    def dew_sd_k(self) -> tuple[float, ...]:
        """Standard deviation of dew point."""

    @property
    def air_lag1(self) -> float:
        """Correlation of air from hour to hour."""

    @property
    def dew_lag1(self) -> float:
        """Correlation of dew point from hour to hour."""


class WithMisses(Protocol):
    """A shop response, as far as its misses go."""

    @property
    def spread(self) -> Misses:
        """How far it missed."""


def residual_courses(
    response: WithMisses, n: int, step_s: int, count: int = 200, seed: int = 0
) -> tuple[FloatArray, FloatArray]:
    """Return misses of air and of dew point, K, [count, n]; 0 at the first step.

    First-order autoregressive with the response's own correlation and spread; air and dew point
    apart, which leaves the margin its full doubt. Their standard deviation is the response's at
    every step and never shrinks with time.
    """
    rng = np.random.default_rng([seed, 1])
    misses = response.spread
    ahead_h = np.arange(n) * step_s / HOUR_S
    return (
        _courses(rng, ahead_h, count, misses.lead_h, misses.air_sd_k, misses.air_lag1),
        _courses(rng, ahead_h, count, misses.lead_h, misses.dew_sd_k, misses.dew_lag1),
    )


def _courses(
    rng: np.random.Generator,
    ahead_h: FloatArray,
    count: int,
    lead_h: tuple[float, ...],
    sd_k: tuple[float, ...],
    lag1: float,
) -> FloatArray:
    if len(ahead_h) == 0:
        return np.zeros((count, len(ahead_h)))
    known = never_falling(np.asarray(sd_k, dtype=np.float64))
    spread = np.interp(ahead_h, np.concatenate(([0.0], lead_h)), np.concatenate(([0.0], known)))
    step_h = ahead_h[1] - ahead_h[0] if len(ahead_h) > 1 else 1.0
    lag_h = -1.0 / np.log(np.clip(lag1, 0.01, 0.999))
    unit = wandering(rng, count, len(ahead_h), lag_h / step_h)
    return to_spread(unit, spread)
