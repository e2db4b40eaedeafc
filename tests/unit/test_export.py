"""What is given away: whole or not at all, over nothing, and checked by its own verifier."""

from __future__ import annotations

import ast
import errno
import hashlib
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path
from typing import BinaryIO

import pytest

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.record import chain, export
from advisor.record.canonical import NO_HASH
from advisor.record.entry import Draft
from advisor.record.export import (
    FILES,
    RECORD,
    VERIFIER,
    export_file,
    export_folder,
    verifier_text,
)
from advisor.record.signing import SigningKey, make_key
from tests.helpers.invented_record import JOB, fill


def works(python: str) -> bool:
    """Whether there is a program behind the name; a switch between versions leaves bare names."""
    if shutil.which(python) is None:
        return False
    return subprocess.run([python, "-V"], capture_output=True, check=False).returncode == 0


#: This Python, and older and newer ones where this machine has them.
PYTHONS = (sys.executable, *filter(works, (f"python3.{minor}" for minor in range(8, 15))))


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    return make_key(tmp_path_factory.mktemp("keys"), "A. Painter")


@pytest.fixture
def folder(store: Store, tmp_path: Path, key: SigningKey) -> Path:
    fill(store, 40, key, (39,))
    export_folder(store, JOB, tmp_path / "out")
    return tmp_path / "out"


def run(
    folder: Path, *words: str, python: str = sys.executable
) -> subprocess.CompletedProcess[str]:
    """Run the verifier of an export as a stranger would: alone, from its own folder."""
    command = [python, "-I", "-S", VERIFIER, RECORD, *words]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_the_lines_are_the_exact_hashed_bytes(store: Store, folder: Path) -> None:
    lines = (folder / RECORD).read_bytes().split(b"\n")
    assert lines[:-2] == list(chain.lines(store, JOB))
    head = chain.head_of(store, JOB)
    assert lines[-2] == b'{"end":{"entries":40,"head":"%s"}}' % head.hash.encode()
    assert lines[-1] == b""


def test_the_files_go_with_it_under_their_hash(folder: Path) -> None:
    names = sorted(path.suffix for path in (folder / FILES).iterdir())
    assert names == [".csv", ".jpg"]
    assert sorted(path.name for path in folder.iterdir()) == [FILES, RECORD, VERIFIER]


def test_an_empty_record_can_be_exported(store: Store, tmp_path: Path) -> None:
    done = export_folder(store, JOB, tmp_path / "out")
    assert (done.head.entries, done.head.hash, done.files) == (0, NO_HASH, 0)
    assert run(tmp_path / "out").returncode == 0


def test_a_file_the_store_has_lost_is_named(store: Store, tmp_path: Path) -> None:
    fill(store, 20)
    shutil.rmtree(Attachments(store.path).folder)
    done = export_folder(store, JOB, tmp_path / "out")
    assert (done.files, set(done.missing)) == (0, {"photo.jpg", "shed.csv"})


def test_a_file_altered_in_the_store_is_given_away_as_it_is_and_named(
    store: Store, tmp_path: Path
) -> None:
    """It is not missing: the verifier, and whoever is asked about it, must be able to see it."""
    fill(store, 20)
    kept = Attachments(store.path).folder
    photo = next(p for p in kept.rglob("*") if p.is_file() and p.read_bytes()[:2] == b"\xff\xd8")
    photo.write_bytes(photo.read_bytes()[:-1])
    done = export_folder(store, JOB, tmp_path / "out")
    assert (done.files, done.missing, done.altered) == (2, (), ("photo.jpg",))
    checked = run(tmp_path / "out")
    assert checked.returncode == 1
    assert "its file photo.jpg was altered" in checked.stdout


