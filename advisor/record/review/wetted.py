"""Spans with the surface at or below the dew point, and whether they were answered."""

from __future__ import annotations

from advisor.planning.wetness import LOOK_BACK_S
from advisor.planning.words import Words
from advisor.record.review.stages import Stages
from advisor.record.review.told import SANDED, Told
from advisor.record.review.track import Track, beyond
from advisor.record.review_types import TimeSpan
from advisor.record.telling import day_and_clock

#: A surface this close to its dew point is on it, K (rounding of the dew point).
ON_IT_K = 1e-6


def dips(told: Told, stages: Stages, margin: Track, below_s: float | None) -> tuple[TimeSpan, ...]:
    """Return the wet spans from the last preparation to the film that can take dew.

    Preparation is the last that was logged before mixing; without one the coat below, and no
    longer ago than a day and a night.
    """
    logged = [e.at_s for e in told.prepared if e.at_s <= stages.from_s]
    since = [stages.from_s - LOOK_BACK_S, *logged, *([] if below_s is None else [below_s])]
    last = min(stages.dew_safe.likely_s, stages.until_s)
    part = margin.part(TimeSpan(min(max(since), stages.from_s), max(last, stages.from_s)))
    return beyond(part, part.value, rounding=-ON_IT_K)


def answers(found: tuple[TimeSpan, ...], told: Told, words: Words) -> tuple[str, ...]:
    """Say of every wet span what it asks for, or when that was done."""
    return tuple(_answer(span, told, words) for span in found)


def _answer(span: TimeSpan, told: Told, words: Words) -> str:
    begin = day_and_clock(span.from_s, words)
    until = f" to {day_and_clock(span.to_s, words)}" if span.to_s > span.from_s else ""
    wet = f"surface at or below the dew point, {begin}{until}"
    kinds = ("dried and wiped", *SANDED)
    done = [e for e in told.prepared if e.at_s >= span.to_s and e.data.get("what") in kinds]
    if done:
        what, when = done[0].data["what"], day_and_clock(done[0].at_s, words)
        return f"{wet}; {what} {when}"
    return f"{wet}: dry it and prepare it again before anything goes over it"
