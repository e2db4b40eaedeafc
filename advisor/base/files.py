"""Files that must be on the disk before something is said about them."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


def synced(path: Path) -> None:
    """Wait until the disk has a file or the names in a folder.

    A folder cannot be opened for that on every system; there the rename itself is enough.
    """
    try:
        handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    except OSError:
        if path.is_dir():
            return
        raise
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Give a part file that is synced and takes the name of `path` once the block is done.

    What is raised, by the block or by the disk, leaves what was there and no part.
    """
    # A name of its own each time: two windows may write the same file at once.
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        yield part
        synced(part)
        os.replace(part, path)
        synced(path.parent)
    finally:
        # Where the place itself is wrong, taking the part away fails as the writing did.
        with suppress(OSError):
            part.unlink(missing_ok=True)


def made_folder(folder: Path) -> None:
    """Make a folder with those above it, and wait until the disk has the names of the new ones."""
    new = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for path in reversed(new):
        synced(path.parent)
