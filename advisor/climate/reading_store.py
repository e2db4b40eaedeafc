"""Readings in the database: imports kept once, typed values, and series read back fast.

One row per time, area and origin; area '' is the shop as a whole. What is there already stays:
a second file over the same hours only fills blanks, except that a corrected typed value replaces
its own earlier row, and a newer forecast every earlier one over its own hours.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from itertools import chain, repeat

import numpy as np

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate import reading_spans, reading_told
from advisor.climate.forecast_near_log import leave_out_near_log
from advisor.climate.quality import check_typed
from advisor.climate.reading_thin import grid_times
from advisor.climate.readings import (
    COLUMNS,
    Flag,
    FloatArray,
    ImportedFile,
    ImportReport,
    IntArray,
    Origin,
    ReadingTable,
)

#: Value columns of the table `reading`.
STORED = COLUMNS
#: At equal time the earlier of these wins.
PRIORITY = (Origin.TYPED, Origin.MEASURED, Origin.IMPORTED, Origin.FORECAST, Origin.ESTIMATED)
#: What was really observed.
OBSERVED = (Origin.TYPED, Origin.MEASURED, Origin.IMPORTED)

_MOIST = ("air_temp_c", "rh_pct", "dew_point_c")
_MAX_DROPPED_KEPT = 1000
_RANK = "CASE origin " + " ".join(f"WHEN '{o}' THEN {i}" for i, o in enumerate(PRIORITY)) + " END"


@dataclass(frozen=True)
class KnownImport:
    """An import already in the store; `area` is where its rows went."""

    import_id: int
    file_name: str
    imported_at_s: int
    rows_used: int
    area: str


@dataclass(frozen=True)
class TypedReading:
    """Values typed in by hand at one time (UTC seconds); None is not measured."""

    time_s: int
    air_temp_c: float | None = None
    rh_pct: float | None = None
    dew_point_c: float | None = None
    surface_temp_c: float | None = None
    surface_hot_c: float | None = None
    pressure_hpa: float | None = None
    wind_m_s: float | None = None
    rain_mm: float | None = None

    def values(self) -> dict[str, float]:
        """Return the values given, by column name."""
        found = {name: getattr(self, name) for name in STORED}
        return {name: float(value) for name, value in found.items() if value is not None}


@dataclass(frozen=True)
class LatestValue:
    """The newest value of one quantity, with its own age and origin. `flags` is its row's."""

    value: float
    time_s: int
    origin: Origin
    flags: int


def save_import(
    store: Store, imported: ImportedFile, file_name: str, now_s: int, area: str = ""
) -> int:
    """Keep an imported file; return how many rows added something.

    0 when the same file (by SHA-256) is there already: `known_import` says since when. Raises
    InputError when it is there for another area.
    """
    sha256 = import_key(imported)
    known = known_import(store, sha256)
    if known is not None:
        _refuse_other_area(known, file_name, area)
        return 0
    with store.write() as db:
        return put_import(db, imported, file_name, now_s, area) or 0


def put_import(
    db: sqlite3.Connection, imported: ImportedFile, file_name: str, now_s: int, area: str = ""
) -> int | None:
    """Keep an imported file inside a write transaction; None when that file is there already."""
    row = _import_row(imported.report, import_key(imported), file_name, now_s, area)
    import_id = _insert_import(db, row)
    # Another window may have kept the same file since the caller looked.
    return None if import_id is None else _insert_rows(db, imported.table, area, import_id)


def import_key(imported: ImportedFile) -> str:
    """Return the file's SHA-256, or one over the values when the file's is not known."""
    if imported.report.file_sha256:
        return imported.report.file_sha256
    digest = hashlib.sha256(imported.table.time_s.tobytes())
    for name in sorted(imported.table.columns):
        digest.update(name.encode() + imported.table.columns[name].tobytes())
    return digest.hexdigest()


