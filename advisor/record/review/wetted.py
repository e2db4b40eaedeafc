"""Spans with the surface at or below the dew point, and whether they were answered."""

from __future__ import annotations

import numpy as np

from advisor.planning.wetness import LOOK_BACK_S
from advisor.planning.words import Words
from advisor.record.review.stages import Stages
from advisor.record.review.told import SANDED, Told
from advisor.record.review.track import Track, beyond
from advisor.record.review_types import TimeSpan
from advisor.record.telling import day_and_clock

#: A surface this close to its dew point is on it, K (rounding of the dew point).
ON_IT_K = 1e-6
#: What takes water off a painted surface or timber; bare steel is prepared again.
DRIED = ("dried and wiped", *SANDED)


def dips(
    told: Told, stages: Stages, margin: Track, below_s: float | None, *, bare_steel: bool = False
) -> tuple[TimeSpan, ...]:
    """Return the wet spans from the last drying to the film that can take dew.

    Drying is the last that was logged before the first patch, which may be while the batch stands;
    without one the coat below, and no longer ago than a day and a night.
    """
    kinds, first = SANDED if bare_steel else DRIED, told.first_s
    dried = [e.at_s for e in told.prepared_between(-np.inf, first, *kinds)]
    since = [stages.from_s - LOOK_BACK_S, *dried, *([] if below_s is None else [below_s])]
    last = min(stages.dew_safe.likely_s, stages.until_s)
    part = margin.part(TimeSpan(min(max(since), first), max(last, first)))
    return beyond(part, part.value, rounding=-ON_IT_K)


def answers(
    found: tuple[TimeSpan, ...], told: Told, covered_s: float | None, words: Words
) -> tuple[str, ...]:
    """Say of every wet span what it asks for, or when that was done before paint went over it."""
    return tuple(_answer(span, told, covered_s, words) for span in found)


def _answer(span: TimeSpan, told: Told, covered_s: float | None, words: Words) -> str:
    begin = day_and_clock(span.from_s, words)
    until = f" to {day_and_clock(span.to_s, words)}" if span.to_s > span.from_s else ""
    wet = f"surface at or below the dew point, {begin}{until}"
    before = span.from_s < told.first_s
    over_s = told.first_s if before else covered_s
    if not before:
        done = told.prepared_between(span.to_s, np.inf if over_s is None else over_s, *DRIED)
        if done:
            return f"{wet}; {done[0].data['what']} {day_and_clock(done[0].at_s, words)}"
    if over_s is not None:
        return f"{wet}; it was painted over with no drying in the record"
    return f"{wet}: dry it and prepare it again before anything goes over it"
