"""The shop's response from its own log, kept only where it beats every simple guess."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import least
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.observe import Record, record_of
from advisor.climate.shop.response import Response, ShopLog, Spread, usual_response
from advisor.climate.shop.runs import Runs, runs_in
from advisor.climate.shop.screen import Screened, screened
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.skill import Misses, Skill, joined, misses, rms, skill_of

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LONGEST_H = 48.0
_FIT_EVERY_H = 3.0
_JUDGE_EVERY_H = 4.0
_DAY_S = 86400
_LEADS_H = (1.0, 3.0, 6.0, 12.0, 18.0, 24.0, 36.0, 48.0)


@dataclass(frozen=True)
class Fit:
    """A response and the cross-validated skill of the fit, also of one that was refused.

    `skill` is None where no fit could be tried. `notes` say what of the log was left out.
    """

    response: Response
    skill: Skill | None
    notes: tuple[str, ...] = ()


def fit_response(shop: Shop, log: ShopLog) -> Fit:
    """Fit the shop's heat and moisture to its log; the usual response where that fails.

    Judged on blocks of at least a day left out of the fit. A fit that does not beat "same as now",
    "same as outdoors" and the shop's habit is refused. Never raises for a bad log: the reason is
    in the response.
    """
    clean = screened(log)
    if clean.reason:
        return Fit(usual_response(shop, clean.reason), None, clean.notes)
    record = record_of(clean.log)
    horizon_h = _horizon_h(clean.log.days)
    runs = runs_in(record.air_known, record.air_driven, record.step_h, _FIT_EVERY_H, horizon_h)
    if len(runs.starts) < 4:
        reason = f"no stretch of {horizon_h:g} h with readings and weather to fit on"
        return Fit(usual_response(shop, reason), None, clean.notes)
    return _fitted(shop, clean, record, horizon_h)


def _horizon_h(days: float) -> float:
    """Return hours ahead to fit on: a quarter of the log, up to two days."""
    return float(min(LONGEST_H, np.floor(days * 6.0)))


def _fitted(shop: Shop, clean: Screened, record: Record, horizon_h: float) -> Fit:
    fitter = _Fitter(shop, clean, record, horizon_h)
    try:
        final, near = fitter.fit(fitter.runs(_FIT_EVERY_H))
        missed = fitter.cross_validated(near)
    except (ValueError, np.linalg.LinAlgError):
        # SciPy refuses a system it cannot solve; the log is no use then, whatever the cause.
        return Fit(usual_response(shop, "the log does not fit any shop"), None, clean.notes)
    if missed is None:
        return Fit(usual_response(shop, "the log is too broken up to judge a fit"), None)
    return _judged(shop, clean, final, missed)


@dataclass(frozen=True, eq=False)
class _Fitter:
    shop: Shop
    clean: Screened
    record: Record
    horizon_h: float

    def runs(self, every_h: float) -> Runs:
        """Return all runs that can be judged."""
        record = self.record
        return runs_in(record.air_known, record.air_driven, record.step_h, every_h, self.horizon_h)

    def fit(self, runs: Runs, near: FloatArray | None = None) -> tuple[Response, FloatArray]:
        """Return heat and, where the log has dew points, moisture fitted to runs; and where."""
        usual = usual_response(self.shop)
        days = len(np.unique(self.record.time_s[runs.index] // _DAY_S))
        heated = self.heated
        runs = Runs(runs.starts, np.union1d(runs.ahead, np.arange(1, 4)[: int(runs.ahead[-1])]))
        prior = replace(usual.thermal, solar_noon_h=solar_noon_h(self.record))
        heat, near = least.fit_heat(prior, self.record, runs, days, heated, near)
        water = usual.moisture
        if not self.clean.dew_reason:
            water = self._water(runs, water, days)
        return replace(usual, thermal=heat, moisture=water, loss_fitted=heated), near

    def _water(self, runs: Runs, prior: Moisture, days: int) -> Moisture:
        driven = self.record.dew_driven[runs.every].all(axis=1)
        good = driven & self.record.dew_known[runs.starts]
        if good.sum() < 4:
            return prior
        return least.fit_water(prior, self.record, Runs(runs.starts[good], runs.ahead), days)

    @property
    def heated(self) -> bool:
        """Whether a heater's known power moves enough to tell its watts."""
        return self.clean.log.heat_w is not None and float(np.std(self.record.heat_w)) > 1.0

    def cross_validated(self, near: FloatArray) -> Misses | None:
        """Return the misses of runs in each block by a fit that saw no weather of the block.

        `near` is only where each search begins: it cannot keep what the block alone would tell.
        """
        fitting, judging = self.runs(_FIT_EVERY_H), self.runs(_JUDGE_EVERY_H)
        parts = []
        for first, after in self._blocks():
            inside = (judging.starts >= first) & (judging.starts < after)
            ahead = int(fitting.ahead[-1])
            clear = (fitting.starts + ahead < first) | (fitting.starts >= after + ahead)
            if not inside.any() or clear.sum() < 4:
                continue
            model, _ = self.fit(Runs(fitting.starts[clear], fitting.ahead), near)
            judged = Runs(judging.starts[inside], judging.ahead)
            parts.append(misses(model, self.record, judged, self._apart(first, after + ahead)))
        return joined(parts) if parts else None

    def _apart(self, first: int, after: int) -> BoolArray:
        """Return the steps of the log that no run of a block touches."""
        step = np.arange(len(self.record))
        return np.asarray((step < first) | (step >= after))

    def _blocks(self) -> list[tuple[int, int]]:
        """Return blocks of at least a day: three of a short log, up to five of a long one."""
        n, day = len(self.record), 24.0 / self.record.step_h
        count = int(np.clip(n / day / 4.0, 3, 5))
        ends = np.linspace(0, n, count + 1).astype(int)
        return [(int(a), int(b)) for a, b in pairwise(ends)]


