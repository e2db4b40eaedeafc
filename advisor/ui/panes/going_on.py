"""The batch in hand: its countdown, what comes next, and what changed in mid-coat."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout

from advisor.planning.words import Words, duration
from advisor.ui.desk import Desk
from advisor.ui.widgets.countdown import LARGEST, Countdown, Until, figures
from advisor.ui.widgets.parts import capital, clear, text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark
from advisor.work.live_views import BatchInHand, ConditionsChanged, LiveBench

#: How many of what is ahead are told.
AHEAD = 4
#: Size of the figures under a card, px at 100 %: still read at two metres.
BESIDE_CARD = 100
NOTHING = "No batch is mixed. When one is, its time counts down here."
#: Filling means permission: stop is the empty ring.
MARKS: tuple[tuple[str, Kind], ...] = (("carry on", "go"), ("look", "close"), ("stop", "wait"))
ADVICE = (("carry on", "Carry on"), ("look", "Look first"), ("stop", "Stop"))


def until_of(batch: BatchInHand, now_s: float) -> Until:
    """Return what a batch is counted down to: its induction first, then its pot life."""
    ready_s = batch.induction_until_s
    if ready_s is not None and now_s < ready_s:
        return Until("Let it stand for", "Ready to use since", batch.mixed_s, ready_s)
    if batch.usable_until_s is None:
        return Until("No pot life in the data sheet", "", batch.mixed_s, None)
    return Until("Batch is usable for", "Past its pot life by", batch.mixed_s,
                 batch.usable_until_s, batch.comfortable_until_s)  # fmt: skip


def times_of(batch: BatchInHand, words: Words) -> str:
    """Return a batch's clock times in one line."""
    parts = [f"Mixed {words.moment(batch.mixed_s)}"]
    if batch.comfortable_until_s is not None:
        parts.append(f"use it up by {words.moment(batch.comfortable_until_s)}")
    if batch.usable_until_s is not None:
        parts.append(f"past use at {words.moment(batch.usable_until_s)}")
    return ", ".join(parts) + (f". {capital(batch.temp_text)}" if batch.temp_text else "")


class ChangedCard(QFrame):
    """Conditions left their limits with a batch open: where to stop, what is left, and why."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("changed")
        self._desk = desk
        self.mark = VerdictMark(desk.look, 52)
        self.advice, self.since = text("", "aim"), text("", "grey", wrap=True)
        self.headline, self.line = text("", "title", wrap=True), text("", wrap=True)
        self.why = text("", wrap=True)
        row, words = QHBoxLayout(self), QVBoxLayout()
        row.setContentsMargins(14, 10, 14, 10)
        row.setSpacing(14)
        words.setSpacing(2)
        top = QHBoxLayout()
        top.setSpacing(12)
        top.addWidget(self.advice)
        top.addWidget(self.since, 1)
        words.addLayout(top)
        for label in (self.headline, self.line, self.why):
            words.addWidget(label)
        row.addWidget(self.mark)
        row.addLayout(words, 1)
        self.hide()

    def show_change(self, changed: ConditionsChanged | None) -> None:
        """Show it, or put the card away."""
        self.setVisible(changed is not None)
        if changed is None:
            return
        self.mark.set_kind(dict(MARKS)[changed.advice])
        self.advice.setText(dict(ADVICE)[changed.advice])
        self.since.setText(f"since {self._desk.words().moment(changed.since_s)}")
        self.headline.setText(changed.headline)
        left = changed.batch_left_s
        told = f" {duration(left / 3600)} left in the batch." if left and left > 0 else ""
        self.line.setText(f"{changed.stopping_line}{told}".strip())
        self.why.setText("\n".join(changed.why))
        self.why.setVisible(bool(changed.why))


class GoingOn(QFrame):
    """`chosen` with the number of another batch."""

    chosen = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.title, self.product = text("", "title", wrap=True), text("", "grey", wrap=True)
        self.headline = text("", wrap=True)
        self.changed = ChangedCard(desk)
        self.countdown = Countdown(desk.look, desk.now_s)
        self.times = text("", wrap=True)
        self.others, self.ahead = QVBoxLayout(), QGridLayout()
        self.notes = text("", "small", wrap=True)
        self.next_title = text("What comes next", "title")
        self._lay_out()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        for part in (self.title, self.product, self.headline, self.changed, self.countdown,
                     self.times):  # fmt: skip
            column.addWidget(part)
        self.others.setSpacing(6)
        self.ahead.setHorizontalSpacing(16)
        self.ahead.setVerticalSpacing(4)
        self.ahead.setColumnStretch(1, 1)
        column.addLayout(self.others)
        column.addWidget(self.next_title)
        column.addLayout(self.ahead)
        column.addWidget(self.notes)
        column.addStretch(1)

    def show_view(self, view: LiveBench, batch: BatchInHand | None) -> None:
        """Show the bench with one batch in front."""
        self.changed.show_change(view.changed)
        self.countdown.figures.set_largest(LARGEST if view.changed is None else BESIDE_CARD)
        self.product.setVisible(batch is not None and view.changed is None)
        self.headline.setText(capital(view.headline))
        told = batch is None and view.step == "nothing"  # the title says it already
        self.headline.setVisible(bool(view.headline) and view.changed is None and not told)
        self._show_batch(batch, view.now_s)
        self._show_others(view, batch)
        self._show_ahead(view)
        notes = [*view.notes, *(batch.assumptions if batch else ())]
        self.notes.setText(" ".join(notes))
        self.notes.setVisible(bool(notes))

    def _show_batch(self, batch: BatchInHand | None, now_s: float) -> None:
        for part in (self.times, self.countdown):
            part.setVisible(batch is not None)
        if batch is None:
            self.title.setText(NOTHING)
            self.countdown.show_until(None)
            return
        self.title.setText(capital(batch.title))
        self.product.setText(f"{batch.product_name}, batch {batch.number}")
        self.countdown.show_until(until_of(batch, now_s))
        self.times.setText(times_of(batch, self._desk.words()))

    def _show_others(self, view: LiveBench, batch: BatchInHand | None) -> None:
        clear(self.others)
        for other in view.batches:
            if other == batch:
                continue
            end_s = until_of(other, view.now_s).end_s
            left = "".join(figures(end_s - view.now_s)) if end_s is not None else "no pot life"
            button = QPushButton(f"{capital(other.title)}, batch {other.number}: {left}")
            button.clicked.connect(lambda _=False, number=other.number: self.chosen.emit(number))
            self.others.addWidget(button)

    def _show_ahead(self, view: LiveBench) -> None:
        clear(self.ahead)
        words = self._desk.words()
        ahead = [(alarm.due_s, alarm.title) for alarm in view.coming]
        self.next_title.setVisible(bool(ahead))
        for row, (at_s, told) in enumerate(sorted(ahead)[:AHEAD]):
            self.ahead.addWidget(text(words.moment(at_s), "strong"), row, 0)
            self.ahead.addWidget(text(told, wrap=True), row, 1)


def front(batches: tuple[BatchInHand, ...], wanted: int, coat_id: str) -> BatchInHand | None:
    """Return the batch to show in front: the one asked for, of the coat going on, else first out.

    `wanted` is a batch's number, 0 for none.
    """
    for batch in batches:
        if batch.number == wanted:
            return batch
    of_coat = [batch for batch in batches if batch.coat_id == coat_id]
    ends = of_coat or list(batches)
    return min(ends, key=lambda b: b.usable_until_s or b.mixed_s + 1e9, default=None)
