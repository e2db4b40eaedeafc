"""The one way to work in the background.

One worker thread: what the bench does is never done twice at once. A newer task under the
same key makes the older one void, so that a remembered verdict never overwrites a fresh one.
"""

from __future__ import annotations

import gc
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Any

from PySide6.QtCore import QCoreApplication, QObject, Qt, Signal, Slot

from advisor.base.errors import AdvisorError


@dataclass(frozen=True)
class Failure:
    """Why a task failed: one line for the user; `details` only for our own bugs."""

    text: str
    details: str = ""


@dataclass(frozen=True)
class _Task:
    key: str
    done: Callable[[Any], None]
    failed: Callable[[Failure], None] | None


class _Collecting(QObject):
    """Holds Python's cycle collector back while a worker runs; used on the main thread only.

    The collector runs in whichever thread asks for memory. Were that a worker, a closed
    dialog that is part of a cycle would be taken apart off the main thread, which Qt answers
    with a crash. One for the application, since several workers may run beside each other.
    """

    def __init__(self, app: QCoreApplication | None) -> None:
        super().__init__(app)
        self._holders = 0

    def hold(self) -> None:
        self._holders += 1
        gc.disable()

    def release(self) -> None:
        self._holders -= 1
        if not self._holders:
            gc.collect(1)  # here, so that the worker's last few steps do not set it off
            gc.enable()


def _collecting() -> _Collecting:
    app = QCoreApplication.instance()
    found = None if app is None else app.findChild(_Collecting)
    return found if isinstance(found, _Collecting) else _Collecting(app)


def _outcome(work: Callable[[], Any]) -> object:
    try:
        return work()
    except AdvisorError as error:
        return Failure(str(error))
    except Exception as error:  # a bug must reach the message bar, not vanish in a thread
        return Failure(
            f"Something went wrong inside the program ({type(error).__name__}).",
            traceback.format_exc(),
        )


class _Worker:
    """One thread, begun with the first task, that does what it is given in order.

    A daemon, so that a service that never answers cannot keep the program from ending.
    """

    def __init__(self) -> None:
        self._waiting: SimpleQueue[Callable[[], None] | None] = SimpleQueue()
        self._thread: threading.Thread | None = None

    def submit(self, task: Callable[[], None]) -> None:
        self._waiting.put(task)
        if self._thread is None:
            self._thread = threading.Thread(target=self._live, daemon=True)
            self._thread.start()

    def close(self, patience_s: float | None) -> None:
        self._waiting.put(None)
        if self._thread is not None:
            self._thread.join(patience_s)

    def _live(self) -> None:
        while (task := self._waiting.get()) is not None:
            task()
            del task  # it must not live on while the next one is waited for


class Operations(QObject):
    """Runs tasks one after the other off the main thread; answers arrive on the main thread.

    `patience_s` is how long closing waits for the running task: as long as it takes where
    something may be being kept, shortly where a service on the internet may never answer.
    The worker is given `work` only. What is done with the answer stays here, so that the
    worker never lets go of the last reference to a window; `work` should hold none either.
    """

    finished = Signal(int, object)
    busy = Signal(bool)

    def __init__(self, failed: Callable[[Failure], None], patience_s: float | None = None) -> None:
        super().__init__()
        self._failed = failed
        self._patience_s = patience_s
        self._worker = _Worker()
        self._collecting = _collecting()
        self._tasks: dict[int, _Task] = {}
        self._latest: dict[str, int] = {}
        self._count = 0
        self._open = True
        self.finished.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

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
        if not self._tasks:
            self._collecting.hold()
        self._tasks[self._count] = _Task(key, done, failed)
        number = self._count
        self._worker.submit(lambda: self._do(key, number, work))

    def write(
        self,
        work: Callable[[], Any],
        done: Callable[[Any], None],
        failed: Callable[[Failure], None] | None = None,
    ) -> None:
        """Do `work` that must never be made void by a later task, such as keeping a reading."""
        self.run(f"write {self._count + 1}", work, done, failed)

    def cancel(self, key: str) -> None:
        """Make the pending task of a key void."""
        self._latest.pop(key, None)

    def is_latest(self, key: str, number: int) -> bool:
        """Whether no newer task has this key."""
        return self._latest.get(key) == number

    def idle(self) -> bool:
        """Whether nothing is being worked out."""
        return not self._latest

    @Slot()
    def stop(self) -> None:
        """Drop what waits, but not what is being kept; nothing new is taken."""
        self._open = False
        self._latest = {k: n for k, n in self._latest.items() if k.startswith("write ")}

    def close(self) -> None:
        """Stop, and let the running task end."""
        self.stop()
        self._worker.close(self._patience_s)
        self._latest.clear()
        if self._tasks:
            self._tasks.clear()
            self._collecting.release()

    def _do(self, key: str, number: int, work: Callable[[], Any]) -> None:
        """Work on the worker's thread; a void task is told too, so that it is let go of."""
        outcome = _outcome(work) if self.is_latest(key, number) else None
        if self._open or self._patience_s is None:  # else nobody waits for it any more
            self.finished.emit(number, outcome)

    @Slot(int, object)
    def _deliver(self, number: int, outcome: object) -> None:
        task = self._tasks.pop(number, None)
        if task is None:  # closed meanwhile
            return
        if not self._tasks:
            self._collecting.release()
        if not self.is_latest(task.key, number):
            return
        del self._latest[task.key]
        if isinstance(outcome, Failure):
            (task.failed or self._failed)(outcome)
        else:
            task.done(outcome)
