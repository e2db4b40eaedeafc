"""What logs told where, so that a log by the second is not read through for what it lacks.

Beside the readings stands for each area, quantity and stretch of `UNIT_S` whether a row of a log
(measured or imported) told it. The note stays when rows are taken back, so it says "may". Rows of
no log (typed, foretold, estimated) are few among them and have an index of their own.
"""

from __future__ import annotations

import sqlite3

import numpy as np

from advisor.climate.readings import COLUMNS, LOGGED, Origin, ReadingTable

#: As the migration notes what an older file holds.
UNIT_S = 16384
#: The words of the index: SQLite takes it only where the query says the same.
_UNLOGGED = (
    "FROM reading INDEXED BY reading_unlogged WHERE origin NOT IN ('measured', 'imported') "
    "AND time_s BETWEEN ? AND ? AND area = ?"
)
_LOGGED = "AND origin IN ('measured', 'imported')"

#: First and last moment, UTC seconds, and the area.
Span = tuple[int, int, str]


def note(db: sqlite3.Connection, table: ReadingTable, area: str) -> None:
    """Note what rows tell that are being written, inside the caller's transaction."""
    if table.origin not in LOGGED:
        return
    for name, values in table.columns.items():
        units = np.unique(table.time_s[~np.isnan(values)] // UNIT_S)
        db.executemany(
            "INSERT OR IGNORE INTO reading_told VALUES (?, ?, ?)",
            ((area, name, unit) for unit in units.tolist()),
        )


def stretches(db: sqlite3.Connection, span: Span, name: str) -> list[tuple[int, int]]:
    """Return (first s, last s) of the stretches of a span where a log may tell a quantity."""
    first_s, last_s, area = span
    rows = db.execute(
        "SELECT unit FROM reading_told WHERE area = ? AND quantity = ? AND unit BETWEEN ? AND ? "
        "ORDER BY unit",
        (area, name, first_s // UNIT_S, last_s // UNIT_S),
    )
    return [(max(first_s, unit * UNIT_S), min(last_s, (unit + 1) * UNIT_S - 1)) for (unit,) in rows]


def times_unlogged(db: sqlite3.Connection, span: Span) -> set[int]:
    """Return the times of rows of no log."""
    return {time_s for (time_s,) in db.execute(f"SELECT time_s {_UNLOGGED}", span)}


def anything(db: sqlite3.Connection, span: Span) -> bool:
    """Whether there may be any row at all."""
    if db.execute(f"SELECT 1 {_UNLOGGED} LIMIT 1", span).fetchone() is not None:
        return True
    return any(stretches(db, span, name) for name in COLUMNS)


def newest_rows(
    db: sqlite3.Connection, name: str, span: Span, origins: tuple[Origin, ...], without: int
) -> list[tuple[float, int, str, int]]:
    """Return the newest row (value, time, origin, flags) that tells a quantity: a log's, and one
    of no log. Rows with any flag of `without` are passed over.
    """
    marks = ", ".join("?" * len(origins))
    chosen = f"SELECT {name}, time_s, origin, flags"
    # At one time the names of the origins, backwards, are in the order in which they count.
    last = (
        f"AND origin IN ({marks}) AND {name} IS NOT NULL AND flags & {without} = 0 "
        "ORDER BY time_s DESC, origin DESC LIMIT 1"
    )
    found = db.execute(f"{chosen} {_UNLOGGED} {last}", (*span, *origins)).fetchall()
    logged = f"{chosen} FROM reading WHERE time_s BETWEEN ? AND ? AND area = ? {_LOGGED} {last}"
    for first_s, last_s in reversed(stretches(db, span, name)):
        rows = db.execute(logged, (first_s, last_s, span[2], *origins)).fetchall()
        if rows:
            return [*found, *rows]
    return found
