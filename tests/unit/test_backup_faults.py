"""Copies under faults: two windows at once, a disk that fails in the middle, clocks set wrong."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from advisor.base import backup as copies
from advisor.base import files
from advisor.base import rescue as saving
from advisor.base.attachments import Attachments
from advisor.base.backup import backups, go_back, go_back_closed, make_backup, why_damaged
from advisor.base.errors import InputError, StoreError
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Draft, quantity
from advisor.work.guard import BACKUP_EVERY_S, Guard
from advisor.work.kept import Kept
from tests.e2e.cli_shop import call
from tests.helpers.small_disk import make_read_only, small_disk

NOW_S = 1_780_000_000
FULL = OSError(28, "No space left on device")


def add(store: Store, at: int, kind: str = "reading") -> int:
    data = {"air_temp": quantity(f"{at}.5", "°C", "typed")}
    draft = Draft(kind, "gig", NOW_S + at, NOW_S + at, "Europe/London", "crew", data)
    return chain.add(store, draft, "1").number


def numbers(store: Store) -> list[int]:
    return [entry.number for entry in chain.entries(store, "gig")]


@pytest.fixture(params=["shop.sqlite3", "Werft Süd [1] ключ/my shop.sqlite3"])
def store(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Store]:
    with Store(tmp_path / request.param) as opened:
        yield opened


@pytest.fixture
def made(store: Store) -> Path:
    """A copy from before the last two of three entries."""
    add(store, 1)
    path = make_backup(store, store.path.with_name("kept"), NOW_S).path
    add(store, 2)
    add(store, 3)
    return path


def test_what_another_window_adds_meanwhile_is_in_what_is_put_aside(
    store: Store, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An entry that was told is in the copy put aside, or was never told."""
    acknowledged = [1, 2, 3]
    copy = copies._copy_store

    def and_another_window(source: Store, target: Path) -> None:
        copy(source, target)
        with Store(store.path, busy_ms=20) as other, suppress(StoreError):
            acknowledged.append(add(other, 9))

    monkeypatch.setattr(copies, "_copy_store", and_another_window)
    before = go_back(store, made, NOW_S)
    with Store(before) as aside:
        assert set(acknowledged) <= set(numbers(aside)) | set(numbers(store))
        assert numbers(aside) == [1, 2, 3]
    assert numbers(store) == [1]


def test_a_window_that_is_writing_is_not_waited_for_for_ever(store: Store, made: Path) -> None:
    with Store(store.path, busy_ms=20) as mine, store.write() as db:
        db.execute("DELETE FROM event")
        with pytest.raises(StoreError, match="another window"):
            go_back(mine, made, NOW_S)
    assert numbers(store) == [1, 2, 3]


