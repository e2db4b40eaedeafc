"""One coat looked back on, from its first mixing until its film could take dew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.planning.case import Previous
from advisor.planning.rules import PRACTICE
from advisor.record.effective import Effective
from advisor.record.entry import Entry
from advisor.record.in_force import TYPICAL, limits_of
from advisor.record.review.batches import asks_batch, batches, films
from advisor.record.review.decision import decision
from advisor.record.review.interval import Below, interval, without_end
from advisor.record.review.limits import Found, asked_of, reviewed
from advisor.record.review.look import Look
from advisor.record.review.notes import notes_of, product_then
from advisor.record.review.observed import readings_of
from advisor.record.review.prepared import prepared
from advisor.record.review.stages import Stages, stages
from advisor.record.review.summary import COVERED, summary
from advisor.record.review.told import SANDED, Told, told
from advisor.record.review.wetted import answers, dips
from advisor.record.review_types import (
    BatchReview,
    CoatReview,
    FilmReview,
    IntervalReview,
    LimitInForce,
    Standing,
    TimeSpan,
)

#: A reading this long before mixing is printed with the coat.
BEFORE_S = 3600
Other = IntervalReview | BatchReview | FilmReview


@dataclass(frozen=True, eq=False)
class Parts:
    """What a review is put together from."""

    tale: Told
    laid: Stages
    limits: tuple[LimitInForce, ...]
    found: tuple[Found, ...]
    unread: tuple[str, ...]
    below: Below | None
    interval: IntervalReview | None
    batches: tuple[BatchReview, ...]
    films: tuple[FilmReview, ...]
    dips: tuple[TimeSpan, ...]
    covered_s: float | None

    @property
    def others(self) -> list[Other]:
        """What counts besides the readings; a wet film is the painter's own check."""
        judged = [f for f in self.films if f.film == "dry" and f.standing != "not known"]
        between = [] if self.interval is None else [self.interval]
        return [*between, *self.batches, *judged]

    @property
    def span(self) -> TimeSpan:
        """The stretch whose readings are printed with the coat."""
        laid = self.laid
        end = min(max(laid.dew_safe.likely_s, laid.tack_free.likely_s), laid.until_s)
        return TimeSpan(laid.from_s - BEFORE_S, max(end, laid.from_s))


def parts_of(look: Look) -> Parts:
    """Work out what a review of a begun coat is made of."""
    tale = told(look.coat, look.record)
    under, over = look.under, look.told_over()
    covered = None if over is None else over.started_s
    laid = stages(tale, look.product, look.tracks.surface, look.now_s, covered)
    limits = tale.limits_then or _limits_now(look)
    below = _below(look, tale, under, laid)
    between = _interval(look, tale, under, below)
    below_s = None if under is None else under.ended_s
    found = [reviewed(a, look.tracks, laid) for a in asked_of(limits, look.product)]
    found += prepared(limits, tale, look)
    unread = [one for one in found if _may_go_unread(one)]
    return Parts(
        tale=tale,
        laid=laid,
        limits=limits,
        found=tuple(one for one in found if one not in unread),
        unread=tuple(one.review.limit.label for one in unread),
        below=below,
        interval=between,
        batches=batches(tale, look.product, look.tracks.air, look.now_s, look.words),
        films=films(tale),
        dips=dips(tale, laid, look.tracks.margin, below_s, bare_steel=_bare_steel(look)),
        covered_s=covered,
    )


def _may_go_unread(found: Found) -> bool:
    """What only practice asks for makes no coat "not known": wind, rain, what is typical."""
    limit = found.review.limit
    if limit.rule in ("trend", "prepared"):
        return limit.whose == TYPICAL and found.review.standing == "not known"
    unread = found.review.worst is None
    return unread and limit.rule in ("wind", "rain") and limit.whose == PRACTICE


def review_coat(look: Look) -> CoatReview:
    """Look back on a coat that was begun; AssertionError where the record knows no start."""
    at = parts_of(look)
    tale, laid, words = at.tale, at.laid, look.words
    assert tale.started_s is not None
    missing = _missing(look, at)
    standing = _overall(at.found, at.others, missing)
    ongoing = _ongoing(laid, missing)
    return CoatReview(
        coat_id=look.coat.id,
        coat_name=look.coat.name,
        area_id=look.coat.area_id,
        area_name=look.job.area(look.coat.area_id).name,
        product_name=product_then(tale, "name") or look.product.name,
        product_revision=product_then(tale, "revision") or look.product.source.revision,
        started_s=tale.started_s,
        ended_s=laid.ended_s,
        tack_free_s=_passed(laid.tack_free.told_s, laid),
        dew_safe_s=_passed(laid.dew_safe.told_s, laid),
        standing=standing,
        summary=summary(standing, at.found, at.others, words, ongoing=ongoing),
        limits=tuple(one.review for one in at.found),
        interval=at.interval,
        batches=at.batches,
        films=at.films,
        gaps=_joined([gap for one in at.found for gap in one.gaps]),
        dips=at.dips,
        decision=decision(tale, look, None if at.below is None else at.below.previous),
        readings=readings_of(look.seen, at.span.from_s, at.span.to_s),
        entries=_entries(look, tale, at),
        notes=(
            *answers(at.dips, tale, at.covered_s, words),
            *notes_of(look, tale, at.span, at.limits, at.unread),
            COVERED,
        ),
    )


