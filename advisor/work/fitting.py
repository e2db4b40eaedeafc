"""The shop's response, fitted to its log: when to fit anew, and what is kept of it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np

from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.outdoor_grid import to_grid
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.shop.response import ShopLog
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.skill import Skill
from advisor.planning.job import Job
from advisor.planning.words import duration
from advisor.work import kept_fits
from advisor.work.outlook_basis import DAY_S, place_of, shop_log, weather_until_now
from advisor.work.outlooks import RESPONSE, SKILL

if TYPE_CHECKING:
    from advisor.climate.shop.fit import Fit

#: The log looked at for a fit; older days are of another season.
FIT_DAYS = 45
#: A log that grew by less than this tells nothing new.
REFIT_S = DAY_S


@dataclass(frozen=True, eq=False)
class Ground:
    """What a fit stands on: the job with its shop, a forecast, the name of the readings."""

    job: Job
    forecast: Forecast
    area: str = ""

    @property
    def shop(self) -> Shop:
        """Return the job's shop."""
        return self.job.shop or Shop()


def log_until(store: Store, ground: Ground, now_s: float, days: float) -> ShopLog:
    """Return the shop's log beside the weather of the last days, on the outlook's grid."""
    first_s = int(now_s - days * DAY_S)
    shop, forecast = ground.shop, ground.forecast
    past = weather_until_now(store, forecast, place_of(shop), first_s, now_s)
    return shop_log(store, to_grid(past, first_s, now_s, SCENARIO_STEP_S), ground.area)


def due(store: Store, job: Job, log: ShopLog) -> bool:
    """Whether the log has grown by a day since the last fit."""
    seen = np.flatnonzero(np.isfinite(log.air_temp_c))
    kept = kept_fits.get(store, kept_fits.name(RESPONSE, job))
    if len(seen) == 0 or kept is None:
        return len(seen) > 0
    return int(log.outdoor.time_s[seen[-1]]) - kept.made_s >= REFIT_S


def refit(store: Store, ground: Ground, now_s: float) -> str:
    """Fit anew if the log has grown; say in one line what came of it, nothing if not. Slow."""
    log = log_until(store, ground, now_s, FIT_DAYS)
    if not due(store, ground.job, log):
        return ""
    from advisor.climate.shop.fit import fit_response

    found = fit_response(ground.shop, log)
    keep(store, ground.job, found, now_s)
    if not found.response.fitted:
        return f"The shop's response stays the usual one: {found.response.reason}."
    days = duration(24 * found.response.log_days)
    return f"The shop's response was fitted to {days} of its log."


def keep(store: Store, job: Job, found: Fit, now_s: float) -> None:
    """Keep a fit of this job's shop with its skill."""
    kept_fits.put(store, kept_fits.name(RESPONSE, job), found.response.to_json(), now_s)
    if found.skill is None or not found.response.fitted:
        kept_fits.drop(store, kept_fits.name(SKILL, job))
    else:
        skill = json.dumps(asdict(found.skill))
        kept_fits.put(store, kept_fits.name(SKILL, job), skill, now_s)


def kept_skill(store: Store, job: Job) -> Skill | None:
    """Return the skill of the last fit of this job's shop; None without one."""
    kept = kept_fits.get(store, kept_fits.name(SKILL, job))
    if kept is None:
        return None
    try:
        return Skill(**json.loads(kept.json))
    except (ValueError, TypeError):
        # Written by another version: the next fit brings it back.
        return None
