"""One quantity as it was read: known points, and how far a line may be drawn between them.

Between two readings at most three hours apart a quantity runs straight (design, section 4).
Humidity and the room above the dew point follow straight air, dew point and surface, but never
go further out between two readings than at one of them. A longer stretch says nothing of what
was between.

What counts as covered: a stretch of at most three hours; while mixing and applying also one of
at most four and a half with both its ends inside the limit, since the trade reads about every
four hours (common practice, and the US public guide UFC 3-190-06) and may be half an hour late;
and the last half hour before or after a reading inside the limit, where a phase begins or ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import GRID_S, LONGEST_GAP_S, on_grid
from advisor.physics import moist_air
from advisor.record.review.observed import Observed, dew_points
from advisor.record.review_types import FloatArray, IntArray, TimeSpan

BoolArray = NDArray[np.bool_]
#: While mixing and applying two readings this far apart still belong together.
ROUND_S = int(4.5 * 3600)
#: A reading stands for so long beside the beginning or end of a phase.
STANDS_S = 1800
#: A trend is a change over so long.
HOUR_S = 3600
#: Beyond a limit by less than this is rounding: dew points are solved to 1e-6 % humidity.
ROUNDING = 1e-6


@dataclass(frozen=True, eq=False)
class Track:
    """Known points in time order: `time_s` [m], `value` [m]; `joined` [m-1] where a line runs."""

    time_s: NDArray[Any]
    value: FloatArray
    joined: BoolArray

    def __len__(self) -> int:
        """Return the number of known points."""
        return len(self.time_s)

    def at(self, time_s: float) -> float | None:
        """Return the value at a moment, None where none is known."""
        after = int(np.searchsorted(self.time_s, time_s))
        if after < len(self) and self.time_s[after] == time_s:
            return float(self.value[after])
        if after in (0, len(self)) or not self.joined[after - 1]:
            return None
        return float(np.interp(time_s, self.time_s, self.value))

    def part(self, span: TimeSpan) -> Track:
        """Return the points inside a span, with one at either end where a line crosses it."""
        low = int(np.searchsorted(self.time_s, span.from_s))
        high = int(np.searchsorted(self.time_s, span.to_s, side="right"))
        cut = slice(low, max(low, high))
        times, values = self.time_s[cut].astype(float), self.value[cut]
        joined = self.joined[low : max(low, high - 1)]
        for at_s, front in ((span.from_s, True), (span.to_s, False)):
            here = None if at_s in times[:1] or at_s in times[-1:] else self.at(at_s)
            if here is not None:
                times, values = (_with(a, x, front) for a, x in ((times, at_s), (values, here)))
                joined = np.ones(1, dtype=bool) if len(times) == 2 else _with(joined, True, front)
        return Track(times, values, joined[: max(0, len(times) - 1)])


def _with(values: NDArray[Any], one: float | bool, front: bool) -> NDArray[Any]:
    return np.concatenate(([one], values)) if front else np.append(values, one)


@dataclass(frozen=True, eq=False)
class Tracks:
    """Every quantity that limits ask for, made from rows when first asked."""

    seen: Observed

    @cached_property
    def air(self) -> Track:
        """Air, °C."""
        return self._plain("air_temp_c")

    @cached_property
    def surface(self) -> Track:
        """Coldest spot, °C."""
        return self._plain("surface_temp_c")

    @cached_property
    def hot(self) -> Track:
        """Hottest spot, °C; the only spot read where one was."""
        cold, hot = self.seen.sure("surface_temp_c"), self.seen.sure("surface_hot_c")
        return _straight(self.seen.time_s, np.where(np.isnan(hot), cold, hot))

    @cached_property
    def wind(self) -> Track:
        """Wind, m/s."""
        return self._plain("wind_m_s")

    @cached_property
    def rain(self) -> Track:
        """Rain since the row before, mm."""
        return self._plain("rain_mm")

    @cached_property
    def dew(self) -> FloatArray:
        """Dew point of every row [n], °C, doubtful rows left out."""
        return dew_points(self.seen)

    @cached_property
    def rh(self) -> Track:
        """Humidity, %: as read in its own row, else of the air and the dew point there."""
        seen = self.seen
        columns = (seen.sure("air_temp_c"), self.dew)
        made = _made(seen.time_s, columns, moist_air.rh_array)
        read = seen.sure("rh_pct")
        at = np.searchsorted(made.time_s, seen.time_s)
        own = (at < len(made)) & ~np.isnan(read)
        own[own] &= made.time_s[at[own]] == seen.time_s[own]
        made.value[at[own]] = read[own]
        return _no_further_out(made, seen.time_s)

    @cached_property
    def margin(self) -> Track:
        """Coldest spot less the higher of dew and frost point, K."""
        columns = (self.seen.sure("surface_temp_c"), self.dew)
        made = _made(self.seen.time_s, columns,
                     lambda cold, dew: cold - moist_air.wet_point_array(dew))  # fmt: skip
        return _no_further_out(made, self.seen.time_s)

    @cached_property
    def trend(self) -> Track:
        """Change of the coldest spot over the hour before, K."""
        surface = self.surface
        times = surface.time_s.astype(np.int64)

        def change(at: IntArray) -> FloatArray:
            before, now = (on_grid(times, surface.value, at - back) for back in (HOUR_S, 0))
            return now - before

        # Between these moments both ends of the hour run straight, and so does their difference.
        points = np.unique(np.concatenate([times, times + HOUR_S]))
        value = change(points)
        known = np.flatnonzero(~np.isnan(value))
        drawn = ~np.isnan(change((points[:-1] + points[1:]) // 2))
        joined = (np.diff(known) == 1) & drawn[known[:-1]]
        return Track(points[known], value[known], joined)

    def _plain(self, name: str) -> Track:
        return _straight(self.seen.time_s, self.seen.sure(name))


def _straight(time_s: IntArray, values: FloatArray) -> Track:
    known = ~np.isnan(values)
    times = time_s[known]
    return Track(times, values[known], np.diff(times) <= LONGEST_GAP_S)


def _made(
    time_s: IntArray, columns: tuple[FloatArray, ...], make: Callable[..., FloatArray]
) -> Track:
    """Make a quantity at every row and, where rows are far apart, every five minutes between."""
    points = _dense(time_s)
    between = (points[:-1] + points[1:]) // 2
    values = make(*(on_grid(time_s, column, points) for column in columns))
    known = ~np.isnan(values)
    drawn = np.ones(len(between), dtype=bool)
    for column in columns:
        drawn &= ~np.isnan(on_grid(time_s, column, between))
    joined = drawn & known[:-1] & known[1:]
    kept = np.flatnonzero(known)
    return Track(points[kept], values[kept], joined[kept[:-1]] & (np.diff(kept) == 1))


def _dense(time_s: IntArray) -> IntArray:
    """Rows, and whole five minutes inside stretches that a line may cross."""
    if len(time_s) < 2:
        return time_s
    step = np.diff(time_s)
    wide = np.flatnonzero((step > GRID_S) & (step <= LONGEST_GAP_S))
    more = [np.arange(time_s[i] // GRID_S + 1, -(-time_s[i + 1] // GRID_S)) * GRID_S for i in wide]
    return np.unique(np.concatenate([time_s, *more])).astype(np.int64)


def _no_further_out(made: Track, rows_s: IntArray) -> Track:
    """Keep the points between two rows within the values of those rows."""
    at_row = among(made.time_s, rows_s)
    rows = np.flatnonzero(at_row)
    if not len(rows) or at_row.all():
        return made
    between = np.flatnonzero(~at_row)
    after = np.minimum(np.searchsorted(rows, between), len(rows) - 1)
    before = np.maximum(after - 1, 0)
    low, high = made.value[rows[before]], made.value[rows[after]]
    value = made.value.copy()
    value[between] = np.clip(value[between], np.minimum(low, high), np.maximum(low, high))
    return Track(made.time_s, value, made.joined)


def among(time_s: NDArray[Any], rows_s: IntArray) -> BoolArray:
    """Whether each moment is that of a row; rows in time order."""
    if not len(rows_s):
        return np.zeros(len(time_s), dtype=bool)
    place = np.minimum(np.searchsorted(rows_s, time_s), len(rows_s) - 1)
    return np.asarray(rows_s[place] == time_s)


# --- spans -------------------------------------------------------------------------------


def beyond(part: Track, slack: FloatArray, rounding: float = ROUNDING) -> tuple[TimeSpan, ...]:
    """Return the spans with slack [m] under zero; a reading by itself is a span of no length."""
    out = slack < -rounding
    if not out.any():
        return ()
    same = out[:-1] & out[1:] & part.joined
    found: list[TimeSpan] = []
    for first, last in _runs(np.arange(len(part)), same):
        if out[first]:
            begin = _crossing(part, slack, first, first - 1, rounding)
            found.append(TimeSpan(begin, _crossing(part, slack, last, last + 1, rounding)))
    return tuple(found)


def _crossing(part: Track, slack: FloatArray, k: int, other: int, rounding: float) -> float:
    """When the line from an outside point to its inside neighbour comes back to the limit."""
    here = float(part.time_s[k])
    if not 0 <= other < len(part) or not part.joined[min(k, other)] or slack[other] < -rounding:
        return here
    share = slack[k] / (slack[k] - max(slack[other], 0.0))
    return here + float(share) * (float(part.time_s[other]) - here)


def uncovered(
    track: Track, inside: BoolArray, span: TimeSpan, applied_until_s: float
) -> tuple[TimeSpan, ...]:
    """Return what of a span no reading covers; `inside` [m] where a point keeps the limit.

    The rule stands at the top of this module.
    """
    times = track.time_s
    covered = [(float(times[a]), float(times[b])) for a, b in _runs(times, track.joined)]
    rounds = ~track.joined & (np.diff(times) <= ROUND_S) & inside[:-1] & inside[1:]
    rounds &= times[:-1] < applied_until_s
    covered += [
        (float(times[i]), min(float(times[i + 1]), applied_until_s)) for i in np.flatnonzero(rounds)
    ]
    gaps = _rest(span, sorted(covered))
    return tuple(gap for gap in gaps if not _stood_for(track, inside, gap))


def _runs(points: NDArray[Any], joined: BoolArray) -> list[tuple[int, int]]:
    """Return first and last place of every run of joined points."""
    if not len(points):
        return []
    breaks = np.flatnonzero(~joined)
    first = np.concatenate(([0], breaks + 1)).tolist()
    last = np.concatenate((breaks, [len(points) - 1])).tolist()
    return list(zip(first, last, strict=True))


def _rest(span: TimeSpan, covered: list[tuple[float, float]]) -> list[TimeSpan]:
    rest, at = [], span.from_s
    for begin, end in covered:
        if begin > at:
            rest.append(TimeSpan(at, min(begin, span.to_s)))
        at = max(at, end)
        if at >= span.to_s:
            break
    if at < span.to_s:
        rest.append(TimeSpan(at, span.to_s))
    return [gap for gap in rest if gap.to_s > gap.from_s]


def _stood_for(track: Track, inside: BoolArray, gap: TimeSpan) -> bool:
    """Whether a reading just before or after a short gap stands for it."""
    before = int(np.searchsorted(track.time_s, gap.from_s, side="right")) - 1
    after = int(np.searchsorted(track.time_s, gap.to_s))
    if before >= 0 and inside[before] and gap.to_s - track.time_s[before] <= STANDS_S:
        return True
    return bool(
        after < len(track) and inside[after] and track.time_s[after] - gap.from_s <= STANDS_S
    )
