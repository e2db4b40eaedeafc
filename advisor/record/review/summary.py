"""The answer in sentences: the one line, and the notes under it."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from advisor.planning.words import Words, duration
from advisor.record.review.limits import Found
from advisor.record.review_types import (
    BatchReview,
    FilmReview,
    IntervalReview,
    LimitInForce,
    LimitReview,
    Standing,
    TimeSpan,
)
from advisor.record.review_words import ends, figure
from advisor.record.telling import clock, day_and_clock

#: The rule of what counts as covered, as it is printed with every review.
COVERED = (
    "Counted as read: the time between two readings up to 3 h apart; while mixing and applying "
    "up to 4 h 30 min apart with both inside the limit, since the trade reads about every four "
    "hours; and the half hour beside a reading where a phase begins or ends."
)
#: What a quantity of a limit is called where it was not read.
NAMES = MappingProxyType(
    {
        "air": "air",
        "surface": "surface",
        "hot": "surface",
        "rh": "humidity",
        "margin": "room above dew point",
        "wind": "wind",
        "rain": "rain",
        "trend": "surface trend",
    }
)


def summary(
    standing: Standing,
    found: Sequence[Found],
    others: Sequence[IntervalReview | BatchReview | FilmReview],
    words: Words,
    *,
    ongoing: str = "",
) -> str:
    """Return the one line: where it was outside, what is not known, or the least room left."""
    reviews = [one.review for one in found]
    if standing == "outside":
        told = [_beyond(r, words) for r in reviews if r.standing == "outside"]
        told += [_other(o, words) for o in others if o.standing == "outside"]
        return f"Outside: {'; '.join(told)}."
    if standing == "inside":
        return f"Inside every limit{_least_room(reviews, words)}."
    missing = [*([ongoing] if ongoing else [])]
    missing += [_other(o, words) for o in others if o.standing == "not known"]
    told_missing = [*_missing(found, words), *(f"Not known: {one}" for one in missing)]
    seen = (
        "Inside the limits as far as it was read"
        if any(r.worst is not None for r in reviews)
        else "No reading to go by"
    )
    return ". ".join([*(told_missing or _unjudged(reviews)), f"{seen}."])


def _unjudged(reviews: Sequence[LimitReview]) -> list[str]:
    """Where no gap and nothing else tells why: the limits that no reading was held against."""
    if not reviews:
        return ["Not known: no limit is kept for this coat, so nothing can be compared"]
    open_ones = [r for r in reviews if r.standing == "not known"]
    unread = list(dict.fromkeys(r.limit.label.lower() for r in open_ones if r.worst is None))
    if unread:
        return [f"Not known: {_and(unread)}, since no reading tells of it"]
    named = list(dict.fromkeys(r.limit.label.lower() for r in open_ones))
    what = _and(named) if named else "the whole coat"
    return [f"Not known: {what}, since it is not known when its time was over"]


def _beyond(review: LimitReview, words: Words) -> str:
    assert review.worst is not None
    assert review.worst_at_s is not None
    side, limit = _side(review.limit, review.worst)
    measured = _figure(review.worst, limit, review.limit.unit, words)
    lasted = f" for {duration(review.hours_outside)}" if review.hours_outside > 0 else ""
    return (
        f"{review.limit.label.lower()}{lasted}, worst {measured} at "
        f"{day_and_clock(review.worst_at_s, words)}, "
        f"asked {side} {figure(limit, review.limit.unit, words)} ({review.limit.whose})"
    )


def _side(limit: LimitInForce, value: float) -> tuple[str, float]:
    """The side of a limit that a value is nearest to or beyond, as words."""
    below = None if limit.low is None else value - limit.low
    above = None if limit.high is None else limit.high - value
    if below is not None and limit.low is not None and (above is None or below <= above):
        return "at least", limit.low
    assert limit.high is not None
    return "at most", limit.high


def _figure(value: float, limit: float, unit: str, words: Words) -> str:
    """Put a value beyond its limit so that it never looks as if it were on it."""
    shown = figure(value, unit, words)
    if shown != figure(limit, unit, words):
        return shown
    return f"{'just under' if value < limit else 'just over'} {shown}"


def _other(other: IntervalReview | BatchReview | FilmReview, words: Words) -> str:
    if isinstance(other, IntervalReview):
        return f"interval to {other.previous_name}: {other.text}"
    if isinstance(other, BatchReview):
        return f"batch of {day_and_clock(other.mixed_s, words)}: {other.text}"
    low, high = other.target_um
    asked = " to ".join(f"{v:g}" for v in (low, high) if v is not None)
    return f"{other.film} film {other.mean_um:.0f} µm in the mean, asked {asked} µm"


def _missing(found: Sequence[Found], words: Words) -> list[str]:
    """Name every gap once, with all that was not read in it; one that goes on only by its end."""
    holes: dict[tuple[float, float], list[str]] = {}
    for one in found:
        if one.review.standing == "not known":
            for gap in one.gaps:
                holes.setdefault((gap.from_s, gap.to_s), []).append(NAMES[one.quantity])
    told: list[str] = []
    before_s = None
    for hole, names in sorted(holes.items()):
        what = _and(list(dict.fromkeys(names)))
        if hole[0] == before_s:
            told[-1] += f"; {what} on to {clock(hole[1], words)}"
        else:
            told.append(f"Not read: {what}, from {ends(TimeSpan(*hole), words)}")
        before_s = hole[1]
    return told


def _and(names: Sequence[str]) -> str:
    """Return names in a row: a, b and c."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _least_room(reviews: Sequence[LimitReview], words: Words) -> str:
    """The nearest that the room above the dew point came to its limit."""
    margin = next((r for r in reviews if r.limit.rule == "margin"), None)
    if margin is None or margin.worst is None or margin.worst_at_s is None:
        return ""
    limit = margin.limit.low
    asked = "" if limit is None else f" (limit {words.value(limit, 'K')}, {margin.limit.whose})"
    when = day_and_clock(margin.worst_at_s, words)
    return f"; at least {words.value(margin.worst, 'K')} above dew point, {when}{asked}"
