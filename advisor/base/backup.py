"""Backups of the database and its attachments: made while it is in use, verified, rotated.

A backup is whole under its name or not there: it is copied page by page to a part file (SQLite's
online backup), checked, synced, then renamed. Going back never deletes what was there before.
One of a database in which a record is broken says so in its name, and pushes no good one out.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from advisor.base.attachments import Attachments
from advisor.base.counting import counted
from advisor.base.errors import InputError, StoreError
from advisor.base.files import made_folder, part_of, synced, take_left_parts, whole
from advisor.base.migrations import APPLICATION_ID, MIGRATIONS
from advisor.base.store import BUSY_MS, Store, plain_errors
from advisor.base.swap import SIDE_FILES, cut_off, finished, swap

#: How many are kept: the newest, and besides the newest of each of the latest months. Those with
#: a broken record are counted apart.
KEEP_NEWEST = 7
KEEP_MONTHS = 12

#: Faults that say nothing about what is in the file.
_SHUT = frozenset(
    {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM,
     sqlite3.SQLITE_READONLY, sqlite3.SQLITE_NOMEM}
)  # fmt: skip
_SHA256 = re.compile(r"[0-9a-f]{64}")
_STAMP = "%Y%m%dT%H%M%SZ"
_NAME = re.compile(r"(?P<stem>.+)-(?P<stamp>\d{8}T\d{6}Z)(?P<broken>-broken)?\.sqlite3")


@dataclass(frozen=True)
class Backup:
    """One backup, when it was made, UTC seconds, and whether a record in it was broken then."""

    path: Path
    made_s: int
    broken: bool = False


@dataclass(frozen=True)
class Content:
    """How much of a shop's work a database holds."""

    jobs: int
    entries: int

    def words(self) -> str:
        """Return both counts, such as "1 job, 10 entries"."""
        return f"{counted(self.jobs, 'job')}, {counted(self.entries, 'entry', 'entries')}"


def content_of(path: Path) -> Content | None:
    """Count the jobs and entries of a database file; None where they cannot be read."""
    try:
        with to_read(path) as db:
            jobs = db.execute("SELECT count(*) FROM job").fetchone()[0]
            if not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'entry'").fetchone():
                return Content(jobs, 0)  # of before there was a record
            return Content(jobs, db.execute("SELECT count(*) FROM entry").fetchone()[0])
    except sqlite3.DatabaseError:
        return None


def content_words(path: Path) -> str:
    """Say what a copy holds, in a list of copies."""
    found = content_of(path)
    if found is None:
        return "cannot be read"
    return f"{found.words()}, a record in it is broken" if is_broken(path) else found.words()


def is_broken(path: Path) -> bool:
    """Whether a backup says by its name that a record in it was broken as it was made."""
    match = _NAME.fullmatch(path.name)
    return match is not None and match["broken"] is not None


def backups(database: Path, folder: Path) -> tuple[Backup, ...]:
    """Return the backups of a database that lie in a folder, newest first."""
    found = []
    for path in folder.glob(f"{_escaped(database.stem)}-*.sqlite3"):
        match = _NAME.fullmatch(path.name)
        if match and match["stem"] == database.stem:
            with suppress(ValueError):  # figures that are no date: named so by somebody else
                made = datetime.strptime(match["stamp"], _STAMP).replace(tzinfo=UTC)
                found.append(Backup(path, int(made.timestamp()), is_broken(path)))
    return tuple(sorted(found, key=lambda one: one.made_s, reverse=True))


def offered(found: tuple[Backup, ...], most: int) -> tuple[Backup, ...]:
    """Return the newest few, the newest good one always among them, newest first."""
    newest = found[:most]
    good = next((one for one in found if not one.broken), None)
    return newest if good is None or good in newest else (*newest[:-1], good)


