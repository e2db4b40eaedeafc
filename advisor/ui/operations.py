"""The one way to work in the background.

One worker thread: what the bench does is never done twice at once. A newer task under the
same key makes the older one void, so that a remembered verdict never overwrites a fresh one.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal, Slot

from advisor.base.errors import AdvisorError


@dataclass(frozen=True)
class Failure:
    """Why a task failed: one line for the user; `details` only for our own bugs."""

    text: str
    details: str = ""


@dataclass(frozen=True)
class _Task:
    key: str
    number: int
    work: Callable[[], Any]
    done: Callable[[Any], None]
    failed: Callable[[Failure], None] | None


class _Runner(QRunnable):
    def __init__(self, operations: Operations, task: _Task) -> None:
        super().__init__()
        self._operations = operations
        self._task = task

    def run(self) -> None:
        if not self._operations.is_latest(self._task.key, self._task.number):
            return
        outcome: object
        try:
            outcome = self._task.work()
        except AdvisorError as error:
            outcome = Failure(str(error))
        except Exception as error:  # a bug must reach the message bar, not vanish in a thread
            outcome = Failure(
                f"Something went wrong inside the program ({type(error).__name__}).",
                traceback.format_exc(),
            )
        self._operations.finished.emit(self._task, outcome)


class Operations(QObject):
    """Runs tasks one after the other off the main thread; answers arrive on the main thread."""

    finished = Signal(object, object)
    busy = Signal(bool)

    def __init__(self, failed: Callable[[Failure], None]) -> None:
        super().__init__()
        self._failed = failed
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._latest: dict[str, int] = {}
        self._count = 0
        self._open = True
        self.finished.connect(self._deliver)

    def run(
        self,
        key: str,
        work: Callable[[], Any],
        done: Callable[[Any], None],
        failed: Callable[[Failure], None] | None = None,
    ) -> None:
        """Do `work` in the background, then `done` with its result on the main thread."""
        if not self._open:
            return
        self._count += 1
        self._latest[key] = self._count
        self._pool.start(_Runner(self, _Task(key, self._count, work, done, failed)))

    def write(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Do `work` that must never be made void by a later task, such as keeping a reading."""
        self.run(f"write {self._count + 1}", work, done)

    def cancel(self, key: str) -> None:
        """Make the pending task of a key void."""
        self._latest.pop(key, None)

    def is_latest(self, key: str, number: int) -> bool:
        """Whether no newer task has this key."""
        return self._latest.get(key) == number

    def idle(self) -> bool:
        """Whether nothing is being worked out."""
        return not self._latest

    def close(self) -> None:
        """Drop what waits, but not what is being kept, and let the running task end."""
        self._open = False
        self._latest = {k: n for k, n in self._latest.items() if k.startswith("write ")}
        self._pool.waitForDone()
        self._latest.clear()

    @Slot(object, object)
    def _deliver(self, task: _Task, outcome: object) -> None:
        if not self.is_latest(task.key, task.number):
            return
        del self._latest[task.key]
        if isinstance(outcome, Failure):
            (task.failed or self._failed)(outcome)
        else:
            task.done(outcome)