def known_import(store: Store, sha256: str) -> KnownImport | None:
    """Return the import with this hash, or None."""
    query = "SELECT id, file_name, imported_at_s, rows_used, report_json FROM import "
    with store.read() as db:
        row = db.execute(query + "WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        return None
    return KnownImport(row[0], row[1], row[2], row[3], str(json.loads(row[4]).get("area", "")))


def remove_import(store: Store, import_id: int) -> int:
    """Take one import back (wrong zone, wrong columns) so that it can be read again.

    Returns the rows removed. Blanks it filled in rows of other imports stay filled.
    """
    with store.write() as db:
        reading_spans.import_going(db, import_id)
        gone = db.execute("DELETE FROM reading WHERE import_id = ?", (import_id,)).rowcount
        db.execute("DELETE FROM import WHERE id = ?", (import_id,))
    return int(gone)


def save_table(store: Store, table: ReadingTable, area: str = "") -> int:
    """Keep readings that come from no file (sensors, forecasts); return rows that added something.

    A forecast replaces the earlier forecasts of the area from its first to its last moment,
    whatever their minutes; anything else only fills blanks.
    """
    with store.write() as db:
        return put_table(db, table, area)


def put_table(db: sqlite3.Connection, table: ReadingTable, area: str = "") -> int:
    """Keep such readings inside a write transaction; as `save_table`."""
    if table.origin is Origin.FORECAST and len(table):
        span = (int(table.time_s[0]), int(table.time_s[-1]))
        where = _where((Origin.FORECAST,))
        db.execute(f"DELETE {where}", (*span, area, Origin.FORECAST.value))
    return _insert_rows(db, table, area, None)


def save_typed(store: Store, reading: TypedReading, area: str = "") -> None:
    """Keep values typed by hand; typed again for the same second, the new values count.

    Raises RangeError for a value that cannot be true, InputError when there is none.
    """
    with store.write() as db:
        put_typed(db, reading, area)


def put_typed(db: sqlite3.Connection, reading: TypedReading, area: str = "") -> None:
    """Keep values typed by hand inside a write transaction; errors as `save_typed`."""
    values = reading.values()
    if not values:
        raise InputError("reading: found no value; accepted: at least one of " + ", ".join(STORED))
    check_typed(values)
    names = list(values)
    sql = _insert_sql(names, [f"{name} = excluded.{name}" for name in names], "")
    db.execute(sql, (int(reading.time_s), area, Origin.TYPED.value, 0, None, *values.values()))
    reading_spans.marked(db, area, Origin.TYPED, int(reading.time_s))


def load(
    store: Store,
    first_s: int,
    last_s: int,
    area: str = "",
    origins: Iterable[Origin] = PRIORITY,
    *,
    for_grid: bool = False,
) -> ReadingTable:
    """Return the readings of one area in [first_s, last_s], merged by `PRIORITY` at equal time.

    Air, RH and dew point are taken together from the best row that has air with RH or dew point,
    since RH belongs to its own air; other values each from the best row that has one. Flags of
    merged rows are joined. A forecast or estimate within `NEAR_S` of a logged value of the same
    column is left out (see `climate.forecast_near_log`). The table's origin is the least trusted
    one in it. `for_grid`: of a dense log only what the grid uses (see `climate.reading_thin`).
    """
    chosen = tuple(origins)
    with store.read() as db:
        times = grid_times(db, (first_s, last_s, area), chosen) if for_grid else None
        where = _where(chosen), (first_s, last_s, area, *chosen)
        if times is not None:
            where = _at_times(chosen), (times, area, *chosen)
        names = _names_in(db, *where)
        numbers = _fetch(db, names, *where)
    if not len(numbers):
        return ReadingTable(np.zeros(0, dtype=np.int64), {}, np.zeros(0, dtype=np.uint16))
    time_s = numbers[:, 0].astype(np.int64)
    rank = numbers[:, 1].astype(np.int64)
    flags = numbers[:, 2].astype(np.uint16)
    values = {name: numbers[:, 3 + i].copy() for i, name in enumerate(names)}
    kept = leave_out_near_log(time_s, _standing(rank), values)
    if kept is not None:
        time_s, rank, flags = time_s[kept], rank[kept], flags[kept]
        values = {name: column[kept] for name, column in values.items()}
    if bool(np.all(np.diff(time_s) > 0)):
        return ReadingTable(time_s, values, flags, PRIORITY[int(rank.max())])
    return _merged(time_s, rank, flags, values)


def latest(
    store: Store,
    now_s: int,
    area: str = "",
    *,
    max_age_s: int = 86400,
    origins: Iterable[Origin] = OBSERVED,
    without: Flag = Flag.NONE,
) -> dict[str, LatestValue]:
    """Return the newest value of each quantity not after `now_s` and not older than `max_age_s`.

    Each has its own time: a typed surface may be older than the sensor's air. Rows with any flag
    of `without` are passed over.
    """
    span, chosen = (now_s - max_age_s, now_s, area), tuple(origins)
    with store.read() as db:
        told = {name: reading_told.newest_rows(db, name, span, chosen, int(without))
                for name in STORED}  # fmt: skip
    newest = {name: max(rows, key=_standing_of) for name, rows in told.items() if rows}
    return {name: LatestValue(*row[:2], Origin(row[2]), row[3]) for name, row in newest.items()}


def _refuse_other_area(known: KnownImport, file_name: str, area: str) -> None:
    if known.area != area:
        here = known.area or "the whole shop"
        raise InputError(
            f"{file_name}: found a file already imported for {here} as {known.file_name}; "
            "accepted: each file once (take that import back first)"
        )


def _import_row(
    report: ImportReport, sha256: str, file_name: str, now_s: int, area: str
) -> tuple[object, ...]:
    words = asdict(report) | {"area": area}
    words["dropped"] = words["dropped"][:_MAX_DROPPED_KEPT]
    counts = (report.rows_read, report.rows_used, report.rows_dropped)
    return (file_name, sha256, now_s, *counts, json.dumps(words, ensure_ascii=False))


def _insert_import(db: sqlite3.Connection, row: tuple[object, ...]) -> int | None:
    """Return the new import's id, None when that hash is there already."""
    done = db.execute(
        "INSERT INTO import (file_name, sha256, imported_at_s, rows_read, rows_used, "
        "rows_dropped, report_json) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
        row,
    )
    return done.lastrowid if done.rowcount == 1 else None


def _insert_rows(
    db: sqlite3.Connection, table: ReadingTable, area: str, import_id: int | None
) -> int:
    names = [name for name in STORED if name in table.columns]
    if not names or not len(table):
        return 0
    if table.origin is Origin.FORECAST:
        sets = [f"{name} = excluded.{name}" for name in names] + ["flags = excluded.flags"]
        sql = _insert_sql(names, sets, "")
    else:
        sets = [f"{name} = coalesce(reading.{name}, excluded.{name})" for name in names]
        blank = " OR ".join(
            f"(reading.{name} IS NULL AND excluded.{name} IS NOT NULL)" for name in names
        )
        sql = _insert_sql(names, [*sets, "flags = reading.flags | excluded.flags"], blank)
    before = db.total_changes
    db.executemany(sql, _rows(table, names, area, import_id))
    added = db.total_changes - before
    reading_spans.written(db, table, area)
    reading_told.note(db, table, area)
    return added


def _insert_sql(names: list[str], sets: list[str], condition: str) -> str:
    columns = ["time_s", "area", "origin", "flags", "import_id", *names]
    where = f" WHERE {condition}" if condition else ""
    return (
        f"INSERT INTO reading ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))}) "
        f"ON CONFLICT (time_s, area, origin) DO UPDATE SET {', '.join(sets)}{where}"
    )


def _rows(
    table: ReadingTable, names: list[str], area: str, import_id: int | None
) -> Iterator[tuple[object, ...]]:
    """Yield rows for `executemany`; SQLite itself keeps NaN as NULL."""
    return zip(
        table.time_s.tolist(),
        repeat(area),
        repeat(table.origin.value),
        table.flags.tolist(),
        repeat(import_id),
        *(table.columns[name].tolist() for name in names),
        strict=False,
    )


def _where(origins: tuple[Origin, ...]) -> str:
    marks = ", ".join("?" * len(origins))
    return f"FROM reading WHERE time_s BETWEEN ? AND ? AND area = ? AND origin IN ({marks}) "


def _at_times(origins: tuple[Origin, ...]) -> str:
    marks = ", ".join("?" * len(origins))
    times = "time_s IN (SELECT value FROM json_each(?))"
    return f"FROM reading WHERE {times} AND area = ? AND origin IN ({marks}) "


def _names_in(db: sqlite3.Connection, where: str, given: tuple[object, ...]) -> list[str]:
    """Return the columns that have any value there: most logs fill three of eight."""
    counts = ", ".join(f"count({name})" for name in STORED)
    found = db.execute(f"SELECT {counts} {where}", given).fetchone()
    return [name for name, count in zip(STORED, found, strict=True) if count]


def _fetch(
    db: sqlite3.Connection, names: list[str], where: str, given: tuple[object, ...]
) -> FloatArray:
    """Return rows of (time, rank, flags, values...) as float64, NaN for NULL, in time order."""
    # Infinity stands in for NULL on the way: numpy takes a stream of plain floats, not of None.
    chosen = ["time_s", _RANK, "flags", *(f"ifnull({name}, 9e999)" for name in names)]
    rows = db.execute(f"SELECT {', '.join(chosen)} {where} ORDER BY time_s", given)
    flat = np.fromiter(chain.from_iterable(rows), dtype=np.float64)
    numbers = flat.reshape(-1, len(chosen))
    numbers[np.isinf(numbers)] = np.nan
    return numbers


def _standing(rank: IntArray) -> IntArray:
    """1 for logged rows, -1 for forecast and estimated ones, 0 for typed ones."""
    each = {Origin.MEASURED: 1, Origin.IMPORTED: 1, Origin.FORECAST: -1, Origin.ESTIMATED: -1}
    return np.array([each.get(origin, 0) for origin in PRIORITY], dtype=np.int64)[rank]


def _merged(
    time_s: IntArray, rank: IntArray, flags: np.ndarray, values: dict[str, FloatArray]
) -> ReadingTable:
    times, group = np.unique(time_s, return_inverse=True)
    worst_first = [rank == r for r in sorted(set(rank.tolist()), reverse=True)]
    joined = np.zeros(len(times), dtype=np.uint16)
    for at in worst_first:
        joined[group[at]] |= flags[at]
    columns = {name: np.full(len(times), np.nan) for name in values}
    for name, out in columns.items():
        for at in worst_first:
            given = at & ~np.isnan(values[name])
            out[group[given]] = values[name][given]
    whole = _whole_air(values, len(time_s))
    for name in columns.keys() & set(_MOIST):
        for at in worst_first:
            columns[name][group[at & whole]] = values[name][at & whole]
    return ReadingTable(times, columns, joined, PRIORITY[int(rank.max())])


def _whole_air(values: dict[str, FloatArray], rows: int) -> np.ndarray:
    """Return the rows that have air temperature with RH or dew point."""
    blank = np.full(rows, np.nan)
    air, rh, dew = (~np.isnan(values.get(name, blank)) for name in _MOIST)
    return air & (rh | dew)


def _standing_of(row: tuple[float, int, str, int]) -> tuple[int, int]:
    """Return a row's time, then how far its origin stands before others."""
    return row[1], -PRIORITY.index(Origin(row[2]))