def make_backup(store: Store, folder: Path, now_s: float, *, broken: bool = False) -> Backup:
    """Copy the database as it is now, check the copy, keep it, and let old ones go.

    `broken` marks one with a broken record. Raises StoreError when the folder cannot be written
    or the copy is not whole.
    """
    mark = "-broken" if broken else ""
    path = folder / f"{store.path.stem}-{_stamp(now_s)}{mark}.sqlite3"
    _take_left(store.path, folder, now_s)  # first: what was left may be what fills the disk
    try:
        made_folder(folder)
        with whole(path) as part:
            _copy_store(store, part)
            why = why_damaged(part)
            if why:
                raise StoreError(f"{store.path}: {why}; no backup was made of it, older ones stay.")
    except OSError as error:
        raise StoreError(
            f"{folder}: the backup could not be written ({error.strerror}); older ones stay."
        ) from error
    _rotate(one for one in backups(store.path, folder) if one.broken == broken)
    _back_up_files(store.path, path)
    return Backup(path, int(now_s), broken)


def _back_up_files(database: Path, backup: Path) -> None:
    """Copy what the backup's folder has not yet; the backup itself stands whether or not it can."""
    kept = Attachments(backup.parent / database.name)
    try:
        # They never change: what is there by its name is not read again each day.
        _copy_files(Attachments(database), kept, kept.has)
    except (OSError, StoreError) as error:
        raise StoreError(
            f"{backup} was made, but not all photos and logs could be copied beside it: {error}"
        ) from error


def to_read(path: Path, *, torn: bool = False) -> closing[sqlite3.Connection]:
    """Open a database that is only looked at; sqlite3.DatabaseError where it cannot be.

    `torn` takes one that was cut short, for what can still be read of it.
    """
    uri = f"{path.absolute().as_uri()}?mode=ro"
    db = sqlite3.connect(uri, uri=True, timeout=BUSY_MS / 1000)
    try:
        if torn:  # SQLite then asks the file how long it is, not its header
            db.execute("PRAGMA writable_schema = ON")
        db.execute("PRAGMA schema_version").fetchone()
    except sqlite3.OperationalError as error:
        db.close()
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_CANTOPEN or _log_of(path).exists():
            raise
        # On a read-only disk the files beside it cannot be made; nobody is writing it there.
        return closing(sqlite3.connect(f"{uri}&immutable=1", uri=True))
    except BaseException:
        db.close()
        raise
    return closing(db)


