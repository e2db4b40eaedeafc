"""Before mixing a batch: may I mix now, how much, until when, and what breaks it?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import STEP_H, Series
from advisor.coatings.batch import BatchPlan, plan_batches
from advisor.coatings.cautions import cautions
from advisor.coatings.film import wet_film_um
from advisor.coatings.product import Product
from advisor.planning import explain
from advisor.planning.case import Case, column_table
from advisor.planning.explain import Reason
from advisor.planning.job import Area, Coat
from advisor.planning.soft import warnings
from advisor.planning.timeline import mix_temp_c
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.words import Words
from advisor.work.before_start import Preparation, preparation
from advisor.work.check import (
    AHEAD_STEPS,
    Clock,
    air_at,
    data_reasons,
    in_order,
    moment_only,
)
from advisor.work.coat_setup import CoatSetup
from advisor.work.milestones import chance_dry, milestones
from advisor.work.views import BeforeMixing

FloatArray = NDArray[np.float64]

#: With less of the coming surface known than this, only the present is judged.
SHORT_STEPS = 12
#: How far conditions are taken to last when nothing is known of the coming hours.
CONSTANT_H = 240.0

#: Reasons told of the start itself, before any limit: wet surface, cold tins, coat below not on.
FIRST = ("dry", "prepared", "previous_coat")


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
    scenarios: Scenarios | None = None

    @cached_property
    def setup(self) -> CoatSetup:
        """The coat as the shared use cases take it. Steel is bare under the first coat only."""
        case = self.case
        first = case.previous is None and not self.below_to_do
        return CoatSetup(
            case.product,
            case.apply_h,
            previous=case.previous,
            site=case.site,
            mix_temp_c=case.mix_temp_c,
            spread=case.spread,
            certain=case.certain,
            method=self.coat.method,
            bare_steel=first and self.area.substrate == "steel",
            dried_s=self.dried_s,
        )


def before_mixing(bench: Bench) -> BeforeMixing:
    """Answer for one coat, now."""
    start = int(np.floor(bench.series.index_of(bench.now_s)))
    known = int(bench.series.next_hole[start]) - start
    now_only = known < SHORT_STEPS
    judged = _judge_now(bench, start) if now_only else _judge_ahead(bench, start)
    clock = Clock(bench.now_s, bench.now_s, given=True)
    before = preparation(bench.setup, bench.series, clock, bench.words)
    told = _told(judged, bench, before, now_only)
    if now_only:
        told = in_order(_moment_only(judged, bench), told)
    return _answer(bench, judged, before, told, now_only)


def _judge_ahead(bench: Bench, start: int) -> Judged:
    last = min(len(bench.series), start + AHEAD_STEPS)
    starts = np.arange(start, last, dtype=np.int64)
    return judge(bench.case, bench.series, starts, bench.scenarios)


def _judge_now(bench: Bench, start: int) -> Judged:
    """Judge the present as if it lasted, so that the tables and clocks can speak.

    What was logged stays, since the coat below cured by it.
    """
    n, series = int(CONSTANT_H / STEP_H), bench.series
    last = max(start, int(series.next_hole[start]) - 1)

    def lasting(values: FloatArray) -> FloatArray:
        return np.concatenate((values[: last + 1], np.full(n, values[last])))

    wind, rain = (None if v is None else lasting(v) for v in (series.wind_m_s, series.rain_mm))
    long = Series(series.start_s, lasting(series.air_temp_c), lasting(series.dew_point_c),
                  lasting(series.surface_temp_c), lasting(series.hot_c), wind, rain)  # fmt: skip
    case = bench.case
    if case.hours_mask is not None:
        mask = np.zeros(len(long), dtype=bool)  # past the known week nobody is counted on
        shared = min(len(mask), len(case.hours_mask))
        mask[:shared] = case.hours_mask[:shared]
        case = replace(case, hours_mask=mask)
    return judge(case, long, np.array([start], dtype=np.int64))


def _chance(judged: Judged) -> float | None:
    """Share of the outlook's courses that hold; without an outlook the chance of staying dry."""
    return chance_dry(judged, 0) if judged.chances is None else judged.chance(0)


def _told(judged: Judged, bench: Bench, before: Preparation, now_only: bool) -> tuple[Reason, ...]:
    told = list(explain.reasons(judged, 0, bench.words))
    if now_only:
        told = [_only_now(reason) for reason in told]
    lost = data_reasons([bench.stale] if bench.stale else [])
    return in_order(_below_reasons(bench), lost, before.reasons, tuple(told))


def _only_now(reason: Reason) -> Reason:
    """Keep what is true at the start; what needs the coming hours is not tested."""
    if reason.rule in ("hold_margin", "wind", "rain"):
        return replace(reason, holds=None, text=f"{reason.title}: not tested, no outlook")
    return reason


