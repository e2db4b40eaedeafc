"""What every pane is given: the bench, the clock, the look, the worker, the message bar."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtCore import QObject, Signal

from advisor.base.units import Units
from advisor.ui.bench_clock import BenchClock
from advisor.ui.bench_watch import BenchWatch
from advisor.ui.messages import MessageBar
from advisor.ui.operations import Operations
from advisor.ui.sensor_watch import SensorWatch
from advisor.ui.theme import Look

if TYPE_CHECKING:
    from advisor.planning.words import Words
    from advisor.work.views import Reading
    from advisor.work.workbench import Workbench


#: How long quitting waits for a service or for chances, seconds; a later answer is not kept.
PATIENCE_S = 0.5


class Desk(QObject):
    """`changed` when job, products or readings changed; `units_changed` on metric/US.

    `in_hand` is what is in the boxes and not kept yet, so that every pane speaks of the same air.
    Four workers, so that a slow one never holds a verdict up: `operations` for verdicts and what
    is kept, `slow` for chances and the shop's own figures, `network` for the forecast services,
    `pages` for what is looked up while a hand scrolls. `watch` looks after the live bench and
    `sensing` follows the sensors, each with a worker of its own.
    """

    changed = Signal()
    units_changed = Signal()
    show_week = Signal()
    show_shop = Signal()
    #: A batch is to be mixed for a coat: its id.
    mix_batch = Signal(str)

    def __init__(
        self, bench: Workbench, clock: Callable[[], float], look: Look, messages: MessageBar
    ) -> None:
        super().__init__()
        self.bench = bench
        self.look = look
        self.messages = messages
        self.operations = Operations(messages.failure)
        self.slow = Operations(messages.failure, PATIENCE_S)
        self.network = Operations(messages.failure, PATIENCE_S)
        self.pages = Operations(messages.failure, PATIENCE_S)
        self.clock = BenchClock(clock)
        self.in_hand: Reading | None = None
        self.watch = BenchWatch(self)
        self.sensing = SensorWatch(self)

    def now_s(self) -> float:
        """Return UTC seconds now; while a batch is live they never run backwards."""
        return self.clock.now_s()

    def words(self) -> Words:
        """Return how moments and values are put to the reader now."""
        return self.bench.words(self.now_s())

    @property
    def zone(self) -> ZoneInfo:
        """Return the time zone of the reader."""
        return self.words().zone

    @property
    def units(self) -> Units:
        """Return the reader's units."""
        return "us" if self.bench.settings.text("units") == "us" else "metric"

    def remember(self, key: str, value: object) -> None:
        """Keep a setting in the background: another program may be writing for seconds."""
        settings = self.bench.settings
        self.operations.write(lambda: settings.set(key, value), lambda _: None)

    def set_units(self, units: Units) -> None:
        """Change and keep the units."""
        self.bench.settings.set("units", units)
        self.units_changed.emit()

    @property
    def fetching(self) -> bool:
        """Return whether forecasts may be asked of the internet."""
        return self.bench.settings.get("fetch_forecasts") is True

    @property
    def contact(self) -> str:
        """Return what the forecast services are told to reach the user by."""
        return self.bench.settings.text("contact")

    def idle(self) -> bool:
        """Whether nothing is being worked out or waited for."""
        return all(one.idle() for one in self._workers())

    def close(self) -> None:
        """Let what is being kept end, and wait for the services only shortly."""
        self.bench.quitting.set()
        self.sensing.stop()
        for one in self._workers():  # all told first, so that they end beside each other
            one.stop()
        for one in self._workers():
            one.close()
        self.watch.close()

    def _workers(self) -> tuple[Operations, ...]:
        own = (self.watch.operations, self.sensing.operations)
        return self.network, self.pages, self.slow, self.operations, *own

    @property
    def stale_after_s(self) -> float:
        """Return the age in seconds at which a reading no longer counts as now."""
        return self.bench.settings.number("stale_after_min") * 60
