"""The shop's response against a real heated house and against shops whose truth is known."""

from __future__ import annotations

import csv
from datetime import datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from advisor.climate.outdoor import Outdoor
from advisor.climate.shop.fit import Fit, fit_response
from advisor.climate.shop.observe import state_at_end
from advisor.climate.shop.response import Inputs, Response, ShopLog, simulate
from advisor.climate.shop.shop import Shop, ShopKind
from advisor.climate.shop.skill import skill_on
from advisor.climate.shop.thermal import Thermal
from tests.helpers.true_shop import PER_DAY, TrueShop, cut, jfk, measured, part, unlike_usual

HOUSE = Path(__file__).parents[1] / "data" / "shop" / "heated-house.csv"
FITTED_DAYS, DAYS = 30, 45


def heated_house() -> ShopLog:
    """darkgreybox 0.3.2, MIT. Power stands at the head of its hour: the house warms after it."""
    with HOUSE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    air, out, heat = (np.array([float(row[name]) for row in rows]) for name in ("Ti", "Ta", "Ph"))
    start_s = int(datetime.fromisoformat(rows[0][""]).timestamp())
    outdoor = Outdoor(start_s, 3600, {"air_temp_c": out})
    return ShopLog(air, np.full(len(air), np.nan), outdoor, np.append(heat[:1], heat[:-1]))


@pytest.mark.parametrize("reverse", [False, True], ids=["first 60 %", "last 60 %"])
def test_heated_house_a_day_ahead(reverse: bool) -> None:
    log = heated_house()
    n = len(log.outdoor)
    seen = int(n * 0.6)
    first, after = (n - seen, n) if reverse else (0, seen)
    fit = fit_response(Shop("insulated", 300.0), cut(log, first, after))
    assert fit.response.fitted
    assert fit.response.loss_fitted
    stamps = log.outdoor.time_s
    from_s, until_s = (0.0, stamps[n - seen]) if reverse else (stamps[seen], stamps[-1])
    skill = skill_on(fit.response, log, horizon_h=24.0, from_s=from_s, until_s=until_s)
    assert skill.runs > 60
    # Agreed: at least 60 % better than "same as now". The weather of the reverse half is unlike
    # the fitted one and there is no sun in the file, so there it is asked for half.
    assert skill.air_rmse_k <= (0.5 if reverse else 0.4) * skill.air_same_as_now_k


@lru_cache(maxsize=4)
def known(kind: ShopKind, seed: int, heated: bool) -> tuple[TrueShop, ShopLog, Fit]:
    """Return a true shop, its readings over 45 days and the fit to the first 30."""
    shop, weather = Shop(kind, 200.0), jfk(DAYS, skip_days=seed * 20)
    true = unlike_usual(shop, weather, seed)
    spells = np.random.default_rng(seed).random(len(weather) // 24 + 1) < 0.3
    heat = np.repeat(spells, 24)[: len(weather)] * (3000.0 if heated else 0.0)
    air, dew = true.air_and_dew(weather, heat)
    log = measured(air, dew, weather, heat if heated else None, seed)
    return true, log, fit_response(shop, cut(log, 0, FITTED_DAYS * PER_DAY))


CASES = [("timber shed", 0, False), ("stone shed", 1, False), ("insulated", 2, True)]
each_case = pytest.mark.parametrize(("kind", "seed", "heated"), CASES)


def slow_h(thermal: Thermal) -> float:
    """Time constant with which the whole shop follows outdoors."""
    return float(-1.0 / np.linalg.eigvals(thermal.rates[:2, :2]).max())


def sun_k(thermal: Thermal) -> float:
    """Rise of the air that steady sun of 1 kW/m² would end in."""
    pushed = [thermal.sun_air_k_h, thermal.sun_fabric_k_h]
    return float(np.linalg.solve(-thermal.rates[:2, :2], pushed)[0])


@each_case
def test_parameters_are_recovered(kind: ShopKind, seed: int, heated: bool) -> None:
    true, _, fit = known(kind, seed, heated)
    found: Response = fit.response
    assert found.fitted, found.reason
    wanted = {
        "slow_h": (slow_h(found.thermal), slow_h(true.thermal)),
        "sun_k": (sun_k(found.thermal), sun_k(true.thermal)),
        "air_change": (found.air_change_per_h, true.moisture.air_change_per_h),
        "air_store": (found.moisture.air_store_per_h, true.moisture.air_store_per_h),
        "store_air": (found.moisture.store_air_per_h, true.moisture.store_air_per_h),
        "source": (found.moisture.source_hpa_h, true.moisture.source_hpa_h),
    }
    if heated:  # without a known heater nothing in the log tells watts
        wanted["loss"] = (found.loss_w_k, true.thermal.loss_w_k)
    off = {name: a / b - 1.0 for name, (a, b) in wanted.items() if abs(a / b - 1.0) > 0.15}
    assert not off


@each_case
def test_margin_is_foretold_to_half_an_hour(kind: ShopKind, seed: int, heated: bool) -> None:
    """When air minus dew point falls below 3 K, called a day ahead on the weather that came.

    A shop whose margin never falls so far is asked for the lowest quarter of its own.
    """
    _, log, fit = known(kind, seed, heated)
    margin = log.air_temp_c - log.dew_point_c
    limit_k = 3.0
    if len(falls_below(margin, limit_k)) < LEAST_FALLS:
        limit_k = float(np.quantile(margin[FITTED_DAYS * PER_DAY :], 0.25))
    falls = falls_below(margin, limit_k)
    assert len(falls) >= LEAST_FALLS
    off_min = [abs(k - crossing(fit.response, log, k, limit_k)) * 15 for k in falls]
    assert np.median(off_min) <= 30.0


LEAST_FALLS = 4  # under four, a median says little


def falls_below(margin: np.ndarray, limit_k: float) -> list[int]:
    """Return the steps after the fit at which the margin falls below a limit held for 2 h."""
    return [
        k
        for k in range(FITTED_DAYS * PER_DAY, len(margin) - 48)
        if margin[k] < limit_k and (margin[k - 8 : k] >= limit_k).all()
    ]


def crossing(response: Response, log: ShopLog, true_step: int, limit_k: float) -> int:
    """Return the step nearest the true one at which the foretold margin falls below a limit."""
    now, last = true_step - PER_DAY, true_step + 48
    state = state_at_end(response, cut(log, now - 5 * PER_DAY, now + 1))
    heat = np.zeros(last - now) if log.heat_w is None else log.heat_w[now:last]
    indoor = simulate(response, part(log.outdoor, now, last), state, Inputs(heat_w=heat))
    margin = indoor.air_temp_c - indoor.dew_point_c
    falls = np.flatnonzero((margin[:-1] >= limit_k) & (margin[1:] < limit_k)) + 1 + now
    return int(falls[np.argmin(np.abs(falls - true_step))]) if len(falls) else last


def test_a_margin_below_3_k_is_among_them() -> None:
    """The agreed limit itself is judged on one shop at least."""
    _, log, _ = known(*CASES[0])
    assert len(falls_below(log.air_temp_c - log.dew_point_c, 3.0)) >= LEAST_FALLS
