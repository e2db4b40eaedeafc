"""A record that was tampered with is given away as it is, so that the verifier can say where."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.base.errors import InputError
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
