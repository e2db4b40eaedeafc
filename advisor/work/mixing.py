"""Before mixing a batch: may I mix now, how much, until when, and what breaks it?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.climate.series import GRID_S, STEP_H, Series
from advisor.coatings.batch import BatchPlan, plan_batches
from advisor.coatings.cautions import cautions
from advisor.coatings.film import wet_film_um
from advisor.coatings.product import Product
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning import explain
from advisor.planning.case import Case, column_table, dew_safe_assumption
from advisor.planning.explain import Reason
from advisor.planning.job import Area, Coat
from advisor.planning.soft import warnings
from advisor.planning.timeline import Phase, mix_temp_c
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.wetness import last_wet_s
from advisor.planning.words import Words
from advisor.work.views import BeforeMixing, Milestone

#: Starts looked at for the latest start and the next good one: three days.
AHEAD_STEPS = 3 * 24 * 12
#: With less of the coming surface known than this, only the present is judged.
SHORT_STEPS = 12
#: How far conditions are taken to last when nothing is known of the coming hours.
CONSTANT_H = 240.0

#: Reasons told of the start itself, before any limit: wet surface, coat below not on.
FIRST = ("dry", "previous_coat")

LABELS = MappingProxyType(
    {
        "mix": "mix",
        "first_patch": "first patch",
        "last_patch": "last patch",
        "batch_dead": "batch is dead",
        "tack_free": "tack-free",
        "sandable": "can be sanded",
        "dew_safe": "can take dew",
    }
)


@dataclass(frozen=True, eq=False)
class Bench:
    """Everything one answer is made from. `stale` says why the readings do not count as now."""

    case: Case
    coat: Coat
    area: Area
    series: Series
    words: Words
    now_s: float
    stale: str = ""
    dried_s: float | None = None
    below_to_do: str = ""


def before_mixing(bench: Bench) -> BeforeMixing:
    """Answer for one coat, now."""
    start = int(np.floor(bench.series.index_of(bench.now_s)))
    known = int(bench.series.next_hole[start]) - start
    now_only = known < SHORT_STEPS
    judged = _judge_now(bench, start) if now_only else _judge_ahead(bench, start)
    told = _told(judged, bench, now_only)
    verdict = _verdict(told, judged.verdict(0), now_only)
    return _answer(bench, judged, told, verdict, now_only)


def _judge_ahead(bench: Bench, start: int) -> Judged:
    last = min(len(bench.series), start + AHEAD_STEPS)
    return judge(bench.case, bench.series, np.arange(start, last, dtype=np.int64))


def _judge_now(bench: Bench, start: int) -> Judged:
    """Judge the present as if it lasted, so that the tables and clocks can speak.

    What was logged stays, since the coat below cured by it.
    """
    n = int(CONSTANT_H / STEP_H)
    air, dew, surface, hot = (
        np.concatenate((values[:start], np.full(n, values[start])))
        for values in (
            bench.series.air_temp_c,
            bench.series.dew_point_c,
            bench.series.surface_temp_c,
            bench.series.hot_c,
        )
    )
    lasting = Series(bench.series.start_s, air, dew, surface, hot)
    case = replace(bench.case, hours_mask=None)
    return judge(case, lasting, np.array([start], dtype=np.int64))


def _told(judged: Judged, bench: Bench, now_only: bool) -> tuple[Reason, ...]:
    told = list(explain.reasons(judged, 0, bench.words))
    if now_only:
        told = [_only_now(reason) for reason in told]
    extra = (_below_reason(bench), _wet_reason(bench), _stale_reason(bench))
    return (*[reason for reason in extra if reason is not None], *told)


def _only_now(reason: Reason) -> Reason:
    """Keep what is true at the start; what needs the coming hours is not tested."""
    if reason.rule in ("hold_margin", "wind", "rain"):
        return replace(reason, holds=None, text=f"{reason.title}: not tested, no outlook")
    return reason


def _stale_reason(bench: Bench) -> Reason | None:
    if not bench.stale:
        return None
    return Reason(
        "data", "start", None, None, None, "", bench.now_s, "you", bench.stale, "Readings"
    )


def _below_reason(bench: Bench) -> Reason | None:
    if not bench.below_to_do:
        return None
    text = f"{bench.below_to_do} comes first: it is not on yet"
    return Reason("previous_coat", "start", False, None, None, "", None, "your job", text,
                  "Coat below")  # fmt: skip


def _wet_reason(bench: Bench) -> Reason | None:
    since = bench.dried_s
    if bench.case.previous is not None:
        since = max(since or 0.0, bench.case.previous.end_s)
    wet = last_wet_s(bench.series, bench.now_s, since, outdoors=bench.area.outdoors)
    if wet is None:
        return None
    steel = bench.area.substrate == "steel"
    todo = "re-prepare bare steel" if steel else "dry and wipe it, then press Dried and wiped"
    text = f"the coldest spot was wet until {bench.words.moment(wet + GRID_S)}: {todo}"
    return Reason(
        "dry", "start", False, None, None, "", wet, "common practice", text, "Dry surface"
    )


def _verdict(told: tuple[Reason, ...], judged: Verdict, now_only: bool) -> Verdict:
    if any(r.holds is False and r.phase == "start" and r.rule in FIRST for r in told):
        return Verdict.WAIT
    stale = any(reason.holds is None and reason.rule == "data" for reason in told)
    return max(judged, Verdict.UNKNOWN) if stale else judged


def _answer(
    bench: Bench, judged: Judged, told: tuple[Reason, ...], verdict: Verdict, now_only: bool
) -> BeforeMixing:
    product, series = bench.case.product, judged.series
    at = int(judged.timeline.starts[0])
    sand = judged.sand_first(0)
    open_now = verdict <= Verdict.BORDERLINE
    latest = explain.latest_start(judged, 0) if open_now and not now_only else None
    mix_c = float(mix_temp_c(bench.case, series.air_temp_c[at : at + 1])[0])
    dew = _number(series.dew_point_c[at])
    return BeforeMixing(
        coat=bench.coat,
        area=bench.area,
        product_name=product.name,
        at_s=bench.now_s,
        verdict=verdict,
        sand_first=sand,
        scope="now" if now_only else "through_dew_safe",
        chance=None if now_only else chance_dry(judged, 0),
        headline=_headline(verdict, sand, told, judged, bench.words),
        dew_point_c=dew,
        frost_point_c=_number(series.wet_point_c[at]) if dew is not None and dew < 0 else None,
        margin_k=_number(series.margin_k[at]),
        margin_sd_k=_sd(bench.case, series, at),
        reasons=explain.one_per_title(told),
        latest_start_s=latest,
        latest_because=explain.why_not_later(judged, 0, bench.words) if latest else "",
        would_turn=_turn(verdict, told, judged, bench.words),
        milestones=milestones(judged, 0, mix_c),
        batch=batch_plan(product, bench.coat, bench.area, mix_c, series, at),
        warnings=warnings(judged, 0, bench.coat.method, words=bench.words),
        required_steps=_steps(bench),
        cautions=cautions(product, bench.coat.method, "mix"),
        assumptions=_assumptions(bench, series),
    )


def _headline(
    verdict: Verdict, sand: bool, told: tuple[Reason, ...], judged: Judged, words: Words
) -> str:
    first = next((r for r in told if r.holds is not True), None)
    end = judged.timeline.dew_safe[0]
    until = "" if np.isnan(end) else words.moment(judged.series.time_at(float(end)))
    if verdict is Verdict.GO:
        return f"every limit holds until it can take dew, {until}" if until else "limits hold now"
    return first.text if first is not None else ""


def _turn(verdict: Verdict, told: tuple[Reason, ...], judged: Judged, words: Words) -> str:
    for reason in told:
        if reason.rule in (*FIRST, "data") and not reason.holds and reason.phase == "start":
            return reason.text[:1].upper() + reason.text[1:] + "."
    return explain.what_would_turn(judged, 0, words)


def milestones(judged: Judged, j: int, mix_c: float | None = None) -> tuple[Milestone, ...]:
    """Moments of one start in time order, with the batch's end."""
    found = [Milestone(name, LABELS[name], at) for name, at in explain.milestones(judged, j)]
    product = judged.case.product
    if not judged.case.has_hold:
        found = [m for m in found if m.name != "dew_safe"]
    note = dew_safe_assumption(product)
    found = [replace(m, note=note) if m.name == "dew_safe" else m for m in found]
    life = column_table(product, "pot_life_h")
    if life is not None and mix_c is not None and found[0].at_s is not None:
        hours = life.at_one(mix_c)
        if math.isfinite(hours):
            dead = found[0].at_s + hours * 3600
            found.append(Milestone("batch_dead", LABELS["batch_dead"], dead))
    return tuple(sorted(found, key=lambda m: math.inf if m.at_s is None else m.at_s))


