"""`advisor record backup|restore|rescue`, above all of a database that no longer opens."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Draft
from advisor.work.workbench import Workbench
from tests.e2e import cli_shop
from tests.e2e.cli_shop import DAY, Done

NOW_S = DAY.timestamp()


@pytest.fixture
def database(tmp_path: Path, root: Path) -> Path:
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        bench = Workbench(store, root / "resources")
        bench.load_demo(NOW_S)
        bench.settings.set("person", "A. Painter")
        for number in range(200):
            bench.record.add("observation", {"text": f"fog {number} " + "x" * 100}, at_s=NOW_S,
                             now_s=NOW_S)  # fmt: skip
    return path


def run(*words: object) -> Done:
    return cli_shop.call("record", *words)


def spoil_head(database: Path) -> None:
    """Overwrite the header: SQLite no longer knows the file as a database."""
    with database.open("r+b") as file:
        file.write(b"\0" * 100)


def spoil_entries(database: Path) -> None:
    """Overwrite a leaf that holds entries; 0x0a is a leaf of a tree without row ids."""
    page = 4096
    with database.open("r+b") as file:
        whole = file.read()
        leaves = [n for n in range(1, len(whole) // page)
                  if whole[n * page] == 0x0A and b'"fog 1' in whole[n * page : (n + 1) * page]
                  ]  # fmt: skip
        file.seek(leaves[len(leaves) // 2] * page)
        file.write(b"\xff" * page)


def test_it_goes_back_where_the_database_no_longer_opens(database: Path) -> None:
    assert run("backup", "--database", database).code == 0
    spoil_head(database)
    assert run("show", "--database", database).code == 2
    listed = run("backup", "--list", "--json", "--database", database)
    assert listed.code == 0
    (copy,) = listed.json["backups"]
    done = run("restore", copy["file"], "--json", "--database", database)
    assert done.code == 0
    assert Path(done.json["before"]).read_bytes()[:100] == b"\0" * 100
    assert run("show", "--json", "--database", database).json["count"] == 201


def test_a_copy_of_a_broken_record_says_so(database: Path) -> None:
    run("backup", "--database", database)
    with Store(database) as store, store.write() as db:
        db.execute("DROP TRIGGER entry_stays")
        db.execute("UPDATE entry SET line = replace(line, 'fog 7 ', 'sun 7 ') WHERE number = 9")
    done = cli_shop.call("record", "backup", "--database", database, now=DAY + timedelta(seconds=9))
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Copied as it is, a record in it is broken: ")
    listed = run("backup", "--list", "--json", "--database", database).json["backups"]
    assert [one["broken"] for one in listed] == [True, False]
    assert listed[0]["holds"].endswith("a record in it is broken")


def test_copies_are_listed_where_the_database_is_gone(database: Path) -> None:
    run("backup", "--database", database)
    database.unlink()
    assert len(run("backup", "--list", "--json", "--database", database).json["backups"]) == 1


def test_no_copy_is_made_of_what_cannot_be_opened(database: Path) -> None:
    spoil_head(database)
    done = run("backup", "--database", database)
    assert (done.code, done.out) == (2, "")
    assert done.err.count("\n") == 1


def test_what_can_be_read_is_saved_and_what_is_missing_is_said(
    database: Path, tmp_path: Path
) -> None:
    spoil_entries(database)
    before, new = database.read_bytes(), tmp_path / "new.sqlite3"
    done = run("rescue", database, new, "--json")
    assert done.code == 0
    assert 50 < done.json["rows"]["entry"] < 201
    assert "entry" in done.json["torn"]
    (broken,) = done.json["records"]
    assert broken.startswith("demo-dunlin-2025-05-01: ")
    assert database.read_bytes() == before
    words = run("rescue", database, tmp_path / "again.sqlite3")
    assert "Records with entries missing:" in words.out
    assert "entries of the record: " in words.out
    assert "jobs: 1" in words.out
    assert "reading_span" not in words.out
    assert run("show", "--last", "1", "--json", "--database", new).json["count"] == 201


def test_a_whole_database_is_saved_whole(database: Path, tmp_path: Path) -> None:
    done = run("rescue", database, tmp_path / "new.sqlite3")
    assert (done.code, done.err) == (0, "")
    assert "Nothing was found missing." in done.out


@pytest.mark.parametrize("what", ["there already", "not there", "nothing of it"])
def test_what_cannot_be_is_one_line(database: Path, tmp_path: Path, what: str) -> None:
    new = database if what == "there already" else tmp_path / "new.sqlite3"
    damaged = tmp_path / "none.sqlite3" if what == "not there" else database
    if what == "nothing of it":
        spoil_head(database)
    done = run("rescue", damaged, new)
    assert (done.code, done.out) == (2, "")
    assert done.err.count("\n") == 1
    assert new == database or not new.exists()


def test_a_file_without_entry_and_job_is_no_success(tmp_path: Path) -> None:
    empty, new = tmp_path / "empty.sqlite3", tmp_path / "new.sqlite3"
    with Store(empty):
        pass
    done = run("rescue", empty, new)
    assert (done.code, done.out) == (2, "")
    assert "no entry and no job could be read" in done.err
    assert not new.exists()


def test_one_of_a_thing_is_no_plural(tmp_path: Path, root: Path) -> None:
    path = tmp_path / "small.sqlite3"
    with Store(path) as store:
        bench = Workbench(store, root / "resources")
        bench.load_demo(NOW_S)
    with Store(path) as store, store.write() as db:
        photo = {"file_name": "a.jpg", "sha256": Attachments(path).keep_bytes(b"x"), "bytes": "1"}
        job_id = db.execute("SELECT id FROM job").fetchone()[0]
        chain.append(db, Draft("photo", job_id, NOW_S, NOW_S, "UTC", "A. Painter", photo), "1")
    assert "\n1 entry. Head:\n" in run("show", "--database", path).out
    (copy,) = run("backup", "--json", "--database", path).json["backups"]
    assert run("backup", "--list", "--database", path).out.startswith("1 copy:\n")
    empty = tmp_path / "empty.sqlite3"
    Store(empty).close()
    words = run("restore", empty, "--database", path).out
    assert "The record goes from 1 entry to 0." in words
    assert "(before: 1 job, 1 entry)" in words
    assert run("restore", copy["file"], "--database", path).code == 0
    # The job's heading is kept before anything is given away.
    done = run("export", tmp_path / "out", "--database", path)
    assert done.out.startswith("2 entries and 1 file written to ")


def test_a_copy_says_how_much_it_holds_and_what_is_left_out(database: Path) -> None:
    made = run("backup", "--json", "--database", database)
    kept = run("backup", "--list", "--database", database)
    assert "1 job, 201 entries" in kept.out
    assert made.json["backups"][0]["holds"] == "1 job, 201 entries"
    small = database.with_name("small.sqlite3")
    with Store(small):
        pass
    words = run("restore", small, "--database", database).out
    assert "It holds 0 jobs, 0 entries (before: 1 job, 201 entries)." in words
    assert "The record goes from 201 entries to 0." in words
