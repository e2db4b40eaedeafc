"""Films already down: when they can take dew, what the night does, when the next coat goes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.climate.series import GRID_S, STEP_H, Series
from advisor.coatings.product import Product
from advisor.planning.case import Case, Previous
from advisor.planning.job import Coat, Job, Laid
from advisor.planning.previous import Overcoating, bond
from advisor.planning.words import Words, duration
from advisor.work.views import FilmTonight


@dataclass(frozen=True)
class Film:
    """A coat that is down, with its product and what comes next on the area."""

    coat: Coat
    laid: Laid
    product: Product
    following: Product | None


def film_tonight(job: Job, film: Film, series: Series, words: Words, now_s: float) -> FilmTonight:
    """Answer for one film: dry when, wet when, how far short, what carries it, next coat."""
    dry, take = _milestones(film, series)
    wet, carry, until = _night(film, series, now_s, take)
    next_from, sure, likely = _next_coat(film, series)
    short = None if wet is None or take is None else (take - wet) / 3600
    trouble = wet is not None or (take is None)
    return FilmTonight(
        film.coat,
        job.area(film.coat.area_id),
        film.product.name,
        dry,
        take,
        wet,
        short,
        carry,
        until,
        _headline(take, wet, short, now_s, words),
        _advice(carry, until, take, words),
        next_from,
        sure,
        likely,
        _next_text(film, next_from, sure, likely, now_s, words),
        trouble,
    )


def _milestones(film: Film, series: Series) -> tuple[float | None, float | None]:
    """Tack-free and can-take-dew moments, None where the surface is not known that far."""
    case = Case(film.product, 0.0)
    end = series.index_of(film.laid.end_s)
    if not 0 <= end <= len(series) - 1:
        return None, None
    hole = int(series.next_hole[int(end)])
    found: list[float | None] = []
    for table in (case.table(case.dry_column), case.dew_safe_table):
        event = np.nan
        if table is not None:
            event = float(case.film_clock(table, series.surface_temp_c).when(np.array([end]))[0])
        found.append(series.time_at(event) if event <= hole - 1 else None)
    dry, take = found
    if not case.has_hold or dry is None or take is None:
        return dry, None if case.has_hold else dry
    return dry, max(dry, take)


def _night(
    film: Film, series: Series, now_s: float, take_s: float | None
) -> tuple[float | None, float | None, float | None]:
    """First wet moment, warmth that would carry it, and until when."""
    low = int(np.ceil(max(series.index_of(max(now_s, film.laid.end_s)), 0)))
    end = len(series) - 1 if take_s is None else int(np.floor(series.index_of(take_s)))
    margin = series.margin_k[low : end + 1]
    with np.errstate(invalid="ignore"):
        wet = np.flatnonzero(margin <= 0.0)
        short = np.flatnonzero(margin < film.product.limits.hold_margin_k)
    first = series.start_s + GRID_S * (low + int(wet[0])) if len(wet) else None
    if len(short) == 0:
        return first, None, None
    lack = film.product.limits.hold_margin_k - float(np.nanmin(margin))
    return first, lack, series.start_s + GRID_S * (low + int(short[-1]))


def _next_coat(film: Film, series: Series) -> tuple[float | None, float | None, float | None]:
    """From when, sure until and likely until the next coat bonds without sanding."""
    row = film.product.next_over(film.following) if film.following else None
    first, last = (series.index_of(t) for t in (film.laid.start_s, film.laid.end_s))
    if row is None or row.forbidden or not 0 <= last <= len(series) - 1:
        return None, None, None
    previous = Previous(film.product, film.laid.start_s, film.laid.end_s)
    over = Overcoating.of(previous, row, series)
    points = np.arange(int(np.ceil(last)), len(series), dtype=float)
    late, early = bond(over, first, points), bond(over, last, points)
    ready = np.flatnonzero(~early.early & ~early.unknown)
    closed = np.flatnonzero(late.closed)
    doubtful = np.flatnonzero(late.doubtful | late.closed)
    # A bond is told to last until the last point at which it does, not the first at which not.
    moments = [series.time_at(points[0] + max(0, int(x[0]) - back)) if len(x) else None
               for x, back in ((ready, 0), (doubtful, 1), (closed, 1))]  # fmt: skip
    return moments[0], moments[1], moments[2]


def _headline(
    take_s: float | None, wet_s: float | None, short_h: float | None, now_s: float, words: Words
) -> str:
    if wet_s is not None and short_h is not None:
        return f"Wet at {words.moment(wet_s)}, {duration(short_h)} before it can take dew"
    if wet_s is not None:
        return f"Wet at {words.moment(wet_s)}"
    if take_s is None:
        return "Can't tell when it can take dew: the coming surface is not known that far"
    if take_s <= now_s:
        return f"Could take dew from {words.moment(take_s)}"
    return f"Can take dew from {words.moment(take_s)}"


def _advice(
    carry_k: float | None, until_s: float | None, take_s: float | None, words: Words
) -> str:
    if carry_k is None or until_s is None:
        return "" if take_s is None else "The night leaves it alone: nothing to do."
    warmth = words.value(carry_k, "K")
    end = words.moment(until_s + STEP_H * 3600)
    return f"Cover it clear of the film, or keep the surface {warmth} warmer until {end}."


def _next_text(
    film: Film,
    next_from: float | None,
    sure: float | None,
    likely: float | None,
    now_s: float,
    words: Words,
) -> str:
    if film.following is None:
        return "Last coat on this area."
    if next_from is None:
        return "Next coat: can't tell from the data sheet and the outlook."
    if likely is not None and likely <= now_s:
        return f"The bond closed at {words.moment(likely)}: sand first."
    since = "since" if next_from <= now_s else "from"
    text = f"Next coat {since} {words.moment(next_from)}"
    if sure is not None and sure > now_s:
        text += f", bond sure until {words.moment(sure)}"
    if likely is not None:
        text += f", likely until {words.moment(likely)}, then sand first"
    return text + "."
