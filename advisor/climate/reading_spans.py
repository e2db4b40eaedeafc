"""Lowest and highest of readings over ever longer steps, so that years are drawn in one look.

For each area and origin and each length of step (16 s, each next four times as long) the table
`reading_span` holds blobs of `CHUNK` steps: float32 [2, CHUNK], lowest and highest of a line, NaN
where nothing was read; for "rows" the number of rows and of doubtful ones. Steps under 4096 s are
kept only where they hold eight rows or more on average: elsewhere the rows themselves are as few.

A large log into an empty stretch is laid out while it is written. Anything else only marks the
stretches it touched, which costs nothing; `refresh` lays those out when somebody looks.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.climate.readings import Flag, FloatArray, IntArray, Origin, ReadingTable
from advisor.physics import moist_air

#: Lengths of step, seconds; from the index `ALWAYS` on, steps are kept however few rows there are.
STEPS_S = tuple(16 * 4**k for k in range(8))
ALWAYS = 4
CHUNK = 1024
#: What is marked and laid out at once: one chunk of the shortest steps, 4.6 hours.
UNIT_S = CHUNK * STEPS_S[0]
#: Columns that the lines are drawn from.
READ = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c")
LINES = ("air_temp_c", "wet_point_c", "surface_temp_c")
ROWS = "rows"
#: Only what was observed is drawn as read.
SHOWN = frozenset({Origin.TYPED, Origin.MEASURED, Origin.IMPORTED})
#: Flags that put a value in doubt: a logger's overshoot set to saturation does not.
DOUBT = ~int(Flag.CLAMPED) & 0xFFFF

_MARK = -1
_DENSE = 8
#: From so many rows a table is laid out while it is written.
_BULK = 20_000
#: Rows and units laid out in one transaction, so that nobody waits long for their own.
_AT_ONCE, _UNITS_AT_ONCE = 200_000, 1024

Blobs = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Steps:
    """Steps with rows in them: `at` [n] numbers of steps, `values` of `LINES` and `ROWS` [2, n]."""

    at: IntArray
    values: Mapping[str, FloatArray]


# --- while writing ------------------------------------------------------------------------


def written(db: sqlite3.Connection, table: ReadingTable, area: str) -> None:
    """Note rows that were just written, inside the caller's transaction."""
    if table.origin not in SHOWN or not len(table):
        return
    units = np.unique(table.time_s // UNIT_S)
    key = (area, table.origin.value)
    if len(table) >= _BULK and not _touched(db, key, int(units[0]), int(units[-1])):
        flags = table.flags.astype(np.int64)
        columns = {name: table.column(name) for name in READ}
        lay_out(db, key, steps_of(table.time_s, flags, columns))
    else:
        _mark(db, key, units.tolist())


def marked(db: sqlite3.Connection, area: str, origin: Origin, time_s: int) -> None:
    """Note one row that was written or replaced."""
    if origin in SHOWN:
        _mark(db, (area, origin.value), [time_s // UNIT_S])


def import_going(db: sqlite3.Connection, import_id: int) -> None:
    """Note the rows of an import that is about to be taken back."""
    db.execute(
        f"INSERT OR IGNORE INTO reading_span SELECT DISTINCT area, {_MARK}, time_s / {UNIT_S}, "
        "origin, x'' FROM reading WHERE import_id = ?",
        (import_id,),
    )


def _mark(db: sqlite3.Connection, key: tuple[str, str], units: Iterable[int]) -> None:
    area, origin = key
    db.executemany(
        "INSERT OR IGNORE INTO reading_span VALUES (?, ?, ?, ?, x'')",
        ((area, _MARK, unit, origin) for unit in units),
    )


def _touched(db: sqlite3.Connection, key: tuple[str, str], first: int, last: int) -> bool:
    """Whether anything of this origin stands, or waits to be laid out, in these units."""
    area, origin = key
    waiting = db.execute(
        "SELECT 1 FROM reading_span WHERE area = ? AND level = ? AND quantity = ? "
        "AND chunk BETWEEN ? AND ? LIMIT 1",
        (area, _MARK, origin, first, last),
    ).fetchone()
    each = UNIT_S // STEPS_S[ALWAYS]
    found = blobs(db, area, f"{origin}:{ROWS}", ALWAYS, first * each, (last + 1) * each - 1)
    return waiting is not None or bool(np.nansum(found[0]) > 0)


# --- when somebody looks ------------------------------------------------------------------


def refresh(store: Store, areas: tuple[str, ...]) -> int:
    """Lay out what was marked in some areas; return how many rows that were."""
    done = 0
    while (rows := _refresh_some(store, areas)) is not None:
        done += rows
    return done


def _refresh_some(store: Store, areas: tuple[str, ...]) -> int | None:
    """Lay out the first marked stretch; None where there is none."""
    marks = ", ".join("?" * len(areas))
    query = (
        f"SELECT area, quantity, chunk FROM reading_span WHERE area IN ({marks}) "
        f"AND level = ? ORDER BY area, quantity, chunk LIMIT {_UNITS_AT_ONCE}"
    )
    with store.read() as db:
        if db.execute(query, (*areas, _MARK)).fetchone() is None:
            return None
    with store.write() as db:
        waiting = db.execute(query, (*areas, _MARK)).fetchall()
        return _lay_out_marked(db, waiting) if waiting else None


def _lay_out_marked(db: sqlite3.Connection, waiting: list[tuple[str, str, int]]) -> int:
    """Lay out the first run of marked units that lie side by side, as far as one step goes."""
    area, origin, first = waiting[0]
    last = first
    for other, which, unit in waiting[1:]:
        if (other, which, unit) != (area, origin, last + 1):
            break
        last = unit
    span = (first * UNIT_S, (last + 1) * UNIT_S - 1)
    table = rows_read(db, (area, origin), span, _AT_ONCE)
    if len(table) == _AT_ONCE:  # cut in the midst of a unit, which waits for the next step
        last = int(table[-1, 0]) // UNIT_S - 1
        table = table[table[:, 0] < (last + 1) * UNIT_S]
    _clear(db, (area, origin), first, last)
    if len(table):
        lay_out(db, (area, origin), as_steps(table))
    db.execute(
        "DELETE FROM reading_span WHERE area = ? AND level = ? AND quantity = ? "
        "AND chunk BETWEEN ? AND ?",
        (area, _MARK, origin, first, last),
    )
    return len(table)


def _clear(db: sqlite3.Connection, key: tuple[str, str], first: int, last: int) -> None:
    """Empty the steps of some units at every length up to `ALWAYS`, and what is above them."""
    for level in range(ALWAYS + 1):
        each = UNIT_S // STEPS_S[level]
        steps = np.arange(first * each, (last + 1) * each)
        empty = np.full((2, len(steps)), np.nan)
        for name in (*LINES, ROWS):
            _put(db, key, level, name, (steps, empty), only_old=True)
    _lay_above(db, key, np.unique(np.arange(first, last + 1) * UNIT_S // (CHUNK * STEPS_S[ALWAYS])))


# --- laying out ---------------------------------------------------------------------------


def lay_out(db: sqlite3.Connection, key: tuple[str, str], rows: Steps) -> None:
    """Lay rows in time order out into units that hold nothing yet. `key` is area and origin."""
    steps, length_s, time_s = rows, 1, rows.at
    closest_s = int(np.diff(time_s).min()) if len(time_s) > 1 else UNIT_S
    for level, step_s in enumerate(STEPS_S[: ALWAYS + 1]):
        if level < ALWAYS and -(-step_s // closest_s) < _DENSE:
            continue  # no step of this length can hold rows enough
        steps, length_s = joined(steps, step_s // length_s), step_s
        kept = steps if level == ALWAYS else _dense(steps, level)
        for name in kept.values:
            _put(db, key, level, name, (kept.at, kept.values[name]))
    _lay_above(db, key, np.unique(steps.at // CHUNK))


def joined(steps: Steps, by: int) -> Steps:
    """Join `by` steps to one: lowest of the lowest, highest of the highest, sums of rows."""
    at = steps.at // by
    starts = np.flatnonzero(np.concatenate(([True], np.diff(at) != 0)))
    found = {}
    for name, pair in steps.values.items():
        if name == ROWS:
            found[name] = np.add.reduceat(pair, starts, axis=1)
        else:
            low, high = np.fmin.reduceat(pair[0], starts), np.fmax.reduceat(pair[1], starts)
            found[name] = np.stack((low, high))
    return Steps(at[starts], found)


def _dense(steps: Steps, level: int) -> Steps:
    """Keep the steps of those units where they stand for many rows each."""
    units = steps.at * STEPS_S[level] // UNIT_S
    group = np.cumsum(np.concatenate(([0], np.diff(units) != 0)))
    rows = np.bincount(group, weights=steps.values[ROWS][0])
    many = (rows >= _DENSE * np.bincount(group))[group]
    return Steps(steps.at[many], {name: pair[:, many] for name, pair in steps.values.items()})


def _lay_above(db: sqlite3.Connection, key: tuple[str, str], chunks: IntArray) -> None:
    """Join the chunks of one length into the longer ones."""
    for level in range(ALWAYS + 1, len(STEPS_S)):
        for number in chunks.tolist():
            for name in (*LINES, ROWS):
                first = number * CHUNK
                quantity = f"{key[1]}:{name}"
                pair = blobs(db, key[0], quantity, level - 1, first, first + CHUNK - 1)
                _put(db, key, level, name, (first // 4 + np.arange(CHUNK // 4), _fours(pair, name)))
        chunks = np.unique(chunks // 4)


def _fours(pair: FloatArray, name: str) -> FloatArray:
    each = pair.reshape(2, -1, 4)
    if name == ROWS:
        return np.asarray(np.nansum(each, axis=2))
    return np.stack((np.fmin.reduce(each[0], axis=1), np.fmax.reduce(each[1], axis=1)))


def _put(
    db: sqlite3.Connection,
    key: tuple[str, str],
    level: int,
    name: str,
    steps: tuple[IntArray, FloatArray],
    *,
    only_old: bool = False,
) -> None:
    """Write steps into their blobs; `only_old` makes none where there was none."""
    at, pair = steps
    for number in np.unique(at // CHUNK).tolist():
        row = (key[0], level, number, f"{key[1]}:{name}")
        known = _blob(db, row)
        if known is None and only_old:
            continue
        made = np.full((2, CHUNK), np.nan, dtype=np.float32) if known is None else known
        here = at // CHUNK == number
        made[:, at[here] - number * CHUNK] = pair[:, here]
        db.execute("INSERT OR REPLACE INTO reading_span VALUES (?, ?, ?, ?, ?)",
                   (*row, made.tobytes()))  # fmt: skip


def _blob(db: sqlite3.Connection, row: tuple[str, int, int, str]) -> Blobs | None:
    query = (
        "SELECT low_high FROM reading_span WHERE area = ? AND level = ? AND chunk = ? "
        "AND quantity = ?"
    )
    found = db.execute(query, row).fetchone()
    return None if found is None else np.frombuffer(found[0], np.float32).reshape(2, CHUNK).copy()


# --- reading ------------------------------------------------------------------------------


def blobs(
    db: sqlite3.Connection, area: str, quantity: str, level: int, first: int, last: int
) -> FloatArray:
    """Return the steps numbered `first`..`last` of one quantity, [2, n], NaN where none is.

    `quantity` is "origin:line" or "origin:rows".
    """
    found = np.full((2, last - first + 1), np.nan)
    rows = db.execute(
        "SELECT chunk, low_high FROM reading_span WHERE area = ? AND level = ? "
        "AND chunk BETWEEN ? AND ? AND quantity = ?",
        (area, level, first // CHUNK, last // CHUNK, quantity),
    )
    for number, blob in rows:
        pair = np.frombuffer(blob, np.float32).reshape(2, CHUNK)
        begin = max(first, number * CHUNK)
        end = min(last + 1, (number + 1) * CHUNK)
        cut = slice(begin - number * CHUNK, end - number * CHUNK)
        found[:, begin - first : end - first] = pair[:, cut]
    return found


def rows_read(
    db: sqlite3.Connection, key: tuple[str, str], span: tuple[int, int], most: int = -1
) -> FloatArray:
    """Return rows of (time, flags, `READ`…) in time order, NaN for NULL; all where `most` is -1.

    `key` is area and origin.
    """
    names = ", ".join(f"ifnull({name}, 9e999)" for name in READ)
    rows = db.execute(
        f"SELECT time_s, flags, {names} FROM reading WHERE time_s BETWEEN ? AND ? "
        "AND area = ? AND origin = ? ORDER BY time_s LIMIT ?",
        (*span, *key, most),
    )
    found = np.fromiter(chain.from_iterable(rows), dtype=np.float64).reshape(-1, 2 + len(READ))
    found[np.isinf(found)] = np.nan
    return found


def as_steps(table: FloatArray) -> Steps:
    """Return rows as `rows_read` gives them as steps of a second."""
    columns = {name: table[:, 2 + k] for k, name in enumerate(READ)}
    return steps_of(table[:, 0].astype(np.int64), table[:, 1].astype(np.int64), columns)


def steps_of(time_s: IntArray, flags: IntArray, columns: Mapping[str, FloatArray]) -> Steps:
    """Return rows [n] with their columns of `READ` as steps of a second, one row each."""
    lines = {name: columns[name] for name in ("air_temp_c", "surface_temp_c")}
    lines["wet_point_c"] = wet_point(*(columns[name] for name in READ[:3]))
    values = {name: np.stack((line, line)) for name, line in lines.items()}
    values[ROWS] = np.stack((np.ones(len(time_s)), ((flags & DOUBT) != 0).astype(np.float64)))
    return Steps(time_s, values)


def wet_point(air_temp_c: FloatArray, rh_pct: FloatArray, dew_point_c: FloatArray) -> FloatArray:
    """Return the higher of dew and frost point, °C [n], quick enough for years of rows.

    By straight lines between values of `moist_air` a quarter of a degree apart: within 0.002 K.
    Where a dew point was read it counts; NaN where nothing tells.
    """
    grid, log_hpa, wet = _moist_grid()
    usable = (rh_pct > 0) & (rh_pct <= 105)
    share = np.where(usable, np.minimum(rh_pct, 100.0) / 100.0, np.nan)
    computed = np.interp(np.log(share) + np.interp(air_temp_c, grid, log_hpa), log_hpa, grid)
    dew = np.where(np.isnan(dew_point_c), np.minimum(computed, air_temp_c), dew_point_c)
    return np.asarray(np.interp(dew, grid, wet))


@lru_cache(maxsize=1)
def _moist_grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Temperatures, logarithm of saturation pressure over water, wet points."""
    grid = np.arange(moist_air.DEW_FLOOR_C, 80.0 + 1e-9, 0.25)
    log_hpa = np.log(np.asarray(moist_air.saturation_hpa(grid)))
    return grid, log_hpa, moist_air.wet_point_array(grid)
