"""Films already down: when they can take dew, what the night does, when the next coat goes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import STEP_H, Series
from advisor.coatings.product import NextCoat, Product
from advisor.planning.case import Case, Previous, next_table
from advisor.planning.job import Coat, Job, Laid
from advisor.planning.previous import Overcoating, bond
from advisor.planning.rules import NO_RAIN_MM
from advisor.planning.words import Words, duration
from advisor.work.views import FilmTonight

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Film:
    """A coat that is down, with its product and what comes next on the area.

    Both products are as applied by their method. `sanded` is true when this coat was sanded
    since, `reverse` when the following coat begins at this one's last patch.
    """

    coat: Coat
    laid: Laid
    product: Product
    following: Product | None
    sanded: bool = False
    reverse: bool = False


@dataclass(frozen=True)
class _Night:
    """What lies between now and can-take-dew. `missing` says what is not known, and from when."""

    wet_s: float | None = None
    rain_s: float | None = None
    carry_k: float | None = None
    until_s: float | None = None
    missing: str = ""


@dataclass(frozen=True)
class _Next:
    """When the next coat bonds: from, sure until, likely until; UTC s, None where not known."""

    from_s: float | None = None
    sure_s: float | None = None
    likely_s: float | None = None


def film_tonight(job: Job, film: Film, series: Series, words: Words, now_s: float) -> FilmTonight:
    """Answer for one film: dry when, wet when, how far short, what carries it, next coat."""
    area = job.area(film.coat.area_id)
    dry, take = _milestones(film, series)
    night = _night(film, series, now_s, take, area.outdoors, words)
    after = _next_coat(film, series, _following_h(job, film), now_s)
    short = None if night.wet_s is None or take is None else (take - night.wet_s) / 3600
    return FilmTonight(
        film.coat,
        area,
        film.product.name,
        dry,
        take,
        night.wet_s,
        short,
        night.carry_k,
        night.until_s,
        _headline(take, night, short, now_s, words),
        _advice(night, take, words),
        after.from_s,
        after.sure_s,
        after.likely_s,
        _next_text(film, after, now_s, words),
        night.wet_s is not None or take is None or bool(night.missing),
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
    film: Film,
    series: Series,
    now_s: float,
    take_s: float | None,
    outdoors: bool,
    words: Words,
) -> _Night:
    """Look at every grid point from now until the film can take dew."""
    low = int(np.ceil(max(series.index_of(max(now_s, film.laid.end_s)), 0)))
    end = len(series) - 1 if take_s is None else int(np.floor(series.index_of(take_s)))
    part = slice(low, max(low, end + 1))
    margin = series.margin_k[part]
    rain = _rain(series, outdoors)[part]
    with np.errstate(invalid="ignore"):
        raining = rain > NO_RAIN_MM
        wet = np.flatnonzero((margin <= 0.0) | raining)
        short = np.flatnonzero(margin < film.product.limits.hold_margin_k)
    carry, until = None, None
    if len(short):
        carry = film.product.limits.hold_margin_k - float(np.nanmin(margin))
        until = series.time_at(low + int(short[-1]))
    return _Night(
        series.time_at(low + int(wet[0])) if len(wet) else None,
        series.time_at(low + int(np.argmax(raining))) if raining.any() else None,
        carry,
        until,
        _missing(film, series, part, rain, take_s, words),
    )


def _rain(series: Series, outdoors: bool) -> FloatArray:
    """Rain [n] in mm; none under a roof, NaN where it is not known outdoors."""
    if not outdoors:
        return np.zeros(len(series))
    return np.full(len(series), np.nan) if series.rain_mm is None else series.rain_mm


def _missing(
    film: Film,
    series: Series,
    part: slice,
    rain: FloatArray,
    take_s: float | None,
    words: Words,
) -> str:
    """Say what is not known between now and can-take-dew, and from when; empty if all is."""
    columns = {
        "surface temperature": series.surface_temp_c[part],
        "air temperature": series.air_temp_c[part],
        "dew point": series.dew_point_c[part],
        "rain": rain,
    }
    found = []
    for name, values in columns.items():
        gone = np.flatnonzero(np.isnan(values))
        if len(gone):
            found.append(f"{name} from {words.moment(series.time_at(part.start + int(gone[0])))}")
    if found or take_s is not None:
        return ", ".join(found)
    return _why_no_end(film, series, words)


def _why_no_end(film: Film, series: Series, words: Words) -> str:
    """Why can-take-dew is not known although nothing is missing in what lies ahead."""
    if Case(film.product, 0.0).dew_safe_table is None:
        return "when it can take dew, on the data sheet"
    if not 0 <= series.index_of(film.laid.end_s) <= len(series) - 1:
        return "surface temperature since it was laid"
    first = int(np.ceil(series.index_of(film.laid.end_s)))
    if np.isnan(series.surface_temp_c[first:]).any():
        return "surface temperature since it was laid"
    return f"the outlook after {words.moment(series.end_s)}"


def _following_h(job: Job, film: Film) -> float:
    """Hours the next coat on the area takes; as long as this one took, where there is none."""
    above = next((coat for coat in job.coats if job.below(coat) == film.coat), None)
    return (film.laid.end_s - film.laid.start_s) / 3600 if above is None else job.apply_h(above)


def _next_coat(film: Film, series: Series, apply_h: float, now_s: float) -> _Next:
    """From when, sure until and likely until a coat may start to bond without sanding."""
    row = film.product.next_over(film.following) if film.following else None
    first, last = (series.index_of(t) for t in (film.laid.start_s, film.laid.end_s))
    if row is None or row.forbidden:
        return _Next()
    if not 0 <= last <= len(series) - 1:
        return _Next(likely_s=_surely_closed_s(film, row, now_s))
    previous = Previous(film.product, film.laid.start_s, film.laid.end_s, film.reverse, film.sanded)
    over = Overcoating.of(previous, row, series)
    points = np.arange(int(np.ceil(last)), len(series), dtype=float)
    early = bond(over, last, points)
    late = [bond(over, *patch) for patch in _patches(film, (first, last), points, apply_h)]
    ready = np.flatnonzero(~early.early & ~early.unknown)
    closed = late[0].closed | late[1].closed
    doubtful = late[0].doubtful | late[1].doubtful | closed
    return _Next(
        series.time_at(float(points[int(ready[0])])) if len(ready) else None,
        _last_before(doubtful, points, series),
        _last_before(closed, points, series),
    )


def _patches(
    film: Film, painted: tuple[float, float], points: FloatArray, apply_h: float
) -> tuple[tuple[float, FloatArray], tuple[float, FloatArray]]:
    """When the first and last patch were painted, and when starts at `points` [m] reach them."""
    end = points + apply_h / STEP_H
    reach = (end, points) if film.reverse else (points, end)
    return (painted[0], reach[0]), (painted[1], reach[1])


def _last_before(over: NDArray[np.bool_], points: FloatArray, series: Series) -> float | None:
    """Return the last moment at which a bond holds, not the first at which not."""
    found = np.flatnonzero(over)
    return series.time_at(float(points[max(0, int(found[0]) - 1)])) if len(found) else None


def _surely_closed_s(film: Film, row: NextCoat, now_s: float) -> float | None:
    """When the bond of a film older than the series closed even in the cold, if it did."""
    table = next_table(film.product, () if film.sanded else row.max_h, runs_out=True)
    if table is None or table.one_row:
        return None
    closed = film.laid.start_s + float(np.max(table.hours)) * 3600
    return closed if closed <= now_s else None


def _headline(
    take_s: float | None, night: _Night, short_h: float | None, now_s: float, words: Words
) -> str:
    if night.wet_s is not None:
        what = "Rain" if night.wet_s == night.rain_s else "Wet"
        text = f"{what} at {words.moment(night.wet_s)}"
        return text if short_h is None else f"{text}, {duration(short_h)} before it can take dew"
    if take_s is None:
        return "Can't tell when it can take dew"
    if night.missing:
        return f"Can't tell whether it stays dry until {words.moment(take_s)}, when it can take dew"
    if take_s <= now_s:
        return f"Could take dew from {words.moment(take_s)}"
    return f"Can take dew from {words.moment(take_s)}"


def _advice(night: _Night, take_s: float | None, words: Words) -> str:
    told = []
    if night.rain_s is not None:
        told.append(f"Cover it clear of the film before the rain at {words.moment(night.rain_s)}.")
    elif night.carry_k is not None and night.until_s is not None:
        warmth = words.value(night.carry_k, "K")
        end = words.moment(night.until_s + STEP_H * 3600)
        told.append(f"Cover it clear of the film, or keep the surface {warmth} warmer until {end}.")
    if night.missing:
        told.append(f"Missing: {night.missing}.")
    if told or take_s is None:
        return " ".join(told)
    return "The night leaves it alone: nothing to do."


def _next_text(film: Film, after: _Next, now_s: float, words: Words) -> str:
    if film.following is None:
        return "Last coat on this area."
    row = film.product.next_over(film.following)
    if row is not None and row.forbidden:
        what = row.prepare or "test patch and barrier coat"
        return f"Next coat: these two do not go together: {what}."
    if after.likely_s is not None and after.likely_s <= now_s:
        return f"The bond closed at {words.moment(after.likely_s)}: sand first."
    if after.from_s is None:
        return "Next coat: can't tell from the data sheet and the outlook."
    since = "since" if after.from_s <= now_s else "from"
    text = f"Next coat {since} {words.moment(after.from_s)}"
    if after.sure_s is not None and after.sure_s > now_s:
        text += f", bond sure until {words.moment(after.sure_s)}"
    if after.likely_s is not None:
        text += f", likely until {words.moment(after.likely_s)}, then sand first"
    return text + "."
