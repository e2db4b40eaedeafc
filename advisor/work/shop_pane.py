"""What the Shop pane shows: sources, the shop's response and how well it told the past."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.base.store import Store
from advisor.climate.outlook import Weather, shop_air
from advisor.climate.shop.drift import has_changed
from advisor.climate.shop.observe import state_at_end
from advisor.climate.shop.response import Response, ShopLog, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.skill import Skill
from advisor.planning.words import Words, duration
from advisor.work import fetching, fitting, said
from advisor.work.outlook_basis import DAY_S, STATE_DAYS
from advisor.work.outlook_views import ShopView, SkillView

if TYPE_CHECKING:
    from advisor.work.shop_bench import ShopBench

#: The picture of skill: what would have been said this many days ago, against what happened.
PICTURE_DAYS = 2
#: Days of log a change is looked for in: three, and a week before them to stand on.
CHANGE_DAYS = 10


def shop_view(bench: ShopBench, now_s: float) -> ShopView:
    """Gather everything the pane shows."""
    job = bench.job()
    shop = job.shop if job is not None and job.shop is not None else Shop()
    words = bench.words(now_s)
    response = usual_response(shop) if job is None else bench.outlooks.response(job)
    ground = bench.fit_ground(now_s)
    used = "" if ground is None else ground.forecast.source
    scored = said.scores(bench.store, words, now_s, bench.readings_area)
    return ShopView(
        shop,
        fetching.source_views(bench.store, bench.settings, shop.place, words, now_s, used),
        response_text(response, shop),
        response.fitted,
        facts(response, words),
        _skill(bench.store, ground, response, now_s),
        scored.nights,
        _changed(bench.store, ground, response, now_s),
        response.log_days,
    )


def response_text(response: Response, shop: Shop) -> str:
    """Say in one line what the response rests on."""
    if response.fitted:
        return f"Fitted to {response.log_days:.0f} days of this shop's own log."
    why = f" ({response.reason})" if response.reason else ""
    return (
        f"Usual figures for a {shop.kind} until three days of its own log are there, with the "
        f"weather outdoors of the same days{why}."
    )


def facts(response: Response, words: Words) -> tuple[tuple[str, str], ...]:
    """Return what the response says of the shop, as label and value."""
    heat = response.thermal
    slow_h = 1.0 / heat.fabric_out_per_h if heat.fabric_out_per_h > 0 else float("inf")
    lost = "from its own heater" if response.loss_fitted else "by its kind and size"
    per = "F°" if words.units == "us" else "K"
    loss = response.loss_w_k / (1.8 if words.units == "us" else 1.0)
    return (
        ("Air change", f"{response.air_change_per_h:.1f} an hour"),
        ("Walls and floor follow outdoors in", duration(slow_h)),
        ("Heat lost", f"{loss:.0f} W per {per} ({lost})"),
        ("Damp is held in the fabric for", duration(1.0 / response.moisture.store_air_per_h)),
    )


def _skill(
    store: Store, ground: fitting.Ground | None, response: Response, now_s: float
) -> SkillView | None:
    """Return the figures of the fit, and what it would have said two days ago."""
    skill = None if ground is None else fitting.kept_skill(store, ground.job)
    if skill is None or ground is None:
        return None
    log = fitting.log_until(store, ground, now_s, STATE_DAYS + PICTURE_DAYS)
    return _picture(log, response, skill)


def _picture(log: ShopLog, response: Response, skill: Skill) -> SkillView | None:
    weather = log.outdoor
    steps = PICTURE_DAYS * DAY_S // weather.step_s
    at = len(weather) - 1 - steps
    seen = np.isfinite(log.air_temp_c[: at + 1]) & np.isfinite(log.dew_point_c[: at + 1])
    if at <= 0 or not seen.any():
        return None
    last = int(np.flatnonzero(seen)[-1])
    before, after = log.part(0, last + 1), log.part(last, len(weather))
    told = shop_air(response, Weather(after.outdoor), state_at_end(response, before))
    return SkillView(
        after.outdoor.time_s.astype(float),
        after.air_temp_c,
        told.air_temp_c,
        after.dew_point_c,
        told.dew_point_c,
        skill.air_rmse_k,
        skill.dew_rmse_k,
        skill.air_same_as_now_k,
        skill.dew_same_as_now_k,
        skill.air_same_as_outdoors_k,
        skill.dew_same_as_outdoors_k,
    )


def _changed(store: Store, ground: fitting.Ground | None, response: Response, now_s: float) -> str:
    """Say when the shop seems to have changed since its fit; nothing while it has not."""
    if ground is None or not response.fitted:
        return ""
    log = fitting.log_until(store, ground, now_s, CHANGE_DAYS)
    found = has_changed(response, log)
    return found.text if found else ""
