"""A real file system of a given size, made for one test; skipped where none may be mounted."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def _run(*command: str) -> bool:
    try:
        done = subprocess.run(command, capture_output=True, check=False)
    except OSError:
        return False
    return done.returncode == 0


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[Path]:
    """Mount a file system in memory, such as "2m", and take it down afterwards."""
    folder.mkdir()
    if not _run("mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)):
        pytest.skip("no file system may be mounted here (needs root on Linux)")
    try:
        yield folder
    finally:
        _run("umount", "-l", str(folder))


def make_read_only(folder: Path) -> None:
    """Let nothing more be written there, whoever asks."""
    if not _run("mount", "-o", "remount,ro", str(folder)):
        pytest.skip("the file system cannot be made read-only here")
