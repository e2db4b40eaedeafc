"""What was decided then, beside what the rules say of the same start with what was read since."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from advisor.climate.series import GRID_S, Series, on_grid
from advisor.planning.case import Case, Previous, Site
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.record.entry import moment_of
from advisor.record.review.look import Look
from advisor.record.review.told import Told, numbers_in
from advisor.record.review_types import Decision
from advisor.record.telling import day_and_clock

#: How far past the last patch the rules look on.
AHEAD_S = 5 * 86400
#: Verdicts as people read them, by their names in JSON.
WORDS = MappingProxyType(
    {
        "go": "go",
        "borderline": "close call",
        "wait": "wait",
        "unknown": "can't tell",
        "sand first": "sand first",
    }
)

#: What each rule is about, in words.
RULES = MappingProxyType(
    {
        "air_temp": "air",
        "surface_temp": "surface",
        "table": "the data sheet's table",
        "pot_life": "pot life",
        "humidity": "humidity",
        "margin": "above dew point",
        "hold_margin": "above dew point until it can take dew",
        "trend": "surface trend",
        "previous_coat": "the coat below",
        "data": "typical values",
    }
)


def decision(tale: Told, look: Look, previous: Previous | None) -> Decision | None:
    """Return both verdicts; None where nothing was kept of what was shown."""
    begun = tale.decided
    if begun is None or tale.started_s is None:
        return None
    then = str(begun.known.get("verdict", ""))
    then_s = moment_of(begun.known.get("shown_at")) or begun.at_s
    judged = _judged(tale, look, previous)
    now = "sand first" if judged.sand_first(0) else judged.verdict(0).json
    why = _why(judged)
    said = f"{WORDS.get(then, then)} was shown {day_and_clock(then_s, look.words)}" if then else (
        "no answer had been asked for when it was begun"
    )  # fmt: skip
    text = f"{said}; the rules with what was read since say {WORDS.get(now, now)}{why}"
    return Decision(then, then_s if then else None, now, text)


def _judged(tale: Told, look: Look, previous: Previous | None) -> Judged:
    series = _series(tale, look, previous)
    start = int(np.floor(series.index_of(tale.from_s)))
    return judge(_case(tale, look, previous), series, np.array([start], dtype=np.int64))


def _case(tale: Told, look: Look, previous: Previous | None) -> Case:
    """The coat as it went on: its own hours, its own mix; measured values alone, no spread."""
    area = look.job.area(look.coat.area_id)
    assert tale.started_s is not None
    ended = tale.ended_s if tale.ended_s is not None else look.now_s
    entered = numbers_in(tale.of("batch"), "mix_temp")
    wind = look.wind_m_s if area.outdoors else None
    return Case(
        look.product,
        max(0.0, ended - tale.started_s) / 3600.0,
        previous,
        Site(area.outdoors, wind, area.trend),
        mix_temp_c=entered[0][0] if entered else None,
        certain=True,
    )


def _series(tale: Told, look: Look, previous: Previous | None) -> Series:
    """What was read, on the grid, from the coat below to well past the last patch."""
    first = tale.from_s if previous is None else min(previous.start_s, tale.from_s)
    begin = int(first // GRID_S) * GRID_S - 2 * GRID_S
    last = min(look.now_s, (tale.ended_s or look.now_s) + AHEAD_S)
    grid = np.arange(begin, int(max(last, tale.from_s) // GRID_S + 2) * GRID_S, GRID_S)
    tracks, times = look.tracks, look.seen.time_s

    def laid(name: str) -> np.ndarray:
        return on_grid(times, look.seen.sure(name), grid)

    dew = on_grid(times, tracks.dew, grid)
    hot = on_grid(tracks.hot.time_s.astype(np.int64), tracks.hot.value, grid)
    wind, rain = laid("wind_m_s"), laid("rain_mm")
    return Series(
        begin, laid("air_temp_c"), dew, laid("surface_temp_c"), hot,
        None if np.isnan(wind).all() else wind, None if np.isnan(rain).all() else rain,
    )  # fmt: skip


def _why(judged: Judged) -> str:
    """Name the rules that make it so."""
    verdict = judged.verdict(0)
    rules = {
        Verdict.WAIT: judged.broken(0),
        Verdict.UNKNOWN: judged.unknowns(0),
        Verdict.BORDERLINE: judged.cautions(0),
    }.get(verdict, [])
    names = dict.fromkeys(RULES.get(rule, rule) for rule in rules)
    return f" ({', '.join(names)})" if names else ""
