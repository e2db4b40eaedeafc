"""The record given away: record.jsonl with its end line, the files it names, and the verifier.

The folder appears whole under its name or not at all. Nothing that is already there is replaced.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from advisor.base.attachments import Attachments
from advisor.base.counting import counted
from advisor.base.errors import InputError
from advisor.base.files import synced, whole
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.canonical import NO_HASH, canonical, digest
from advisor.record.chain import Head
from advisor.record.entry import entry_of
from advisor.record.exact_line import is_hash

RECORD, FILES, VERIFIER = "record.jsonl", "files", "verify_record.py"
#: Kinds of entry that name a file by its hash.
NAMING = ("photo", "import")
#: Modules the verifier is made of, each using only those before it.
PARTS = ("ed25519", "exact_line", "proof", "verify_record")
_SUFFIX = re.compile(r"\.[a-z0-9]{1,8}")


@dataclass(frozen=True)
class Exported:
    """What was written. `missing` are files of the record that the store lost or cannot read.

    `altered` are those no longer what they were: they go along, and the verifier says where.
    `lost` is how many entries were not there any more, as in a rescued file.
    """

    head: Head
    files: int
    missing: tuple[str, ...] = ()
    altered: tuple[str, ...] = ()
    lost: int = 0

    @property
    def wrong(self) -> tuple[str, ...]:
        """What the reader of the export must be told, in words; nothing where it is whole."""
        files = ((self.missing, "Missing, so not in it"),
                 (self.altered, "In it, but altered since it was kept"))  # fmt: skip
        told = [f"{words}: {', '.join(names)}." for names, words in files if names]
        if self.lost:
            gone = counted(self.lost, "entry is", "entries are")
            told.append(f"{gone} lost from this record, as after a rescue. The verifier will call "
                        "it altered: a loss and a removal look alike to it.")  # fmt: skip
        return tuple(told)


def export_folder(store: Store, job_id: str, target: Path) -> Exported:
    """Write the record with all it needs into a new folder; InputError where it cannot be."""
    with whole_folder(target) as part:
        return write_into(part, Attachments(store.path), chain.lines(store, job_id))


def write_into(folder: Path, kept: Attachments, lines: Iterable[bytes]) -> Exported:
    """Write record, files and verifier into a folder the caller makes whole."""
    head, named, lost = _write_lines(folder / RECORD, lines)
    missing, altered = [], []
    for sha256, name in named.items():
        now = kept.hash_now(sha256)
        if not now:
            missing.append(name)
            continue
        if now != sha256:
            altered.append(name)
        (folder / FILES).mkdir(exist_ok=True)
        shutil.copyfile(kept.path(sha256), folder / FILES / (sha256 + _suffix(name)))
    (folder / VERIFIER).write_text(verifier_text(), encoding="utf-8")
    return Exported(head, len(named) - len(missing), tuple(missing), tuple(altered), lost)


def export_file(store: Store, job_id: str, target: Path) -> Exported:
    """Write the lines alone into a new file; InputError where it is there or cannot be written."""
    refuse_existing(target)
    try:
        with whole(target) as part:
            head, _, lost = _write_lines(part, chain.lines(store, job_id))
            refuse_existing(target)
    except OSError as error:
        raise _cannot(target, error) from error
    return Exported(head, 0, lost=lost)


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """Give a part folder that takes the name of the target only when all is in it and synced."""
    refuse_existing(target)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        part.mkdir(parents=True)
        yield part
        _sync_all(part)
        if target.is_dir():
            target.rmdir()  # fails where something came there meanwhile
        os.rename(part, target)
        synced(target.parent)
    except OSError as error:
        raise _cannot(target, error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def refuse_existing(target: Path) -> None:
    """Refuse a place where something is; an empty folder counts as free."""
    taken = target.exists() or target.is_symlink()
    if taken and not (target.is_dir() and not any(target.iterdir())):
        raise InputError(f"{target}: found something there already; accepted: a new name")


def end_line(head: Head) -> bytes:
    """Return the last line of an export, without line feed."""
    return canonical({"end": {"entries": head.entries, "head": head.hash}})


def verifier_text() -> str:
    """Return the stand-alone verifier: its modules put into one file that imports none of ours."""
    texts = [_source(name) for name in PARTS]
    last = ast.parse(texts[-1])
    shown = ast.get_docstring(last, clean=False) or ""
    body = "\n\n".join(_without_own_imports(text) for text in texts)
    return f'#!/usr/bin/env python3\n"""{shown}"""\n\nfrom __future__ import annotations\n\n{body}'


def _source(name: str) -> str:
    return resources.files("advisor.record").joinpath(f"{name}.py").read_text(encoding="utf-8")


def _without_own_imports(text: str) -> str:
    """Take out the docstring, `from __future__` and what is imported from the other parts."""
    tree = ast.parse(text)
    lines = text.splitlines(keepends=True)
    for node in reversed(tree.body):
        ours = isinstance(node, ast.ImportFrom) and (
            node.module == "__future__" or str(node.module).startswith("advisor.")
        )
        if ours or node is tree.body[0]:
            del lines[node.lineno - 1 : node.end_lineno]
    return "".join(lines).strip("\n") + "\n"


def _write_lines(path: Path, lines: Iterable[bytes]) -> tuple[Head, dict[str, str], int]:
    """Write all lines and the end; return the head, the files by SHA-256, the entries lost."""
    named: dict[str, str] = {}
    head, last = Head(0, NO_HASH), b""
    with path.open("wb") as file:
        for line in lines:
            head = Head(head.entries + 1, digest(line))
            for sha256, name in named_files(line):
                named.setdefault(sha256, name)
            file.write(line + b"\n")
            last = line
        file.write(end_line(head) + b"\n")
    return head, named, _lost(last, head.entries)


def _lost(last: bytes, entries: int) -> int:
    """Return how many entries are not there, by the number of the last."""
    try:
        return max(entry_of(last).number - entries, 0)
    except chain.UNREADABLE:
        return 0


def named_files(line: bytes) -> Iterator[tuple[str, str]]:
    """Yield the hash and the name of the file a line names.

    One that was altered past reading is given away all the same: the verifier says where it is.
    """
    try:
        entry = entry_of(line)
    except chain.UNREADABLE:
        return
    sha256 = entry.data.get("sha256")
    # Without its size the file was not at hand to be kept: only its hash is known.
    if entry.kind in NAMING and is_hash(sha256) and "bytes" in entry.data:
        yield str(sha256), str(entry.data.get("file_name", ""))


def _suffix(name: str) -> str:
    """Return the ending of a file name, so that a person can open it; "" for an odd one."""
    found = Path(name).suffix.lower()
    return found if _SUFFIX.fullmatch(found) else ""


def _sync_all(folder: Path) -> None:
    for path in folder.rglob("*"):
        synced(path)
    synced(folder)


def _cannot(target: Path, error: OSError) -> InputError:
    reason = (error.strerror or "an error").lower()
    return InputError(f"{target}: found {reason}; accepted: a place that can be written")
