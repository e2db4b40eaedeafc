"""What was read over a stretch of time, few enough points to draw, from days to years."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.base.store import Store
from advisor.climate.quality import HOLE_S
from advisor.climate.reading_spans import (
    ALWAYS,
    CHUNK,
    LINES,
    ROWS,
    STEPS_S,
    UNIT_S,
    Steps,
    as_steps,
    blobs,
    joined,
    rows_read,
)
from advisor.climate.reading_store import OBSERVED
from advisor.climate.readings import FloatArray, IntArray, Origin

#: Up to so many rows for each point wanted are drawn one by one; up to `GATHERED` rows are read
#: and gathered into steps here, where the steps that are kept would be coarse.
AS_READ, GATHERED = 1.5, 16_000
#: A line is not drawn over a hole of so many usual steps, nor ever over `HOLE_S`.
HOLE_STEPS = 5.0


@dataclass(frozen=True, eq=False)
class Strand:
    """What one origin read. `time_s` [n] UTC seconds, the middle of each step or of each row.

    `step_s` is the length of the steps, 0 for rows as they were read. `lines` has lowest and
    highest [2, n] of each of `LINES`, NaN where nothing was read; `rows` [n] how many rows each
    point stands for, `doubtful` [n] how many of them are in doubt. No line is drawn over more
    than `hole_s`.
    """

    origin: Origin
    time_s: FloatArray
    step_s: int
    lines: Mapping[str, FloatArray]
    rows: FloatArray
    doubtful: FloatArray
    hole_s: float

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.time_s)


def strands(
    store: Store, area: str, first_s: float, last_s: float, points: int
) -> tuple[Strand, ...]:
    """Return what was read in an area, one strand for each origin there is.

    `points` is how many steps are wanted over the stretch, such as one for each pixel.
    """
    found = []
    with store.read() as db:
        for origin in OBSERVED:
            strand = _strand(db, area, origin, (int(first_s), int(last_s)), points)
            if strand is not None:
                found.append(strand)
    return tuple(found)


def reach(store: Store, area: str) -> tuple[float, float] | None:
    """Return the times of the first and the last row observed in an area; None where is none."""
    with store.read() as db:
        ends = [end for origin in OBSERVED if (end := _ends(db, area, origin)) is not None]
    return (min(e[0] for e in ends), max(e[1] for e in ends)) if ends else None


def counts(db: sqlite3.Connection, area: str, origin: Origin) -> tuple[int, FloatArray]:
    """Return the first step of `STEPS_S[ALWAYS]` and rows and doubtful rows [2, n] from there."""
    quantity = f"{origin.value}:{ROWS}"
    found = db.execute(
        "SELECT min(chunk), max(chunk) FROM reading_span "
        "WHERE area = ? AND level = ? AND quantity = ?",
        (area, ALWAYS, quantity),
    ).fetchone()
    if found[0] is None:
        return 0, np.zeros((2, 0))
    first, last = found[0] * CHUNK, (found[1] + 1) * CHUNK - 1
    return first, np.nan_to_num(blobs(db, area, quantity, ALWAYS, first, last))


def _ends(db: sqlite3.Connection, area: str, origin: Origin) -> tuple[float, float] | None:
    first, rows = counts(db, area, origin)
    there = np.flatnonzero(rows[0])
    if not len(there):
        return None
    step = STEPS_S[ALWAYS]
    ends = []
    for at, which in ((there[0], "min"), (there[-1], "max")):
        begin = (first + int(at)) * step
        ends.append(db.execute(
            f"SELECT {which}(time_s) FROM reading WHERE time_s BETWEEN ? AND ? "
            "AND area = ? AND origin = ?", (begin, begin + step - 1, area, origin.value),
        ).fetchone()[0])  # fmt: skip
    return None if None in ends else (float(ends[0]), float(ends[1]))


def _strand(
    db: sqlite3.Connection, area: str, origin: Origin, span: tuple[int, int], points: int
) -> Strand | None:
    rows = _rows_in(db, area, origin, span)
    if not rows:
        return None
    if rows <= max(AS_READ * points, GATHERED):
        read = _as_read(rows_read(db, (area, origin.value), span), origin)
        return read if read is None or rows <= AS_READ * points else _gathered(read, span, points)
    wanted = (span[1] - span[0]) / max(1, points)
    level = next((k for k, step in enumerate(STEPS_S) if step >= wanted), len(STEPS_S) - 1)
    return _in_steps(db, (area, origin), span, level)


def _rows_in(db: sqlite3.Connection, area: str, origin: Origin, span: tuple[int, int]) -> int:
    step = STEPS_S[ALWAYS]
    found = blobs(db, area, f"{origin.value}:{ROWS}", ALWAYS, span[0] // step, span[1] // step)
    return int(np.nansum(found[0]))


def _as_read(found: FloatArray, origin: Origin) -> Strand | None:
    if not len(found):
        return None
    steps = as_steps(found)
    return _strand_of(origin, found[:, 0], 0, steps.values, _hole_s(found[:, 0], 0))


def _gathered(read: Strand, span: tuple[int, int], points: int) -> Strand:
    """Gather rows into steps as long as the stretch asks for."""
    step = max(2, (span[1] - span[0]) // max(1, points))
    rows = {ROWS: np.stack((read.rows, read.doubtful))}
    found = joined(Steps(read.time_s.astype(np.int64), {**read.lines, **rows}), step)
    time_s = np.asarray((found.at + 0.5) * step, dtype=np.float64)
    return _strand_of(read.origin, time_s, step, found.values, max(read.hole_s, 1.5 * step))


def _strand_of(
    origin: Origin,
    time_s: FloatArray,
    step_s: int,
    values: Mapping[str, FloatArray],
    hole_s: float,
) -> Strand:
    """Return a strand of lines and rows [2, n]."""
    lines = {name: values[name] for name in LINES}
    rows, doubtful = values[ROWS]
    return Strand(origin, time_s, step_s, lines, rows, doubtful, hole_s)


def _in_steps(
    db: sqlite3.Connection, key: tuple[str, Origin], span: tuple[int, int], level: int
) -> Strand | None:
    """Return steps of one length, and rows as read where those steps are not kept."""
    step, (area, origin) = STEPS_S[level], key
    first, last = span[0] // step, span[1] // step
    pairs = {name: blobs(db, area, f"{origin.value}:{name}", level, first, last)
             for name in (*LINES, ROWS)}  # fmt: skip
    there = np.flatnonzero(np.nan_to_num(pairs[ROWS][0]) > 0)
    time_s = (first + there + 0.5) * step
    values = {name: pair[:, there] for name, pair in pairs.items()}
    steps = _strand_of(origin, time_s, step, values, _hole_s(time_s, step))
    thin = _thin_units(db, key, span, first + there, level) if level < ALWAYS else []
    return _joined([steps, *(s for run in thin if (s := _as_read(
        rows_read(db, (area, origin.value), run), origin)) is not None)])  # fmt: skip


def _thin_units(
    db: sqlite3.Connection,
    key: tuple[str, Origin],
    span: tuple[int, int],
    there: IntArray,
    level: int,
) -> list[tuple[int, int]]:
    """Return the stretches whose rows are too few to be kept in steps of this length."""
    each = UNIT_S // STEPS_S[ALWAYS]
    first, last = span[0] // UNIT_S, span[1] // UNIT_S
    quantity = f"{key[1].value}:{ROWS}"
    rows = blobs(db, key[0], quantity, ALWAYS, first * each, (last + 1) * each - 1)[0]
    filled = np.nansum(rows.reshape(-1, each), axis=1) > 0
    filled[np.unique(there * STEPS_S[level] // UNIT_S) - first] = False
    edges = np.flatnonzero(np.diff(np.concatenate(([False], filled, [False])).astype(np.int8)))
    return [
        (max(span[0], (first + a) * UNIT_S), min(span[1], (first + b) * UNIT_S - 1))
        for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    ]


def _joined(parts: list[Strand]) -> Strand | None:
    some = [part for part in parts if len(part)]
    if len(some) < 2:
        return some[0] if some else None
    time_s = np.concatenate([part.time_s for part in some])
    order = np.argsort(time_s, kind="stable")
    return Strand(
        some[0].origin,
        time_s[order],
        max(part.step_s for part in some),
        {name: np.concatenate([p.lines[name] for p in some], axis=1)[:, order] for name in LINES},
        np.concatenate([part.rows for part in some])[order],
        np.concatenate([part.doubtful for part in some])[order],
        max(part.hole_s for part in some),
    )


def _hole_s(time_s: FloatArray, step_s: int) -> float:
    """Return over how much no line is drawn: some usual steps of the log, three hours at most."""
    usual = float(np.median(np.diff(time_s))) if len(time_s) > 1 else HOLE_S
    return max(min(HOLE_STEPS * usual, HOLE_S), 1.5 * step_s)
