"""One limit against plain readings over its phase."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.coatings.product import WATERBORNE, Product
from advisor.planning.rules import ASSUMED
from advisor.planning.timeline import Phase
from advisor.record.in_force import CURE
from advisor.record.review.observed import Observed
from advisor.record.review.stages import Stages
from advisor.record.review.track import (
    ROUND_S,
    ROUNDING,
    BoolArray,
    Track,
    Tracks,
    among,
    beyond,
    uncovered,
)
from advisor.record.review_types import (
    FloatArray,
    LimitInForce,
    LimitReview,
    Standing,
    TimeSpan,
)


@dataclass(frozen=True)
class Asked:
    """A limit over the phase it holds in, by the name of its quantity in `Tracks`."""

    limit: LimitInForce
    phase: Phase
    quantity: str


@dataclass(frozen=True)
class Found:
    """A review of one limit, and the stretches of its phase that no reading covers."""

    review: LimitReview
    quantity: str
    gaps: tuple[TimeSpan, ...]


#: Limits that a review asks after, and the quantity each is about.
_QUANTITY: Mapping[str, str] = MappingProxyType({
    "air_temp": "air", "surface_temp": "surface", "humidity": "rh", "margin": "margin",
    "hold_margin": "margin", "trend": "trend", "wind": "wind", "rain": "rain",
})  # fmt: skip
#: Rules of the limits that readings are held against.
RULES = frozenset(_QUANTITY)


def asked_of(limits: Iterable[LimitInForce], product: Product) -> tuple[Asked, ...]:
    """Return what readings are held against; an assumption of this program is no limit."""
    given = [limit for limit in limits if limit.rule in _QUANTITY and limit.whose != ASSUMED]
    cure = any(limit.label == CURE for limit in given)
    return tuple(
        Asked(side, _phase(side, product, cure), _quantity(side))
        for limit in given
        for side in _sides(limit)
    )


def _sides(limit: LimitInForce) -> Iterator[LimitInForce]:
    """Part a limit whose two sides hold over different phases; nothing where it asks nothing."""
    low, high = limit.low, limit.high
    if limit.rule == "humidity":
        low = None if low is not None and low <= 0 else low
        high = None if high is not None and high >= 100 else high
    if limit.rule not in ("surface_temp", "humidity") and (low is not None or high is not None):
        yield replace(limit, low=low, high=high)
        return
    if high is not None:
        yield replace(limit, low=None, high=high)
    if low is not None:
        yield replace(limit, low=low, high=None)


def _phase(limit: LimitInForce, product: Product, cure: bool) -> Phase:
    """The phases of the rules (design, section 4)."""
    waterborne = product.product_class in WATERBORNE
    if limit.rule in ("air_temp", "trend"):
        return Phase.APPLICATION
    if limit.rule == "surface_temp":
        if limit.high is not None or (cure and limit.label != CURE):
            return Phase.APPLICATION
        return Phase.TO_DEW_SAFE if waterborne else Phase.TO_TACK_FREE
    if limit.rule == "humidity" and limit.low is not None:
        long = waterborne or product.limits.rh_floor_until == "tack_free"
        return Phase.TO_TACK_FREE if long else Phase.APPLICATION
    return {"hold_margin": Phase.HOLD, "rain": Phase.TO_DEW_SAFE}.get(
        limit.rule, Phase.TO_TACK_FREE
    )


def _quantity(limit: LimitInForce) -> str:
    hot = limit.rule == "surface_temp" and limit.high is not None
    return "hot" if hot else _QUANTITY[limit.rule]


def reviewed(asked: Asked, tracks: Tracks, stages: Stages) -> Found:
    """Hold the readings of one quantity against a limit over its phase."""
    track: Track = getattr(tracks, asked.quantity)
    span, sure = stages.span(asked.phase), stages.sure(asked.phase)
    inside = slack_of(asked.limit, track.value) >= -ROUNDING
    gaps = uncovered(track, inside, span, stages.ended_s)
    within = track.part(sure)
    out = beyond(within, slack_of(asked.limit, within.value))
    worst = _worst(asked.limit, track, span, tracks.seen)
    missing_h = sum(gap.hours for gap in gaps)
    review = LimitReview(
        limit=asked.limit,
        phase=asked.phase.value,
        standing=_standing(out, gaps, stages.over(asked.phase), worst is not None),
        outside=out,
        worst=None if worst is None else worst[1],
        worst_at_s=None if worst is None else worst[0],
        worst_source="" if worst is None else tracks.seen.source_at(worst[0]),
        hours_known=span.hours - missing_h,
        hours_asked=span.hours,
    )
    return Found(review, asked.quantity, gaps)


def slack_of(limit: LimitInForce, value: FloatArray) -> FloatArray:
    """How far inside the limit each value is; negative beyond it."""
    slack = np.full(len(value), np.inf)
    if limit.low is not None:
        slack = np.minimum(slack, value - limit.low)
    if limit.high is not None:
        slack = np.minimum(slack, limit.high - value)
    return slack


def _worst(
    limit: LimitInForce, track: Track, span: TimeSpan, seen: Observed
) -> tuple[float, float] | None:
    """Moment and value nearest to the limit, or furthest beyond it, of what covers the phase.

    Of equal ones the first that was read itself.
    """
    part = track.part(span)
    if not len(part):
        near = _around(track, span)
        part = Track(track.time_s[near], track.value[near], track.joined[:0])
    if not len(part):
        return None
    slack = slack_of(limit, part.value)
    least = np.flatnonzero(slack <= np.min(slack) + ROUNDING)
    read = least[among(part.time_s[least], seen.time_s)]
    at = int((read if len(read) else least)[0])
    return float(part.time_s[at]), float(part.value[at])


def _around(track: Track, span: TimeSpan) -> BoolArray:
    """The readings just before and after a phase that lies between them."""
    near = (track.time_s >= span.from_s - ROUND_S) & (track.time_s <= span.to_s + ROUND_S)
    places = np.flatnonzero(near)
    before = places[track.time_s[places] <= span.from_s][-1:]
    after = places[track.time_s[places] >= span.to_s][:1]
    chosen = np.zeros(len(track), dtype=bool)
    chosen[before] = chosen[after] = True
    return chosen


def _standing(
    out: tuple[TimeSpan, ...], gaps: tuple[TimeSpan, ...], over: bool, any_value: bool
) -> Standing:
    if out:
        return "outside"
    return "inside" if over and not gaps and any_value else "not known"
