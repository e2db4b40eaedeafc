"""Looking after the database: backups, going back to one, and whether all is whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.backup import Backup, backups, go_back, make_backup, why_damaged
from advisor.record.canonical import NO_HASH
from advisor.record.chain import rows

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
        """Make one now; StoreError in one line when it cannot be made."""
        return make_backup(self._bench.store, self.folder, now_s).path

    def restore(self, path: Path, now_s: float) -> Path:
        """Go back to a backup; returns the copy of what was there before, which stays."""
        return go_back(self._bench.store, path, now_s)

    def check(self) -> str:
        """Say what is wrong with the file or with a record in it, empty when nothing is."""
        store = self._bench.store
        why = why_damaged(store.path)
        if why:
            return f"{store.path}: {why}."
        with store.read() as db:
            jobs = [row[0] for row in db.execute("SELECT DISTINCT job_id FROM entry")]
        found = (self._broken(job_id) for job_id in jobs)
        return next((told for told in found if told), "")

    def upkeep(self, now_s: float) -> str:
        """Check the file and make a backup when one is due; returns what is wrong, or nothing."""
        wrong = self.check()
        if wrong:
            return wrong  # a backup of it would push a good one out
        made = self.backups()
        # One dated ahead, by a clock set wrong, says nothing about the last one.
        if not any(0 <= now_s - one.made_s <= BACKUP_EVERY_S for one in made):
            self.backup(now_s)
        return ""

    def _broken(self, job_id: str) -> str:
        """Walk one record: the first entry whose place or previous hash is not as it must be."""
        previous = NO_HASH
        for number, row in enumerate(rows(self._bench.store, job_id), 1):
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


def default_folder(database: Path) -> Path:
    """Return where backups of a database go when nothing else was chosen."""
    return database.with_name("backups")
