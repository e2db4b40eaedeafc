"""Fetches forecasts beside everything else: a service that hangs holds nothing up."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from advisor.ui.desk import Desk
from advisor.ui.operations import Failure

#: How often the chosen source is asked without a word, seconds. It answers from what it has
#: until its own time for asking again has come.
EVERY_S = 3600.0


class Forecasts(QObject):
    """`changed` when a fetch began or ended. `last` is how the last one ended, in one line."""

    changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._asked_s: float | None = None
        self._learned_s: float | None = None
        self.busy = False
        self.last = ""
        self.failed = False

    def tick(self) -> None:
        """A minute went by, or the window opened: ask when it is time, if that is allowed."""
        due = self._asked_s is None or self._desk.now_s() - self._asked_s >= EVERY_S
        if due and self._desk.fetching:
            self.fetch()

    def learn(self) -> None:
        """Note what is said of the night, learn from the log; once an hour, beside all else."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        if self._learned_s is not None and now_s - self._learned_s < EVERY_S:
            return
        self._learned_s = now_s
        self._desk.slow.run("upkeep", lambda: bench.upkeep(now_s), self._learnt)

    def _learnt(self, line: str) -> None:
        if line:
            self._desk.changed.emit()

    def fetch(self) -> None:
        """Ask the chosen source now; once at a time."""
        if self.busy:
            return
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._asked_s, self.busy = now_s, True
        self._desk.network.run(
            "fetch", lambda: bench.fetch_forecast(now_s), self._fetched, self._fail
        )
        self.changed.emit()

    def _fetched(self, line: str) -> None:
        self.busy, self.last, self.failed = False, line, False
        self.changed.emit()
        self._desk.changed.emit()

    def _fail(self, failure: Failure) -> None:
        self.busy, self.last, self.failed = False, failure.text, True
        if failure.details:
            self._desk.messages.failure(failure)
        self.changed.emit()
        self._desk.changed.emit()
