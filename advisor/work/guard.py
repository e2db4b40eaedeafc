"""Looking after the database: backups, going back to one, and whether all is whole."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.attachments import Attachments
from advisor.base.backup import (
    Backup,
    backups,
    go_back,
    heal_files,
    make_backup,
    to_read,
    why_damaged,
)
from advisor.base.errors import StoreError
from advisor.record import chain
from advisor.record.canonical import NO_HASH

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: A backup is made by itself once the last one is older than this.
BACKUP_EVERY_S = 20 * 3600


class Guard:
    """Use cases about the database file itself. All are slow: call them off the main thread."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench

    @property
    def folder(self) -> Path:
        """Where backups go."""
        chosen = self._bench.settings.text("backup_folder")
        return Path(chosen) if chosen else default_folder(self._bench.store.path)

    def backups(self) -> tuple[Backup, ...]:
        """Return the backups there are, newest first."""
        return backups(self._bench.store.path, self.folder)

    def backup(self, now_s: float) -> Path:
        """Make one now, marked where a record is broken; StoreError when it cannot be made."""
        return self._backup(now_s, self._broken_record())

    def restore(self, path: Path, now_s: float) -> Path:
        """Go back to a backup; returns the copy of what was there before, which stays."""
        return go_back(self._bench.store, path, now_s)

    def check(self) -> str:
        """Say what is wrong with the file, a record in it or a kept file, empty when nothing is.

        A kept file that is missing or altered is brought back where the backups still have it.
        """
        return self._damaged() or self._broken_record() or self._wrong_files()

    def upkeep(self, now_s: float) -> str:
        """Check the file and make a backup when one is due; returns what is wrong, or nothing.

        A backup is made of a broken record too, and then matters most: what is written from now
        on has no other copy. It is marked, and counts apart from the good ones.
        """
        damaged = self._damaged()
        if damaged:
            return damaged  # no whole copy can be made of it
        broken = self._broken_record()
        # One dated ahead, by a clock set wrong, says nothing about the last one.
        if any(0 <= now_s - one.made_s <= BACKUP_EVERY_S for one in self.backups()):
            return broken
        try:
            self._backup(now_s, broken)
        except StoreError as error:
            if not broken:
                raise
            return f"{broken} The daily copy went wrong too. {error}"
        return broken

    def _backup(self, now_s: float, broken: str) -> Path:
        return make_backup(self._bench.store, self.folder, now_s, broken=bool(broken)).path

    def _damaged(self) -> str:
        why = why_damaged(self._bench.store.path)
        return f"{self._bench.store.path}: {why}." if why else ""

    def _broken_record(self) -> str:
        """Say what is wrong with the first record that is broken, empty where none is."""
        return next((told for told in map(self._broken, self._jobs()) if told), "")

    def _jobs(self) -> list[str]:
        with self._bench.store.read() as db:
            return [row[0] for row in db.execute("SELECT DISTINCT job_id FROM entry")]

    def _wrong_files(self) -> str:
        """Say which files named in a record are missing, which altered, which were brought back."""
        named, kept = self._named(), Attachments(self._bench.store.path)
        wrong = [sha256 for sha256 in named if not kept.intact(sha256)]
        if not wrong:
            return ""
        heal_files(Attachments(self.folder / self._bench.store.path.name), kept)
        still = [sha256 for sha256 in wrong if not kept.intact(sha256)]
        told = (
            ("Files missing", [one for one in still if not kept.has(one)]),
            ("Files altered since they were kept", [one for one in still if kept.has(one)]),
            ("Files brought back from the copies", [one for one in wrong if one not in still]),
        )
        words = [
            f"{what}: {', '.join(named[one] for one in those)}." for what, those in told if those
        ]
        return f"{' '.join(words)} No entry of the record was altered."

    def _named(self) -> dict[str, str]:
        """Return the names of the files that the records name, by their SHA-256."""
        from advisor.record.export import named_files

        lines = (line for job_id in self._jobs() for line in chain.lines(self._bench.store, job_id))
        return {sha256: name for line in lines for sha256, name in named_files(line)}

    def _broken(self, job_id: str) -> str:
        """Walk one record: the first entry whose place or previous hash is not as it must be."""
        previous = NO_HASH
        for number, row in enumerate(chain.rows(self._bench.store, job_id), 1):
            entry = row.entry
            if entry is None:
                return f"Record of {job_id}: entry {number} cannot be read."
            if not row.fits:
                return (
                    f"Record of {job_id}: entry {entry.number} was altered. "
                    "What is there stays; export it and compare it with a backup."
                )
            if (entry.number, entry.previous, entry.job_id) != (number, previous, job_id):
                return (
                    f"Record of {job_id}: the chain is broken at entry {number}. What is there "
                    "stays; export it and compare it with a backup."
                )
            previous = entry.hash
        return ""


def known_folders(database: Path) -> tuple[Path, ...]:
    """Return the folder chosen for the backups of a database that may not open, and the usual."""
    usual = default_folder(database)
    chosen = _chosen_folder(database)
    return (usual,) if chosen is None or chosen == usual else (chosen, usual)


def known_backups(database: Path) -> tuple[Backup, ...]:
    """Return the backups of a database that may not open, newest first."""
    found = (one for folder in known_folders(database) for one in backups(database, folder))
    return tuple(sorted(found, key=lambda one: one.made_s, reverse=True))


def _chosen_folder(database: Path) -> Path | None:
    """Read one setting as far as the file still gives it away."""
    try:
        with to_read(database, torn=True) as db:
            row = db.execute("SELECT value FROM setting WHERE key = 'backup_folder'").fetchone()
        value = json.loads(row[0]) if row else ""
    except (sqlite3.DatabaseError, ValueError, TypeError):
        return None
    return Path(value) if isinstance(value, str) and value else None


def default_folder(database: Path) -> Path:
    """Return where backups of a database go when nothing else was chosen."""
    return database.with_name("backups")