def _limits_now(look: Look) -> tuple[LimitInForce, ...]:
    area = look.job.area(look.coat.area_id)
    return limits_of(look.product, look.coat.method, area, look.wind_m_s)


def _bare_steel(look: Look) -> bool:
    steel = look.job.area(look.coat.area_id).substrate == "steel"
    return steel and look.job.below(look.coat) is None


def _below(look: Look, tale: Told, under: Told | None, laid: Stages) -> Below | None:
    """Return the coat below as painted, sanded where that was logged since."""
    if under is None or look.below is None or under.ended_s is None or tale.started_s is None:
        return None
    assert under.started_s is not None
    sanded = bool(tale.prepared_between(under.ended_s, tale.started_s, *SANDED))
    if look.sanded_s is not None:
        sanded = sanded or under.ended_s <= look.sanded_s <= tale.started_s
    previous = Previous(look.below, under.started_s, under.ended_s, look.coat.reverse, sanded)
    area = look.job.area(look.coat.area_id)
    return Below(under.coat.id, under.coat.name, previous, look.below.next_over(look.product),
                 tale.started_s, laid.ended_s, area.outdoors)  # fmt: skip


def _interval(
    look: Look, tale: Told, under: Told | None, below: Below | None
) -> IntervalReview | None:
    if below is not None:
        return interval(below, look.tracks)
    if under is None or under.started_s is None or tale.started_s is None:
        return None
    return without_end(under.coat, tale.started_s, under.started_s)


def _missing(look: Look, at: Parts) -> tuple[str, ...]:
    """Name what the record never had and what no reading can stand for."""
    under, found = look.job.below(look.coat), []
    if not at.batches and asks_batch(look.product):
        found.append("its pot life, since no batch is in the record")
    if under is not None and at.interval is None:
        found.append(f"the time since {under.name}, which is not in the record as on")
    return tuple(found)


def _overall(found: Sequence[Found], others: Sequence[Other], missing: Sequence[str]) -> Standing:
    standings = [*(one.review.standing for one in found), *(one.standing for one in others)]
    if "outside" in standings:
        return "outside"
    return "not known" if missing or not found or "not known" in standings else "inside"


def _passed(moment_s: float | None, laid: Stages) -> float | None:
    """A milestone once it lies behind."""
    return moment_s if moment_s is not None and moment_s <= laid.until_s else None


def _ongoing(laid: Stages, missing: Sequence[str]) -> str:
    """Say why the end of a coat is not known yet, or which part the record never had."""
    if not laid.finished:
        return "it is still going on"
    if laid.tack_free.earliest_s > laid.until_s:
        return "it is not tack-free yet"
    if missing:
        return ". Not known: ".join(missing)
    return "it cannot take dew yet" if laid.dew_safe.earliest_s > laid.until_s else ""


def _joined(gaps: Sequence[TimeSpan]) -> tuple[TimeSpan, ...]:
    found: list[TimeSpan] = []
    for gap in sorted(gaps, key=lambda g: g.from_s):
        if found and gap.from_s <= found[-1].to_s:
            found[-1] = TimeSpan(found[-1].from_s, max(found[-1].to_s, gap.to_s))
        else:
            found.append(gap)
    return tuple(found)


def _entries(look: Look, tale: Told, at: Parts) -> tuple[Entry, ...]:
    """Entries as they were first written: the coat's own, and its readings and preparation.

    Preparation is what was done after the coat below and before this coat's last patch;
    readings are those from that preparation on.
    """
    after_s = -np.inf if at.below is None else at.below.previous.end_s
    prepared = [e for e in tale.prepared if after_s <= e.at_s <= at.laid.ended_s]
    first_s = min([at.span.from_s, *(e.at_s for e in prepared)])
    numbers = {e.number for e in (*prepared, *tale.entries)}
    own = {
        one.entry.number: one.entry
        for one in look.record
        if look.coat.id in (one.entry.coat_id, one.now.coat_id)
        or one.entry.number in numbers
        or (_reading_of(one, look.coat.area_id) and first_s <= one.now.at_s <= at.span.to_s)
    }
    return tuple(own[number] for number in sorted(own))


def _reading_of(one: Effective, area_id: str) -> bool:
    return one.entry.kind == "reading" and one.now.area_id in ("", area_id)
