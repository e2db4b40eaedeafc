"""Which readings stand in a table or a picture of fewer rows, and how many stand behind each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.record.review_types import CoatReview, FloatArray, IntArray, ReadingsOfCoat

#: Lengths of the pieces a table is cut into, minutes.
_PIECES_MIN = (5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 10080)


@dataclass(frozen=True, eq=False)
class Thinned:
    """Rows [m] into the readings that are printed; `behind` [m]: readings each stands for.

    The sum of `behind` is the number of readings. `piece_min` 0: every reading is printed.
    """

    rows: IntArray
    behind: IntArray
    piece_min: int


def table_rows(coat: CoatReview, most: int = 40) -> Thinned:
    """Choose rows for print: one for each piece of time, that nearest the dew point.

    Every typed reading, the first, the last and the worst for each limit are printed as well.
    """
    readings = coat.readings
    count = len(readings.time_s)
    if count <= most:
        return Thinned(np.arange(count), np.ones(count, dtype=np.int64), 0)
    span_min = (readings.time_s[-1] - readings.time_s[0]) / 60
    fitting = (m for m in _PIECES_MIN if span_min / m < most)
    piece_min = next(fitting, _PIECES_MIN[-1])
    piece = readings.time_s // (piece_min * 60)
    starts = np.flatnonzero(np.r_[True, np.diff(piece) > 0])
    ends = np.r_[starts[1:], count]
    kept = {_nearest_dew(readings, int(a), int(b)) for a, b in zip(starts, ends, strict=True)}
    kept |= {0, count - 1} | _worst(coat) | _typed(readings, most)
    rows = np.array(sorted(kept), dtype=np.int64)
    return Thinned(rows, _behind(rows, starts, count), piece_min)


def _behind(rows: IntArray, starts: IntArray, count: int) -> IntArray:
    """Count for each printed row the readings from it, or from its piece's first row, to the next.

    The first printed row of a piece also stands for those of its piece that came before it.
    """
    first_of_piece = starts[np.searchsorted(starts, rows, side="right") - 1]
    piece_before = np.r_[-1, first_of_piece[:-1]]
    begins = np.where(first_of_piece > piece_before, first_of_piece, rows)
    behind: IntArray = np.diff(np.r_[begins, count])
    return behind


def picture_rows(readings: ReadingsOfCoat, pieces: int = 700) -> IntArray:
    """Choose rows for a picture: of each piece of time the first, last and both extremes."""
    count = len(readings.time_s)
    if count <= 4 * pieces:
        return np.arange(count)
    length = (readings.time_s[-1] - readings.time_s[0]) / pieces
    piece = ((readings.time_s - readings.time_s[0]) / max(length, 1)).astype(np.int64)
    starts = np.flatnonzero(np.r_[True, np.diff(piece) > 0])
    kept = [starts, np.r_[starts[1:], count] - 1]
    for values in (readings.margin_k, readings.surface_temp_c, readings.rh_pct):
        kept += [_extremes(values, starts, np.fmin), _extremes(values, starts, np.fmax)]
    return np.unique(np.concatenate(kept))


def _extremes(values: FloatArray, starts: IntArray, extreme: np.ufunc) -> IntArray:
    """Return the first row of each piece that has its least or most; pieces of NaN have none."""
    lengths = np.diff(np.r_[starts, len(values)])
    rows = np.flatnonzero(values == np.repeat(extreme.reduceat(values, starts), lengths))
    piece = np.searchsorted(starts, rows, side="right")
    return rows[np.unique(piece, return_index=True)[1]]


def _nearest_dew(readings: ReadingsOfCoat, a: int, b: int) -> int:
    margin = readings.margin_k[a:b]
    return int(a) if np.isnan(margin).all() else int(a + np.nanargmin(margin))


def _worst(coat: CoatReview) -> set[int]:
    """Return the rows at which a limit was met worst."""
    times = coat.readings.time_s
    found = set()
    for limit in coat.limits:
        if limit.worst_at_s is not None:
            row = int(np.searchsorted(times, int(limit.worst_at_s)))
            found.add(min(row, len(times) - 1))
    return found


def _typed(readings: ReadingsOfCoat, most: int) -> set[int]:
    rows = [i for i, source in enumerate(readings.source) if source == "typed"]
    # Where everything was typed by hand the table is thinned like a log.
    return set(rows) if len(rows) <= most else set()