def batch_plan(
    product: Product, coat: Coat, area: Area, mix_c: float, series: Series, at: int
) -> BatchPlan:
    """How much to mix, in which parts, in how many batches."""
    film = wet_film_um(product.film)
    surface = float(series.surface_temp_c[at])

    def cell(column: str, temp_c: float) -> float | None:
        table = column_table(product, column)
        return None if table is None else table.at_one(temp_c)

    return plan_batches(
        area_m2=area.area_m2,
        pace_m2_per_h=coat.pace_m2_per_h,
        wft_um=None if film is None else sum(film) / 2,
        loss_pct=product.film.loss_pct,
        pot_life_h=cell("pot_life_h", mix_c),
        induction_h=cell("induction_h", mix_c),
        mix_temp_c=mix_c,
        open_time_h=cell("open_time_h", surface),
        tray_life_h=cell("tray_life_h", surface),
        scatter_h=cell("scatter_h", surface),
        ratio=product.mix.ratio,
        ratio_by=product.mix.ratio_by,
        max_batch_kg=product.hazards.exotherm_over_kg,
        density_kg_per_l=product.mix.density_kg_per_l,
    )


def chance_dry(judged: Judged, j: int) -> float | None:
    """Chance that the surface stays above the dew point until the film can take dew."""
    span = judged.timeline.spans[Phase.TO_DEW_SAFE]
    if not span.complete[j]:
        return None
    part = slice(int(span.low[j]), int(span.high[j]) + 1)
    series = judged.series
    sd = margin_sd_k(series.air_temp_c[part], series.rh_pct[part], judged.case.spread)
    worst = float(np.min(series.margin_k[part] / sd))
    return None if math.isnan(worst) else 0.5 * (1.0 + math.erf(worst / math.sqrt(2.0)))


