"""The shop's response, fitted to its log: when to fit anew, and what is kept of it."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np

from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.outdoor_grid import to_grid
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.shop.response import Response, ShopLog
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.skill import Skill
from advisor.planning.words import duration
from advisor.work import kept_fits
from advisor.work.outlook_basis import DAY_S, place_of, shop_log, weather_until_now
from advisor.work.outlooks import RESPONSE, SKILL

#: The log looked at for a fit; older days are of another season.
FIT_DAYS = 45
#: A log that grew by less than this tells nothing new.
REFIT_S = DAY_S


def forget(store: Store) -> None:
    """Drop what was fitted: the shop is another one."""
    kept_fits.drop(store, RESPONSE)
    kept_fits.drop(store, SKILL)


def log_until(store: Store, shop: Shop, forecast: Forecast, now_s: float, days: float) -> ShopLog:
    """Return the shop's log beside the weather of the last days, on the outlook's grid."""
    first_s = int(now_s - days * DAY_S)
    past = weather_until_now(store, forecast, place_of(shop), first_s, now_s)
    return shop_log(store, to_grid(past, first_s, now_s, SCENARIO_STEP_S))


def due(store: Store, log: ShopLog) -> bool:
    """Whether the log has grown by a day since the last fit."""
    seen = np.flatnonzero(np.isfinite(log.air_temp_c))
    kept = kept_fits.get(store, RESPONSE)
    if len(seen) == 0 or kept is None:
        return len(seen) > 0
    return int(log.outdoor.time_s[seen[-1]]) - kept.made_s >= REFIT_S


def refit(store: Store, shop: Shop, forecast: Forecast, now_s: float) -> str:
    """Fit anew if the log has grown; say in one line what came of it, nothing if not. Slow."""
    log = log_until(store, shop, forecast, now_s, FIT_DAYS)
    if not due(store, log):
        return ""
    from advisor.climate.shop.fit import fit_response

    found = fit_response(shop, log)
    keep(store, found.response, found.skill, now_s)
    if not found.response.fitted:
        return f"The shop's response stays the usual one: {found.response.reason}."
    days = duration(24 * found.response.log_days)
    return f"The shop's response was fitted to {days} of its log."


def keep(store: Store, response: Response, skill: Skill | None, now_s: float) -> None:
    """Keep a fit with its skill."""
    kept_fits.put(store, RESPONSE, response.to_json(), now_s)
    if skill is not None:
        kept_fits.put(store, SKILL, json.dumps(asdict(skill)), now_s)


def kept_skill(store: Store) -> Skill | None:
    """Return the skill of the last fit; None without one."""
    kept = kept_fits.get(store, SKILL)
    if kept is None:
        return None
    try:
        return Skill(**json.loads(kept.json))
    except (ValueError, TypeError):
        # Written by another version: the next fit brings it back.
        return None
