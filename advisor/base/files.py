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
