"""Killed at random moments while two processes write one record: nothing told is lost."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.record import chain

KILLS = 40

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")


@pytest.fixture(scope="module")
def script(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("kill_test", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["kill_test"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def path() -> Path:
    return Path(__file__).resolve().parents[2] / "scripts" / "kill_test.py"


def test_nothing_told_is_lost(path: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-W", "error", path, str(KILLS), "--folder", tmp_path]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"{KILLS} kills of 2 writers: ")
    told = int(done.stdout.split(": ")[1].split()[0])
    assert told > KILLS, "the writers were killed before they told anything"


@pytest.fixture
def database(script: ModuleType, tmp_path: Path) -> Path:
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        for at in range(1, 9):
            chain.add(store, script.draft(Attachments(path), "A. Painter", at), "9.9")
    return path


def test_the_look_can_fail(script: ModuleType, database: Path) -> None:
    with Store(database) as store:
        told = {e.number: e.hash for e in chain.entries(store, script.JOB)}
    assert script.look(database, told) == ("", 8)
    assert "were told and are lost" in script.look(database, told | {9: "ab" * 32})[0]
    assert "were told and are lost" in script.look(database, told | {3: "ab" * 32})[0]


def test_the_look_finds_half_a_file(script: ModuleType, database: Path) -> None:
    photo = next(p for p in Attachments(database).folder.rglob("*") if p.is_file())
    photo.write_bytes(photo.read_bytes()[:-1])
    assert "not whole" in script.look(database, {})[0]


def test_the_look_finds_a_broken_chain(script: ModuleType, database: Path) -> None:
    with Store(database) as store, store.write() as db:
        db.execute("DROP TRIGGER entry_stays")
        db.execute("UPDATE entry SET line = replace(line, 'typed', 'tuped') WHERE number = 3")
    assert script.look(database, {})[0].startswith("line 3")


def test_a_writer_that_fails_is_told(script: ModuleType, tmp_path: Path) -> None:
    (tmp_path / "shop.sqlite3").write_bytes(b"not a database at all" * 100)
    write = script.writer(tmp_path / "shop.sqlite3", "A. Painter")
    process, pipe = script.start(write)
    body = script.drain(pipe)
    os.waitpid(process, 0)
    with pytest.raises(RuntimeError, match="StoreError"):
        script.lines(body)
