"""Another file in the place of a database that nobody can open, killed at whatever moment.

What is to move is written down and synced before the first file moves, and whoever opens the
database next goes on from there. So a database is found whole, the old or the new one: never
missing, and never beside the write-ahead log of another.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import BinaryIO

from advisor.base.errors import StoreError
from advisor.base.files import synced, whole

#: Files of a database beside the file itself.
SIDE_FILES = ("-wal", "-shm")


def swap(database: Path, part: Path, before: Path) -> bool:
    """Move a database to `before` and `part`, whole and synced, to its place.

    All three lie in one folder. Returns whether there was one to move. OSError leaves all as it
    was, or what is left to do for `finish`.
    """
    with whole(_order(database)) as file:
        file.write_text(json.dumps([part.name, before.name]), encoding="utf-8")
    finish(database)
    return before.exists()


def finish(database: Path) -> str:
    """Go on with a swap that was cut off; returns what is to be said of it, "" for nothing.

    Raises StoreError where another window is doing it, OSError where it cannot be done.
    """
    order = _order(database)
    try:
        file = order.open("rb")
    except FileNotFoundError:
        return ""
    with file:
        body = file.read()
        _lock(file, order)
        if not order.exists():
            return ""  # another window was quicker
        part, before = (database.with_name(name) for name in _names(order, body))
        said = _go_on(database, part, before)
        order.unlink(missing_ok=True)
        synced(order.parent)
    return said


def finished(database: Path) -> str:
    """`finish` for whoever opens a database: OSError becomes a StoreError that says what to do."""
    try:
        return finish(database)
    except OSError as error:
        raise StoreError(
            f"{database}: going back to a copy was cut off and cannot be finished "
            f"({error.strerror}); allow writing to its folder, then try again."
        ) from error


def _order(database: Path) -> Path:
    return database.with_name(f"{database.name}.going-back")


def cut_off(database: Path) -> bool:
    """Whether a swap waits for `finish`."""
    return _order(database).exists()


def _names(order: Path, body: bytes) -> tuple[str, str]:
    try:
        part, before = json.loads(body)
        if all(Path(name).name == name for name in (part, before)):
            return part, before
    except (ValueError, TypeError):
        pass
    raise StoreError(
        f"{order}: it says which copy was being put in place and cannot be read; move it away, "
        "then go back to a copy again (advisor record restore)."
    )


def _go_on(database: Path, part: Path, before: Path) -> str:
    """Do what is left; every step may have been done already."""
    told = f"{database.name}: going back to a copy had been cut off"
    if not part.exists():
        if database.exists():
            return f"{told} at its very end; the copy is in its place."
        move(before, database)
        return f"{told} and the copy is gone; what was there before is back."
    if database.exists() and before.exists():
        part.unlink()  # somebody put a file there by hand meanwhile: that one stays
        return f"{told}; another file was put there since, it stays."
    try:
        move(database, before)
        os.replace(part, database)
    except OSError:
        move(before, database)
        _order(database).unlink(missing_ok=True)
        raise
    synced(database.parent)
    kept = f" What was there before is in {before.name}." if before.exists() else ""
    return f"{told}; it was finished now.{kept}"


def move(database: Path, before: Path) -> None:
    """Move a database with its side files; a write-ahead log belongs to its own file only."""
    for end in ("", *SIDE_FILES):
        old = database.with_name(database.name + end)
        if old.exists():
            os.replace(old, before.with_name(before.name + end))


def _lock(file: BinaryIO, order: Path) -> None:
    """Keep other windows from doing the same; the system lets go when a process ends.

    Network folders may know no locks. Windows needs none: it moves no file that is open, and the
    order itself must not be.
    """
    if sys.platform == "win32":
        file.close()
        return
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise StoreError(
            f"{order}: another window is going back to a copy; try again in a moment."
        ) from error
    except OSError:
        return