def _steps(bench: Bench) -> tuple[str, ...]:
    prepare, row = bench.case.product.prepare, bench.case.next_row
    steps = []
    if row is not None and row.prepare:
        steps.append(f"over the coat below: {row.prepare}")
    if prepare.sanded_within_h is not None:
        steps.append(f"sanded within {prepare.sanded_within_h:g} h before the start")
    if prepare.bare_steel_within_h is not None and bench.area.substrate == "steel":
        steps.append(f"bare steel coated within {prepare.bare_steel_within_h:g} h")
    if prepare.wipe_flash_off_h is not None:
        steps.append(f"wipe flashed off for {prepare.wipe_flash_off_h * 60:.0f} min")
    return tuple(steps)


def _assumptions(bench: Bench, series: Series) -> tuple[str, ...]:
    found = list(series.assumptions)
    if bench.case.mix_temp_c is None:
        found.append("mix temperature taken as the warmer of shop air and 20 °C")
    note = dew_safe_assumption(bench.case.product)
    if note and bench.case.has_hold:
        found.append(f"can take dew {note}")
    if bench.case.spread.defaults:
        found.append("instrument error: usual figures, enter your makers'")
    return tuple(found)


def _sd(case: Case, series: Series, at: int) -> float | None:
    air, rh = series.air_temp_c[at : at + 1], series.rh_pct[at : at + 1]
    return _number(margin_sd_k(air, rh, case.spread)[0])


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
