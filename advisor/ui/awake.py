"""Keeps the computer from going to sleep, and the screen on, while a batch is live."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack

from PySide6.QtCore import QObject, Signal

from advisor.ui.operations import Failure, Operations

SLEEPS = (
    "This computer could not be kept from going to sleep: set that by hand, and leave the lid "
    "open. What is due is told when it wakes."
)


class _Held:
    """The hold itself; used on its worker's thread only."""

    def __init__(self, mode: Callable[[], AbstractContextManager[bool]]) -> None:
        self._mode, self._stack = mode, ExitStack()

    def set(self, on: bool) -> bool:
        """Take the hold or let go; return whether what was asked is so."""
        self._stack.close()
        return self._stack.enter_context(self._mode()) if on else True


class Awake(QObject):
    """`failed` once, with what to do. Failing is not fatal: alarms come on waking."""

    failed = Signal(str)

    def __init__(self, mode: Callable[[], AbstractContextManager[bool]] | None = None) -> None:
        super().__init__()
        self._held = _Held(mode or screen_on)
        self._worker: Operations | None = None
        self._on, self._told = False, False

    @property
    def on(self) -> bool:
        """Whether the hold is wanted."""
        return self._on

    def hold(self, on: bool) -> None:
        """Ask for it or let go; returns at once."""
        if on == self._on:
            return
        self._on = on
        if self._worker is None:
            self._worker = Operations(self._not_held, 0.5)
        held = self._held
        self._worker.write(lambda: held.set(on), self._tell)

    def _tell(self, done: object) -> None:
        if not done and not self._told:
            self._told = True
            self.failed.emit(SLEEPS)

    def _not_held(self, _: Failure) -> None:
        self._tell(False)

    def idle(self) -> bool:
        """Whether nothing is being asked of the system."""
        return self._worker is None or self._worker.idle()

    def close(self) -> None:
        """Let go; waits only shortly."""
        self.hold(False)
        if self._worker is not None:
            self._worker.close()


class _ScreenOn:
    """Holds sleep off by whatever way the desktop offers; enters as whether it worked."""

    def __init__(self) -> None:
        from wakepy import keep

        self._mode = keep.presenting(on_fail="pass")

    def __enter__(self) -> bool:
        return bool(self._mode.__enter__().active)

    def __exit__(self, *error: object) -> None:
        self._mode.__exit__(None, None, None)


def screen_on() -> AbstractContextManager[bool]:
    """Return a hold on the screen: a countdown nobody can see is none."""
    return _ScreenOn()