def solar_noon_h(record: Record) -> float:
    """Return the UTC hour about which the sun's energy of the log is balanced; 12 without sun."""
    turn = np.exp(2j * np.pi * (record.time_s % _DAY_S) / _DAY_S)
    balance = complex(np.sum(record.sun_w_m2 * turn))
    return float(np.angle(balance) * 12.0 / np.pi % 24.0) if abs(balance) > 0.0 else 12.0


def _judged(shop: Shop, clean: Screened, final: Response, missed: Misses) -> Fit:
    """Return the fit where it beats every guess, else the usual response with the reason."""
    skill = skill_of(missed)
    if not skill.air_beats_all:
        beaten = _beaten("air", skill.air_rmse_k, skill.best_guess("air"))
        return Fit(usual_response(shop, beaten), skill, clean.notes)
    why = clean.dew_reason
    if not why and not skill.dew_beats_all:
        why = _beaten("dew point", skill.dew_rmse_k, skill.best_guess("dew"))
    spread = _spread(missed, usual_response(shop).spread, bool(why))
    moisture = usual_response(shop).moisture if why else final.moisture
    reason = f"moisture as usual for the kind of shop: {why}" if why else ""
    response = replace(
        final,
        moisture=moisture,
        spread=spread,
        fitted=True,
        log_days=clean.log.days,
        reason=reason,
    )
    return Fit(response, skill, clean.notes)


def _beaten(what: str, rmse_k: float, best: tuple[str, float]) -> str:
    """Return the words for a fit that a simple guess beats, or nearly."""
    guess, best_k = best
    return f"a fit misses {what} by {rmse_k:.2f} K, “{guess}” by {best_k:.2f} K"


def _spread(missed: Misses, usual: Spread, dew_usual: bool) -> Spread:
    """Return sd by hours ahead from the misses; past the last judged lead no less than usual."""
    judged = tuple(lead for lead in _LEADS_H if lead <= missed.lead_h[-1])
    judged = judged or (float(missed.lead_h[-1]),)
    leads = (*judged, *(lead for lead in usual.lead_h if lead > judged[-1]))

    def seen(miss: FloatArray, usual_k: FloatArray) -> tuple[float, ...]:
        own = [_sd_near(missed.lead_h, miss, lead) for lead in judged]
        return (*own, *np.maximum(own[-1], usual_k[len(own) :]).tolist())

    usual_air, usual_dew = (
        np.interp(leads, usual.lead_h, sd_k) for sd_k in (usual.air_sd_k, usual.dew_sd_k)
    )
    air, air_lag1 = seen(missed.air_k, usual_air), lag1(missed.air_k)
    air_day = day_scores(missed, missed.air_k)
    if dew_usual:
        return Spread(leads, air, tuple(usual_dew.tolist()), air_lag1, usual.dew_lag1, air_day)
    dew, dew_day = seen(missed.dew_k, usual_dew), day_scores(missed, missed.dew_k)
    return Spread(leads, air, dew, air_lag1, lag1(missed.dew_k), air_day, dew_day)


def _sd_near(lead_h: FloatArray, miss: FloatArray, lead: float) -> float:
    """Return the RMS miss at leads within a fifth of `lead`; never under a sensor's 0.1 K."""
    near = np.abs(lead_h - lead) <= max(0.5, 0.2 * lead)
    found = rms(miss[:, near])
    return max(found, 0.1) if np.isfinite(found) else rms(miss)


def lag1(miss: FloatArray) -> float:
    """Return the correlation of misses from one lead to the next."""
    a, b = miss[:, :-1].ravel(), miss[:, 1:].ravel()
    some = np.isfinite(a) & np.isfinite(b)
    scale = np.sqrt(np.sum(a[some] ** 2) * np.sum(b[some] ** 2))
    return float(np.clip(np.sum(a[some] * b[some]) / scale, 0.0, 0.999)) if scale > 0 else 0.0


def day_scores(missed: Misses, miss: FloatArray) -> tuple[float, ...]:
    """Return the RMSE of each UTC day's starts, up to 24 h ahead."""
    day, soon = missed.start_s // _DAY_S, missed.lead_h <= 24.0
    scores = [rms(miss[day == one][:, soon]) for one in np.unique(day)]
    return tuple(score for score in scores if np.isfinite(score))
