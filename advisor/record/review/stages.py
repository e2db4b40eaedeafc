"""The phases of a coat that went on: mixing, last patch, tack-free, able to take dew.

Clocks run on the coldest spot as it was read (see `coatings.clocks`). Through a hole nobody can
say how far the film got: then there is the earliest it can have been (its fastest row all through
the hole) and the likeliest (a straight line over it), and neither is told as known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.climate.series import GRID_S, STEP_H, on_grid
from advisor.coatings.clocks import minimum_clock, pause_point_c
from advisor.coatings.product import FILLERS, Product
from advisor.coatings.tables import TimeTable
from advisor.planning.case import column_table, cure_min_c, dew_safe_table
from advisor.planning.timeline import Phase
from advisor.record.review.told import Told
from advisor.record.review.track import Track
from advisor.record.review_types import FloatArray, IntArray, TimeSpan

#: No film is followed longer than this after its last patch.
LONGEST_S = 30 * 86400


@dataclass(frozen=True)
class Moment:
    """A film event. `likely_s` is what is asked for, never sooner than `earliest_s`.

    `known` where both are the same and the readings tell it all the way.
    """

    earliest_s: float
    likely_s: float
    known: bool

    @property
    def told_s(self) -> float | None:
        """The moment where it is known."""
        return self.likely_s if self.known else None


@dataclass(frozen=True)
class Stages:
    """From mixing to the film that takes dew. `until_s` is how far anyone can look back on it.

    That is now, or the coat that went over it. `finished` once its last patch was on.
    """

    from_s: float
    ended_s: float
    tack_free: Moment
    dew_safe: Moment
    until_s: float
    finished: bool = True

    def span(self, phase: Phase) -> TimeSpan:
        """Return the stretch of a phase that is asked for, no further than `until_s`."""
        begin, end = self._ends(phase)
        return _no_later(begin.likely_s, end.likely_s, self.until_s)

    def sure(self, phase: Phase) -> TimeSpan:
        """Return the stretch that was in the phase for certain."""
        begin, end = self._ends(phase)
        return _no_later(begin.likely_s, end.earliest_s, self.until_s)

    def over(self, phase: Phase) -> bool:
        """Whether the end of a phase is known and lies behind."""
        end = self._ends(phase)[1]
        return end.known and end.likely_s <= self.until_s

    def _ends(self, phase: Phase) -> tuple[Moment, Moment]:
        begun, ended = (Moment(s, s, known=self.finished) for s in (self.from_s, self.ended_s))
        return {
            Phase.START: (begun, begun),
            Phase.APPLICATION: (begun, ended),
            Phase.TO_TACK_FREE: (begun, self.tack_free),
            Phase.TO_DEW_SAFE: (begun, self.dew_safe),
            Phase.HOLD: (self.tack_free, self.dew_safe),
        }[phase]


def _no_later(begin_s: float, end_s: float, until_s: float) -> TimeSpan:
    """A stretch up to now; one of no length where it has not begun."""
    return TimeSpan(begin_s, max(begin_s, min(end_s, until_s)))


def stages(
    told: Told, product: Product, surface: Track, now_s: float, covered_s: float | None
) -> Stages:
    """Lay out the phases of a coat; `covered_s` when the next coat was begun over it."""
    assert told.started_s is not None
    if covered_s is not None and told.ended_s is not None:
        covered_s = max(covered_s, told.ended_s)  # begun over while it still went on
    until = now_s if covered_s is None else min(now_s, covered_s)
    ended = until if told.ended_s is None else told.ended_s
    last = min(max(until, ended), ended + LONGEST_S)
    dry = column_table(product, "tack_free_h") or column_table(product, "sandable_h")
    tack = _observed(told, _event(dry, product, surface, ended, last), ended)
    dew = tack
    if product.product_class not in FILLERS:
        dew = _later(_event(dew_safe_table(product), product, surface, ended, last), tack)
    return Stages(told.from_s, ended, _covered(tack, covered_s), _covered(dew, covered_s), until,
                  told.ended_s is not None)  # fmt: skip


def _covered(moment: Moment, covered_s: float | None) -> Moment:
    """A film that was coated over is looked back on no longer: its time ends there."""
    if covered_s is None or moment.earliest_s < covered_s:
        return moment
    return Moment(covered_s, covered_s, known=True)


def _later(moment: Moment, floor: Moment) -> Moment:
    return Moment(
        max(moment.earliest_s, floor.earliest_s),
        max(moment.likely_s, floor.likely_s),
        moment.known and floor.known,
    )


def _observed(told: Told, moment: Moment, ended_s: float) -> Moment:
    """Where the readings do not tell, the touch of a finger does: tack-free by then at latest.

    Before its last patch it was another film that was touched.
    """
    touched = [e for e in told.of("observation") if e.data.get("what") == "tack-free"]
    seen = [e.at_s for e in touched if e.at_s >= ended_s]
    if moment.known or not seen:
        return moment
    at_s = min(seen)
    return Moment(min(moment.earliest_s, at_s), at_s, known=True)


def _event(
    table: TimeTable | None, product: Product, surface: Track, ended_s: float, last_s: float
) -> Moment:
    """Find when ∫ dt/τ reaches one after the last patch; the grid is the rules' own."""
    if table is None or np.isnan(table.hours).all():
        return Moment(ended_s, last_s, known=False)
    first = int(ended_s // GRID_S) * GRID_S
    grid = first + GRID_S * np.arange(int((last_s - first) // GRID_S) + 2, dtype=np.int64)
    read = on_grid(surface.time_s.astype(np.int64), surface.value, grid)
    start = (ended_s - first) / GRID_S

    def when(temp_c: FloatArray) -> float:
        clock = minimum_clock(table, temp_c, cure_min_c(product), STEP_H)
        return first + GRID_S * float(clock.when(np.array([start]))[0])

    exact, holes = when(read), np.flatnonzero(np.isnan(read))
    if not np.isnan(exact) and (not len(holes) or exact <= grid[holes[0]] - GRID_S):
        return Moment(exact, exact, known=True)
    fastest = float(table.temp_c[int(np.nanargmin(table.hours))])
    likely = _or_later(when(_bridged(surface, grid, read, table, product)), last_s)
    earliest = _or_later(when(np.where(np.isnan(read), fastest, read)), last_s)
    return Moment(min(earliest, likely), likely, known=False)


def _bridged(
    surface: Track, grid: IntArray, read: FloatArray, table: TimeTable, product: Product
) -> FloatArray:
    """Draw a line over every hole, no colder than the film dries at: for what is asked alone."""
    coldest = pause_point_c(table, cure_min_c(product))
    coldest = coldest if np.isfinite(coldest) else float(table.temp_c[0])
    if not len(surface):
        return np.full(len(grid), coldest)
    drawn = np.maximum(np.interp(grid, surface.time_s, surface.value), coldest)
    return np.where(np.isnan(read), drawn, read)


def _or_later(moment_s: float, last_s: float) -> float:
    return last_s + GRID_S if np.isnan(moment_s) else moment_s
