"""May this coat start? By what is read at the work now, or along a file of conditions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning import explain, soft
from advisor.planning.courses import Courses
from advisor.planning.explain import Reason
from advisor.planning.timeline import mix_temp_c
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.words import Words
from advisor.work.before_start import Preparation, preparation
from advisor.work.coat_setup import CoatSetup
from advisor.work.conditions import HOW_TO_MEASURE, Conditions
from advisor.work.milestones import chance_dry, milestones
from advisor.work.views import Milestone

#: Starts looked at for the latest one: the coming day and night.
AHEAD_STEPS = 3 * 24 * 12
NEEDED = (
    ("air_temp_c", "air temperature"),
    ("dew_point_c", "humidity or dew point"),
    ("surface_temp_c", "surface temperature"),
)


@dataclass(frozen=True)
class CheckAnswer:
    """The verdict of one start with all that stands behind it; None where not known.

    `scope` is "now" (the instant alone) or "through_dew_safe". `must_last_until_s` is the hour
    until which the conditions of the instant must last.
    """

    verdict: Verdict
    scope: str
    chance: float | None
    at_s: float
    dew_point_c: float | None
    frost_point_c: float | None
    margin_k: float | None
    margin_sd_k: float | None
    reasons: tuple[Reason, ...]
    milestones: tuple[Milestone, ...]
    sand_first: bool = False
    must_last_until_s: float | None = None
    latest_start_s: float | None = None
    latest_because: str = ""
    would_turn: str = ""
    warnings: tuple[str, ...] = ()
    required_steps: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    product_name: str = ""


@dataclass(frozen=True)
class Clock:
    """When the start is, what time it is, and how old a value may be to count as now.

    `given` is whether the start was asked for: only then may its readings be old.
    """

    at_s: float
    now_s: float
    given: bool
    stale_after_s: float = 3600.0

    @property
    def later(self) -> bool:
        """Whether the start is still to come."""
        return self.at_s > self.now_s


@dataclass(frozen=True)
class Air:
    """Moisture at one grid point, for the head of an answer."""

    dew_point_c: float | None = None
    frost_point_c: float | None = None
    margin_k: float | None = None
    margin_sd_k: float | None = None
    missing: tuple[str, ...] = field(default=())


def check_through(
    setup: CoatSetup,
    conditions: Conditions,
    clock: Clock,
    words: Words,
    scenarios: Scenarios | Courses | None = None,
) -> CheckAnswer:
    """Judge one start along a series until the film can take dew."""
    series = conditions.series
    start = int(np.floor(series.index_of(clock.at_s)))
    if not 0 <= start < len(series):
        return _outside(setup, conditions, clock, words)
    last = min(len(series), start + AHEAD_STEPS)
    starts = np.arange(start, last, dtype=np.int64)
    judged = judge(setup.case(series), series, starts, scenarios)
    before = preparation(setup, series, replace(clock, at_s=series.time_at(start)), words)
    missing = missing_sentences(air_at(setup, series, start).missing)
    lost = data_reasons([*stale_sentences(conditions, clock, words), *missing])
    return _answer(setup, judged, before, lost, conditions.notes(), words)


def air_at(setup: CoatSetup, series: Series, k: int) -> Air:
    """Dew point, margin and its uncertainty at a grid point, and what is missing there."""
    missing = [name for column, name in NEEDED if np.isnan(getattr(series, column)[k])]
    dew = number(series.dew_point_c[k])
    sd = margin_sd_k(series.air_temp_c[k : k + 1], series.rh_pct[k : k + 1], setup.spread)
    icy = dew is not None and series.wet_point_c[k] > dew
    return Air(
        dew,
        number(series.wet_point_c[k]) if icy else None,
        number(series.margin_k[k]),
        None if np.isnan(series.margin_k[k]) else number(sd[0]),
        tuple(missing),
    )


def number(value: float) -> float | None:
    """Return a float, None for NaN."""
    return None if np.isnan(value) else float(value)


def data_reasons(sentences: list[str]) -> tuple[Reason, ...]:
    """Turn what is not known into reasons."""
    return tuple(
        Reason("data", "start", None, None, None, "", None, "you", text, "Readings")
        for text in sentences
    )


def missing_sentences(missing: tuple[str, ...]) -> list[str]:
    """Say what is missing and how to get it."""
    how = {
        "surface temperature": f"{HOW_TO_MEASURE}; it is never taken from the air",
        "air temperature": "read it in the shade, an arm's length from the work",
        "humidity or dew point": "read a hygrometer that has hung there for half an hour",
    }
    return [f"{name} is not known: {how[name]}" for name in missing]


def moment_only(end_s: float | None, words: Words) -> str:
    """Say that nothing is known of the hours to come; `end_s` is when the film can take dew.

    Both fronts say it with these words: of one reading the command line tells the limits' own
    verdict with the scope "now", while before mixing a go would be a promise, so a close call.
    """
    last = "" if end_s is None else f" until {words.moment(end_s)}"
    return f"for this moment only: it must stay like this{last}, and no outlook says so"


def verdict_of(judged: Verdict, before: Preparation, lost: tuple[Reason, ...]) -> Verdict:
    """Join the rules' verdict with preparation and missing data; the worst counts."""
    if before.broken:
        return Verdict.WAIT
    return max(judged, Verdict.UNKNOWN) if lost else judged


