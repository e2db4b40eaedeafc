"""The time to the coat below, per patch: by the clock, and what the data sheet's rows say of it.

The minimum is the running clock on the coldest spot; the maximum is read twice, by the row of
the hottest hour since the patch was painted (the rule of public specifications) and by its clock,
as in `planning.previous`. Between those two nothing is refused: "not known", and the test of the
trade is named. Through holes only what holds whatever the temperature was is said: a minimum
that even its fastest row would not have reached, or that is reached with the hole left out; a
maximum that the shortest row allows (indoors: no hole is hotter than the table).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.climate.quality import POSSIBLE
from advisor.climate.series import GRID_S, STEP_H, Series, on_grid
from advisor.coatings.clocks import maximum_clock, minimum_clock
from advisor.coatings.product import NextCoat
from advisor.coatings.tables import TimeTable
from advisor.planning.case import Previous, cure_min_c, next_table
from advisor.planning.job import Coat
from advisor.planning.limits import ON_THE_LIMIT
from advisor.planning.previous import Overcoating, hottest_hour_c
from advisor.planning.words import duration
from advisor.record.review.track import STANDS_S, Track, Tracks
from advisor.record.review_types import FloatArray, IntArray, IntervalReview, Standing

#: Hottest that a surface in the sun can be, °C.
HOTTEST_C = POSSIBLE["surface_temp_c"][1]
NOT_READ = "is not known: the surface between was not read all the way"
#: Standings, the worse the later.
WORSE: tuple[Standing, ...] = ("inside", "not known", "outside")


@dataclass(frozen=True)
class Below:
    """The coat below as it was painted, and when the brush reached its patches again (UTC s)."""

    coat_id: str
    name: str
    previous: Previous
    row: NextCoat | None
    first_s: float
    last_s: float
    outdoors: bool = False

    @property
    def patches(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """When the first and the last patch below were painted, and when painted over."""
        reached = (self.first_s, self.last_s)
        if self.previous.reverse:
            reached = (self.last_s, self.first_s)
        return (self.previous.start_s, reached[0]), (self.previous.end_s, reached[1])

    @property
    def clock_h(self) -> float:
        """Shortest time from paint to paint of the two patches, hours."""
        return min(self._hours)

    @property
    def since(self) -> str:
        """The time from paint to paint in words; both ends where the patches differ."""
        first, last = duration(min(self._hours)), duration(max(self._hours))
        number, _, unit = first.partition(" ")
        if last.partition(" ")[2] == unit and first != last:
            first = number  # one unit is said once: 2.0 to 2.1 days
        return f"{last if first == last else f'{first} to {last}'} since the coat below"

    @property
    def _hours(self) -> list[float]:
        return [max(0.0, reached - painted) / 3600.0 for painted, reached in self.patches]


@dataclass(frozen=True)
class Side:
    """A minimum or maximum at one patch: hours that the row allows, how it stands, and why."""

    limit_h: float | None
    standing: Standing
    text: str


def interval(below: Below, tracks: Tracks) -> IntervalReview:
    """Hold the interval of both patches against the data sheet of the coat below."""
    row = below.row
    if row is None:
        return _told(
            below, "not known", "the data sheet below says nothing about this coat over it"
        )
    if row.forbidden:
        why = row.prepare or "test patch and barrier coat first"
        return _told(below, "outside", f"the data sheet does not allow this coat over it: {why}")
    sides = sides_of(below, row, tracks)
    worst = max(sides, key=lambda pair: WORSE.index(pair[1].standing))[1].standing
    told = [side.text for _, side in sides if side.standing == worst]
    lows = [side.limit_h for name, side in sides if name == "min" and side.limit_h is not None]
    highs = [side.limit_h for name, side in sides if name == "max" and side.limit_h is not None]
    text = ". ".join(one[:1].upper() + one[1:] for one in [below.since, *dict.fromkeys(told)])
    return IntervalReview(
        below.coat_id, below.name, below.clock_h, max(lows, default=None),
        min(highs, default=None), worst, text,
    )  # fmt: skip


def without_end(under: Coat, reached_s: float, started_s: float) -> IntervalReview:
    """The interval to a coat below that was begun at a time and has no last patch."""
    hours = max(0.0, reached_s - started_s) / 3600.0
    text = f"{duration(hours)} since its first patch; when its last one went on is not known"
    return IntervalReview(under.id, under.name, hours, None, None, "not known", text)


def sides_of(below: Below, row: NextCoat, tracks: Tracks) -> list[tuple[str, Side]]:
    """Return minimum ("min") and maximum ("max") of both patches."""
    return [side for patch in below.patches for side in _patch(below, row, tracks, patch)]


def _told(below: Below, standing: Standing, text: str) -> IntervalReview:
    return IntervalReview(below.coat_id, below.name, below.clock_h, None, None, standing, text)


def _patch(
    below: Below, row: NextCoat, tracks: Tracks, patch: tuple[float, float]
) -> list[tuple[str, Side]]:
    previous = below.previous
    if patch[1] < patch[0]:
        return [("min", Side(None, "outside", "before the coat below was on there"))]
    over = Overcoating.of(previous, row, _along(tracks, patch))
    low = next_table(previous.product, row.min_h, runs_out=False)
    sides = [("min", _minimum(low, cure_min_c(previous.product), over.series, patch))]
    if previous.sanded:
        sides.append(("max", Side(None, "inside", "it was sanded since, so no maximum is left")))
    elif over.max_table is not None:
        sides.append(("max", _maximum(below, row, over, over.max_table, patch)))
    return sides


def _along(tracks: Tracks, patch: tuple[float, float]) -> Series:
    """Coldest and hottest spot as read on the rules' grid from paint to paint, the air left out."""
    first = int(patch[0] // GRID_S) * GRID_S
    steps = int(np.ceil((patch[1] - first) / GRID_S))
    grid = first + GRID_S * np.arange(max(steps, 1) + 1, dtype=np.int64)
    blank = np.full(len(grid), np.nan)
    return Series(first, blank, blank, _laid(tracks.surface, grid), _laid(tracks.hot, grid))


def _laid(track: Track, grid: IntArray) -> FloatArray:
    """Straight between readings; in a hole a reading stands for half an hour on either side."""
    times = track.time_s.astype(np.int64)
    drawn = on_grid(times, track.value, grid)
    if not len(times):
        return drawn
    after = np.minimum(np.searchsorted(times, grid), len(times) - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(times[after] - grid) < np.abs(grid - times[before]), after, before)
    near = np.abs(times[nearer] - grid) <= STANDS_S
    return np.where(np.isnan(drawn) & near, track.value[nearer], drawn)


def _minimum(
    table: TimeTable | None, cure_min: float, along: Series, patch: tuple[float, float]
) -> Side:
    if table is None or np.isnan(table.hours).all():
        return Side(None, "not known", "the data sheet below has no minimum for it")
    cold, gone = along.surface_temp_c, (patch[1] - patch[0]) / 3600.0
    start, reach = (along.index_of(at_s) for at_s in patch)

    def run(temp_c: FloatArray) -> tuple[float, float]:
        """When the minimum was over (grid index), and the share of it when the brush was there."""
        clock = minimum_clock(table, temp_c, cure_min, STEP_H)
        ready = float(clock.when(np.array([start]))[0])
        done = clock.progress(np.array([start, reach]))
        over = ready <= reach + ON_THE_LIMIT
        return ready, 1.0 if over else min(float(done[1] - done[0]), 0.999)

    # A hole stands still here: a minimum reached all the same was reached for certain.
    ready, share = run(cold)
    if share == 1.0:
        hole = np.isnan(cold[: int(np.ceil(ready)) + 1]).any()
        asked_h = None if hole else (ready - start) * STEP_H
        return Side(asked_h, "inside", "its minimum was over")
    fastest = float(table.temp_c[int(np.nanargmin(table.hours))])
    _, most = run(np.where(np.isnan(cold), fastest, cold))
    if most < 1.0:
        asked_h = gone / most if most > 0 and not np.isnan(cold).any() else None
        return Side(asked_h, "outside",
                     f"with {int(most * 100)} % of its minimum gone")  # fmt: skip
    return Side(None, "not known", f"whether its minimum was over {NOT_READ}")


def _maximum(
    below: Below, row: NextCoat, over: Overcoating, table: TimeTable, patch: tuple[float, float]
) -> Side:
    gone = (patch[1] - patch[0]) / 3600.0
    if np.isinf(table.hours).all():
        return Side(None, "inside", "no maximum on the data sheet")
    whole = not np.isnan(over.series.hot_c).any()
    sure_h = _hottest_row_h(over, table, patch) if whole else None
    if sure_h is not None and gone <= sure_h + ON_THE_LIMIT:
        most = "without a maximum" if np.isinf(sure_h) else f"maximum {duration(sure_h)}"
        return Side(None if np.isinf(sure_h) else sure_h, "inside",
                     f"{most} by its hottest hour")  # fmt: skip
    if not whole and gone <= _shortest_h(below, table) + ON_THE_LIMIT:
        return Side(None, "inside", "bond open even in the hottest row")
    if _closed(table, over.series, patch):
        todo = " or ".join(row.after_max) or "sand first"
        return Side(sure_h, "outside", f"after the bond had closed: {todo}")
    if sure_h is None:
        return Side(None, "not known", f"whether the bond was open {NOT_READ}")
    return Side(sure_h, "not known", f"over the {duration(sure_h)} of its hottest hour, "
                 "but by the running clock the bond was still likely: a solvent-rub test "
                 "would have told")  # fmt: skip


def _shortest_h(below: Below, table: TimeTable) -> float:
    """Shortest maximum there can be: the table's own; outdoors also in the sun above it."""
    if not below.outdoors:
        return float(np.min(table.hours))
    return float(np.min([*table.hours, table.at_one(HOTTEST_C)]))


def _closed(table: TimeTable, along: Series, patch: tuple[float, float]) -> bool:
    """Whether the running clock had run out; through a hole it runs slowest, in its longest row."""
    if np.isnan(table.hours).any():
        return False
    hot = along.hot_c
    longest = float(table.temp_c[int(np.argmax(table.hours))])
    clock = maximum_clock(table, np.where(np.isnan(hot), longest, hot), STEP_H)
    start, reach = (along.index_of(at_s) for at_s in patch)
    return bool(clock.when(np.array([start]))[0] < reach - ON_THE_LIMIT)


def _hottest_row_h(over: Overcoating, table: TimeTable, patch: tuple[float, float]) -> float | None:
    """Hours of the row of the hottest surface held for an hour since painting."""
    painted, reached = (over.series.index_of(at_s) for at_s in patch)
    hours = float(table.at(hottest_hour_c(over, painted, np.array([reached])))[0])
    return None if np.isnan(hours) else hours
