"""The remembered answers and their validators: requests-cache, and what to do when it fails.

It may be lost at any time: a damaged one is made anew, an impossible one is gone without. It
holds the contact and where the shop is, so it is the user's alone to read.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

_DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})


def forget(
    cache_file: Path, url: str, params: Mapping[str, str], headers: Mapping[str, str]
) -> None:
    """Drop the remembered answer to a question."""
    import requests

    request = requests.Request("GET", url, params=dict(params), headers=dict(headers))
    with suppress(sqlite3.Error), session(cache_file) as opened:
        if hasattr(opened, "cache"):
            opened.cache.delete(requests=[opened.prepare_request(request)])


def drop_old(cache_file: Path) -> None:
    """Drop remembered answers that are a month old."""
    with suppress(sqlite3.Error), session(cache_file) as opened:
        if hasattr(opened, "cache"):
            opened.cache.delete(older_than=timedelta(days=30))


@contextmanager
def session(cache_file: Path) -> Iterator[Any]:
    """Give a session with its cache; a damaged cache is made anew, an impossible one left out."""
    import requests

    try:
        found: Any = _cached(cache_file)
    except (sqlite3.Error, OSError):
        found = requests.Session()
    with closing(found):
        yield found


def _cached(cache_file: Path) -> Any:
    try:
        return _opened(cache_file)
    except sqlite3.DatabaseError as error:
        if not drop_damaged(cache_file, error):
            raise
        return _opened(cache_file)


def drop_damaged(cache_file: Path, error: Exception) -> bool:
    """Delete a damaged cache: all in it can be asked for again. False when it is not damaged."""
    if getattr(error, "sqlite_errorcode", 0) & 0xFF not in _DAMAGED:
        return False
    for name in (cache_file.name, f"{cache_file.name}-wal", f"{cache_file.name}-shm"):
        cache_file.with_name(name).unlink(missing_ok=True)
    return True


def _opened(cache_file: Path) -> Any:
    """Open the cache with the settings that were measured to be right.

    JSON, since a pickle could run code; 203 is a deprecated product that still works; nothing
    stale, since that would hide a refusal; `Accept` chooses among variants at the US service.
    """
    import requests_cache

    _make_private(cache_file)
    return requests_cache.CachedSession(
        str(cache_file),
        backend="sqlite",
        serializer="json",
        cache_control=True,
        expire_after=3600,
        allowable_codes=(200, 203),
        match_headers=["Accept"],
        stale_if_error=False,
        wal=True,
    )


def _make_private(cache_file: Path) -> None:
    """Let nobody else read folder and file; SQLite gives its side files the file's own rights.

    On Windows the user's profile is private already.
    """
    if os.name == "nt":
        return
    cache_file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    cache_file.touch(mode=0o600)
    with suppress(PermissionError, NotImplementedError):  # a disk without rights has no others
        cache_file.parent.chmod(0o700)
        cache_file.chmod(0o600)
