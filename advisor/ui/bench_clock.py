"""The clock of the window: while a batch is live it never runs backwards.

A pot life, an alarm and the interval to the next coat are counted from what was kept. A computer
whose clock is set back in the middle, by hand or by the network, would count an hour twice: what
was due would be due no more, and what is mixed would seem fresher than it is.
"""

from __future__ import annotations

import time
from collections.abc import Callable

#: Set back by less than this is the usual trimming of a clock, seconds.
TRIMMED_S = 1.0


def running_s() -> float:
    """Return seconds that pass whatever the clock is set to; in a sleep too where that is told."""
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot is None else time.clock_gettime(boot)


class BenchClock:
    """UTC seconds by `clock`; while it is held, never less than what passed by `running`."""

    def __init__(
        self, clock: Callable[[], float], running: Callable[[], float] = running_s
    ) -> None:
        self._clock, self._running = clock, running
        #: What was told last and when by `running`; None while nothing is held.
        self._last: tuple[float, float] | None = None

    def now_s(self) -> float:
        """Return UTC seconds now; may be asked from any thread."""
        last = self._last
        if last is None:
            return self._clock()
        told_s, at_s = last
        now_s, running_s = self._clock(), self._running()
        passed_s = told_s + running_s - at_s
        if now_s < passed_s - TRIMMED_S:
            now_s = passed_s
        self._last = (now_s, running_s)
        return now_s

    @property
    def back_s(self) -> float:
        """How far the computer's clock was set back while held, seconds."""
        back_s = self.now_s() - self._clock()
        return back_s if back_s > TRIMMED_S else 0.0

    def hold(self, on: bool) -> None:
        """Hold it from now on, or let it go by the computer's again."""
        if on and self._last is None:
            self._last = (self._clock(), self._running())
        elif not on:
            self._last = None
