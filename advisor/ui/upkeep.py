"""Looks after the database in the background: is it whole, is a backup due."""

from __future__ import annotations

from PySide6.QtCore import QObject

from advisor.ui.desk import Desk
from advisor.ui.operations import Failure

#: Looked at again this often; the guard itself knows when a backup is due.
EVERY_S = 3600.0


class Upkeep(QObject):
    """`tick` may be called as often as one likes; the first look comes after the first picture."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._next_s = 0.0

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
        self._desk.messages.error(f"No backup was made: {failure.text}")
