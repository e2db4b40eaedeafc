"""Works a what-if out while its levers move: the week at once, the chances after a pause.

Only one change is worked out at a time, and the newest wanted is next: a queue would fall
behind the hand, and making each void by the next would show nothing until the hand rests.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from advisor.climate.shop.shop import Change
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.plots.picture import WeekPicture, week_picture
from advisor.ui.widgets.what_if_words import is_nothing
from advisor.work.outlook_views import Suggestion, WhatIf

if TYPE_CHECKING:
    from advisor.work.what_if_bench import Prepared

DAYS = 7
#: Pause after the last move before the chances are asked for, ms.
PAUSE_MS = 120

Answer = tuple[WhatIf, WeekPicture]


class LiveChange(QObject):
    """`shown` with an answer and its picture, `failed` with why there is none.

    `offered` with the cheapest changes for the coat in hand.
    """

    shown = Signal(object, object)
    failed = Signal(str)
    offered = Signal(object)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._prepared: Prepared | None = None
        self._preparing = False
        self._wanted, self._done = Change(), Change()
        self._at_work = False
        self._coat_id, self._asked_for = "", ""
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self._ask_chances)

    @property
    def on(self) -> bool:
        """Whether a change is wanted."""
        return not is_nothing(self._wanted)

    def idle(self) -> bool:
        """Whether nothing is worked out or waits to be."""
        waiting = self._prepared is not None and self.on and self._wanted != self._done
        return not (self._at_work or self._preparing or self._pause.isActive() or waiting)

    def prepare(self) -> None:
        """Lay out what every change of this week starts from; what was laid out is void."""
        bench, now_s, in_hand = self._desk.bench, self._desk.now_s(), self._desk.in_hand
        self._prepared, self._preparing, self._asked_for = None, True, ""
        self._pause.stop()
        for key in ("chances", "cheapest"):
            self._desk.slow.cancel(key)
        self._desk.slow.run(
            "prepare",
            lambda: bench.prepare_what_if(now_s, DAYS, in_hand),
            self._ready,
            self._cannot,
        )

    def want(self, change: Change) -> None:
        """Work this change out as soon as the one at work is done."""
        self._wanted = change
        self._pause.stop()
        self._desk.slow.cancel("chances")
        if self.on:
            self._next()
        else:
            self._done = change

    def choose(self, coat_id: str) -> None:
        """Look for the cheapest change that opens this coat's window."""
        self._coat_id = coat_id
        self._ask_cheapest()

    def _ready(self, prepared: Prepared) -> None:
        self._prepared, self._preparing, self._done = prepared, False, Change()
        self._next()
        self._ask_cheapest()

    def _cannot(self, failure: Failure) -> None:
        self._preparing = False
        self.offered.emit(())
        self._tell(failure)

    def _next(self) -> None:
        if self._prepared is None or self._at_work or self._wanted == self._done or not self.on:
            return
        bench, prepared, change = self._desk.bench, self._prepared, self._wanted
        self._at_work = True
        self._desk.operations.run(
            "what if",
            lambda: _pictured(bench.what_if(prepared, change)),
            lambda answer: self._show(prepared, change, answer),
            lambda failure: self._fail(change, failure),
        )

    def _show(self, prepared: Prepared, change: Change, answer: Answer) -> None:
        self._at_work = False
        if self.on and prepared is self._prepared:
            self._done = change
            self.shown.emit(*answer)
        if self._wanted != self._done:
            # Once it is drawn: beside a worker each stroke would wait for the interpreter.
            QTimer.singleShot(0, self, self._next)
        elif self.on:
            self._pause.start()

    def _fail(self, change: Change, failure: Failure) -> None:
        self._at_work, self._done = False, change
        self._tell(failure)
        self._next()

    def _ask_chances(self) -> None:
        if self._prepared is None or not self.on:
            return
        bench, prepared, change = self._desk.bench, self._prepared, self._wanted
        self._desk.slow.run(
            "chances",
            lambda: _pictured(bench.what_if_chances(prepared, change)),
            lambda answer: self._show_chances(change, answer),
            self._tell,
        )

    def _show_chances(self, change: Change, answer: Answer) -> None:
        if change == self._wanted:
            self.shown.emit(*answer)

    def _ask_cheapest(self) -> None:
        if self._prepared is None or not self._coat_id or self._coat_id == self._asked_for:
            return
        bench, prepared, coat_id = self._desk.bench, self._prepared, self._coat_id
        self._asked_for = coat_id
        self._desk.slow.run(
            "cheapest", lambda: bench.cheapest(prepared, coat_id), self._offer, self._tell
        )

    def _offer(self, found: Sequence[Suggestion]) -> None:
        self.offered.emit(tuple(found))

    def _tell(self, failure: Failure) -> None:
        if failure.details:
            self._desk.messages.failure(failure)
        self.failed.emit(failure.text)


def _pictured(answer: WhatIf) -> Answer:
    return answer, week_picture(answer.week)
