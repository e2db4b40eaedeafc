"""Backups are whole or not there; going back never deletes; what can be read is saved."""

from __future__ import annotations

import os
import random
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from advisor.base.attachments import Attachments
from advisor.base.backup import (
    KEEP_NEWEST,
    backups,
    content_words,
    go_back,
    go_back_closed,
    is_broken,
    make_backup,
    offered,
    why_damaged,
)
from advisor.base.errors import InputError, StoreError
from advisor.base.migrations import MIGRATIONS
from advisor.base.rescue import rescue
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Draft, quantity
from advisor.work.guard import BACKUP_EVERY_S, Guard
from advisor.work.kept import Kept
from tests.helpers.small_disk import make_read_only, small_disk

NOW_S = 1_780_000_000
DAY_S = 86400
PAGE = 4096


def draft(number: int) -> Draft:
    air = {"air_temp": quantity(f"{number / 10:.1f}", "°C", "typed")}
    return Draft("reading", "gig", NOW_S + number, NOW_S + number, "Europe/London", "crew", air)


def fill(store: Store, count: int) -> None:
    with store.write() as db:
        for number in range(count):
            chain.append(db, draft(number), "1")
            db.execute(
                "INSERT OR IGNORE INTO reading (time_s, area, origin, air_temp_c) "
                "VALUES (?, '', 'typed', 1)",
                (NOW_S + number,),
            )


def numbers(store: Store) -> list[int]:
    return [entry.number for entry in chain.entries(store, "gig")]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "shop.sqlite3") as opened:
        yield opened


def test_a_backup_is_the_database_as_it_was(store: Store, tmp_path: Path) -> None:
    fill(store, 20)
    made = make_backup(store, tmp_path / "kept", NOW_S)
    fill(store, 5)
    assert made.path.read_bytes()[:15] == b"SQLite format 3"
    assert not list(made.path.parent.glob("*-wal"))  # one file, to carry off on a stick
    with Store(made.path) as copy:
        assert numbers(copy) == list(range(1, 21))


def test_a_backup_brings_the_photos_along(store: Store, tmp_path: Path) -> None:
    sha256 = Attachments(store.path).keep_bytes(b"photo")
    made = make_backup(store, tmp_path / "kept", NOW_S)
    Attachments(store.path).path(sha256).unlink()
    go_back(store, made.path, NOW_S)
    assert Attachments(store.path).intact(sha256)


def test_going_back_keeps_a_copy_of_what_was_there(store: Store, tmp_path: Path) -> None:
    fill(store, 3)
    made = make_backup(store, tmp_path / "kept", NOW_S)
    fill(store, 2)
    with Store(store.path) as second_window:
        before = go_back(store, made.path, NOW_S)
        assert numbers(store) == numbers(second_window) == [1, 2, 3]
    with Store(before) as old:
        assert numbers(old) == [1, 2, 3, 4, 5]
    assert go_back(store, made.path, NOW_S) != before  # the same second: another name
    fill(store, 1)
    assert numbers(store) == [1, 2, 3, 4]


def test_a_backup_of_an_older_version_is_brought_up_to_date(store: Store, tmp_path: Path) -> None:
    old = tmp_path / "old.sqlite3"
    Store(old, migrations=MIGRATIONS[:3]).close()
    go_back(store, old, NOW_S)
    assert store.version() == len(MIGRATIONS)
    fill(store, 1)


def test_a_damaged_or_foreign_backup_is_not_gone_back_to(store: Store, tmp_path: Path) -> None:
    fill(store, 3)
    foreign, torn = tmp_path / "foreign.sqlite3", tmp_path / "torn.sqlite3"
    with closing(sqlite3.connect(foreign)) as db:
        db.execute("CREATE TABLE theirs (x)")
    torn.write_bytes(make_backup(store, tmp_path / "kept", NOW_S).path.read_bytes()[: 3 * PAGE])
    for path, said in ((foreign, "no database of this program"), (torn, "damaged")):
        with pytest.raises(InputError, match=said):
            go_back(store, path, NOW_S)
    with pytest.raises(InputError, match="not there"):
        go_back(store, tmp_path / "none.sqlite3", NOW_S)
    assert numbers(store) == [1, 2, 3]


