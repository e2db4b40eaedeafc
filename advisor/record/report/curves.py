"""What a chart draws: pieces of lines that never cross a gap, each of one source, and its ticks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate.series import LONGEST_GAP_S
from advisor.record.report.thin import picture_rows
from advisor.record.review_types import CoatReview, FloatArray, TimeSpan

_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 96, 168)


@dataclass(frozen=True, eq=False)
class Piece:
    """A run of readings of one source without a gap. `time_s` and `values` [n], n ≥ 1."""

    source: str
    time_s: FloatArray
    values: FloatArray


def pieces(coat: CoatReview, values: FloatArray) -> tuple[Piece, ...]:
    """Cut a column [n] into pieces: at gaps, at missing values, where the source changes.

    Where the source changes the reading before is repeated, so that the line goes on.
    """
    rows = picture_rows(coat.readings)
    rows = rows[~np.isnan(values[rows])]
    if not len(rows):
        return ()
    times, shown = coat.readings.time_s[rows].astype(float), values[rows]
    source = [coat.readings.source[row] for row in rows]
    found, start = [], 0
    for i in range(1, len(rows) + 1):
        ends = i == len(rows)
        apart = not ends and _gap(times[i - 1], times[i], coat.gaps)
        if ends or apart or source[i] != source[i - 1]:
            found.append(Piece(source[i - 1], times[start:i], shown[start:i]))
            start = i if apart else i - 1
    return tuple(found)


def _gap(before_s: float, after_s: float, gaps: Sequence[TimeSpan]) -> bool:
    if after_s - before_s > LONGEST_GAP_S:
        return True
    return any(before_s < gap.to_s and after_s > gap.from_s for gap in gaps)


def crossings(time_s: FloatArray, a: FloatArray, b: FloatArray) -> tuple[FloatArray, ...]:
    """Return times, a and b with a point put in wherever the two lines cross."""
    difference = a - b
    cross = np.flatnonzero(difference[:-1] * difference[1:] < 0)
    share = difference[cross] / (difference[cross] - difference[cross + 1])
    at = time_s[cross] + share * (time_s[cross + 1] - time_s[cross])
    meet = a[cross] + share * (a[cross + 1] - a[cross])
    where = cross + 1
    return (np.insert(time_s, where, at), np.insert(a, where, meet), np.insert(b, where, meet))


def both(coat: CoatReview) -> tuple[tuple[FloatArray, FloatArray, FloatArray], ...]:
    """Return the stretches (time, surface, dew point) over which the margin is known."""
    readings = coat.readings
    surface = np.where(np.isnan(readings.dew_point_c), np.nan, readings.surface_temp_c)
    found = []
    for piece in pieces(coat, surface):
        rows = np.searchsorted(readings.time_s, piece.time_s.astype(np.int64))
        found.append((piece.time_s, piece.values, readings.dew_point_c[rows]))
    return tuple(found)


def extent(coat: CoatReview) -> tuple[float, float]:
    """Return the times a chart reaches from and to: all readings, the work, and dew-safe."""
    times = [coat.started_s, coat.ended_s]
    times += [t for t in (coat.tack_free_s, coat.dew_safe_s) if t is not None]
    if len(coat.readings.time_s):
        times += [float(coat.readings.time_s[0]), float(coat.readings.time_s[-1])]
    begin, end = min(times), max(times)
    edge = max(0.01 * (end - begin), 600.0)
    return begin - edge, end + edge


def time_ticks(begin_s: float, end_s: float, zone: ZoneInfo, most: int = 9) -> list[float]:
    """Return moments at whole hours of the local clock, at most `most` of them."""
    hours = (end_s - begin_s) / 3600
    step = next((h for h in _STEPS_H if hours / h <= most), max(1, round(hours / most)))
    local = datetime.fromtimestamp(int(begin_s), UTC).astimezone(zone)
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    ticks = []
    for n in range(int(hours / step) + 24 // min(step, 24) + 3):
        at = (midnight + timedelta(hours=n * step)).timestamp()
        if begin_s <= at <= end_s:
            ticks.append(at)
    return ticks


def value_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Return round values from `low` to `high`, at most about `most`."""
    span = max(high - low, 1e-9)
    rough = span / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next((float(m * power) for m in (1, 2, 5, 10) if m * power >= rough), rough)
    first = np.ceil(low / step - 1e-9) * step
    return [float(v) for v in np.arange(first, high + step * 1e-6, step)]
