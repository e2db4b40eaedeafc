"""The look back on a coat in sentences: limits, interval, batches, film, gaps and dips."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from advisor.base import units as u
from advisor.planning.words import Words, duration
from advisor.record.review_types import (
    BatchReview,
    CoatReview,
    FilmReview,
    LimitInForce,
    LimitReview,
    Standing,
    TimeSpan,
)
from advisor.record.telling import clock, day, day_and_clock

_DIP = (
    "The surface was at or below the dew point. Dry, wipe and prepare again before the next "
    "coat, unless that was logged after it."
)
#: When a limit holds, by the name of its phase.
PHASES: Mapping[str, str] = MappingProxyType({
    "start": "at the start", "application": "until the last patch",
    "to_tack_free": "until it was tack-free", "to_dew_safe": "until it could take dew",
    "hold": "from tack-free until it could take dew",
})  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One finding: what about, how it stands, in words, and smaller words under it."""

    name: str
    standing: Standing
    text: str
    under: str = ""


def limit_line(found: LimitReview, words: Words) -> Line:
    """Return one limit: the worst value and when, the time outside, how much was read."""
    phase = PHASES.get(found.phase, found.phase)
    under = f"asked: {bounds(found.limit, words)} ({found.limit.whose}), {phase}"
    if found.worst is None or found.worst_at_s is None:
        return Line(found.limit.label, found.standing, "no reading in this time", under)
    value = figure(found.worst, found.limit.unit, words)
    told = f"tightest {value}, {day_and_clock(found.worst_at_s, words)}, {found.worst_source}"
    if found.hours_outside > 0:
        told = f"outside for {duration(found.hours_outside)}; {told}"
    if found.hours_known < found.hours_asked - 1 / 120:  # half a minute is rounding, not a gap
        read, asked = duration(found.hours_known), duration(found.hours_asked)
        under += f"; read for {read} of {asked}"
    return Line(found.limit.label, found.standing, told, under)


def figure(value: float, unit: str, words: Words) -> str:
    """Return a value in the reader's unit; hours as a length of time."""
    return duration(value) if unit == "h" else words.value(value, unit)


def bounds(limit: LimitInForce, words: Words) -> str:
    """Return a limit as asked: a range, at least, at most."""
    ends_of = (limit.low, limit.high)
    low, high = (None if x is None else figure(x, limit.unit, words) for x in ends_of)
    if low is not None and high is not None:
        return f"{low} to {high}"
    return f"at least {low}" if low is not None else f"at most {high}" if high is not None else "–"


def span(found: TimeSpan, words: Words) -> str:
    """Return from and to with the length."""
    return f"{ends(found, words)} ({duration(found.hours)})"


def ends(found: TimeSpan, words: Words) -> str:
    """Return day and clock to clock, with its day where it is another."""
    same = day(found.from_s, words) == day(found.to_s, words)
    end = clock(found.to_s, words) if same else day_and_clock(found.to_s, words)
    return f"{day_and_clock(found.from_s, words)} to {end}"


def film_line(found: FilmReview, words: Words) -> Line:
    """Return film readings of one kind with their target."""
    low, mean, high = (
        u.format_film(x, words.units) for x in (found.low_um, found.mean_um, found.high_um)
    )
    told = f"{found.count} readings: {low} to {high}, mean {mean}"
    least, most = (None if x is None else u.format_film(x, words.units) for x in found.target_um)
    asked = f"{least} to {most}" if least and most else least or most
    under = f"target: {asked}" if asked else "no target is known"
    return Line(f"{found.film.capitalize()} film", found.standing, told, under)


def batch_line(found: BatchReview, words: Words) -> Line:
    """Return one batch: when mixed, whether it was used within its pot life."""
    mixed = f"mixed {day_and_clock(found.mixed_s, words)}, entry {found.entry.number}"
    return Line("Batch", found.standing, found.text, mixed)


def lines(review: CoatReview, words: Words) -> tuple[Line, ...]:
    """Return every finding in reading order; gaps and dips stand apart, in `gap_lines`."""
    found = [limit_line(one, words) for one in review.limits]
    if review.interval is not None:
        before = review.interval
        found.append(Line(f"After {before.previous_name}", before.standing, before.text))
    found += [batch_line(one, words) for one in review.batches]
    found += [film_line(one, words) for one in review.films]
    return tuple(found)


def gap_lines(review: CoatReview, words: Words) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return gaps, dips and notes with their headings, those that there are."""
    parts = (
        ("Surface at or below the dew point", tuple(span(d, words) for d in review.dips)),
        ("No reading", tuple(span(gap, words) for gap in review.gaps)),
        ("To know", review.notes),
    )
    found = [(name, texts) for name, texts in parts if texts]
    if review.dips:
        found[0] = (found[0][0], (*found[0][1], _DIP))
    return tuple(found)
