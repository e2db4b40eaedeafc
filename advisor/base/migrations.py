"""The steps that bring a database up to date, oldest first.

A step is a function named by its date. It is never changed once released: a mistake is
mended by a further step. Each has a test and an old file under `tests/migration`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

#: Marks a file as ours (SQLite `application_id`): the letters PWAd.
APPLICATION_ID = 0x50574164


@dataclass(frozen=True)
class Migration:
    """One step. `apply` runs inside a transaction that is not its own to end."""

    name: str
    apply: Callable[[sqlite3.Connection], None]


_FIRST_TABLES = (
    "CREATE TABLE migration (version INTEGER PRIMARY KEY, name TEXT NOT NULL)",
    "CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE import (
        id INTEGER PRIMARY KEY,
        file_name TEXT NOT NULL,
        sha256 TEXT NOT NULL UNIQUE,
        imported_at_s INTEGER NOT NULL,
        rows_read INTEGER NOT NULL,
        rows_used INTEGER NOT NULL,
        rows_dropped INTEGER NOT NULL,
        report_json TEXT NOT NULL
    )""",
    """CREATE TABLE reading (
        time_s INTEGER NOT NULL,
        area TEXT NOT NULL DEFAULT '',
        air_temp_c REAL,
        rh_pct REAL,
        dew_point_c REAL,
        surface_temp_c REAL,
        surface_hot_c REAL,
        pressure_hpa REAL,
        wind_m_s REAL,
        rain_mm REAL,
        origin TEXT NOT NULL,
        flags INTEGER NOT NULL DEFAULT 0,
        import_id INTEGER REFERENCES import (id),
        PRIMARY KEY (time_s, area, origin)
    ) WITHOUT ROWID""",
    "CREATE TABLE product (id TEXT PRIMARY KEY, toml TEXT NOT NULL)",
    "CREATE TABLE job (id TEXT PRIMARY KEY, toml TEXT NOT NULL)",
    """CREATE TABLE event (
        id INTEGER PRIMARY KEY,
        job_id TEXT NOT NULL REFERENCES job (id),
        coat_id TEXT NOT NULL DEFAULT '',
        kind TEXT NOT NULL,
        at_s INTEGER NOT NULL,
        detail_json TEXT NOT NULL DEFAULT '{}'
    )""",
    "CREATE INDEX event_by_job ON event (job_id, at_s)",
)


def m2026_11_25_first_tables(db: sqlite3.Connection) -> None:
    """Settings, readings with the file they came from, products, jobs and their events."""
    for statement in _FIRST_TABLES:
        db.execute(statement)


_FORECAST_TABLES = (
    """CREATE TABLE forecast (
        id INTEGER PRIMARY KEY,
        source TEXT NOT NULL,
        lat_deg REAL NOT NULL,
        lon_deg REAL NOT NULL,
        altitude_m REAL NOT NULL,
        fetched_s INTEGER NOT NULL,
        checked_s INTEGER NOT NULL,
        issued_s INTEGER,
        sha256 TEXT NOT NULL,
        parsed_gzip BLOB NOT NULL
    )""",
    """CREATE INDEX forecast_by_place
        ON forecast (source, lat_deg, lon_deg, altitude_m, issued_s)""",
    """CREATE TABLE forecast_body (
        forecast_id INTEGER NOT NULL REFERENCES forecast (id) ON DELETE CASCADE,
        step INTEGER NOT NULL,
        kind TEXT NOT NULL,
        fetched_s INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        body_gzip BLOB NOT NULL,
        PRIMARY KEY (forecast_id, step)
    ) WITHOUT ROWID""",
    """CREATE TABLE http_state (
        source TEXT NOT NULL,
        url TEXT NOT NULL DEFAULT '',
        expires_s INTEGER NOT NULL DEFAULT 0,
        next_allowed_s INTEGER NOT NULL DEFAULT 0,
        failures INTEGER NOT NULL DEFAULT 0,
        last_status INTEGER,
        last_error TEXT NOT NULL DEFAULT '',
        stopped_for TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (source, url)
    ) WITHOUT ROWID""",
    """CREATE TABLE fit (
        kind TEXT PRIMARY KEY,
        made_at_s INTEGER NOT NULL,
        json TEXT NOT NULL
    ) WITHOUT ROWID""",
)


def m2026_11_26_forecasts(db: sqlite3.Connection) -> None:
    """Weather forecasts with the answers they came from, when to ask again, fitted models."""
    for statement in _FORECAST_TABLES:
        db.execute(statement)


