"""A record that was tampered with is given away as it is, so that the verifier can say where."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.base.errors import InputError, StoreError
from advisor.base.store import Store
from advisor.record.export import RECORD, Exported, export_file, export_folder
from advisor.record.verify_record import verify
from tests.helpers.invented_record import JOB, fill


@pytest.mark.parametrize("line", [b"no JSON", b"[1]", b'{"app":1}', b"\xff\xfe", b"", b"a\nb"])
@pytest.mark.parametrize("number", [1, 5, 20])
def test_a_line_that_cannot_be_read_is_exported_and_found(
    tmp_path: Path, line: bytes, number: int
) -> None:
    with Store(tmp_path / "shop.sqlite3") as store:
        fill(store, 20)
        with store.write() as db:  # as someone with another program would
            db.execute("DROP TRIGGER entry_stays")
            db.execute("UPDATE entry SET line = ? WHERE number = ?", (line, number))
        done = export_folder(store, JOB, tmp_path / "out")
    assert done.head.entries == 20
    problems = verify(tmp_path / "out" / RECORD).problems
    assert number in {problem.line for problem in problems}


@pytest.mark.parametrize("write", [export_folder, export_file])
def test_a_place_below_a_file_is_refused_in_one_line(
    tmp_path: Path, write: Callable[[Store, str, Path], Exported]
) -> None:
    (tmp_path / "file").write_text("x")
    with Store(tmp_path / "shop.sqlite3") as store, pytest.raises(InputError, match="accepted"):
        write(store, JOB, tmp_path / "file" / "r.jsonl")


def test_an_export_from_a_damaged_file_never_passes_for_whole(tmp_path: Path) -> None:
    """Each page spoilt behind its head in turn: SQLite may end a walk early without a word."""
    path, entries = tmp_path / "shop.sqlite3", 300  # more than one leaf of its index
    with Store(path) as store:
        fill(store, entries)
    good = path.read_bytes()
    size = int.from_bytes(good[16:18], "big")  # of a page, https://www.sqlite.org/fileformat.html
    short = []
    for page in range(1, len(good) // size):
        start, end = page * size + 40, (page + 1) * size
        path.write_bytes(good[:start] + b"U" * (end - start) + good[end:])
        target = tmp_path / f"{page}.jsonl"
        try:
            with Store(path) as store:
                done = export_file(store, JOB, target)
        except (StoreError, sqlite3.DatabaseError):
            continue  # refused
        if done.head.entries < entries and not done.lost and not verify(target).problems:
            short.append((page, done.head.entries))
    assert not short


def test_an_export_tells_the_entries_a_rescue_could_not_save(tmp_path: Path) -> None:
    with Store(tmp_path / "shop.sqlite3") as store:
        fill(store, 20)
        with store.write() as db:  # what a rescue leaves of a damaged file
            db.execute("DROP TRIGGER entry_remains")
            db.execute("DELETE FROM entry WHERE number IN (5, 6)")
        done = export_folder(store, JOB, tmp_path / "out")
    assert (done.head.entries, done.lost) == (18, 2)
    assert "2 entries are lost" in " ".join(done.wrong)
    assert verify(tmp_path / "out" / RECORD).problems
