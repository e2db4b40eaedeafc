"""Which rows of a dense log the grid needs: a sensor by the second, and no second looked at twice.

The grid of `climate.series` takes the value at each of its points, or draws a line from the last
value before to the first after it. So of each grid step only the first and the last value of each
column are ever used, and of those once more the first and last that are not doubtful. All other
rows of a log can be left out before they are read, and every answer on the grid is what all rows
would give. Kept besides: every row that was typed, foretold or estimated, and every row with a
column that few rows have. A row that is kept is kept whole, with its flags. Looking back at
compliance (`work.reviews`) and the readings pane read all rows.
"""

from __future__ import annotations

import json
import sqlite3

from advisor.climate import reading_told
from advisor.climate.reading_told import Span
from advisor.climate.readings import COLUMNS, DOUBTFUL, LOGGED
from advisor.climate.series import GRID_S

#: A span with no more rows than this is read whole.
DENSE_ROWS = 20_000
#: Air and humidity of one row tell its dew point, which the grid wants as well.
_WET = "(dew_point_c IS NOT NULL OR (air_temp_c IS NOT NULL AND rh_pct IS NOT NULL))"
_LOG = "area = ? AND origin IN (?, ?)"

_Step = tuple[int, int]


def grid_times(db: sqlite3.Connection, span: Span, origins: tuple[str, ...]) -> str | None:
    """Return the times of the rows that the grid needs in (first s, last s, area), as JSON.

    None where there are so few rows that all may be read.
    """
    area = span[2]
    if not reading_told.anything(db, span):
        return "[]"
    wanted = ", ".join("?" * len(origins))
    many = db.execute(
        "SELECT 1 FROM reading WHERE time_s BETWEEN ? AND ? AND area = ? "
        f"AND origin IN ({wanted}) LIMIT 1 OFFSET {DENSE_ROWS}",
        (*span, *origins),
    ).fetchone()
    if many is None:
        return None
    logged = tuple(origin if origin in origins else "" for origin in LOGGED)
    steps = _steps(db, span)
    ends = _ends(db, steps, area, logged, "1")
    found = {time_s for pair in ends for time_s in pair if time_s is not None}
    told, whole = _told_at(db, found, area, logged)
    for condition in (*(f"{name} IS NOT NULL" for name in told), _WET):
        for sure in ("", f" AND flags & {int(DOUBTFUL)} = 0"):
            part = [s for s, pair in zip(steps, ends, strict=True) if not whole.issuperset(pair)]
            for pair in _ends(db, part, area, logged, condition + sure):
                found.update(time_s for time_s in pair if time_s is not None)
    return json.dumps(sorted(found | _rare(db, span, told)))


def _steps(db: sqlite3.Connection, span: Span) -> list[_Step]:
    """Return (first s, last s) of the grid steps with rows; the first and last may be cut."""
    first_s, last_s, _ = span
    rows = db.execute(
        "WITH RECURSIVE step (at) AS ("
        "SELECT (SELECT min(time_s) FROM reading WHERE time_s BETWEEN ?1 AND ?2) "
        f"UNION ALL SELECT (SELECT min(time_s) FROM reading WHERE time_s BETWEEN "
        f"at - ((at % {GRID_S}) + {GRID_S}) % {GRID_S} + {GRID_S} AND ?2) "
        "FROM step WHERE at IS NOT NULL) SELECT at FROM step WHERE at IS NOT NULL",
        (first_s, last_s),
    )
    return [(at, min(last_s, at - at % GRID_S + GRID_S - 1)) for (at,) in rows]


def _ends(
    db: sqlite3.Connection, steps: list[_Step], area: str, logged: tuple[str, ...], condition: str
) -> list[tuple[int | None, int | None]]:
    """Return the times of the first and the last logged row of each step that meets a condition."""
    one = (
        "(SELECT time_s FROM reading WHERE time_s BETWEEN step.value ->> 0 AND step.value ->> 1 "
        f"AND area = ?2 AND origin IN (?3, ?4) AND {condition} ORDER BY time_s"
    )
    query = f"SELECT {one} LIMIT 1), {one} DESC LIMIT 1) FROM json_each(?1) AS step"
    return db.execute(query, (json.dumps(steps), area, *logged)).fetchall()


def _told_at(
    db: sqlite3.Connection, times: set[int], area: str, logged: tuple[str, ...]
) -> tuple[list[str], set[int]]:
    """Return the columns told at some times, and the times that tell all of them undoubted."""
    rows = db.execute(
        f"SELECT time_s, flags, {', '.join(COLUMNS)} FROM reading "
        f"WHERE time_s IN (SELECT value FROM json_each(?)) AND {_LOG}",
        (json.dumps(sorted(times)), area, *logged),
    ).fetchall()
    told = [name for i, name in enumerate(COLUMNS) if any(row[2 + i] is not None for row in rows)]
    at = [2 + COLUMNS.index(name) for name in told]
    doubtful = {row[0] for row in rows if row[1] & int(DOUBTFUL)}
    whole = {row[0] for row in rows if all(row[i] is not None for i in at)}
    return told, whole - doubtful


def _rare(db: sqlite3.Connection, span: Span, told: list[str]) -> set[int]:
    """Return the times of rows of no log, and of those that tell what the others do not."""
    found = reading_told.times_unlogged(db, span)
    for name in (name for name in COLUMNS if name not in told):
        for first_s, last_s in reading_told.stretches(db, span, name):
            rows = db.execute(
                "SELECT time_s FROM reading WHERE time_s BETWEEN ? AND ? AND area = ? "
                f"AND origin IN (?, ?) AND {name} IS NOT NULL",
                (first_s, last_s, span[2], *LOGGED),
            )
            found.update(time_s for (time_s,) in rows)
    return found
