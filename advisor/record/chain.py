"""The record in the store: entries are added at the end, each with the hash of the one before.

Nothing here changes or removes an entry. `append` runs in the caller's transaction, so that an
entry and what else the event changes are kept together or not at all; it is acknowledged when
that transaction has been committed and synced.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from advisor.base.errors import StoreError
from advisor.base.store import Store
from advisor.record.canonical import NO_HASH, digest
from advisor.record.entry import Draft, Entry, entry_of, line_of
from advisor.record.kinds import check

#: What reading a line raises that is not the line of an entry.
UNREADABLE = (ValueError, KeyError, TypeError, OverflowError, AssertionError)


@dataclass(frozen=True)
class Head:
    """The end of a record: how many entries, and the last one's hash (zeros where none)."""

    entries: int
    hash: str


def append(db: sqlite3.Connection, draft: Draft, app: str) -> Entry:
    """Add an entry at the end of its job's record, inside the caller's write transaction.

    `app` is the version of the program. Raises InputError for a field that cannot be kept.
    """
    check(draft.kind, draft.data)
    end = head(db, draft.job_id)
    number = end.entries + 1
    line = line_of(draft, number, end.hash, app)
    db.execute(
        "INSERT INTO entry (job_id, number, kind, area_id, coat_id, at_s, written_s, by, "
        "hash, line) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (draft.job_id, number, draft.kind, draft.area_id, draft.coat_id, int(draft.at_s),
         int(draft.written_s), draft.by, digest(line), line),
    )  # fmt: skip
    return entry_of(line)


def add(store: Store, draft: Draft, app: str) -> Entry:
    """Add one entry in a transaction of its own."""
    with store.write() as db:
        return append(db, draft, app)


def head(db: sqlite3.Connection, job_id: str) -> Head:
    """Return the end of a job's record."""
    row = db.execute(
        "SELECT number, hash FROM entry WHERE job_id = ? ORDER BY number DESC LIMIT 1", (job_id,)
    ).fetchone()
    return Head(0, NO_HASH) if row is None else Head(row[0], row[1])


def head_of(store: Store, job_id: str) -> Head:
    """Return the end of a job's record."""
    with store.read() as db:
        return head(db, job_id)


def entries_of_all(db: sqlite3.Connection) -> int:
    """Return how many entries the records of all jobs have, by their ends alone."""
    found, job_id = 0, db.execute("SELECT min(job_id) FROM entry").fetchone()[0]
    while job_id is not None:
        found += head(db, job_id).entries
        query = "SELECT min(job_id) FROM entry WHERE job_id > ?"
        job_id = db.execute(query, (job_id,)).fetchone()[0]
    return found


def lines(store: Store, job_id: str) -> Iterator[bytes]:
    """Yield the exact lines of a record in order, all from one unchanging state.

    StoreError after the last that can be read, where a damaged file ends before the record does.
    """
    with store.read() as db:
        number = 0
        for number, line in db.execute(  # noqa: B007  (the last is asked for below)
            "SELECT number, line FROM entry WHERE job_id = ? ORDER BY number", (job_id,)
        ):
            yield _as_bytes(line)
        _reached(db, job_id, number)


@dataclass(frozen=True)
class Row:
    """A row of the table: its entry, None where the line cannot be read, and whether both fit."""

    entry: Entry | None
    fits: bool


def rows(store: Store, job_id: str) -> Iterator[Row]:
    """Yield the rows of a record in order, to look whether each says what its line says."""
    with store.read() as db:
        for *columns, line in db.execute(
            "SELECT number, kind, area_id, coat_id, at_s, written_s, by, hash, line FROM entry "
            "WHERE job_id = ? ORDER BY number", (job_id,)
        ):  # fmt: skip
            try:
                said = entry_of(_as_bytes(line))
            except UNREADABLE:
                yield Row(None, fits=False)
                continue
            by_line = [said.number, said.kind, said.area_id, said.coat_id, int(said.at_s),
                       int(said.written_s), said.by, said.hash]  # fmt: skip
            yield Row(said, fits=by_line == columns)


def entries(
    store: Store,
    job_id: str,
    *,
    kinds: tuple[str, ...] = (),
    coat_id: str | None = None,
    after: int = 0,
) -> tuple[Entry, ...]:
    """Return a job's entries in order after a number, of some kinds and one coat where asked."""
    with store.read() as db:
        return entries_in(db, job_id, kinds=kinds, coat_id=coat_id, after=after)


def entries_in(
    db: sqlite3.Connection,
    job_id: str,
    *,
    kinds: tuple[str, ...] = (),
    coat_id: str | None = None,
    after: int = 0,
) -> tuple[Entry, ...]:
    """Return entries as `entries` does, those of an open transaction with them."""
    query = "SELECT line FROM entry WHERE job_id = ? AND number > ?"
    given: list[str | int] = [job_id, after]
    if kinds:
        query += f" AND kind IN ({', '.join('?' * len(kinds))})"
        given += kinds
    if coat_id is not None:
        query += " AND coat_id = ?"
        given.append(coat_id)
    rows = db.execute(query + " ORDER BY number", given).fetchall()
    found = tuple(_entry(line) for (line,) in rows)
    if not kinds and coat_id is None:  # with a kind or a coat nobody knows how many there should be
        _reached(db, job_id, found[-1].number if found else after)
    return found


def numbered(db: sqlite3.Connection, job_id: str, numbers: Iterable[int]) -> tuple[Entry, ...]:
    """Return the entries of these numbers that are there, in the order given."""
    query = "SELECT line FROM entry WHERE job_id = ? AND number = ?"
    rows = (db.execute(query, (job_id, number)).fetchone() for number in numbers)
    return tuple(_entry(row[0]) for row in rows if row is not None)


def entry(store: Store, job_id: str, number: int) -> Entry | None:
    """Return one entry by its number, None where there is none."""
    with store.read() as db:
        row = db.execute(
            "SELECT line FROM entry WHERE job_id = ? AND number = ?", (job_id, number)
        ).fetchone()
    return None if row is None else _entry(row[0])


def _reached(db: sqlite3.Connection, job_id: str, number: int) -> None:
    """Refuse a walk that did not come to the end: in a damaged file SQLite may just stop."""
    entries = head(db, job_id).entries
    if number < entries:
        raise StoreError(
            f"the file is damaged: of {entries} entries those after No {number} cannot be read. "
            "Go back to a backup (advisor record restore), or save what can be read "
            "(advisor record rescue)."
        )


def _as_bytes(line: object) -> bytes:
    """A line that another program wrote back as text is still read, so that it can be told."""
    return line if isinstance(line, bytes) else str(line).encode()


def _entry(line: object) -> Entry:
    try:
        return entry_of(_as_bytes(line))
    except UNREADABLE as error:
        raise StoreError(
            "an entry of the record was altered and cannot be read; export the record and run "
            "advisor record verify, or go back to a backup (advisor record restore)."
        ) from error
