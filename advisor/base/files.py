"""Files that must be on the disk before something is said about them."""

from __future__ import annotations

import os
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


def made_folder(folder: Path) -> None:
    """Make a folder with those above it, and wait until the disk has the names of the new ones."""
    new = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for path in reversed(new):
        synced(path.parent)
