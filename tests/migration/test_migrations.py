"""Each migration is dated, tested, and opens a file as an old version left it."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from advisor.base.migrations import MIGRATIONS
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.reading_told import UNIT_S
from advisor.climate.readings import COLUMNS

HERE = Path(__file__).parent


def opened(version: int, folder: Path) -> Store:
    """Rebuild the stored file of a version and open it with today's program."""
    path = folder / "shop.sqlite3"
    with closing(sqlite3.connect(path)) as db:
        db.executescript((HERE / f"v{version}.sql").read_text(encoding="utf-8"))
        assert db.execute("PRAGMA user_version").fetchone() == (version,)
    return Store(path)


def test_each_migration_has_a_test_and_a_stored_file() -> None:
    tests = {name for name in globals() if name.startswith("test_m")}
    for number, step in enumerate(MIGRATIONS, 1):
        assert (HERE / f"v{number}.sql").is_file(), f"run make_old_file.py for {step.name}"
        assert f"test_{step.apply.__name__}" in tests


def test_migrations_are_named_by_date_in_order() -> None:
    for step in MIGRATIONS:
        date, words = step.name.split(" ", 1)
        assert re.fullmatch(r"\d{4}-\d\d-\d\d", date)
        expected = f"m{date}_{words}".replace("-", "_").replace(" ", "_")
        assert step.apply.__name__ == expected
    names = [step.name for step in MIGRATIONS]
    assert names == sorted(names)


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_every_old_file_ends_up_as_a_new_one(version: int, tmp_path: Path) -> None:
    """Old and new files differ in rows, never in tables."""

    def tables(store: Store) -> list[tuple[str, str]]:
        with store.read() as db:
            rows = db.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            return sorted((name, " ".join(sql.split())) for name, sql in rows)

    (tmp_path / "old").mkdir()
    with opened(version, tmp_path / "old") as old, Store(tmp_path / "new.sqlite3") as new:
        assert tables(old) == tables(new)
        assert old.version() == len(MIGRATIONS)


def test_m2026_11_25_first_tables(tmp_path: Path) -> None:
    with opened(1, tmp_path) as store:
        assert Settings(store).get("units") == "us"
        with store.read() as db:
            readings = db.execute(
                "SELECT area, air_temp_c, rh_pct, origin, flags, import_id FROM reading"
            ).fetchall()
            events = db.execute("SELECT job_id, coat_id, kind, at_s FROM event").fetchall()
    assert readings == [("", 12.5, 104.0, "typed", 1, None), ("hull", 12.5, 71.0, "imported", 0, 1)]
    assert events == [("dunlin", "gloss-1", "batch", 1780000300)]


def test_m2026_11_26_forecasts(tmp_path: Path) -> None:
    with opened(2, tmp_path) as store:
        with store.read() as db:
            forecasts = db.execute("SELECT source, lat_deg, checked_s FROM forecast").fetchall()
            states = db.execute("SELECT source, next_allowed_s, failures FROM http_state")
            states_by_source = {row[0]: row[1:] for row in states}
            fits = db.execute("SELECT kind, made_at_s, json FROM fit").fetchall()
        with store.write() as db:  # an answer goes with its forecast
            db.execute("DELETE FROM forecast")
            bodies = db.execute("SELECT count(*) FROM forecast_body").fetchone()[0]
    assert forecasts == [("metno", 41.23, 1780003600)]
    assert states_by_source == {"metno": (1780000900, 2), "nws": (0, 1)}
    assert fits == [("shop", 1780000000, "{}")]
    assert bodies == 0


def test_a_first_file_gets_the_forecast_tables_and_keeps_its_rows(tmp_path: Path) -> None:
    with opened(1, tmp_path) as store, store.read() as db:
        assert db.execute("SELECT count(*) FROM reading").fetchone() == (2,)
        for table in ("forecast", "forecast_body", "http_state", "fit"):
            assert db.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)


def test_m2026_11_26_said(tmp_path: Path) -> None:
    with opened(3, tmp_path) as store, store.read() as db:
        said = db.execute("SELECT issued_s, start_s, step_s, air_temp_c_json FROM said").fetchall()
    assert said == [(1780000000, 1780002000, 3600, "[14.1, null]")]


def test_m2026_11_28_record(tmp_path: Path) -> None:
    """Entries come through, and the file itself refuses to change or remove one."""
    with opened(4, tmp_path) as store:
        with store.read() as db:
            entries = db.execute("SELECT job_id, number, kind, hash, line FROM entry").fetchall()
            heard = db.execute("SELECT job_id, key, heard_s FROM alarm_heard").fetchall()
        for statement in ("UPDATE entry SET by = 'other'", "DELETE FROM entry"):
            with (
                pytest.raises(sqlite3.IntegrityError, match="entries are never"),
                store.write() as db,
            ):
                db.execute(statement)
    assert entries == [("dunlin", 1, "job", "ab12", b"{}")]
    assert heard == [("dunlin", "induction 2", 1780000900)]


def test_m2026_11_28_sensor_rows(tmp_path: Path) -> None:
    with opened(5, tmp_path) as store, store.read() as db:
        rows = db.execute("SELECT sensor_id, time_s, quantity, value, flags FROM sensor_row")
        assert rows.fetchall() == [("shed", 1780000000, "air_temp_c", 12.5, 0)]


def test_m2026_11_28_told(tmp_path: Path) -> None:
    with opened(6, tmp_path) as store, store.read() as db:
        told = db.execute("SELECT area, quantity, unit FROM reading_told").fetchall()
    assert told == [("hull", "air_temp_c", 108642)]


def test_an_older_file_has_noted_what_its_logs_tell(tmp_path: Path) -> None:
    """One imported row with every column, of "hull"; the other row was typed."""
    with opened(5, tmp_path) as store, store.read() as db:
        told = db.execute("SELECT area, quantity, unit FROM reading_told").fetchall()
    assert sorted(told) == [("hull", name, 1780000000 // UNIT_S) for name in sorted(COLUMNS)]
