"""One SQLite file, one writer. Knows tables, no domain types.

WAL with `synchronous=FULL`, so that a committed row survives a power cut and readers never
wait for the writer. Faults of the machine become a StoreError that says what to do; a wrong
statement is our own bug and passes through as sqlite3 raised it.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Self

from advisor.base.errors import StoreError
from advisor.base.files import made_folder
from advisor.base.migrations import APPLICATION_ID, MIGRATIONS, Migration
from advisor.base.swap import finished

#: How long to wait for another window's write before saying so.
BUSY_MS = 5000

#: How soon to ask again where SQLite does not wait by itself.
TRY_AGAIN_S = 0.01

#: Reading connections kept open for the next one that asks.
IDLE_READERS = 4

_BUSY = "another window or program is writing to it; close that one, then try again."
_READ_ONLY = "it is read-only; allow writing to the file and its folder, or choose another."
_DAMAGED = (
    "it is damaged. Go back to the last backup (advisor record restore), or save what can "
    "still be read (advisor record rescue)."
)
_ADVICE = MappingProxyType(
    {
        sqlite3.SQLITE_BUSY: _BUSY,
        sqlite3.SQLITE_LOCKED: _BUSY,
        sqlite3.SQLITE_FULL: "the disk is full; nothing was changed. Free some space, try again.",
        sqlite3.SQLITE_READONLY: _READ_ONLY,
        sqlite3.SQLITE_PERM: _READ_ONLY,
        sqlite3.SQLITE_CANTOPEN: "it cannot be opened; check that its folder can be written to.",
        sqlite3.SQLITE_NOTADB: "it is not a database; choose another file with --database.",
        sqlite3.SQLITE_CORRUPT: _DAMAGED,
        sqlite3.SQLITE_IOERR: "the disk could not be read or written; check it, then try again.",
    }
)


class Store:
    """The database file. `read` and `write` may be called from any thread.

    `migrations` is an argument for tests only.
    """

    def __init__(
        self,
        path: Path | str,
        *,
        busy_ms: int = BUSY_MS,
        migrations: tuple[Migration, ...] = MIGRATIONS,
    ) -> None:
        """Open or create the file and bring it up to date; StoreError if it cannot be used."""
        self.path = Path(path)
        self._busy_ms = busy_ms
        self._migrations = migrations
        self._lock = threading.Lock()
        #: Reading connections nobody uses at the moment; a deque's ends may be used by any thread.
        self._idle: deque[sqlite3.Connection] = deque()
        self._open = True
        #: How often this store wrote; asking for it costs nothing.
        self.writes = 0
        _make_folder(self.path)
        #: What is to be said of a going back that was cut off and finished now; "" for nothing.
        self.put_right = finished(self.path)
        with plain_errors(self.path):
            self._writer = self._connect()
            try:
                _prepare(self._writer, self.path, migrations, busy_ms)
            except BaseException:
                self._writer.close()
                raise
        self._file = _file_of(self.path)
        self._seen = _data_version(self._writer)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the writer's connection, after a write that is being done; harmless twice."""
        mine = self._lock.acquire(timeout=self._busy_ms / 1000.0)
        self._open = False
        try:
            while self._idle:
                self._idle.pop().close()
            self._writer.close()
        finally:
            if mine:
                self._lock.release()

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """Give a connection that cannot write and sees one unchanging state until it closes."""
        with plain_errors(self.path):
            db = self._reader()
            try:
                db.execute("BEGIN")
                yield db
                db.execute("ROLLBACK")
            except BaseException:
                db.close()
                raise
            self._give_back(db)

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """Give the writer inside one transaction: all of it is kept, or on any error nothing.

        Not to be nested: the inner one would wait for the outer one for ever.
        """
        with self._lock, plain_errors(self.path):
            self._refuse_replaced()
            with _transaction(self._writer) as db:
                yield db
            self.writes += 1

    def _refuse_replaced(self) -> None:
        if self.replaced():
            raise StoreError(
                f"{self.path}: another file was put in its place while it was open, nothing was "
                "kept; close the program and open it again."
            )

    def replaced(self) -> bool:
        """Whether another file lies under the name now: what is written here would be lost."""
        if self._file is None:
            return False
        try:
            return _file_of(self.path) != self._file
        except OSError:
            return False  # a network folder out of reach: writing to it will tell

    def changed_elsewhere(self) -> bool:
        """Whether anyone but this store wrote since last asked; False while it is writing."""
        if not self._lock.acquire(blocking=False):
            return False
        try:
            before, self._seen = self._seen, _data_version(self._writer)
        finally:
            self._lock.release()
        return before != self._seen

    def replace_content(self, source: Path, put_aside: Callable[[], None]) -> None:
        """Take over all content of another whole database of this program, in one transaction.

        `put_aside` is called while `read` gives what was there and nobody can write any more:
        what it raises leaves all as it was.
        """
        begun = False

        def step(code: int, _left: int, _all: int) -> None:
            nonlocal begun
            if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise StoreError(f"{self.path}: {_BUSY}")
            if not begun:
                begun = True
                put_aside()

        with self._lock, plain_errors(self.path), closing(sqlite3.connect(source)) as other:
            self._refuse_replaced()
            # By single pages: the first takes the lock on writing, the last lets go of it.
            other.backup(self._writer, pages=1, progress=step, sleep=0)
            _prepare(self._writer, self.path, self._migrations, self._busy_ms)
            self.writes += 1

    def version(self) -> int:
        """Return how many migrations the file has seen."""
        with self.read() as db:
            return _user_version(db)

    def _reader(self) -> sqlite3.Connection:
        """Take an idle reading connection: opening one reads the whole schema every time."""
        with suppress(IndexError):
            return self._idle.pop()
        db = self._connect()
        try:
            db.execute("PRAGMA query_only = ON")
        except BaseException:
            db.close()
            raise
        return db

    def _give_back(self, db: sqlite3.Connection) -> None:
        if self._open and len(self._idle) < IDLE_READERS:
            self._idle.append(db)
        else:
            db.close()

    def _connect(self) -> sqlite3.Connection:
        db = sqlite3.connect(
            self.path,
            timeout=self._busy_ms / 1000,
            isolation_level=None,  # transactions are opened by hand, above
            check_same_thread=False,  # the lock serialises the writer
        )
        try:
            db.execute("PRAGMA foreign_keys = ON")
            db.execute("PRAGMA synchronous = FULL")
        except BaseException:
            db.close()
            raise
        return db


