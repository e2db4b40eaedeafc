"""Follows the shop's sensors while the window is open, whatever pane is on show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from advisor.ui.operations import Failure, Operations

if TYPE_CHECKING:
    from advisor.climate.live.sensor import SensorState
    from advisor.ui.desk import Desk

#: What came is taken this often, and whole hours go into the record this often, ms.
POLL_MS, SEAL_MS = 5_000, 600_000
#: How long closing waits for a share that does not answer, s.
PATIENCE_S = 2.0


class SensorWatch(QObject):
    """`polled` with how every sensor stands.

    A worker of its own: a share or a broker that does not answer holds nothing else up.
    """

    polled = Signal(object)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.operations = Operations(desk.messages.failure, PATIENCE_S)
        self.states: tuple[SensorState, ...] = ()
        self._told, self._begun = "", False
        self._polls, self._seals = QTimer(self), QTimer(self)
        self._polls.setInterval(POLL_MS)
        self._seals.setInterval(SEAL_MS)
        self._polls.timeout.connect(self.poll)
        self._seals.timeout.connect(self.seal)

    def begin(self) -> None:
        """Begin to follow: the window is on screen."""
        bench, now_s = self._desk.bench, self._desk.now_s
        self._begun = True
        self.operations.write(lambda: bench.sensors.start(now_s), lambda _: self.poll())
        self._polls.start()
        self._seals.start()

    def poll(self) -> None:
        """Take what came; nothing is asked of the disk where no sensor is set up."""
        bench, now_s, followed = self._desk.bench, self._desk.now_s(), bool(self.states)

        def take() -> tuple[SensorState, ...]:
            if not followed and not bench.sensors.all():
                return ()
            return bench.sensors.poll(now_s)

        if self.operations.idle():  # else the last one still waits for a share
            self.operations.run("poll", take, self._show, self._failed)

    def seal(self) -> None:
        """Put whole hours into the record."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        if self.states and bench.job() is not None:
            self.operations.run("seal", lambda: bench.sensors.seal(now_s), lambda _: None,
                                self._failed)  # fmt: skip

    def _show(self, states: tuple[SensorState, ...]) -> None:
        self.states, self._told = states, ""
        self.polled.emit(states)

    def _failed(self, failure: Failure) -> None:
        """Tell it once: it is tried again and again."""
        if failure.text != self._told:
            self._told = failure.text
            self._desk.messages.failure(failure)

    def stop(self) -> None:
        """Stop listening, and let another window follow."""
        self._polls.stop()
        self._seals.stop()
        if self._begun:
            sensors = self._desk.bench.sensors
            self.operations.write(sensors.stop, lambda _: None)
        self.operations.stop()
