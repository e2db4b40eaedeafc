"""Saving what can still be read of a damaged database into a new one.

SQLite keeps a table as a tree of pages in the order of its key. A damaged page stops a reading
there, but what lies before and after it can still be reached by key: forwards up to the damage,
backwards down to it, and between two damaged places by stepping the key on. A file that was cut
is read as if its lost end were empty. Entries of a record keep their exact bytes, so that the
chain itself tells afterwards which of them are missing.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import struct
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from advisor.base.errors import InputError, StoreError
from advisor.base.files import part_of
from advisor.base.migrations import MARK_ALL_READINGS, NOTE_ALL_TOLD
from advisor.base.store import Store
from advisor.base.swap import SIDE_FILES

Row = tuple[object, ...]
#: SQLite's header: page size in bytes at 16 and pages at 28 (its file format, section 1.3).
_HEAD = struct.Struct(">16xH10xI")
#: Written by the migrations themselves, in the new file too.
OWN = ("migration",)


@dataclass(frozen=True)
class Rescued:
    """How many rows of each table were saved, and which tables have places that were not read."""

    rows: Mapping[str, int]
    torn: tuple[str, ...]


def rescue(damaged: Path, target: Path) -> Rescued:
    """Read all that can be read of `damaged` into the new database `target`.

    The damaged file itself is only read. Raises InputError when the target is there already
    or nothing of the source can be read.
    """
    if target.exists():
        raise InputError(f"{target}: found a file already there; accepted: a new name")
    try:
        with _part_folder(target) as folder:
            whole = _at_full_length(damaged, folder)
            with closing(_opened(whole)) as source, Store(target) as store:
                saved = _save(source, store)
    except sqlite3.DatabaseError as error:
        take_away(target)
        raise StoreError(
            f"{damaged}: nothing of it can be read ({error}); go back to a backup "
            "(advisor record restore)."
        ) from error
    except (OSError, StoreError) as error:
        take_away(target)
        if isinstance(error, StoreError):
            raise
        raise StoreError(
            f"{target}: it could not be written ({error.strerror}); choose another place."
        ) from error
    return saved


@contextmanager
def _part_folder(target: Path) -> Iterator[Path]:
    """Give a folder beside the target for copies; one a killed process left is known by name."""
    folder = part_of(target)
    folder.mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def take_away(target: Path) -> None:
    """Delete a database that holds nothing of use, with its side files."""
    for end in ("", *SIDE_FILES):
        with suppress(OSError):
            target.with_name(target.name + end).unlink(missing_ok=True)


def _at_full_length(damaged: Path, folder: Path) -> Path:
    """Copy the file with its write-ahead log; a cut one is filled up to the length it says."""
    if not damaged.is_file():
        raise InputError(f"{damaged}: found no such file; accepted: a database of this program")
    copy = folder / "copy.sqlite3"
    shutil.copyfile(damaged, copy)
    log = damaged.with_name(damaged.name + "-wal")
    if log.exists():
        shutil.copyfile(log, folder / "copy.sqlite3-wal")
    with copy.open("r+b") as file:
        head = file.read(_HEAD.size)
        if len(head) == _HEAD.size:
            page_bytes, pages = _HEAD.unpack(head)
            page_bytes = 65536 if page_bytes == 1 else page_bytes
            if 0 < pages * page_bytes <= 64 * max(copy.stat().st_size, 1):
                file.truncate(max(copy.stat().st_size, pages * page_bytes))
    return copy


def _opened(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path)
    db.execute("PRAGMA application_id").fetchone()
    return db


def _save(source: sqlite3.Connection, store: Store) -> Rescued:
    rows, torn = {}, []
    with store.write() as db:
        db.execute("PRAGMA defer_foreign_keys = ON")
        for table in _tables(db):
            found = _Table(source, db, table)
            rows[table] = found.save()
            if found.torn:
                torn.append(table)
        _drop_orphans(db)
    return Rescued(rows, tuple(torn))


def _tables(db: sqlite3.Connection) -> list[str]:
    names = db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return [row[0] for row in names if row[0] not in OWN and not row[0].startswith("sqlite_")]


def _drop_orphans(db: sqlite3.Connection) -> None:
    """A row whose parent was lost keeps its values but not the pointer, or goes with it."""
    db.execute("UPDATE reading SET import_id = NULL WHERE import_id NOT IN (SELECT id FROM import)")
    db.execute("DELETE FROM event WHERE job_id NOT IN (SELECT id FROM job)")
    db.execute("DELETE FROM forecast_body WHERE forecast_id NOT IN (SELECT id FROM forecast)")
    db.execute("DELETE FROM reading_span")  # it may no longer be that of the rows that are left
    for statement in (MARK_ALL_READINGS, *NOTE_ALL_TOLD):
        db.execute(statement)


@dataclass(frozen=True)
class _Run:
    """The last key reached, None for none, and whether the end was reached without damage."""

    last: Row | None
    whole: bool


class _Table:
    """One table on its way from the damaged file to the new one."""

    def __init__(self, source: sqlite3.Connection, target: sqlite3.Connection, name: str) -> None:
        self._source, self._target, self._name = source, target, name
        columns = target.execute(f"PRAGMA table_info({name})").fetchall()
        self._columns = [column[1] for column in columns]
        self._key = [c[1] for c in sorted(columns, key=lambda c: c[5]) if c[5]] or ["rowid"]
        self.torn = False

    def save(self) -> int:
        """Copy what can be reached from both ends, then look between them."""
        before = self._target.total_changes
        low = self._run("ASC")
        if not low.whole:
            self.torn = True
            self._between(low.last, self._run("DESC").last)
        return self._target.total_changes - before

    def _between(self, low: Row | None, high: Row | None) -> None:
        """Reach whole pages between two damaged ones: step the key on until something is read."""
        if low is None or high is None:
            return
        place = next((i for i, (a, b) in enumerate(zip(low, high, strict=True)) if a != b), None)
        if place is None:
            return
        at, end, step = low[place], high[place], 1
        while isinstance(at, int) and isinstance(end, int) and at + step < end:
            before = self._target.total_changes
            reached = self._run("ASC", (*low[:place], at + step), (*low[:place], end)).last
            found = reached[place] if reached is not None else at
            if self._target.total_changes > before and isinstance(found, int):
                # The last step may have gone over good rows: they are reached from above.
                self._run("DESC", (*low[:place], at + 1), (*low[:place], at + step))
                at, step = max(found, at + step), 1
            else:
                step *= 2

    def _run(self, order: str, low: Row = (), high: Row = ()) -> _Run:
        """Copy rows in key order from `low` to before `high`, until the end or the damage."""
        last: Row | None = None
        keys = len(self._key)
        try:
            for row in self._rows(order, low, high):
                self._put(row[keys:])
                last = tuple(row[:keys])
        except sqlite3.DatabaseError:
            return _Run(last, whole=False)
        return _Run(last, whole=True)

    def _rows(self, order: str, low: Row, high: Row) -> Iterator[Row]:
        key = ", ".join(self._key)
        sorting = ", ".join(f"{name} {order}" for name in self._key)
        yield from self._source.execute(
            f"SELECT {key}, {', '.join(self._there())} FROM {self._name}"
            f"{self._where(len(low))} ORDER BY {sorting}",
            (*low, *high),
        )

    def _where(self, columns: int) -> str:
        if columns == 0:
            return ""
        key, marks = ", ".join(self._key[:columns]), ", ".join("?" * columns)
        return f" WHERE ({key}) >= ({marks}) AND ({key}) < ({marks})"

    def _there(self) -> list[str]:
        """Columns the damaged file has; it may be older than the new one."""
        old = {row[1] for row in self._source.execute(f"PRAGMA table_info({self._name})")}
        if not old:
            raise sqlite3.DatabaseError(f"no table {self._name}")
        return [name if name in old else f"NULL AS {name}" for name in self._columns]

    def _put(self, row: Row) -> None:
        if self._name == "entry" and not _whole_entry(dict(zip(self._columns, row, strict=True))):
            self.torn = True  # half of it lay in the lost part: never kept as if it were whole
            return
        marks = ", ".join("?" * len(row))
        with suppress(sqlite3.IntegrityError):  # a value that the damage made impossible
            self._target.execute(f"INSERT OR IGNORE INTO {self._name} VALUES ({marks})", row)


def _whole_entry(row: dict[str, object]) -> bool:
    line = row["line"]
    return isinstance(line, bytes) and hashlib.sha256(line).hexdigest() == row["hash"]
