"""One file written for the user: whole under its name, or not there."""

from __future__ import annotations

from pathlib import Path

from advisor.base.errors import InputError
from advisor.base.files import whole


def write_whole(path: Path, body: bytes, *, replace: bool) -> Path:
    """Write a file under another name, then give it its own. Returns the path.

    InputError in one line where it cannot be written, or is there and `replace` is not wanted.
    """
    try:
        with whole(path) as part:
            part.write_bytes(body)
            refuse_taken(path, replace=replace)
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise InputError(
            f"{path}: found {reason}; accepted: a place that can be written"
        ) from error
    return path


def refuse_taken(path: Path, *, replace: bool) -> None:
    """Refuse a place where something is; a folder is never replaced by a file."""
    if path.is_dir() or (path.exists() and not replace):
        raise InputError(f"{path}: found something there already; accepted: a new name")
