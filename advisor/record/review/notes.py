"""What a reader must know of how a review was found, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.planning.case import dew_safe_assumption
from advisor.planning.rules import ASSUMED
from advisor.planning.words import duration
from advisor.record.in_force import TYPICAL
from advisor.record.review.look import Look
from advisor.record.review.observed import impossible
from advisor.record.review.told import Told, numbers_in
from advisor.record.review_types import LimitInForce, TimeSpan
from advisor.record.telling import LATE_S, day_and_clock


def product_then(tale: Told, key: str) -> str:
    """Return what was kept of the product when the coat was begun; empty where nothing."""
    kept = None if tale.decided is None else tale.decided.known.get("product")
    return str(kept.get(key, "")) if isinstance(kept, Mapping) else ""


def notes_of(
    look: Look,
    tale: Told,
    span: TimeSpan,
    limits: Sequence[LimitInForce],
    unread: Sequence[str] = (),
) -> tuple[str, ...]:
    """Say how a review was found; `unread` are names of what nobody read and nobody must."""
    product, notes = look.product, []
    if not tale.limits_then:
        notes.append("no limits were kept with this coat: they are those of the product now")
    if any(limit.whose == TYPICAL for limit in limits):
        notes.append("limits are typical values of its class: no data sheet was entered")
    if any(limit.whose == ASSUMED for limit in limits):
        notes.append("what is an assumption of this program is no limit and was not counted")
    then = product_then(tale, "revision")
    if then and then != product.source.revision:
        now = product.source.revision or "not told"
        notes.append(f"it went on under revision {then}; times are by the file now, {now}")
    if tale.mixed_s is None:
        notes.append("when it was mixed is not in the record: looked at from the first patch on")
    for rule in unread:
        notes.append(f"{rule} was not read; it is no limit of the data sheet and was not counted")
    if dew_safe := dew_safe_assumption(product):
        notes.append(f"when the film can take dew is not on the data sheet; {dew_safe}")
    return (*notes, *_about_readings(look, span, tale))


def _about_readings(look: Look, span: TimeSpan, tale: Told) -> list[str]:
    notes = [*_preparation(look, tale), *_thinner(look, tale), *_weather(look, span)]
    at = (look.seen.time_s >= span.from_s) & (look.seen.time_s <= span.to_s) & look.seen.doubtful
    if at.any():
        many = int(at.sum())
        notes.append(f"{many} doubtful reading{'s' if many > 1 else ''}, shown and counted "
                     "neither way")  # fmt: skip
    written = [
        one
        for one in look.record
        if one.entry.kind == "reading"
        and any(span.from_s <= e.at_s <= span.to_s for e in (one.entry, one.now))
    ]
    own = [*(one.now for one in written), *tale.entries]
    notes += [
        f"entry {one.entry.number}: {odd} cannot be so and was not counted"
        for one in written
        if not one.struck_out
        for odd in impossible(one.now)
    ]
    late = sorted({e.number for e in own if e.late_s > LATE_S})
    if late:
        notes.append(f"written late, over {LATE_S // 60} min after: entries {_list(late)}")
    changed = sorted({one.entry.number for one in written if one.changes})
    if changed:
        notes.append(f"corrected, the value now counts and the first stays to be read: "
                     f"entries {_list(changed)}")  # fmt: skip
    return notes


def _preparation(look: Look, tale: Told) -> list[str]:
    """How long after its preparation the first patch went on, and what the data sheet asks."""
    start = tale.from_s if tale.started_s is None else tale.started_s
    done = tale.prepared_between(look.prepared_from_s, start)
    if not done:
        return []
    what, gone = done[-1].data.get("what", "prepared"), (start - done[-1].at_s) / 3600.0
    prepare = look.product.prepare
    steel = look.job.area(look.coat.area_id).substrate == "steel"
    asked = prepare.bare_steel_within_h if steel else prepare.sanded_within_h
    within = "" if asked is None else f"; the data sheet asks for {duration(asked)} at most"
    return [f"first patch {duration(gone)} after it was {what}{within}"]


def _thinner(look: Look, tale: Told) -> list[str]:
    most = look.product.mix.thinner_max_pct
    return [
        f"entry {number}: {share:g} % thinner, {look.limits_are} allow {most:g} %"
        for share, number in numbers_in(tale.of("batch"), "thinner")
        if share > most
    ]


def _weather(look: Look, span: TimeSpan) -> list[str]:
    """Rain that somebody wrote down outdoors."""
    if not look.job.area(look.coat.area_id).outdoors:
        return []
    wet = [
        one.now
        for one in look.record
        if not one.struck_out
        and span.from_s <= one.now.at_s <= span.to_s
        and one.now.data.get("weather") == "rain"
    ]
    return [f"rain was written down {day_and_clock(e.at_s, look.words)}" for e in wet]


def _list(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)
