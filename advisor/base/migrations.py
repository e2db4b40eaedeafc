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


MIGRATIONS: tuple[Migration, ...] = (
    Migration("2026-11-25 first tables", m2026_11_25_first_tables),
)
