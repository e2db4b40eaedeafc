"""Least-squares fits of heat and moisture on errors many hours ahead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import runs as ahead
from advisor.climate.shop import vapour
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.observe import Record
from advisor.climate.shop.runs import Runs
from advisor.climate.shop.thermal import Thermal

FloatArray = NDArray[np.float64]

#: What a miss weighs: misses within a day are one miss in many readings, so a day counts as two
#: independent ones of this size; beyond `_ROBUST_K` a miss counts by its size, not its square.
_MISS_K = 0.4
_PER_DAY = 2.0
_LEAST_MISS_K = 0.05
_ROBUST_K = 2.0
#: A prior's sd in the logarithm: the kind of shop says a rate within a factor of 7.
_LOG_SD = 2.0
#: Of the air change's share per K of difference to outdoors, and per point of outdoor RH: the
#: usual spread of either (3 K, 12 points) may halve or double it.
_CHANGE_SD = (0.17, 0.04)
_TURNS = 40
_HEATER_LAG_H = 0.5  # centre of the prior: between a fan heater and filled radiators (M)
#: A second place to start the search, as rates of heat: slow, heavy, well lagged.
_SLOW = (0.05, 0.3, 0.05, 0.02)


@dataclass(frozen=True)
class _Guess:
    """Prior of each parameter: centre and sd, the first `logs` of them in the logarithm."""

    centre: FloatArray
    sd: FloatArray


def fit_heat(
    prior: Thermal,
    record: Record,
    runs: Runs,
    days: float,
    heated: bool,
    near: FloatArray | None = None,
) -> tuple[Thermal, FloatArray]:
    """Return the heat model nearest to the log's runs, and its place among the parameters.

    `heated`: the heater is known. `near` is where to start the search; None searches from two
    places.
    """
    guess = _heat_guess(prior, heated)
    slow = guess.centre.copy()
    slow[:4] = np.log(_SLOW)
    starts = (guess.centre, slow) if near is None else (near,)
    truth, seen = record.air_c[runs.index], record.air_known[runs.index]

    def miss(at: FloatArray) -> FloatArray:
        said = ahead.heat_ahead(_heat_model(at, prior, heated), record, runs)
        return np.where(seen, said - truth, 0.0)

    at = _solve(miss, guess, days, starts, again=near is None)
    return _heat_model(at, prior, heated), at


def _heat_guess(prior: Thermal, heated: bool) -> _Guess:
    logs = [
        prior.air_out_per_h,
        prior.air_fabric_per_h,
        prior.fabric_air_per_h,
        prior.fabric_out_per_h,
        prior.sun_air_k_h,
        prior.sun_fabric_k_h,
    ]
    centre, sd = [*np.log(logs), prior.gain_air_k_h, 0.0], [_LOG_SD] * 6 + [0.3, 0.4]
    if heated:
        # Watts to degrees, the share of the heater's heat that the air takes (logit), its lag.
        centre = [*centre, np.log(prior.air_wh_k), 1.0, np.log(_HEATER_LAG_H)]
        sd = [*sd, _LOG_SD, 1.5, 1.5]
    return _Guess(np.array(centre), np.array(sd))


def _heat_model(at: FloatArray, prior: Thermal, heated: bool) -> Thermal:
    out, air_fabric, fabric_air, fabric_out, sun_air, sun_fabric = np.exp(at[:6]).tolist()
    model = replace(
        prior,
        air_out_per_h=out,
        air_fabric_per_h=air_fabric,
        fabric_air_per_h=fabric_air,
        fabric_out_per_h=fabric_out,
        sun_air_k_h=sun_air,
        sun_fabric_k_h=sun_fabric,
        gain_air_k_h=float(at[6]),
        sun_morning=float(np.clip(at[7], -0.95, 0.95)),
    )
    if heated:
        share = 1.0 / (1.0 + float(np.exp(-at[9])))
        watts, lag_h = np.exp(at[[8, 10]]).tolist()
        model = replace(model, air_wh_k=watts, heat_air_share=share, heater_lag_h=lag_h)
    return model


def fit_water(prior: Moisture, record: Record, runs: Runs, days: float) -> Moisture:
    """Return the moisture model nearest to the log's runs, with the air as measured."""
    some = record.vapour_hpa[record.dew_known]
    prior = _usual_weather(replace(prior, level_hpa=float(np.median(some))), record)
    guess = _Guess(
        np.array(
            [
                *np.log([prior.air_change_per_h, prior.air_store_per_h, prior.store_air_per_h]),
                prior.source_hpa_h,
                prior.warm_per_k,
                prior.change_per_k,
                prior.change_per_pct,
            ]
        ),
        np.array([_LOG_SD, _LOG_SD, 1.0, 0.5, 0.03, *_CHANGE_SD]),
    )
    truth, seen = record.dew_c[runs.index], record.dew_known[runs.index]

    def miss(at: FloatArray) -> FloatArray:
        said = vapour.dew_c(ahead.water_ahead(_water_model(at, prior), record, runs))
        return np.where(seen, said - truth, 0.0)

    return _water_model(_solve(miss, guess, days, (guess.centre,)), prior)


