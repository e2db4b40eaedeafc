"""Keeps the page Tonight up to date in the folder that a phone can see."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal

from advisor.ui.desk import Desk
from advisor.ui.operations import Failure

#: The page is written anew this often, seconds; it says itself how old it is.
EVERY_S = 300


class PhonePage(QObject):
    """`written` with the page. A folder that cannot be written is told once, then tried on."""

    written = Signal(object)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._last_s = 0.0
        self._told = False
        desk.changed.connect(self.write)

    def tick(self) -> None:
        """Write the page when it is time."""
        if self._desk.now_s() - self._last_s >= EVERY_S:
            self.write()

    def write(self) -> None:
        """Write the page now, where a folder was chosen and there is a job."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        folder = bench.settings.text("tonight_folder")
        if not folder or bench.job() is None:
            return
        self._last_s = now_s

        def work() -> Path:
            from advisor.work.tonight_page import write_tonight_page

            return write_tonight_page(bench, Path(folder), now_s)

        self._desk.slow.run("tonight page", work, self._done, self._failed)

    def _done(self, path: Path) -> None:
        self._told = False
        self.written.emit(path)

    def _failed(self, failure: Failure) -> None:
        """A share that is away for a while must not nag every five minutes."""
        if not self._told:
            self._desk.messages.error(f"The page for the phone was not written. {failure.text}")
        self._told = True