_SAID_TABLE = """CREATE TABLE said (
    issued_s INTEGER PRIMARY KEY,
    start_s INTEGER NOT NULL,
    step_s INTEGER NOT NULL,
    air_temp_c_json TEXT NOT NULL
)"""


def m2026_11_26_said(db: sqlite3.Connection) -> None:
    """What the shop's air was told to be, as it was told."""
    db.execute(_SAID_TABLE)


_RECORD_TABLES = (
    """CREATE TABLE entry (
        job_id TEXT NOT NULL,
        number INTEGER NOT NULL,
        kind TEXT NOT NULL,
        area_id TEXT NOT NULL,
        coat_id TEXT NOT NULL,
        at_s INTEGER NOT NULL,
        written_s INTEGER NOT NULL,
        by TEXT NOT NULL,
        hash TEXT NOT NULL,
        line BLOB NOT NULL,
        PRIMARY KEY (job_id, number)
    ) WITHOUT ROWID""",
    "CREATE INDEX entry_by_kind ON entry (job_id, kind, number)",
    """CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
        BEGIN SELECT RAISE (ABORT, 'entries are never changed'); END""",
    """CREATE TRIGGER entry_remains BEFORE DELETE ON entry
        BEGIN SELECT RAISE (ABORT, 'entries are never removed'); END""",
    "CREATE TABLE sensor (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID",
    "CREATE TABLE sensor_state (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID",
    "CREATE TABLE instrument (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE alarm_heard (
        job_id TEXT NOT NULL,
        key TEXT NOT NULL,
        heard_s INTEGER NOT NULL,
        PRIMARY KEY (job_id, key)
    ) WITHOUT ROWID""",
    """CREATE TABLE reading_span (
        area TEXT NOT NULL,
        level INTEGER NOT NULL,
        chunk INTEGER NOT NULL,
        quantity TEXT NOT NULL,
        low_high BLOB NOT NULL,
        PRIMARY KEY (area, level, chunk, quantity)
    ) WITHOUT ROWID""",
)


#: All readings wait to be laid out anew: a mark for each stretch of 16384 s that has some.
MARK_ALL_READINGS = (
    "INSERT INTO reading_span SELECT DISTINCT area, -1, time_s / 16384, origin, x'' FROM reading "
    "WHERE origin IN ('typed', 'measured', 'imported')"
)


def m2026_11_28_record(db: sqlite3.Connection) -> None:
    """The conditions record, sensors and their state, instruments, the span of readings."""
    for statement in (*_RECORD_TABLES, MARK_ALL_READINGS):
        db.execute(statement)


_SENSOR_ROW_TABLE = """CREATE TABLE sensor_row (
    sensor_id TEXT NOT NULL,
    time_s INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    value REAL,
    flags INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (sensor_id, time_s, quantity)
) WITHOUT ROWID"""


def m2026_11_28_sensor_rows(db: sqlite3.Connection) -> None:
    """What sensors brought and is not yet sealed in the record, each sensor's apart."""
    db.execute(_SENSOR_ROW_TABLE)


_TOLD = (
    """CREATE TABLE reading_told (
        area TEXT NOT NULL,
        quantity TEXT NOT NULL,
        unit INTEGER NOT NULL,
        PRIMARY KEY (area, quantity, unit)
    ) WITHOUT ROWID""",
    """CREATE INDEX reading_unlogged ON reading (area, time_s)
        WHERE origin NOT IN ('measured', 'imported')""",
)
#: What each stretch of 16384 s of the logs tells.
NOTE_ALL_TOLD = tuple(
    f"INSERT OR IGNORE INTO reading_told SELECT DISTINCT area, '{name}', time_s / 16384 "
    f"FROM reading WHERE {name} IS NOT NULL AND origin IN ('measured', 'imported')"
    for name in (
        "air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "surface_hot_c", "pressure_hpa",
        "wind_m_s", "rain_mm",
    )
)  # fmt: skip


def m2026_11_28_told(db: sqlite3.Connection) -> None:
    """What logs told where, and an index of the rows of no log."""
    for statement in (*_TOLD, *NOTE_ALL_TOLD):
        db.execute(statement)


MIGRATIONS: tuple[Migration, ...] = (
    Migration("2026-11-25 first tables", m2026_11_25_first_tables),
    Migration("2026-11-26 forecasts", m2026_11_26_forecasts),
    Migration("2026-11-26 said", m2026_11_26_said),
    Migration("2026-11-28 record", m2026_11_28_record),
    Migration("2026-11-28 sensor rows", m2026_11_28_sensor_rows),
    Migration("2026-11-28 told", m2026_11_28_told),
)