@pytest.mark.parametrize("at", ["synced", "heal_files"])
def test_a_full_disk_leaves_what_was_there_and_no_half_copy(
    store: Store, made: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    def fail(*_: object) -> None:
        raise FULL

    monkeypatch.setattr(files if at == "synced" else copies, at, fail)
    with pytest.raises(StoreError, match="No space left"):
        go_back(store, made, NOW_S)
    assert numbers(store) == [1, 2, 3]
    assert [p for p in store.path.parent.iterdir() if ".before-" in p.name] == []


def test_going_back_brings_back_a_photo_that_was_spoilt(store: Store) -> None:
    files = Attachments(store.path)
    sha256 = files.keep_bytes(b"a photo")
    made = make_backup(store, store.path.with_name("kept"), NOW_S).path
    files.path(sha256).write_bytes(b"spoilt")
    go_back(store, made, NOW_S)
    assert files.intact(sha256)


def test_two_windows_may_make_a_copy_in_the_same_second(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, told = store.path.with_name("kept"), []
    add(store, 1)

    def in_between(path: Path) -> str:
        monkeypatch.setattr(copies, "why_damaged", why_damaged)
        told.append(make_backup(store, folder, NOW_S))
        return why_damaged(path)

    monkeypatch.setattr(copies, "why_damaged", in_between)
    told.append(make_backup(store, folder, NOW_S))
    assert len(told) == 2
    assert [one.path for one in backups(store.path, folder)] == [told[0].path]
    assert why_damaged(told[0].path) == ""
    assert [p.name for p in folder.iterdir() if p.is_file()] == [told[0].path.name]


def test_a_copy_dated_by_a_wrong_clock_does_not_stop_the_next(store: Store) -> None:
    guard = Guard(Kept(store, Path("resources")))
    add(store, 1)
    assert guard.upkeep(NOW_S + 9 * 365 * 86400) == ""
    assert guard.upkeep(NOW_S) == ""
    assert len(guard.backups()) == 2
    assert guard.upkeep(NOW_S + BACKUP_EVERY_S - 1) == ""
    assert len(guard.backups()) == 2


def test_a_file_that_another_took_the_place_of_is_not_written(store: Store, made: Path) -> None:
    with Store(store.path) as window:
        go_back_closed(store.path, made, NOW_S)
        with pytest.raises(StoreError, match="another file was put in its place"):
            go_back(window, made, NOW_S + 5)


def test_where_the_copy_cannot_take_the_place_the_old_file_keeps_it(
    store: Store, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = store.path
    store.close()
    replace = os.replace

    def fail(source: Path, target: Path) -> None:
        if Path(target) == path and source.name.endswith(".part"):
            raise FULL
        replace(source, target)

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(StoreError, match="No space left"):
        go_back_closed(path, made, NOW_S)
    with Store(path) as again:
        assert numbers(again) == [1, 2, 3]


def test_going_back_to_what_was_put_aside_brings_what_is_in_its_log(
    store: Store, tmp_path: Path
) -> None:
    """A program that was killed leaves the last entries in the log beside the file."""
    for at in (1, 2, 3):
        add(store, at)
    aside, path = tmp_path / "shop.before", tmp_path / "new.sqlite3"
    for end in ("", "-wal"):
        shutil.copyfile(f"{store.path}{end}", f"{aside}{end}")
    Store(path).close()
    go_back_closed(path, aside, NOW_S)
    with Store(path) as again:
        assert numbers(again) == [1, 2, 3]
    assert aside.exists()


def test_a_full_disk_leaves_what_was_there_where_the_program_is_closed(
    store: Store, made: Path, tmp_path: Path
) -> None:
    store.close()
    with small_disk(tmp_path / "disk", "400k") as disk:
        (disk / "shop.sqlite3").write_bytes(b"no database")
        (disk / "large").write_bytes(b"x" * 370_000)
        with pytest.raises(StoreError, match=r"disk is full|could not be read or written|No space"):
            go_back_closed(disk / "shop.sqlite3", made, NOW_S)
        assert (disk / "shop.sqlite3").read_bytes() == b"no database"
        assert {p.name for p in disk.iterdir()} <= {"shop.sqlite3", "large", "lost+found"}


def test_a_read_only_disk_is_not_called_damage(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", "4m") as disk:
        with Store(disk / "shop.sqlite3") as store:
            add(store, 1)
        make_read_only(disk)
        assert why_damaged(disk / "shop.sqlite3") == ""
        before = go_back_closed(tmp_path / "new.sqlite3", disk / "shop.sqlite3", NOW_S)
        assert before is None
    with Store(tmp_path / "new.sqlite3") as again:
        assert numbers(again) == [1]


def test_one_that_another_program_holds_is_not_called_damaged(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copies, "BUSY_MS", 20)
    add(store, 1)
    path = store.path
    store.close()
    with closing(sqlite3.connect(path)) as holder:
        holder.execute("PRAGMA locking_mode = EXCLUSIVE")
        holder.execute("BEGIN EXCLUSIVE")
        assert why_damaged(path).startswith("it cannot be opened (database is locked)")


def test_a_name_with_figures_that_are_no_date_stops_no_copy(store: Store) -> None:
    folder = store.path.with_name("kept")
    folder.mkdir()
    odd = folder / f"{store.path.stem}-99999999T999999Z.sqlite3"
    odd.write_bytes(b"")
    made = make_backup(store, folder, NOW_S)
    assert backups(store.path, folder) == (made,)
    assert odd.exists()


def test_one_photo_that_is_altered_or_cannot_be_read_stops_no_copy(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, folder = Attachments(store.path), store.path.with_name("kept")
    good, altered, bad = (kept.keep_bytes(body) for body in (b"good", b"altered", b"bad"))
    kept.path(altered).write_bytes(b"something else")
    real = Path.open

    def opened(path: Path, *given: Any) -> Any:
        if path == kept.path(bad):
            raise OSError(5, "Input/output error")
        return real(path, *given)

    monkeypatch.setattr(Path, "open", opened)
    made = make_backup(store, folder, NOW_S)
    copied = Attachments(folder / store.path.name)
    assert why_damaged(made.path) == ""
    assert [p.name for p in copied.folder.rglob("*") if p.is_file()] == [good]
    assert not kept.intact(bad)


def test_the_database_is_copied_also_where_the_photos_no_longer_fit(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(store, 1)
    Attachments(store.path).keep_bytes(b"a photo")

    def full(*_: object) -> None:
        raise FULL

    monkeypatch.setattr(shutil, "copyfile", full)
    folder = store.path.with_name("kept")
    with pytest.raises(StoreError, match="was made, but not all photos and logs could be copied"):
        make_backup(store, folder, NOW_S)
    (made,) = backups(store.path, folder)
    assert why_damaged(made.path) == ""


def test_what_is_put_aside_never_takes_the_place_of_what_another_window_put_aside(
    store: Store, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, theirs = copies.heal_files, copies._aside(store.path, NOW_S)

    def meanwhile(source: Attachments, target: Attachments) -> None:
        theirs.write_bytes(b"of another window, in the same second")
        real(source, target)

    monkeypatch.setattr(copies, "heal_files", meanwhile)
    assert go_back(store, made, NOW_S) != theirs
    assert theirs.read_bytes().startswith(b"of another window")


def test_a_folder_that_cannot_be_synced_is_no_fault_and_a_disk_that_fails_is(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Network folders answer EINVAL for a folder; nothing else may be passed over."""
    real = os.fsync

    def fail(code: int, folders: bool) -> None:
        def fsync(handle: int) -> None:
            if os.path.isdir(f"/proc/self/fd/{handle}") == folders:
                raise OSError(code, os.strerror(code))
            real(handle)

        monkeypatch.setattr(os, "fsync", fsync)

    if not Path("/proc/self/fd").is_dir():
        pytest.skip("this system does not say what a handle is of")
    folder = store.path.with_name("kept")
    fail(22, folders=True)
    assert why_damaged(make_backup(store, folder, NOW_S).path) == ""
    for code, folders in ((5, True), (22, False), (5, False)):
        fail(code, folders=folders)
        with pytest.raises(StoreError, match="could not be written"):
            make_backup(store, folder, NOW_S + 60)


def test_a_folder_out_of_reach_for_a_moment_is_no_other_file(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreachable(*_: object, **__: object) -> None:
        raise OSError(107, "Transport endpoint is not connected")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "stat", unreachable)
        assert not store.replaced()
    add(store, 1)
    store.path.rename(store.path.with_name("moved"))
    assert store.replaced()


@pytest.mark.parametrize(
    ("column", "value"),
    [("kind", "correction"), ("coat_id", "other"), ("area_id", "other"), ("at_s", 5),
     ("written_s", 5), ("by", "somebody"), ("hash", "ab" * 32)],
)  # fmt: skip
def test_a_row_that_no_longer_says_what_its_line_says_is_told(
    store: Store, column: str, value: str | int
) -> None:
    """The line is as it was, but by its row an entry would not be found, or not be linked to."""
    for at in (1, 2, 3):
        add(store, at)
    guard = Guard(Kept(store, Path("resources")))
    assert guard.check() == ""
    with store.write() as db:
        db.execute("DROP TRIGGER entry_stays")
        db.execute(f"UPDATE entry SET {column} = ? WHERE number = 3", (value,))
    assert "entry 3" in guard.check()


def test_what_is_saved_brings_the_photos_along(store: Store, tmp_path: Path) -> None:
    add(store, 1)
    sha256 = Attachments(store.path).keep_bytes(b"a photo")
    store.close()
    new = tmp_path / "new.sqlite3"
    done = call("record", "rescue", store.path, new)
    assert done.code == 0, done.err
    assert Attachments(tmp_path / "new.sqlite3").intact(sha256)


def test_a_full_disk_while_saving_is_told_and_leaves_nothing(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(store, 1)
    store.close()

    def fail(*_: object) -> None:
        raise FULL

    monkeypatch.setattr(shutil, "copyfile", fail)
    with pytest.raises(StoreError, match="No space left"):
        saving.rescue(store.path, tmp_path / "new.sqlite3")
    monkeypatch.undo()
    monkeypatch.setattr(saving, "_save", lambda *_: (_ for _ in ()).throw(sqlite3.OperationalError))
    with pytest.raises((StoreError, sqlite3.Error)):
        saving.rescue(store.path, tmp_path / "new.sqlite3")
    assert not (tmp_path / "new.sqlite3").exists()


def test_a_picture_that_changes_while_it_is_kept_is_not_kept_under_a_wrong_name(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = tmp_path / "growing.csv"
    source.write_bytes(b"one line\n")
    copy = shutil.copyfile

    def grown(one: Path, other: Path) -> None:
        source.write_bytes(b"one line\nand another\n")
        copy(one, other)

    monkeypatch.setattr(shutil, "copyfile", grown)
    files = Attachments(store.path)
    with pytest.raises(InputError, match="changing"):
        files.keep(source)
    assert [p for p in files.folder.rglob("*") if p.is_file()] == []