def in_order(*groups: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """Broken first, then what cannot be told, then what holds."""
    order = {False: 0, None: 1, True: 2}
    return tuple(sorted((r for group in groups for r in group), key=lambda r: order[r.holds]))


def stale_sentences(conditions: Conditions, clock: Clock, words: Words) -> list[str]:
    """Say which values are too old to count as now; none when the start was asked for."""
    if clock.given:
        return []
    oldest_s, minutes = clock.now_s - clock.stale_after_s, clock.stale_after_s / 60
    newest = [(name, conditions.newest_s(column)) for column, name in NEEDED]
    return [
        f"{name} was last read at {words.moment(at_s)}, over {minutes:g} min ago: read it again, "
        "or name the start with --at"
        for name, at_s in newest
        if at_s is not None and at_s < oldest_s
    ]


def _outside(setup: CoatSetup, conditions: Conditions, clock: Clock, words: Words) -> CheckAnswer:
    series = conditions.series
    text = (
        f"{conditions.file_name} covers {words.iso(series.start_s)} to {words.iso(series.end_s)}: "
        f"nothing is known at {words.iso(clock.at_s)}"
    )
    before = preparation(setup, series, clock, words)
    lost = data_reasons([text, *stale_sentences(conditions, clock, words)])
    return CheckAnswer(
        verdict_of(Verdict.UNKNOWN, before, lost), "through_dew_safe", None, clock.at_s,
        None, None, None, None, in_order(before.reasons, lost), (),
        would_turn=f"Find out: {text}.", required_steps=before.steps,
        assumptions=setup.assumptions(series), notes=conditions.notes(),
        product_name=setup.product.name,
    )  # fmt: skip


def _answer(
    setup: CoatSetup,
    judged: Judged,
    before: Preparation,
    lost: tuple[Reason, ...],
    notes: tuple[str, ...],
    words: Words,
) -> CheckAnswer:
    series, start = judged.series, int(judged.timeline.starts[0])
    air = air_at(setup, series, start)
    verdict = verdict_of(judged.verdict(0), before, lost)
    mix_c = float(mix_temp_c(judged.case, series.air_temp_c[start : start + 1])[0])
    latest = explain.latest_start(judged, 0) if verdict <= Verdict.BORDERLINE else None
    return CheckAnswer(
        verdict=verdict,
        scope="through_dew_safe",
        chance=None if setup.certain else _chance(judged),
        at_s=series.time_at(start),
        dew_point_c=air.dew_point_c,
        frost_point_c=air.frost_point_c,
        margin_k=air.margin_k,
        margin_sd_k=air.margin_sd_k,
        reasons=in_order(before.reasons, lost, explain.reasons(judged, 0, words)),
        milestones=milestones(judged, 0, mix_c),
        sand_first=judged.sand_first(0),
        latest_start_s=latest,
        latest_because=explain.why_not_later(judged, 0, words) if latest is not None else "",
        would_turn=_turn(judged, before, lost, words),
        warnings=soft.warnings(judged, 0, setup.method, setup.burner,
                               fast_thinner=setup.fast_thinner, words=words),
        required_steps=before.steps,
        assumptions=setup.assumptions(series),
        notes=notes,
        product_name=setup.product.name,
    )  # fmt: skip


def _chance(judged: Judged) -> float | None:
    """Share of the outlook's courses that go well; without an outlook that of staying dry."""
    share = judged.chance(0)
    return chance_dry(judged, 0) if share is None else share


def _turn(judged: Judged, before: Preparation, lost: tuple[Reason, ...], words: Words) -> str:
    """Say what would change the verdict: what comes before any limit first."""
    broken = judged.verdict(0) is Verdict.WAIT
    for reason in (*before.reasons, *lost):
        if reason.holds is False or (reason.rule == "data" and not broken):
            return f"{reason.text[:1].upper()}{reason.text[1:]}."
    return explain.what_would_turn(judged, 0, words)
