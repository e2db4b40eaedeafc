"""Watches the live bench for the whole window: what is due is heard over every pane."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from advisor.planning.words import duration
from advisor.ui.awake import Awake
from advisor.ui.operations import Failure, Operations
from advisor.ui.sound import Sound

if TYPE_CHECKING:
    from advisor.ui.desk import Desk
    from advisor.work.live_views import LiveBench

#: The bench is asked anew this often, and whenever something is due, ms.
ASK_MS = 30_000
#: The clock is looked at this often; a longer gap means that the computer slept.
LOOK_MS, SLEPT_S = 5_000, 20.0
#: Set back by this much is told, s.
TOLD_S = 30.0
SET_BACK = (
    "This computer's clock was set back by {}. The batch in hand is counted on as if it had not "
    "been; until it is ended the clock here is ahead, and a sensor may look older than it is."
)
#: After something is due, so that the bench finds it due, ms.
AFTER_MS = 50


class BenchWatch(QObject):
    """`viewed` with every new view of the bench; `woken` when the clock jumped.

    `slept_s` is how long the computer slept last, while what fell due then is not heard yet.
    A worker of its own: neither a verdict nor a picture may hold an alarm up.
    """

    viewed = Signal(object)
    woken = Signal()

    def __init__(self, desk: Desk, sound: Sound | None = None, awake: Awake | None = None) -> None:
        super().__init__()
        self._desk = desk
        self.operations = Operations(desk.messages.failure)
        self.sound, self.awake = sound or Sound(), awake or Awake()
        self.view: LiveBench | None = None
        self.slept_s, self._looked_s = 0.0, 0.0
        self._back_s = 0.0
        self._begun, self._told = False, ""
        self._asks = self._timer(ASK_MS, self.ask)
        self._looks = self._timer(LOOK_MS, self.look)
        self._due = self._timer(0, self.ask)
        self._due.setSingleShot(True)
        self.sound.silent.connect(desk.messages.note)
        self.awake.failed.connect(desk.messages.note)
        desk.changed.connect(self.ask)

    def _timer(self, every_ms: int, action: object) -> QTimer:
        timer = QTimer(self)
        timer.setInterval(every_ms)
        timer.timeout.connect(action)
        return timer

    def begin(self) -> None:
        """Begin to watch: the window is on screen."""
        self._begun = True
        self._looked_s = self._desk.now_s()
        self._asks.start()
        self.ask()

    def ask(self) -> None:
        """Ask the bench how it stands."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        if not self._begun:
            return
        if bench.job() is None:
            self._show(None)
            return
        self.operations.run("view", lambda: bench.live.view(now_s), self._show, self._failed)

    def heard(self, key: str) -> None:
        """Somebody heard an alarm: it never comes again."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.operations.write(
            lambda: bench.live.heard(key, now_s), lambda _: self.ask(), self._not_heard
        )

    def look(self) -> None:
        """Look at the clock: after a sleep, or a clock set anew, what is due comes first."""
        now_s, before_s = self._desk.now_s(), self._looked_s
        self._looked_s = now_s
        if now_s - before_s > SLEPT_S:
            self.slept_s = now_s - before_s
        if self._set_back() or not -1.0 <= now_s - before_s <= SLEPT_S:
            self.ask()
            self.woken.emit()

    def _set_back(self) -> bool:
        """Whether the computer's clock was set back since the last look, in a batch; tells so."""
        before_s, self._back_s = self._back_s, self._desk.clock.back_s
        if self._back_s < before_s + TOLD_S:
            return False
        self._desk.messages.note(SET_BACK.format(duration(self._back_s / 3600)))
        return True

    # --- inner ---------------------------------------------------------------------------

    def _show(self, view: LiveBench | None) -> None:
        self.view, self._told = view, ""
        alarms = view.alarms if view else ()
        if not alarms:
            self.slept_s = 0.0
        live = view is not None and bool(view.batches or view.work or view.coming)
        counting = view is not None and view.counting
        self._desk.clock.hold(counting or (view is not None and view.work is not None))
        self._run(self._looks, live)
        self._wait_for_next(view)
        self.awake.hold(counting)
        self.sound.sound(self._kind(view))
        self.viewed.emit(view)

    def _run(self, timer: QTimer, on: bool) -> None:
        if on and not timer.isActive():
            self._looked_s = self._desk.now_s()
            timer.start()
        elif not on:
            timer.stop()

    def _wait_for_next(self, view: LiveBench | None) -> None:
        """Be there to the second when the next thing falls due."""
        self._due.stop()
        now_s = self._desk.now_s()
        ahead = [alarm.due_s - now_s for alarm in (view.coming if view else ())]
        soon = [wait_s for wait_s in ahead if 0 <= wait_s * 1000 < ASK_MS]
        if soon:
            self._due.start(int(min(soon) * 1000) + AFTER_MS)

    def _kind(self, view: LiveBench | None) -> str:
        if view is None or not view.alarms or not self._desk.bench.settings.flag("alarm_sound"):
            return ""
        return "urgent" if any(alarm.urgent for alarm in view.alarms) else "usual"

    def _not_heard(self, failure: Failure) -> None:
        """Tell why, and let the button be pressed again."""
        self._desk.messages.failure(failure)
        self.viewed.emit(self.view)

    def _failed(self, failure: Failure) -> None:
        """Tell it once: it is asked again every half minute."""
        if failure.text != self._told:
            self._told = failure.text
            self._desk.messages.failure(failure)

    def close(self) -> None:
        """Stop watching and sounding."""
        for timer in (self._asks, self._looks, self._due):
            timer.stop()
        self.operations.close()
        self.sound.close()
        self.awake.close()
