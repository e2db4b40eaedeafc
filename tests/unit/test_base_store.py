"""The store keeps committed rows through everything and says plainly what is wrong."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from advisor.base.errors import StoreError
from advisor.base.migrations import MIGRATIONS, Migration
from advisor.base.store import Store, advice_for

INSERT = "INSERT INTO product (id, toml) VALUES (?, '')"


def ids(store: Store) -> list[str]:
    with store.read() as db:
        return [row[0] for row in db.execute("SELECT id FROM product ORDER BY id")]


def fail_after(db: sqlite3.Connection, name: str) -> None:
    db.execute(INSERT, (name,))
    raise ZeroDivisionError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "new folder" / "shop.sqlite3"


def test_settings_of_the_connection(path: Path) -> None:
    with Store(path) as store, store.write() as db:
        pragmas = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        values = [db.execute(f"PRAGMA {name}").fetchone()[0] for name in pragmas]
    assert values == ["wal", 2, 1, 5000]  # synchronous 2 is FULL


def test_committed_rows_stay_and_failed_ones_go(path: Path) -> None:
    with Store(path) as store:
        with store.write() as db:
            db.execute(INSERT, ("kept",))
        with pytest.raises(ZeroDivisionError), store.write() as db:
            fail_after(db, "gone")
        assert ids(store) == ["kept"]
    with Store(path) as again:
        assert ids(again) == ["kept"]


def test_reader_cannot_write_and_sees_one_state(path: Path) -> None:
    with Store(path) as store, store.read() as db:
        assert db.execute("SELECT count(*) FROM product").fetchone() == (0,)
        with store.write() as writer:
            writer.execute(INSERT, ("late",))
        assert db.execute("SELECT count(*) FROM product").fetchone() == (0,)
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute(INSERT, ("no",))


def test_our_own_mistakes_are_not_dressed_up(path: Path) -> None:
    with Store(path) as store:
        with pytest.raises(sqlite3.OperationalError, match="no such table"), store.read() as db:
            db.execute("SELECT 1 FROM absent")
        with pytest.raises(sqlite3.IntegrityError), store.write() as db:
            db.execute("INSERT INTO event (job_id, kind, at_s) VALUES ('none', 'batch', 0)")


def test_threads_take_turns(path: Path) -> None:
    def add(name: str) -> None:
        for number in range(10):
            with store.write() as db:
                db.execute(INSERT, (f"{name}{number}",))

    with Store(path) as store:
        threads = [threading.Thread(target=add, args=(name,)) for name in "abc"]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(ids(store)) == 30


def test_two_windows(path: Path) -> None:
    with Store(path) as one, Store(path, busy_ms=0) as two:
        with one.write() as db:
            db.execute(INSERT, ("one",))
            with pytest.raises(StoreError, match="another window"), two.write():
                pass
        with two.write() as db:
            db.execute(INSERT, ("two",))
        assert ids(one) == ["one", "two"]


def test_killed_in_the_middle(path: Path) -> None:
    """Kill -9 between two statements: the committed row stays, the open one goes."""
    program = (
        "import os, signal, sys\n"
        "from advisor.base.store import Store\n"
        "store = Store(sys.argv[1])\n"
        f"insert = {INSERT!r}\n"
        "with store.write() as db: db.execute(insert, ('kept',))\n"
        "with store.write() as db:\n"
        "    db.execute(insert, ('lost',))\n"
        "    os.kill(os.getpid(), getattr(signal, 'SIGKILL', signal.SIGTERM))\n"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", program, str(path)], cwd=root, check=False)
    assert done.returncode != 0
    with Store(path) as store:
        assert ids(store) == ["kept"]
        with store.read() as db:
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_full_disk_changes_nothing(path: Path) -> None:
    with Store(path) as store:
        with store.write() as db:
            db.execute(INSERT, ("kept",))
        with store.write() as db:  # a disk with no page to spare
            pages = db.execute("PRAGMA page_count").fetchone()[0]
            db.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StoreError, match="disk is full"), store.write() as db:
            db.execute(INSERT, ("x" * 100_000,))
        with store.write() as db:
            db.execute("PRAGMA max_page_count = 1000000")
            db.execute(INSERT, ("later",))
        assert ids(store) == ["kept", "later"]


def test_newer_database_is_refused_untouched(path: Path) -> None:
    with Store(path) as store:
        version = store.version()
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {version + 1}")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="newer version of this program"):
        Store(path)
    assert path.read_bytes() == before


def test_another_programs_database_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite3"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE theirs (x)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="another program"):
        Store(path)
    assert path.read_bytes() == before


def test_not_a_database(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time,air_temp_c\n" * 100)
    with pytest.raises(StoreError, match=r"log\.csv: it is not a database"):
        Store(path)
    assert path.read_text().startswith("time,")


def test_a_folder_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="cannot be opened"):
        Store(tmp_path)


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="folder cannot be made"):
        Store(tmp_path / "file" / "shop.sqlite3")


def test_advice_for_a_read_only_file(path: Path) -> None:
    Store(path).close()
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as db:
        with pytest.raises(sqlite3.OperationalError) as caught:
            db.execute(INSERT, ("x",))
        assert "read-only" in str(advice_for(caught.value.sqlite_errorcode))
    assert advice_for(sqlite3.SQLITE_CONSTRAINT) is None
    assert advice_for(None) is None


def test_a_failing_step_leaves_the_old_version(path: Path) -> None:
    def broken(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half_done (x)")
        raise ZeroDivisionError

    Store(path).close()
    steps = (*MIGRATIONS, Migration("2999-01-01 broken", broken))
    with pytest.raises(ZeroDivisionError):
        Store(path, migrations=steps)
    with Store(path) as store:
        assert store.version() == len(MIGRATIONS)
        with store.read() as db:
            rows = db.execute("SELECT name FROM migration ORDER BY version").fetchall()
            found = db.execute("SELECT 1 FROM sqlite_master WHERE name = 'half_done'").fetchall()
    assert rows == [(step.name,) for step in MIGRATIONS]
    assert found == []


def test_two_windows_migrate_once(path: Path) -> None:
    barrier = threading.Barrier(4)
    failures: list[BaseException] = []

    def start() -> None:
        barrier.wait()
        try:
            Store(path).close()
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=start) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    with Store(path) as store, store.read() as db:
        count = db.execute("SELECT count(*) FROM migration").fetchone()[0]
    assert count == len(MIGRATIONS)


class AtOnce(sqlite3.Connection):
    """Says busy at once as the log is turned on, as SQLite does to one of two at the same time."""

    refusals = 1

    def execute(self, statement: str, *given: Any) -> sqlite3.Cursor:
        if "journal_mode" in statement and self.refusals:
            self.refusals -= 1
            error = sqlite3.OperationalError("database is locked")
            error.sqlite_errorcode = sqlite3.SQLITE_BUSY
            raise error
        return super().execute(statement, *given)


def test_two_windows_opened_at_once_on_a_new_file_wait_for_each_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *g, **k: real(*g, **k, factory=AtOnce))
    with Store(tmp_path / "new.sqlite3") as store:
        assert store.version() == len(MIGRATIONS)
    with pytest.raises(StoreError, match="another window"):
        Store(tmp_path / "other.sqlite3", busy_ms=0)
