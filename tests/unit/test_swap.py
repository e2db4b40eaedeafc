"""Going back with the program closed, killed at every step: the old record or the new, whole."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.base.backup import go_back_closed, make_backup, why_damaged
from advisor.base.errors import StoreError
from advisor.base.store import Store
from advisor.base.swap import cut_off, finish
from advisor.record import chain
from advisor.record.entry import Draft, quantity
from tests.e2e.cli_shop import call

NOW_S = 1_780_000_000
ROOT = Path(__file__).resolve().parents[2]
#: Renames, deletions and syncs of one going back; more steps than there are ends the search.
MOST_STEPS = 40
KILLED = """
import os, signal, sys
from pathlib import Path
from advisor.base.backup import go_back_closed

database, backup, last = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
done = 0
def counted(real):
    def step(*given):
        global done
        done += 1
        if done == last:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*given)
    return step
os.replace, os.unlink, os.fsync = map(counted, (os.replace, os.unlink, os.fsync))
go_back_closed(database, backup, 1_780_000_000)
"""

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="nothing is killed so there")


def add(store: Store, count: int) -> None:
    air = {"air_temp": quantity("12.5", "°C", "typed")}
    for _ in range(count):
        chain.add(store, Draft("reading", "gig", NOW_S, NOW_S, "UTC", "crew", air), "1")


def numbers(path: Path) -> list[int]:
    with Store(path) as store:
        return [entry.number for entry in chain.entries(store, "gig")]


@pytest.fixture
def left(tmp_path: Path) -> tuple[Path, Path]:
    """A database of three entries, the last two in its log alone, and a backup of one."""
    folder = tmp_path / "shop"
    folder.mkdir()
    with Store(tmp_path / "open.sqlite3") as store:
        add(store, 1)
        made = make_backup(store, folder / "backups", NOW_S).path
        add(store, 2)
        for end in ("", "-wal"):  # as a program that was killed leaves them
            shutil.copyfile(f"{store.path}{end}", folder / f"shop.sqlite3{end}")
    return folder / "shop.sqlite3", made


def kept_aside(path: Path) -> list[Path]:
    ends = ("-wal", "-shm", ".part", ".going-back")
    return [p for p in path.parent.glob("*.before-*") if not p.name.endswith(ends)]


def test_killed_at_every_step_it_is_found_whole_and_nothing_is_lost(
    left: tuple[Path, Path], tmp_path: Path
) -> None:
    found, step, done = [], 0, False
    while not done:
        step += 1
        assert step < MOST_STEPS
        folder = tmp_path / f"killed {step}"
        shutil.copytree(left[0].parent, folder)
        path = folder / "shop.sqlite3"
        command = [sys.executable, "-c", KILLED, str(path), str(folder / "backups" / left[1].name)]
        killed = subprocess.run([*command, str(step)], cwd=ROOT, check=False)
        done = killed.returncode == 0
        assert done or killed.returncode == -signal.SIGKILL
        waiting = cut_off(path)
        with Store(path) as store:
            assert bool(store.put_right) == waiting  # said where it was gone on with
        found.append(numbers(path))
        assert why_damaged(path) == ""
        aside = kept_aside(path)
        assert found[-1] == [1, 2, 3] or [numbers(one) for one in aside] == [[1, 2, 3]]
        assert not cut_off(path)
    # All before the order stood is the old record, all after it the new one: never anything else.
    assert found == sorted(found, key=len, reverse=True)
    assert {len(one) for one in found} == {1, 3}
    assert found[-1] == [1]
    assert found.count([1]) > 4  # several of the steps after the order was written


def failing_at(last: int, real: Callable[..., object]) -> Callable[..., object]:
    done = 0

    def replace(*given: object) -> object:
        nonlocal done
        done += 1
        if done == last:
            raise OSError(errno.EIO, "Input/output error")
        return real(*given)

    return replace


@pytest.mark.parametrize("last", [1, 2, 3, 4])
def test_a_rename_that_fails_leaves_all_as_it_was(
    left: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, last: int
) -> None:
    """The order, the file, its log, and the copy in its place: four renames."""
    path, made = left
    monkeypatch.setattr(os, "replace", failing_at(last, os.replace))
    with pytest.raises(StoreError, match="what was there is as it was"):
        go_back_closed(path, made, NOW_S)
    monkeypatch.undo()
    assert not cut_off(path)
    assert numbers(path) == [1, 2, 3]
    assert [p for p in path.parent.iterdir() if p.name.endswith(".part")] == []
    assert kept_aside(path) == []


def test_where_nothing_can_be_renamed_any_more_the_next_start_goes_on(
    left: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, made = left
    real, done = os.replace, 0

    def replace(source: Path, target: Path) -> None:
        nonlocal done
        done += 1
        if done > 2:
            raise OSError(errno.EIO, "Input/output error")
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(StoreError, match="start the program again"):
        go_back_closed(path, made, NOW_S)
    with pytest.raises(StoreError, match="cannot be finished"):
        Store(path)
    assert not path.exists()  # never an empty one in its place
    monkeypatch.undo()
    told = call("record", "backup", "--list", "--database", path)
    assert (told.code, told.err.count("\n")) == (0, 1)
    assert "it was finished now. What was there before is in shop.sqlite3.before-" in told.err
    assert numbers(path) == [1]
    assert [numbers(one) for one in kept_aside(path)] == [[1, 2, 3]]


def halfway(path: Path, made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stop as the file has been moved away and nothing else."""
    real, done = os.replace, 0

    def replace(source: Path, target: Path) -> None:
        nonlocal done
        done += 1
        if done > 2:
            raise OSError(errno.EIO, "Input/output error")
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", replace)
        with pytest.raises(StoreError):
            go_back_closed(path, made, NOW_S)
    assert cut_off(path)


def test_a_file_put_there_by_hand_meanwhile_stays(
    left: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    halfway(*left, monkeypatch)
    path = left[0]
    path.with_name(path.name + "-wal").unlink()
    shutil.copyfile(tmp_path / "open.sqlite3", path)
    before = path.read_bytes()
    assert "another file was put there" in finish(path)
    assert path.read_bytes() == before
    assert len(kept_aside(path)) == 1
    assert finish(path) == ""


def test_where_the_copy_was_taken_away_meanwhile_the_old_one_comes_back(
    left: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    halfway(*left, monkeypatch)
    next(left[0].parent.glob(".*.part")).unlink()
    with Store(left[0]) as store:
        assert "what was there before is back" in store.put_right
    assert numbers(left[0]) == [1, 2, 3]


def test_another_window_is_not_raced(
    left: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    fcntl = pytest.importorskip("fcntl")
    halfway(*left, monkeypatch)
    path = left[0]
    order = path.with_name("shop.sqlite3.going-back")
    with order.open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(StoreError, match="another window"):
            Store(path)
    assert numbers(path) == [1]


def test_an_order_that_cannot_be_read_makes_no_empty_record(left: tuple[Path, Path]) -> None:
    path = left[0]
    for body in (b"", b"{}", b'["a"]', b'["../a", "b"]', b"[1, 2]", b"\xff"):
        path.with_name("shop.sqlite3.going-back").write_bytes(body)
        with pytest.raises(StoreError, match="cannot be read; move it away"):
            Store(path)
