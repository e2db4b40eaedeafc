"""Files kept beside the database by the SHA-256 of their bytes: photos, original logs.

A file is whole under its name or not there at all: it is written under another name, synced,
then renamed, and its folder synced, before the entry that names it is committed.
"""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from advisor.base.errors import InputError, StoreError
from advisor.base.files import made_folder, whole

_SHA256 = re.compile(r"[0-9a-f]{64}")


class Attachments:
    """The folder `<database>.files`, two letters of the hash deep."""

    def __init__(self, database: Path) -> None:
        self.folder = database.with_name(database.name + ".files")

    def path(self, sha256: str) -> Path:
        """Return where a file of this hash is kept; it may not be there."""
        if not _SHA256.fullmatch(sha256):
            raise InputError(f"attachment: found {sha256!r}; accepted: a SHA-256")
        return self.folder / sha256[:2] / sha256

    def has(self, sha256: str) -> bool:
        """Whether the file is there."""
        return self.path(sha256).is_file()

    def intact(self, sha256: str) -> bool:
        """Whether the file is there and reads as the bytes its name says."""
        return self.hash_now(sha256) == sha256

    def hash_now(self, sha256: str) -> str:
        """Return the SHA-256 of the bytes under a name, "" where none can be read."""
        path = self.path(sha256)
        if not path.is_file():
            return ""
        try:
            with path.open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest()
        except OSError:
            return ""

    def keep(self, source: Path) -> str:
        """Copy a file in and return its SHA-256; InputError, StoreError in one line."""
        try:
            with source.open("rb") as file:
                sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            reason = (error.strerror or "an error").lower()
            raise InputError(f"{source}: found {reason}; accepted: a readable file") from error
        if not self.intact(sha256):
            self._write(sha256, lambda part: _copied(source, part, sha256))
        return sha256

    def keep_bytes(self, body: bytes) -> str:
        """Keep bytes and return their SHA-256; StoreError in one line."""
        sha256 = hashlib.sha256(body).hexdigest()
        if not self.intact(sha256):
            self._write(sha256, lambda part: part.write_bytes(body))
        return sha256

    def _write(self, sha256: str, fill: Callable[[Path], object]) -> None:
        path = self.path(sha256)
        try:
            made_folder(path.parent)
            with whole(path) as part:
                fill(part)
        except OSError as error:
            raise StoreError(
                f"{path.parent}: the file could not be kept ({error.strerror}); "
                "free some space or allow writing, then try again."
            ) from error


def _copied(source: Path, part: Path, sha256: str) -> None:
    """Copy a file that may be growing: what is kept must be what was hashed."""
    shutil.copyfile(source, part)
    with part.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() != sha256:
            raise InputError(f"{source}: found it changing; accepted: a file nobody is writing")