def _log_of(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def why_damaged(path: Path) -> str:
    """Return what is wrong with a database file, empty when nothing is; reads all of it."""
    if not path.is_file():
        return "it is not there"
    try:
        with to_read(path) as db:
            if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                return "it is no database of this program"
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version > len(MIGRATIONS):
                return f"it is of a newer version of this program (data version {version})"
            found = db.execute("PRAGMA integrity_check(3)").fetchall()
    except sqlite3.DatabaseError as error:
        kind = getattr(error, "sqlite_errorcode", 0) & 0xFF
        return f"it {'cannot be opened' if kind in _SHUT else 'is damaged'} ({error})"
    told = "; ".join(str(row[0]) for row in found)
    return "" if told == "ok" else f"it is damaged ({told})"


def go_back(store: Store, backup: Path, now_s: float) -> Path:
    """Put a backup in place of an open database; returns the copy of what was there before.

    All in one transaction, so that other windows see the old content or the new, never a mixture;
    what they added until then is in the copy. StoreError leaves all as it was.
    """
    _refuse_unusable(backup)
    aside: list[Path] = []

    def put_aside() -> None:
        # Named while nobody else can write: two windows never take the same name.
        aside.append(_aside(store.path, now_s))
        _put_aside(store, aside[0])

    try:
        # Files first: more of them disturb nothing, an entry without its file does.
        heal_files(Attachments(backup.parent / store.path.name), Attachments(store.path))
        store.replace_content(backup, put_aside)
    except (OSError, StoreError) as error:
        for before in aside:
            with suppress(OSError):
                before.unlink(missing_ok=True)
        if isinstance(error, StoreError):
            raise
        raise _not_gone_back(store.path, error) from error
    return aside[0]


def _put_aside(store: Store, before: Path) -> None:
    with whole(before) as part:
        _copy_store(store, part)


def _not_gone_back(database: Path, error: OSError) -> StoreError:
    stands = "it is half done: start the program again, which goes on from there."
    return StoreError(
        f"{database}: the backup could not be put in its place ({error.strerror}); "
        f"{stands if cut_off(database) else 'what was there is as it was.'}"
    )


def go_back_closed(database: Path, backup: Path, now_s: float) -> Path | None:
    """Put a backup in place of a database that cannot be opened; the old file is moved aside."""
    _refuse_unusable(backup)
    finished(database)
    before, part = _aside(database, now_s), part_of(database)
    try:
        heal_files(Attachments(backup.parent / database.name), Attachments(database))
        # Not the file alone: what was put aside has its last entries in the log beside it.
        with plain_errors(database), to_read(backup) as source:
            _copy_pages(source, part)
        synced(part)
        return before if swap(database, part, before) else None
    except OSError as error:
        raise _not_gone_back(database, error) from error
    finally:
        if not cut_off(database):
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _aside(database: Path, now_s: float) -> Path:
    number, path = 1, database.with_name(f"{database.name}.before-{_stamp(now_s)}")
    while any(path.with_name(path.name + end).exists() for end in ("", *SIDE_FILES)):
        number += 1
        path = database.with_name(f"{database.name}.before-{_stamp(now_s)}-{number}")
    return path


def _stamp(now_s: float) -> str:
    return datetime.fromtimestamp(int(now_s), UTC).strftime(_STAMP)


def _refuse_unusable(backup: Path) -> None:
    why = why_damaged(backup)
    if why:
        raise InputError(f"{backup}: {why}; accepted: a whole backup of this program")


def _copy_store(store: Store, target: Path) -> None:
    with plain_errors(store.path), store.read() as source:
        _copy_pages(source, target)


def _copy_pages(source: sqlite3.Connection, target: Path) -> None:
    with closing(sqlite3.connect(target)) as db:
        source.backup(db, pages=4096, sleep=0)
        # The copy must be one file: it may be carried off on a stick.
        db.execute("PRAGMA journal_mode = DELETE")


def heal_files(source: Attachments, target: Attachments) -> None:
    """Copy attachments that the target lacks or that are no longer what their name says."""
    if source.folder != target.folder:
        _copy_files(source, target, target.intact)


def _copy_files(source: Attachments, target: Attachments, there: Callable[[str], bool]) -> None:
    """Copy what is not there; one that was altered or cannot be read stops no other."""
    for path in source.folder.glob("[0-9a-f][0-9a-f]/*"):
        name = path.name
        if _SHA256.fullmatch(name) and not there(name) and source.intact(name):
            with suppress(InputError):
                target.keep(path)


def _take_left(database: Path, folder: Path, now_s: float) -> None:
    """Delete what killed copies of this database left: beside it, of files, among the backups."""
    own = f"{database.name}."
    take_left_parts(database.parent, now_s, lambda name: f"{name}.".startswith(own))
    take_left_parts(folder, now_s, lambda name: _stem_of(name) == database.stem)
    for kept in (Attachments(database).folder, Attachments(folder / database.name).folder):
        for inner in kept.glob("[0-9a-f][0-9a-f]"):
            take_left_parts(inner, now_s, lambda name: len(name) == 64)


def _stem_of(name: str) -> str:
    match = _NAME.fullmatch(name)
    return match["stem"] if match else ""


def _rotate(found: Iterable[Backup]) -> None:
    """Let go of backups that are neither among the newest nor the newest of a late month."""
    months: list[str] = []
    for place, one in enumerate(found):
        month = datetime.fromtimestamp(one.made_s, UTC).strftime("%Y-%m")
        first_of_month = month not in months
        if first_of_month:
            months.append(month)
        if place >= KEEP_NEWEST and not (first_of_month and len(months) <= KEEP_MONTHS):
            with suppress(OSError):
                one.path.unlink()


def _escaped(stem: str) -> str:
    return re.sub(r"([\[*?])", r"[\1]", stem)