def test_a_file_that_cannot_be_read_is_missing_and_the_rest_is_exported(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One bad sector under one photo does not keep the whole record from its reader."""
    fill(store, 20)
    kept = Attachments(store.path).folder
    photo = next(p for p in kept.rglob("*") if p.is_file() and p.read_bytes()[:2] == b"\xff\xd8")
    real_digest, real_copy = hashlib.file_digest, shutil.copyfile

    def digest(file: BinaryIO, name: str) -> object:
        if file.name == str(photo):
            raise OSError(errno.EIO, "Input/output error")
        return real_digest(file, name)

    def copy(source: Path, target: Path) -> object:
        if Path(source) == photo:
            raise OSError(errno.EIO, "Input/output error")
        return real_copy(source, target)

    monkeypatch.setattr(hashlib, "file_digest", digest)
    monkeypatch.setattr(shutil, "copyfile", copy)
    done = export_folder(store, JOB, tmp_path / "out")
    assert (done.files, done.missing, done.altered) == (1, ("photo.jpg",), ())
    assert "its file photo.jpg is missing" in run(tmp_path / "out").stdout


def test_a_file_that_was_never_kept_is_not_missed(store: Store, tmp_path: Path) -> None:
    """A log whose file was gone when it was imported: its hash is in the record, no more."""
    data = {"file_name": "shed.csv", "sha256": "ab" * 32}
    chain.add(store, Draft("import", JOB, 0, 0, "UTC", "A. Painter", data), "9.9")
    assert export_folder(store, JOB, tmp_path / "out").missing == ()
    done = run(tmp_path / "out")
    assert done.returncode == 0
    assert "shed.csv by its hash; the file itself was never kept" in done.stdout


@pytest.mark.parametrize("write", [export_folder, export_file])
def test_nothing_that_is_there_is_replaced(store: Store, tmp_path: Path, write: object) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="something there already"):
        write(store, JOB, tmp_path / "out")  # type: ignore[operator]
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["mine.txt"]


def test_an_empty_folder_is_used(store: Store, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    export_folder(store, JOB, tmp_path / "out")
    assert (tmp_path / "out" / RECORD).is_file()


@pytest.mark.parametrize("at", ["_source", "_sync_all"])
def test_a_fault_leaves_no_half_export(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    def fail(_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(export, at, fail)
    with pytest.raises(InputError, match="no space left"):
        export_folder(store, JOB, tmp_path / "new" / "out")
    assert list((tmp_path / "new").iterdir()) == []


def test_a_file_alone_is_the_same_and_leaves_no_part(
    store: Store, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "alone").mkdir()
    done = export_file(store, JOB, tmp_path / "alone" / "r.jsonl")
    assert (tmp_path / "alone" / "r.jsonl").read_bytes() == (folder / RECORD).read_bytes()
    assert done.head.entries == 40
    assert len(list((tmp_path / "alone").iterdir())) == 1
    with pytest.raises(InputError, match="no such file"):
        export_file(store, JOB, tmp_path / "nowhere" / "r.jsonl")


@pytest.mark.parametrize(
    ("name", "ending"), [("a.JPG", ".jpg"), ("a", ""), ("a.b c", ""), ("../x.sh;", ""), ("", "")]
)
def test_an_odd_ending_is_left_out(name: str, ending: str) -> None:
    assert export._suffix(name) == ending


# --- the verifier in the export --------------------------------------------------------------


def test_the_verifier_is_one_file_of_the_standard_library() -> None:
    tree = ast.parse(verifier_text(), feature_version=(3, 8))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import)
                for alias in node.names}  # fmt: skip
    imported |= {str(n.module) for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    assert imported <= set(sys.stdlib_module_names)


def test_no_part_hides_a_name_of_another() -> None:
    tree = ast.parse(verifier_text())
    names = [node.name for node in tree.body if isinstance(node, ast.FunctionDef | ast.ClassDef)]
    names += [target.id for node in tree.body if isinstance(node, ast.Assign)
              for target in node.targets if isinstance(target, ast.Name)]  # fmt: skip
    again = {name for name in names if names.count(name) > 1}
    assert again <= {"_HASH", "NO_HASH"}


@pytest.mark.parametrize("python", PYTHONS)
def test_it_runs_by_itself_on_every_python_here(folder: Path, python: str) -> None:
    done = run(folder, python=python)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("INTACT. The record holds 40 entries")
    assert "Entry 39 is signed beside the name" in done.stdout


def test_its_exit_codes(folder: Path, key: SigningKey) -> None:
    head = run(folder).stdout.splitlines()[1].strip()
    spaced = " ".join(head.upper()[at : at + 8] for at in range(0, 64, 8))
    assert run(folder, "--head", spaced, "--key", key.public_hex).returncode == 0
    assert run(folder, "--head", "ab" * 32).returncode == 1
    assert run(folder, "--key", "ab" * 32).returncode == 1
    assert run(folder, "--head", "tea").returncode == 2
    assert run(folder, "--tea").returncode == 2
    (folder / RECORD).unlink()
    done = run(folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert "no such file" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_it_finds_single_bytes_by_itself(folder: Path) -> None:
    body = (folder / RECORD).read_bytes()
    rng = random.Random(3)
    for _ in range(12):
        at = rng.randrange(len(body))
        changed = body[:at] + bytes([body[at] ^ 1 << rng.randrange(8)]) + body[at + 1 :]
        (folder / RECORD).write_bytes(changed)
        done = run(folder)
        assert (done.returncode, done.stderr) == (1, "")
        assert done.stdout.startswith("ALTERED. ")


def test_any_name_prints_on_any_console(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-I", VERIFIER, RECORD], cwd=folder, capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_named_pipe_is_not_waited_for(folder: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes on this system")
    photo = next(path for path in (folder / FILES).iterdir() if path.suffix == ".jpg")
    photo.unlink()
    os.mkfifo(photo)
    done = run(folder)
    assert done.returncode == 1
    assert done.stdout.startswith("MISSING. No entry was altered, but not all is here:")
    assert "its file photo.jpg is missing" in done.stdout