def _moment_only(judged: Judged, bench: Bench) -> tuple[Reason, ...]:
    """With nothing known of the coming hours a go would be a promise: a close call at best."""
    end = float(judged.timeline.dew_safe[0])
    text = moment_only(None if np.isnan(end) else judged.series.time_at(end), bench.words)
    return (Reason("data", "to_dew_safe", False, None, None, "", None, "you", text, "Outlook"),)


def _below_reasons(bench: Bench) -> tuple[Reason, ...]:
    if not bench.below_to_do:
        return ()
    text = f"{bench.below_to_do} comes first: it is not on yet"
    return (Reason("previous_coat", "start", False, None, None, "", None, "your job", text,
                   "Coat below"),)  # fmt: skip


def _verdict(told: tuple[Reason, ...], judged: Verdict) -> Verdict:
    if any(r.holds is False and r.phase == "start" and r.rule in FIRST for r in told):
        return Verdict.WAIT
    if any(r.holds is None and r.rule == "data" for r in told):
        return max(judged, Verdict.UNKNOWN)
    alone = any(r.rule == "data" and r.phase == "to_dew_safe" and r.holds is False for r in told)
    return max(judged, Verdict.BORDERLINE) if alone else judged


def _answer(
    bench: Bench,
    judged: Judged,
    before: Preparation,
    told: tuple[Reason, ...],
    now_only: bool,
) -> BeforeMixing:
    verdict = _verdict(told, judged.verdict(0))
    product, series = bench.case.product, judged.series
    at = int(judged.timeline.starts[0])
    sand = judged.sand_first(0)
    open_now = verdict <= Verdict.BORDERLINE
    latest = explain.latest_start(judged, 0) if open_now and not now_only else None
    mix_c = float(mix_temp_c(bench.case, series.air_temp_c[at : at + 1])[0])
    air = air_at(bench.setup, series, at)
    return BeforeMixing(
        coat=bench.coat,
        area=bench.area,
        product_name=product.name,
        at_s=series.time_at(at),
        verdict=verdict,
        sand_first=sand,
        scope="now" if now_only else "through_dew_safe",
        chance=None if now_only else _chance(judged),
        headline=_headline(verdict, sand, told, judged, bench.words),
        dew_point_c=air.dew_point_c,
        frost_point_c=air.frost_point_c,
        margin_k=air.margin_k,
        margin_sd_k=air.margin_sd_k,
        reasons=explain.one_per_title(told),
        latest_start_s=latest,
        latest_because=explain.why_not_later(judged, 0, bench.words) if latest else "",
        next_start_s=None
        if open_now or now_only or bench.stale
        else explain.next_better(judged, 0),
        would_turn=_turn(verdict, told, judged, bench.words),
        milestones=milestones(judged, 0, mix_c),
        batch=None
        if math.isnan(mix_c)
        else batch_plan(product, bench.coat, bench.area, mix_c, series, at),
        warnings=warnings(judged, 0, bench.coat.method, words=bench.words),
        required_steps=before.steps,
        cautions=cautions(product, bench.coat.method, "mix"),
        assumptions=bench.setup.assumptions(series),
    )


def _headline(
    verdict: Verdict, sand: bool, told: tuple[Reason, ...], judged: Judged, words: Words
) -> str:
    wrong = [r for r in told if r.holds is not True]
    bond = [r for r in wrong if sand and r.rule == "previous_coat"]
    first = next(iter(bond or wrong), None)
    end = judged.timeline.dew_safe[0]
    until = "" if np.isnan(end) else words.moment(judged.series.time_at(float(end)))
    if verdict is Verdict.GO:
        return f"every limit holds until it can take dew, {until}" if until else "limits hold now"
    return first.text if first is not None else ""


def _turn(verdict: Verdict, told: tuple[Reason, ...], judged: Judged, words: Words) -> str:
    for reason in told:
        first = reason.rule in FIRST and reason.holds is False
        if reason.phase == "start" and (first or (reason.rule == "data" and not reason.holds)):
            return reason.text[:1].upper() + reason.text[1:] + "."
    return explain.what_would_turn(judged, 0, words)


def batch_plan(
    product: Product, coat: Coat, area: Area, mix_c: float, series: Series, at: int
) -> BatchPlan:
    """How much to mix, in which parts, in how many batches."""
    film = wet_film_um(product.film)
    surface = float(series.surface_temp_c[at])

    def cell(column: str, temp_c: float) -> float | None:
        table = column_table(product, column)
        return None if table is None else table.at_one(temp_c)

    columns = ("open_time_h", "tray_life_h", "scatter_h")
    by_surface = any(column_table(product, name) is not None for name in columns)
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
        surface_unread=math.isnan(surface) and by_surface,
    )