def _make_folder(path: Path) -> None:
    try:
        made_folder(path.parent)
    except OSError as error:
        raise StoreError(
            f"{path}: its folder cannot be made ({error.strerror}); "
            "choose another place with --database."
        ) from error


def _prepare(
    db: sqlite3.Connection, path: Path, migrations: tuple[Migration, ...], busy_ms: int
) -> None:
    _refuse_foreign(db, path, len(migrations))
    _write_ahead(db, busy_ms)
    while _user_version(db) < len(migrations):
        _apply_next(db, migrations)


def _write_ahead(db: sqlite3.Connection, busy_ms: int) -> None:
    """Turn the log on; two windows opened at once on a new file are in each other's way here.

    For this one step SQLite itself does not wait.
    """
    until_s = time.monotonic() + busy_ms / 1000
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() >= until_s:
                raise
            time.sleep(TRY_AGAIN_S)
        else:
            return


def _refuse_foreign(db: sqlite3.Connection, path: Path, newest: int) -> None:
    """Refuse another program's database and one written by a newer version of ours."""
    # Filled first: a second window may make its tables between the two questions.
    filled = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] > 0
    ours = db.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    if filled and not ours:
        raise StoreError(
            f"{path} is a database of another program; choose another file with --database."
        )
    version = _user_version(db)
    if ours and version > newest:
        raise StoreError(
            f"{path} was written by a newer version of this program "
            f"(data version {version}, this program knows {newest}); install the newer program."
        )


def _apply_next(db: sqlite3.Connection, migrations: tuple[Migration, ...]) -> None:
    """Run one migration with its row and the new version in one transaction."""
    with _transaction(db):
        # Asked again under the lock: a second window may have just done this step.
        done = _user_version(db)
        if done >= len(migrations):
            return
        step = migrations[done]
        step.apply(db)
        db.execute("INSERT INTO migration (version, name) VALUES (?, ?)", (done + 1, step.name))
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {done + 1}")


def _data_version(db: sqlite3.Connection) -> int:
    """Stays the same over the connection's own writes, unlike anyone else's."""
    return int(db.execute("PRAGMA data_version").fetchone()[0])


def _file_of(path: Path) -> tuple[int, int] | None:
    """Return which file lies under a name; None where there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino


def _user_version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


@contextmanager
def _transaction(db: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield db
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:  # SQLite itself rolls back on a full disk
            db.execute("ROLLBACK")
        raise


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn faults of the machine into a StoreError that says what to do."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        advice = advice_for(getattr(error, "sqlite_errorcode", None))
        if advice is None:
            raise
        raise StoreError(f"{path}: {advice}") from error


def advice_for(code: int | None) -> str | None:
    """Say what to do about an SQLite result code; None when it is our own bug."""
    return _ADVICE.get((code or 0) & 0xFF)  # the low byte is the primary code