def _water_model(at: FloatArray, prior: Moisture) -> Moisture:
    change, give, take = np.exp(at[:3]).tolist()
    return replace(
        prior,
        air_change_per_h=change,
        air_store_per_h=give,
        store_air_per_h=take,
        source_hpa_h=float(at[3]),
        warm_per_k=max(float(at[4]), 0.0),
        change_per_k=float(at[5]),
        change_per_pct=float(at[6]),
    )


def _usual_weather(prior: Moisture, record: Record) -> Moisture:
    """Return the prior with the log's usual difference to outdoors and outdoor RH, where known."""
    known = record.air_known & record.dew_driven
    if not known.any():
        return prior
    off_k = np.abs(record.air_c - record.air_out_c)[known]
    rh = 100.0 * (record.vapour_out_hpa / vapour.pressure_hpa(record.air_out_c))[known]
    return replace(prior, usual_k=float(np.median(off_k)), usual_rh_pct=float(np.median(rh)))


def _solve(
    miss: Callable[[FloatArray], FloatArray],
    guess: _Guess,
    days: float,
    starts: tuple[FloatArray, ...],
    again: bool = True,
) -> FloatArray:
    """Return the parameters with the least robust misses and distance from the prior.

    Twice, where the search was from afar: the misses of the first pass say how much the log
    weighs against the prior.
    """
    cost = _Cost(miss, guess, max(days, 1.0) * _PER_DAY, _MISS_K)
    best = min((_least(cost, start) for start in starts), key=cost.total)
    missed = miss(cost.within(best))
    miss_k = float(np.clip(np.sqrt(np.mean(np.square(missed))), _LEAST_MISS_K, _MISS_K))
    if miss_k < 0.8 * _MISS_K and again:
        best = _least(replace(cost, miss_k=miss_k), best)
    return cost.within(best)


@dataclass(frozen=True)
class _Cost:
    """Misses and distance from the prior as one list, whose squares are to be least."""

    miss: Callable[[FloatArray], FloatArray]
    guess: _Guess
    count: float  # of independent misses
    miss_k: float

    def __call__(self, at: FloatArray) -> FloatArray:
        missed = _robust(self.miss(self.within(at)))
        weight = np.sqrt(self.count / missed.size) / self.miss_k
        away = (at - self.guess.centre) / self.guess.sd
        return np.concatenate([(missed * weight).ravel(), away])

    def total(self, at: FloatArray) -> float:
        """Return the sum of squares."""
        return float(np.sum(np.square(self(at))))

    def within(self, at: FloatArray) -> FloatArray:
        """Return parameters kept to four sd of the prior."""
        reach = 4.0 * self.guess.sd
        return np.clip(at, self.guess.centre - reach, self.guess.centre + reach)


def _least(cost: _Cost, start: FloatArray) -> FloatArray:
    from scipy.optimize import least_squares

    found = least_squares(
        cost,
        start,
        method="lm",
        x_scale=cost.guess.sd,
        max_nfev=_TURNS * len(start),
        xtol=1e-4,
        ftol=1e-5,
    )
    return np.asarray(found.x, dtype=np.float64)


def _robust(miss: FloatArray) -> FloatArray:
    """Return misses whose squares grow like |miss| beyond 2 K (pseudo-Huber)."""
    ratio = np.square(miss / _ROBUST_K)
    return np.asarray(np.sign(miss) * _ROBUST_K * np.sqrt(2.0 * (np.sqrt(1.0 + ratio) - 1.0)))
