"""Looks after the database in the background: is it whole, is a backup due."""

from __future__ import annotations

import sqlite3

from PySide6.QtCore import QObject, QTimer

from advisor.base.counting import counted
from advisor.base.errors import StoreError
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure

#: Looked at again this often; the guard itself knows when a backup is due.
EVERY_S = 3600.0
#: Whether anyone else wrote is asked this often, ms: it costs one look at the file.
LOOK_MS = 1_000
_REPLACED = (
    "Another file was put in the place of the database. Nothing is kept any more: "
    "close the program and open it again."
)


class Upkeep(QObject):
    """`tick` may be called as often as one likes; the first look comes after the first picture."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._next_s = 0.0
        self._entries, self._job_id = 0, ""
        self._writes = -1
        self._warned = False
        self._looks = QTimer(self)
        self._looks.setInterval(LOOK_MS)
        self._looks.timeout.connect(self.look)
        self._looks.start()

    def look(self) -> None:
        """Show all anew where anyone else wrote, and say so where the record went back.

        What this window wrote itself is counted along, and is no news; where nobody wrote, the
        record is not asked at all.
        """
        store = self._desk.bench.store
        writes = store.writes
        try:
            if store.replaced():
                self._replaced()
            elif store.changed_elsewhere():
                self._changed()
            elif writes != self._writes:
                self._entries, self._job_id = self._stands()
        except (StoreError, sqlite3.Error):
            return  # closed, or the file is being put back: looked at again in a moment
        self._writes = writes

    def _replaced(self) -> None:
        if not self._warned:
            self._warned = True
            self._desk.messages.error(_REPLACED)

    def _changed(self) -> None:
        (before, job_id), (entries, now_id) = (self._entries, self._job_id), self._stands()
        self._entries, self._job_id = entries, now_id
        self._desk.bench.shown.clear()
        self._desk.changed.emit()
        if entries < before or (job_id and now_id != job_id):
            self._desk.messages.error(
                "The database was changed outside this window: "
                f"{counted(before, 'entry', 'entries')} before, "
                f"{entries} now. Look at the job and the last entries before you go on."
            )

    def _stands(self) -> tuple[int, str]:
        from advisor.record.chain import entries_of_all  # not before the first picture

        bench = self._desk.bench
        job = bench.job()
        with bench.store.read() as db:
            entries = entries_of_all(db)
        return entries, "" if job is None else job.id

    def tick(self) -> None:
        """Look if it is time to."""
        now_s = self._desk.now_s()
        if now_s < self._next_s:
            return
        self._next_s = now_s + EVERY_S
        bench = self._desk.bench
        self._desk.slow.run("upkeep", lambda: bench.guard.upkeep(now_s), self._told, self._failed)

    def _told(self, wrong: str) -> None:
        if wrong:
            self._desk.messages.error(f"{wrong} See Record, Report and copies, for a way out.")

    def _failed(self, failure: Failure) -> None:
        self._desk.messages.error(f"The daily copy went wrong. {failure.text}")
