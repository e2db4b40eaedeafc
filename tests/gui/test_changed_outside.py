"""The database is put back by another process while a window is open on it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from advisor.base.backup import content_of, go_back, make_backup
from advisor.base.errors import StoreError
from advisor.base.store import Store
from advisor.ui.main_window import MainWindow
from advisor.work.workbench import Workbench

from .conftest import Clock, Settle


@pytest.mark.parametrize("looked_before", [False, True])
def test_a_window_sees_that_the_record_went_back(
    window: MainWindow, bench: Workbench, clock: Clock, settle: Settle, tmp_path: Path,
    looked_before: bool,
) -> None:  # fmt: skip
    """Whether it counted before its own writes or after them: it looks each second by itself."""
    settle(window)
    if looked_before:
        window.upkeep.look()
    copy = make_backup(bench.store, tmp_path / "copies", clock()).path
    bench.record.add("observation", {"text": "fog"}, at_s=clock(), now_s=clock())
    window.reload()
    settle(window)
    window.upkeep.look()
    assert "outside" not in window.desk.messages.text  # its own writes are no news
    with Store(bench.store.path) as other:
        go_back(other, copy, clock())
    window.upkeep.look()
    settle(window)
    assert not window.desk.messages.isHidden()
    assert "2 entries before, 0 now" in window.desk.messages.text


def test_where_nobody_wrote_the_record_is_not_asked(
    window: MainWindow, bench: Workbench, settle: Settle, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With no job at all either: the first start lasts for hours."""
    settle(window)
    with bench.store.write() as db:
        db.execute("DELETE FROM job")
    window.upkeep.look()
    asked = []
    monkeypatch.setattr(window.upkeep, "_stands", lambda: asked.append(1) or (0, ""))
    for _ in range(3):
        window.upkeep.look()
    assert asked == []
    with bench.store.write():
        pass
    window.upkeep.look()
    window.upkeep.look()
    assert asked == [1]


def test_nothing_is_written_into_a_file_that_was_put_aside(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        shutil.copyfile(path, tmp_path / "other")
        with store.write():
            pass
        os.replace(tmp_path / "other", path)
        with pytest.raises(StoreError, match="open it again"), store.write():
            pass


def test_a_copy_says_what_it_holds(tmp_path: Path) -> None:
    with Store(tmp_path / "shop.sqlite3") as store:
        found = content_of(store.path)
    assert found is not None
    assert found.words() == "0 jobs, 0 entries"
    assert content_of(tmp_path / "none") is None
