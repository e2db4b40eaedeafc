"""Files that must be on the disk before something is said about them."""

from __future__ import annotations

import errno
import os
import re
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

#: A part file nobody has touched for so long belongs to a copy that was killed.
LEFT_AFTER_S = 86_400.0
#: What a file system says that does not sync folders at all.
_CANNOT = frozenset({errno.EINVAL, errno.ENOTSUP, errno.ENOSYS, errno.EBADF})
_PART = re.compile(r"\.(?P<name>.+)\.(?:(?P<process>\d+)-)?[0-9a-f]{8}\.part(?:-\w+)?")


def synced(path: Path) -> None:
    """Wait until the disk has a file or the names in a folder.

    A folder cannot be opened or synced for that on every system and network; there the rename
    itself is enough.
    """
    try:
        handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    except OSError:
        if path.is_dir():
            return
        raise
    try:
        os.fsync(handle)
    except OSError as error:
        if not (path.is_dir() and error.errno in _CANNOT):
            raise
    finally:
        os.close(handle)


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Give a part file that is synced and takes the name of `path` once the block is done.

    What is raised, by the block or by the disk, leaves what was there and no part.
    """
    part = part_of(path)
    try:
        yield part
        synced(part)
        os.replace(part, path)
        synced(path.parent)
    finally:
        # Where the place itself is wrong, taking the part away fails as the writing did.
        with suppress(OSError):
            part.unlink(missing_ok=True)


def part_of(path: Path) -> Path:
    """Return a new name beside `path` for what is to become it; it names this process.

    A name of its own each time: two windows may write the same file at once.
    """
    return path.with_name(f".{path.name}.{os.getpid()}-{secrets.token_hex(4)}.part")


def take_left_parts(folder: Path, now_s: float, ours: Callable[[str], bool]) -> None:
    """Delete what killed copies left, where `ours` knows the name it was to become.

    What was touched lately, or whose process is running, stays.
    """
    with suppress(OSError):
        for path in folder.iterdir():
            match = _PART.fullmatch(path.name)
            if match is None or not ours(match["name"]) or _running(match["process"]):
                continue
            with suppress(OSError):
                if now_s - path.lstat().st_mtime > LEFT_AFTER_S:
                    _take_away(path)


def _take_away(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink()


def _running(process: str | None) -> bool:
    """Whether a process of this number is there; on Windows its age alone is asked."""
    if process is None or sys.platform == "win32":
        return False
    try:
        os.kill(int(process), 0)
    except PermissionError:
        return True  # somebody else's
    except (OSError, OverflowError):
        return False
    return True


def made_folder(folder: Path) -> None:
    """Make a folder with those above it, and wait until the disk has the names of the new ones."""
    new = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for path in reversed(new):
        synced(path.parent)
