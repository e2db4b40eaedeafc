"""The instant alone: what was read at the work, taken to last until the film can take dew."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.readings import Origin
from advisor.climate.series import STEP_H, Series
from advisor.coatings.product import Limits, Product, Times
from advisor.physics import moist_air
from advisor.physics.uncertainty import SensorSpread, chance_above
from advisor.planning import explain, soft
from advisor.planning.explain import PHASE_WORDS, Reason
from advisor.planning.limits import Along, AtStart, Outcome, Test
from advisor.planning.rules import PRACTICE
from advisor.planning.timeline import Phase, Timeline, mix_temp_c
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.words import Words
from advisor.work.before_start import preparation
from advisor.work.bond_now import bond_now
from advisor.work.check import (
    CheckAnswer,
    Clock,
    air_at,
    data_reasons,
    in_order,
    missing_sentences,
    number,
    verdict_of,
)
from advisor.work.coat_setup import CoatSetup
from advisor.work.milestones import milestones
from advisor.work.views import Milestone, Reading

FloatArray = NDArray[np.float64]

#: Rules that one reading decides; the others need the hours to come or gone by.
AT_THE_INSTANT = frozenset(
    {"air_temp", "table", "pot_life", "surface_temp", "humidity", "margin", "hours"}
)
#: Without a product: the limits of common practice, 3 K over the dew point and 85 % humidity.
COMMON = Product(
    id="",
    name="no product: common practice",
    product_class="",
    status="from data sheet",
    limits=Limits(rh_pct=(0.0, 85.0)),
    times=Times((20.0,), {}),
)
#: Nobody counts on the same air for longer.
LONGEST_H = 90 * 24.0


def lasting_series(reading: Reading, hours: float) -> Series:
    """Return a series of the reading lasting for hours; NaN where nothing was read.

    RangeError for RH or temperatures that cannot be. It starts at the reading, off the grid.
    """
    count = math.ceil(hours / STEP_H) + 2
    air, rh = reading.air_temp_c, reading.rh_pct
    dew = None if air is None or rh is None else float(moist_air.dew_point_c(air, rh))
    hot = reading.surface_hot_c

    def along(value: float | None) -> FloatArray:
        return np.full(count, np.nan if value is None else value)

    return Series(
        int(reading.taken_s), along(air), along(dew), along(reading.surface_temp_c),
        None if hot is None else along(hot),
    )  # fmt: skip


def check_now(
    setup: CoatSetup,
    reading: Reading,
    words: Words,
    *,
    now_s: float,
    stale: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> CheckAnswer:
    """Judge the instant of a reading. `stale` says why it does not count as now, `notes` the rest.

    The moments told assume that these conditions last.
    """
    series = lasting_series(reading, _hours_needed(setup, reading))
    lasting = judge(setup.case(series), series, np.zeros(1, dtype=np.int64))
    judged = _at_the_instant(lasting)
    air = air_at(setup, series, 0)
    before = preparation(setup, series, Clock(reading.taken_s, now_s, given=True), words)
    lost = data_reasons([*stale, *missing_sentences(air.missing)])
    bond = bond_now(setup, reading, lasting, words)
    first = (*before.reasons, *lost, *bond.reasons)
    return CheckAnswer(
        verdict=max(verdict_of(judged.verdict(0), before, lost), bond.verdict),
        scope="now",
        chance=_chance(judged),
        at_s=reading.taken_s,
        dew_point_c=air.dew_point_c,
        frost_point_c=air.frost_point_c,
        margin_k=air.margin_k,
        margin_sd_k=air.margin_sd_k,
        reasons=in_order(first, explain.reasons(judged, 0, words), _untested(lasting, words)),
        milestones=_milestones(lasting),
        sand_first=bond.sand_first,
        must_last_until_s=_lasts_until(lasting),
        would_turn=_turn(judged, first, words),
        warnings=soft.warnings(lasting, 0, setup.method, setup.burner,
                               fast_thinner=setup.fast_thinner, words=words),
        required_steps=before.steps,
        assumptions=(*setup.assumptions(series), "these conditions last: nothing is known of the "
                     "hours to come (give --conditions)"),
        notes=notes,
        product_name=setup.product.name,
    )  # fmt: skip


def check_common(
    spread: SensorSpread,
    reading: Reading,
    words: Words,
    *,
    certain: bool = False,
    stale: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> CheckAnswer:
    """Judge a reading by common practice alone: 3 K above the dew point, RH up to 85 %."""
    setup = CoatSetup(COMMON, spread=spread, certain=certain)
    series = lasting_series(reading, 0.0)
    judged = _by_practice(judge(setup.case(series), series, np.zeros(1, dtype=np.int64)))
    air = air_at(setup, series, 0)
    lost = data_reasons([*stale, *missing_sentences(air.missing)])
    verdict = judged.verdict(0)
    return CheckAnswer(
        verdict=verdict if verdict is Verdict.WAIT or not lost else Verdict.UNKNOWN,
        scope="now",
        chance=_chance(judged),
        at_s=reading.taken_s,
        dew_point_c=air.dew_point_c,
        frost_point_c=air.frost_point_c,
        margin_k=air.margin_k,
        margin_sd_k=air.margin_sd_k,
        reasons=in_order(lost, explain.reasons(judged, 0, words)),
        milestones=(),
        would_turn=_turn(judged, lost, words),
        assumptions=("no product named: the limits of common practice alone",),
        notes=notes,
    )


def reading_at(series: Series, at_s: float) -> Reading:
    """Return what a series says at the grid point before a moment; None where it has nothing."""
    k = int(np.floor(series.index_of(at_s)))
    if not 0 <= k < len(series):
        return Reading(at_s)
    hot = None if series.surface_hot_c is None else number(series.surface_hot_c[k])
    return Reading(
        series.time_at(k),
        number(series.air_temp_c[k]),
        None if np.isnan(series.rh_pct[k]) else min(float(series.rh_pct[k]), 100.0),
        number(series.surface_temp_c[k]),
        hot,
        Origin.IMPORTED,
    )


def _hours_needed(setup: CoatSetup, reading: Reading) -> float:
    """Hours from the start until the film can take dew in these conditions, and a little more."""
    case = setup.case(lasting_series(replace(reading, rh_pct=None), 0.0))
    surface, air = reading.surface_temp_c, reading.air_temp_c
    if surface is None or air is None or surface < case.pause_point_c:
        return setup.apply_h + 1.0
    mix_c = float(mix_temp_c(case, np.array([air]))[0])
    induction = case.table("induction_h")
    film = [case.table(case.dry_column), case.dew_safe_table]
    hours = [0.0 if induction is None else induction.at_one(mix_c), setup.apply_h, 1.0]
    hours.append(max((table.at_one(surface) for table in film if table is not None), default=0.0))
    total = sum(hour for hour in hours if math.isfinite(hour))
    return min(total, LONGEST_H)


def _at_the_instant(lasting: Judged) -> Judged:
    """Keep what one reading decides, tested at the start alone."""
    tests: dict[object, Test] = {}
    for test in lasting.tests:
        if isinstance(test, AtStart):
            if test.rule == "data":
                tests[test.rule] = test
        elif isinstance(test, Along) and test.rule in AT_THE_INSTANT:
            # The crew's hours are known ahead, so they are tested to the last patch.
            phase = Phase.APPLICATION if test.rule == "hours" else Phase.START
            key = (test.rule, test.quantity, test.limit, test.at_least)
            tests[key] = replace(test, phase=phase)
    return _judged_by(lasting, tuple(tests.values()))


def _by_practice(lasting: Judged) -> Judged:
    tests = tuple(
        replace(test, phase=Phase.START, whose=PRACTICE)
        for test in lasting.tests
        if isinstance(test, Along) and test.rule in ("margin", "humidity")
    )
    return _judged_by(lasting, tests)


def _judged_by(lasting: Judged, tests: tuple[Test, ...]) -> Judged:
    outcomes = tuple(_outcome(test, lasting.timeline) for test in tests)
    worst = Verdict.GO
    for outcome in outcomes:
        if outcome.broken[0]:
            worst = Verdict.WAIT
        elif outcome.unknown[0]:
            worst = max(worst, Verdict.UNKNOWN)
        elif outcome.caution is not None and outcome.caution[0]:
            worst = max(worst, Verdict.BORDERLINE)
    return replace(
        lasting, tests=tests, outcomes=outcomes, verdicts=np.array([worst], dtype=np.int8)
    )


def _outcome(test: Test, line: Timeline) -> Outcome:
    return test.outcome(line.spans[test.phase]) if isinstance(test, Along) else test.outcome()


def _untested(lasting: Judged, words: Words) -> tuple[Reason, ...]:
    """Rules that need the hours to come or gone by, told as not tested."""
    found = []
    for test in lasting.tests:
        if isinstance(test, Along) and test.rule not in AT_THE_INSTANT:
            side = "needs" if test.at_least else "limit"
            text = (
                f"{test.quantity}: {side} {words.value(test.limit, test.unit)} "
                f"{PHASE_WORDS[test.phase]} ({test.whose}); not tested, one reading only"
            )
            found.append(Reason(test.rule, test.phase, None, None, test.limit, test.unit, None,
                                test.whose, text))  # fmt: skip
    return tuple(found)


def _chance(judged: Judged) -> float | None:
    """Chance that the surface is above the dew point at this instant, by the instruments."""
    for test in judged.tests:
        if isinstance(test, Along) and test.soft:
            return chance_above(float(test.values[0]))
    return None


def _milestones(lasting: Judged) -> tuple[Milestone, ...]:
    mix_c = float(mix_temp_c(lasting.case, lasting.series.air_temp_c[:1])[0])
    return milestones(lasting, 0, None if math.isnan(mix_c) else mix_c)


def _lasts_until(lasting: Judged) -> float | None:
    end = float(lasting.timeline.dew_safe[0])
    return None if math.isnan(end) else lasting.series.time_at(end)


def _turn(judged: Judged, first: tuple[Reason, ...], words: Words) -> str:
    broken = judged.verdict(0) is Verdict.WAIT
    for reason in first:
        if reason.holds is False or (reason.rule == "data" and not broken):
            return f"{reason.text[:1].upper()}{reason.text[1:]}."
    text = explain.what_would_turn(judged, 0, words)
    return "Wait until every limit holds." if text == "Nothing in this outlook." else text