def test_old_backups_go_but_one_of_each_month_stays(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    for day in range(100):
        make_backup(store, folder, NOW_S + day * DAY_S)
    found = backups(store.path, folder)
    assert [one.made_s for one in found[:KEEP_NEWEST]] == [
        NOW_S + day * DAY_S for day in range(99, 99 - KEEP_NEWEST, -1)
    ]
    # 2026-05-28 and a hundred days reach into September: the last of May, June and July besides.
    assert len(found) == KEEP_NEWEST + 3
    (folder / "other-20260101T000000Z.sqlite3").write_bytes(b"")  # not ours to rotate
    make_backup(store, folder, NOW_S + 101 * DAY_S)
    assert (folder / "other-20260101T000000Z.sqlite3").exists()


def test_no_backup_is_made_of_a_damaged_file(store: Store, tmp_path: Path) -> None:
    fill(store, 500)
    good = make_backup(store, tmp_path / "kept", NOW_S)
    path = store.path
    store.close()
    spoil(path, [path.stat().st_size // PAGE // 2])
    with Store(path) as torn, pytest.raises(StoreError, match="damaged"):
        make_backup(torn, tmp_path / "kept", NOW_S + 60)
    assert backups(path, tmp_path / "kept") == (good,)


def test_the_guard_makes_one_when_it_is_due_and_says_what_is_broken(store: Store) -> None:
    guard = Guard(Kept(store, Path("resources")))
    fill(store, 3)
    assert guard.upkeep(NOW_S) == ""
    assert guard.upkeep(NOW_S + BACKUP_EVERY_S - 1) == ""
    assert len(guard.backups()) == 1
    assert guard.upkeep(NOW_S + BACKUP_EVERY_S + 1) == ""
    assert len(guard.backups()) == 2
    alter(store)
    assert "entry 2 was altered" in guard.upkeep(NOW_S + 3 * DAY_S)


def alter(store: Store) -> None:
    with store.write() as db:  # as someone with another program would
        db.execute("DROP TRIGGER IF EXISTS entry_stays")
        db.execute("UPDATE entry SET line = replace(line, '0.1', '9.9') WHERE number = 2")


def test_a_broken_record_is_copied_too_and_pushes_no_good_copy_out(store: Store) -> None:
    """It needs a copy more than a whole one does: what is written from now on has no other."""
    guard = Guard(Kept(store, Path("resources")))
    fill(store, 3)
    for day in range(KEEP_NEWEST + 2):
        assert guard.upkeep(NOW_S + day * DAY_S) == ""
    good = guard.backups()
    assert [one.broken for one in good] == [False] * len(good)
    alter(store)
    for day in range(20, 20 + KEEP_NEWEST + 9):
        fill(store, 1)
        assert "entry 2 was altered" in guard.upkeep(NOW_S + day * DAY_S)
        guard.upkeep(NOW_S + day * DAY_S + 60)  # not due yet
    found = guard.backups()
    assert tuple(one for one in found if not one.broken) == good
    broken = [one for one in found if one.broken]
    assert [one.path.name[-14:] for one in broken] == ["broken.sqlite3"] * len(broken)
    assert KEEP_NEWEST <= len(broken) <= KEEP_NEWEST + 1  # they are let go of by the same rule
    assert content_words(broken[0].path) == "0 jobs, 19 entries, a record in it is broken"
    assert good[0] in offered(found, 3)
    assert offered(found, 3)[:2] == tuple(broken[:2])
    assert offered(good, 3) == good[:3]
    assert offered(tuple(broken), 3) == tuple(broken[:3])


def test_a_copy_made_by_hand_is_marked_too(store: Store) -> None:
    guard = Guard(Kept(store, Path("resources")))
    fill(store, 3)
    assert not is_broken(guard.backup(NOW_S))
    alter(store)
    made = guard.backup(NOW_S + 1)
    assert is_broken(made)
    go_back(store, made, NOW_S + 2)  # all that is there is there again, broken as it was
    assert "entry 2 was altered" in guard.check()


def test_a_broken_record_is_told_also_where_no_copy_can_be_made(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    guard = Guard(Kept(store, Path("resources")))
    fill(store, 3)
    alter(store)

    def full(*_: object, **__: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr("advisor.work.guard.make_backup", full)
    told = guard.upkeep(NOW_S)
    assert "entry 2 was altered" in told
    assert "the disk is full" in told


def test_the_look_tells_missing_files_from_altered_ones_and_brings_them_back(store: Store) -> None:
    guard, kept = Guard(Kept(store, Path("resources"))), Attachments(store.path)
    named = {}
    for name in ("port.jpg", "keel.jpg", "shed.jpg"):
        sha256 = named[name] = kept.keep_bytes(name.encode())
        data = {"file_name": name, "sha256": sha256, "bytes": "8"}
        chain.add(store, Draft("photo", "gig", NOW_S, NOW_S, "UTC", "crew", data), "1")
        if name == "port.jpg":
            guard.backup(NOW_S)
    assert guard.check() == ""
    for sha256 in (named["port.jpg"], named["keel.jpg"]):
        kept.path(sha256).unlink()
    kept.path(named["shed.jpg"]).write_bytes(b"another")
    assert guard.check() == (
        "Files missing: keel.jpg. Files altered since they were kept: shed.jpg. "
        "Files brought back from the copies: port.jpg. No entry of the record was altered."
    )
    assert kept.intact(named["port.jpg"])
    assert not is_broken(guard.backup(NOW_S + 1))  # the record itself is whole


def spoil(path: Path, pages: list[int]) -> None:
    raw = bytearray(path.read_bytes())
    for page in pages:
        raw[page * PAGE : (page + 1) * PAGE] = random.Random(page).randbytes(PAGE)
    path.write_bytes(bytes(raw))


@pytest.mark.parametrize("seed", range(8))
def test_overwritten_in_the_middle_all_but_those_pages_is_saved(tmp_path: Path, seed: int) -> None:
    """What lies between two damaged places is reached too."""
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        fill(store, 2000)
    count = path.stat().st_size // PAGE
    pages = random.Random(seed).sample(range(40, count), 3)
    raw = path.read_bytes()
    spoil(path, pages)
    saved = rescue(path, tmp_path / "new.sqlite3")
    with Store(tmp_path / "new.sqlite3") as new:
        found = numbers(new)
    # Ten entries to a leaf (kind 10 in its first byte); an inner page holds about 9 and takes
    # those of the leaves below it along.
    lost = sum(10 if raw[page * PAGE] == 10 else 100 for page in pages)
    assert len(found) >= 2000 - lost
    assert sorted(set(found)) == found
    assert saved.rows["reading"] >= 1000


def test_a_file_cut_short_gives_what_is_left(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        fill(store, 2000)
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2])
    with pytest.raises(StoreError, match="record restore"), Store(path) as torn, torn.read() as db:
        db.execute("SELECT count(*) FROM entry").fetchone()
    assert "damaged" in why_damaged(path)
    saved = rescue(path, tmp_path / "new.sqlite3")
    with Store(tmp_path / "new.sqlite3") as new:
        found = numbers(new)  # every line reads: one that lay half in the lost part is left out
    assert 500 < len(found) == saved.rows["entry"]
    assert "entry" in saved.torn


def test_going_back_where_the_file_cannot_be_opened(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        fill(store, 10)
        made = make_backup(store, tmp_path / "kept", NOW_S)
    path.write_bytes(b"\0" * 5000)
    with pytest.raises(StoreError, match=r"not a database|another program"):
        Store(path)
    before = go_back_closed(path, made.path, NOW_S)
    assert before is not None
    assert before.read_bytes() == b"\0" * 5000
    with Store(path) as again:
        assert numbers(again) == list(range(1, 11))


def test_nothing_to_save_says_so_and_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite3"
    path.write_bytes(os.urandom(8192))
    with pytest.raises(StoreError, match="nothing of it can be read"):
        rescue(path, tmp_path / "new.sqlite3")
    assert not (tmp_path / "new.sqlite3").exists()
    with pytest.raises(InputError, match="already there"):
        rescue(path, path)


def until_it_fails(store: Store) -> int:
    """Write entries until the disk is full; return how many were acknowledged."""
    for kept in range(100_000):
        try:
            chain.add(store, draft(kept), "1")
        except StoreError as error:
            told = str(error)
            break
    assert re.search("full|could not be read or written", told)
    return kept


def test_a_full_disk_loses_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    """A real file system of 2 MB fills up while entries are written."""
    with small_disk(tmp_path / "disk", "2m") as disk, Store(disk / "shop.sqlite3") as store:
        kept = until_it_fails(store)
        assert kept > 100
        assert numbers(store) == list(range(1, kept + 1))
        with pytest.raises(StoreError, match=r"older ones stay|full|written"):
            make_backup(store, disk / "backups", NOW_S)
        assert not backups(store.path, disk / "backups")
        made = make_backup(store, tmp_path / "elsewhere", NOW_S)
        with Store(made.path) as copy:
            assert numbers(copy) == list(range(1, kept + 1))


def test_a_read_only_disk_is_said_and_what_is_on_it_can_be_saved(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", "4m") as disk:
        with Store(disk / "shop.sqlite3") as store:
            fill(store, 5)
        make_read_only(disk)
        with pytest.raises(StoreError, match=r"read-only|cannot be opened"):
            Store(disk / "shop.sqlite3")
        assert rescue(disk / "shop.sqlite3", tmp_path / "new.sqlite3").rows["entry"] == 5
