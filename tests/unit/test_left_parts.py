"""What killed copies left is taken away in time, and never what a running one is writing."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from advisor.base.attachments import Attachments
from advisor.base.backup import backups, make_backup
from advisor.base.files import LEFT_AFTER_S, part_of, whole
from advisor.base.store import Store

ROOT = Path(__file__).resolve().parents[2]
KILLED = """
import os, signal, sys
from pathlib import Path
from advisor.base.files import whole

copies = [whole(Path(name)) for name in sys.argv[1:]]
for copy in copies:
    copy.__enter__().write_bytes(b"half")
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "shop.sqlite3") as opened:
        yield opened


@pytest.fixture
def places(store: Store) -> list[Path]:
    """Where copies are written: backups, kept files of both, beside the database."""
    folder, sha256 = store.path.with_name("backups"), "ab" + "0" * 62
    kept = Attachments(store.path).path(sha256)
    copied = Attachments(folder / store.path.name).path(sha256)
    for path in (kept, copied):
        path.parent.mkdir(parents=True)
    backup = folder / "shop-20260528T000000Z.sqlite3"
    return [backup, kept, copied, store.path, store.path.with_name("shop.sqlite3.before-1")]


def parts(store: Store) -> list[Path]:
    return sorted(store.path.parent.rglob(".*.part*"))


@pytest.mark.skipif(sys.platform == "win32", reason="nothing is killed so on this system")
def test_what_killed_copies_left_goes_with_the_next_backup(
    store: Store, places: list[Path]
) -> None:
    subprocess.run([sys.executable, "-c", KILLED, *places], cwd=ROOT, check=False)
    left = parts(store)
    assert len(left) == len(places)
    touched_s = [path.stat().st_mtime for path in left]
    make_backup(store, store.path.with_name("backups"), min(touched_s) + LEFT_AFTER_S - 1)
    assert parts(store) == left  # a day has not gone by: another machine may be writing them
    make_backup(store, store.path.with_name("backups"), max(touched_s) + LEFT_AFTER_S + 1)
    assert parts(store) == []
    assert len(backups(store.path, store.path.with_name("backups"))) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="there a running process is not looked for")
def test_the_part_of_a_running_process_stays_however_old(store: Store, places: list[Path]) -> None:
    """A computer that slept for a week goes on with its copy."""
    with whole(places[0]) as part:
        part.write_bytes(b"half")
        make_backup(store, store.path.with_name("backups"), part.stat().st_mtime + 9 * LEFT_AFTER_S)
        assert part.read_bytes() == b"half"
    assert places[0].read_bytes() == b"half"


def test_what_is_not_ours_to_take_stays(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    folder.mkdir()
    names = [
        folder / ".other-20260528T000000Z.sqlite3.0123abcd.part",  # of another database
        folder / ".shop-20260528T000000Z.sqlite3.part",  # of another program
        tmp_path / ".shop.sqlite30.0123abcd.part",
        tmp_path / "shop.sqlite3.part",
    ]
    for path in names:
        path.write_bytes(b"theirs")
        os.utime(path, (0, 0))
    make_backup(store, folder, 1_780_000_000)
    assert [path for path in names if not path.exists()] == []


def test_older_names_and_side_files_of_a_part_go_too(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    folder.mkdir()
    stem = ".shop-20260528T000000Z.sqlite3"
    dead = part_of(folder / stem[1:]).name.replace(f".{os.getpid()}-", f".{2**22 + 1}-")
    names = [f"{stem}.0123abcd.part", f"{stem}.0123abcd.part-journal", f"{dead}-wal", dead]
    for name in names:
        (folder / name).write_bytes(b"half")
        os.utime(folder / name, (0, 0))
    left = tmp_path / ".shop.sqlite3.saved.0123abcd.part"  # a rescue's folder
    left.mkdir()
    (left / "copy.sqlite3").write_bytes(b"half")
    os.utime(left, (0, 0))
    make_backup(store, folder, 1_780_000_000)
    assert parts(store) == []
