"""A record by the page: which entries answer a filter, and the few of them that are on show."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.record.chain import head
from advisor.record.effective import Effective, effective
from advisor.record.entry import Entry, entry_of

IntArray = NDArray[np.int64]

#: Entries asked for in one statement; SQLite takes at least 999 values in one.
_AT_ONCE = 500
#: What the event said, out of its line: the keys of canonical JSON stand in a fixed order, and
#: a quotation mark inside a text is escaped, so that the first of each is the true one.
_FROM = "instr(line, CAST(',\"data\":' AS BLOB))"
_TO = "instr(line, CAST(',\"form\":' AS BLOB))"
_SAID = f"CAST(substr(line, {_FROM}, {_TO} - {_FROM}) AS TEXT)"


@dataclass(frozen=True)
class Wanted:
    """Which entries; empty means all. `words` is looked for in what an entry says and by whom."""

    kinds: tuple[str, ...] = ()
    area_id: str = ""
    coat_id: str = ""
    words: str = ""

    @property
    def all(self) -> bool:
        """Whether every entry is wanted."""
        return self == Wanted()


@dataclass(frozen=True, eq=False)
class Found:
    """Numbers [n] of the entries that answer, rising; `entries` is how many the record has."""

    numbers: IntArray
    entries: int


@dataclass(frozen=True, eq=False)
class Corrections:
    """`of` each corrected entry the numbers of its corrections, up to an entry with this hash."""

    entries: int
    hash: str
    of: Mapping[int, tuple[int, ...]]


def find(store: Store, job_id: str, wanted: Wanted) -> Found:
    """Return the entries of a job that answer. A search for words reads the whole record."""
    with store.read() as db:
        entries = head(db, job_id).entries
        if wanted.all:
            return Found(np.arange(1, entries + 1, dtype=np.int64), entries)
        where, given = _conditions(job_id, wanted)
        rows = db.execute(f"SELECT number FROM entry WHERE {where} ORDER BY number", given)
        numbers = np.fromiter((number for (number,) in rows), dtype=np.int64)
    return Found(numbers, entries)


def page(store: Store, job_id: str, numbers: Sequence[int] | IntArray) -> tuple[Entry, ...]:
    """Return entries by number in the order asked; a number that is not there is left out."""
    asked = [int(number) for number in numbers]
    found: dict[int, Entry] = {}
    with store.read() as db:
        for at in range(0, len(asked), _AT_ONCE):
            part = asked[at : at + _AT_ONCE]
            marks = ", ".join("?" * len(part))
            rows = db.execute(
                f"SELECT number, line FROM entry WHERE job_id = ? AND number IN ({marks})",
                [job_id, *part],
            )
            found.update((number, entry_of(_bytes(line))) for number, line in rows)
    return tuple(found[number] for number in asked if number in found)


def corrected_page(
    store: Store, job_id: str, numbers: Sequence[int] | IntArray, of: Mapping[int, tuple[int, ...]]
) -> tuple[Effective, ...]:
    """Return entries by number with their corrections applied; `of` is from `corrections`.

    A correction itself is among them where it was asked for.
    """
    entries = page(store, job_id, numbers)
    more = sorted({one for entry in entries for one in of.get(entry.number, ())})
    here = {e.number for e in entries}
    rest = page(store, job_id, [one for one in more if one not in here])
    if not more:
        return tuple(Effective(entry, entry) for entry in entries)
    told = {found.entry.number: found for found in effective((*entries, *rest))}
    return tuple(told.get(entry.number) or Effective(entry, entry) for entry in entries)


def corrections(store: Store, job_id: str, known: Corrections | None = None) -> Corrections:
    """Return which entries were corrected. Only what was added since `known` is read."""
    with store.read() as db:
        end = head(db, job_id)
        after, of = _still_true(db, job_id, known)
        rows = db.execute(
            "SELECT number, json_extract(CAST(line AS TEXT), '$.data.corrects') FROM entry "
            "WHERE job_id = ? AND kind = 'correction' AND number > ? ORDER BY number",
            (job_id, after),
        )
        for number, text in rows:
            if isinstance(text, str) and text.isascii() and text.isdigit():
                of[int(text)] = (*of.get(int(text), ()), number)
    return Corrections(end.entries, end.hash, MappingProxyType(of))


def _still_true(
    db: sqlite3.Connection, job_id: str, known: Corrections | None
) -> tuple[int, dict[int, tuple[int, ...]]]:
    """Return what is known and up to where: nothing of it once another record is in its place."""
    if known is None or not known.entries:
        return 0, {}
    row = db.execute(
        "SELECT hash FROM entry WHERE job_id = ? AND number = ?", (job_id, known.entries)
    ).fetchone()
    same = row is not None and row[0] == known.hash
    return (known.entries, dict(known.of)) if same else (0, {})


def _bytes(line: object) -> bytes:
    """A line that another program wrote back as text is still shown."""
    return line if isinstance(line, bytes) else str(line).encode()


def _conditions(job_id: str, wanted: Wanted) -> tuple[str, list[str]]:
    where, given = ["job_id = ?"], [job_id]
    if wanted.kinds:
        where.append(f"kind IN ({', '.join('?' * len(wanted.kinds))})")
        given += wanted.kinds
    for column, value in (("area_id", wanted.area_id), ("coat_id", wanted.coat_id)):
        if value:
            where.append(f"{column} = ?")
            given.append(value)
    for word in wanted.words.split():
        _look_for(word, where, given)
    return " AND ".join(where), given


def _look_for(word: str, where: list[str], given: list[str]) -> None:
    """Every word must be there. The whole line is asked first: that is twice as fast."""
    escaped = json.dumps(word, ensure_ascii=False)[1:-1]
    for sign in ("\\", "%", "_"):
        escaped = escaped.replace(sign, f"\\{sign}")
    like = f"%{escaped}%"
    number = " OR number = CAST(? AS INTEGER)" if word.isascii() and word.isdigit() else ""
    where.append(
        f"(CAST(line AS TEXT) LIKE ? ESCAPE '\\' AND "
        f"({_SAID} LIKE ? ESCAPE '\\' OR by LIKE ? ESCAPE '\\'{number}))"
    )
    given += [like, like, like] + ([word] if number else [])
