"""Write the stored file of the newest migration: run once, when the migration is released.

    python tests/migration/make_old_file.py

It fills every table with a row or two and saves the SQL text, which is readable in a review
and the same on every machine; a stored file is never written again.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from advisor.base.migrations import APPLICATION_ID, MIGRATIONS
from advisor.base.store import Store

HERE = Path(__file__).parent

ROWS = (
    "INSERT INTO setting VALUES ('units', '\"us\"')",
    "INSERT INTO import VALUES (1, 'shed.csv', 'ab12', 1780000000, 3, 2, 1, '{}')",
    "INSERT INTO reading VALUES"
    " (1780000000, 'hull', 12.5, 71.0, 7.4, 10.9, 11.8, 1013.2, 0.4, 0.0, 'imported', 0, 1),"
    " (1780000000, '', 12.5, 104.0, NULL, NULL, NULL, NULL, NULL, NULL, 'typed', 1, NULL)",
    "INSERT INTO product VALUES ('gloss', 'schema = 1')",
    "INSERT INTO job VALUES ('dunlin', 'schema = 1')",
    "INSERT INTO event VALUES (1, 'dunlin', 'gloss-1', 'batch', 1780000300, '{}')",
    "INSERT INTO forecast VALUES"
    " (1, 'metno', 41.23, -96.54, 361.0, 1780000000, 1780003600, 1779999000, 'cd34', x'1f8b')",
    "INSERT INTO forecast_body VALUES (1, 0, 'complete', 1780000000, 'ef56', x'1f8b')",
    "INSERT INTO http_state VALUES"
    " ('metno', '', 0, 1780000900, 2, 503, 'not available', ''),"
    " ('nws', '', 0, 0, 1, 403, 'refused', 'ab12')",
    "INSERT INTO fit VALUES ('shop', 1780000000, '{}')",
    "INSERT INTO said VALUES (1780000000, 1780002000, 3600, '[14.1, null]')",
    "INSERT INTO entry VALUES ('dunlin', 1, 'job', '', '', 1780000000, 1780000000, 'crew',"
    " 'ab12', x'7b7d')",
    "INSERT INTO sensor VALUES ('shed', '{}')",
    "INSERT INTO sensor_state VALUES ('shed', '{}')",
    "INSERT INTO instrument VALUES ('probe', '{}')",
    "INSERT INTO alarm_heard VALUES ('dunlin', 'induction 2', 1780000900)",
    "INSERT INTO reading_span VALUES ('', 0, 1, 'air_temp_c', x'00')",
    "INSERT INTO sensor_row VALUES ('shed', 1780000000, 'air_temp_c', 12.5, 0)",
    "INSERT INTO reading_told VALUES ('hull', 'air_temp_c', 108642)",
)


def dump(path: Path) -> str:
    """Return the database as SQL text, with the two numbers a dump leaves out."""
    with closing(sqlite3.connect(path)) as db:
        version = db.execute("PRAGMA user_version").fetchone()[0]
        lines = list(db.iterdump())
    head = [f"PRAGMA application_id = {APPLICATION_ID};", f"PRAGMA user_version = {version};"]
    return "\n".join([*head, *lines, ""])


def main() -> int:
    """Write the file; refuse to write one that is there."""
    target = HERE / f"v{len(MIGRATIONS)}.sql"
    if target.exists():
        print(f"{target.name} is there already and must not change", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "old.sqlite3")
        with Store(path) as store, store.write() as db:
            for row in ROWS:
                db.execute(row)
        target.write_text(dump(path), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
