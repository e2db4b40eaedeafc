"""Coming days: the picture of the week, and at its foot why a start is what it is."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QTimer, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from advisor.climate.shop.shop import Change
from advisor.planning.job import Job
from advisor.planning.words import Words
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.panes.live_change import LiveChange
from advisor.ui.plots.picture import WeekPicture, week_picture
from advisor.ui.plots.week import WeekView
from advisor.ui.widgets.caution_bar import FIRST
from advisor.ui.widgets.parts import fade, restyle, text
from advisor.ui.widgets.source_line import SourceLine
from advisor.ui.widgets.verdict_mark import WORDS, kind_of
from advisor.ui.widgets.week_foot import WeekFoot
from advisor.ui.widgets.what_if_box import ASK, WhatIfBox
from advisor.ui.widgets.what_if_words import change_words
from advisor.work.outlook_views import WhatIf
from advisor.work.views import StartDetail

#: Least height in px at 100 % at which the foot stays beside an open what-if box.
FOOT_FROM = 700
#: The same for what was assumed of the surface, above the picture.
NOTE_FROM = 900
#: The same for the suggestions inside the box.
OFFERS_FROM = 440
#: Pause before the cheapest change is looked for, so that pointing along lanes asks once, ms.
POINTED_MS = 250
#: Pause before a start of a what-if is explained, ms.
REST_MS = 60


class ComingDaysPane(QWidget):
    """The week above, the chosen start below."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self.view = WeekView(desk.look)
        self.view.chosen.connect(self._point)
        self._start = (0, 0)
        self.picture: WeekPicture | None = None
        self._outlook: WeekPicture | None = None
        self._faded = False
        self.source = SourceLine(desk.look)
        self.box, self.live = WhatIfBox(desk.look), LiveChange(desk)
        self.box.hide()
        self.foot = WeekFoot(desk.look)
        self.notice = text("Working it out …", "title", wrap=True)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        frame = QFrame()
        frame.setObjectName("card")
        inner = QVBoxLayout(frame)
        inner.setContentsMargins(2, 6, 2, 6)
        scroll = self._scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(self.view)
        inner.addWidget(self.source)
        inner.addWidget(self.notice)
        inner.addWidget(scroll, 1)
        self.setFocusProxy(self.view)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        column.addWidget(frame, 1)
        column.addWidget(self.box)
        column.addWidget(self.foot)
        column.addLayout(self._bottom())

    def _bottom(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.what_if = QPushButton("&What if…")
        self.what_if.setCheckable(True)
        self.what_if.setToolTip("Heat, dry, open the doors: what it does to the week")
        self.what_if.setAccessibleName("What if")
        row.addWidget(self.what_if)
        row.addWidget(text(FIRST, "small", wrap=True), 1)
        for words, name, action in (
            ("−", "Further away", lambda: self.view.zoom(1 / 0.7)),
            ("+", "Closer", lambda: self.view.zoom(0.7)),
            ("Now", "Show now", self.view.home),
        ):
            button = QPushButton(words)
            button.setAccessibleName(name)
            button.setToolTip(name)
            button.clicked.connect(action)
            row.addWidget(button)
        return row

    def _connect(self) -> None:
        self._pointed = _after(self, POINTED_MS, self._choose_coat)
        self._rest = _after(self, REST_MS, self._explain)
        self.what_if.toggled.connect(self._open_box)
        self.box.changed.connect(self._change)
        self.live.shown.connect(self._show_what_if)
        self.live.failed.connect(self._cannot_change)
        self.live.offered.connect(self.box.show_offers)
        self._desk.look.changed.connect(self._fit)
        self._desk.units_changed.connect(self.refresh)

    def refresh(self) -> None:
        """Work the week out again."""
        bench, now_s, reading = self._desk.bench, self._desk.now_s(), self._desk.in_hand
        if self.picture is None:
            self._notice("Working it out …")
        self._fade(True)
        self._desk.operations.run(
            "week",
            lambda: week_picture(bench.coming_days(now_s, 7, reading)),
            self._show,
            self._failed,
        )

    def _fade(self, on: bool) -> None:
        """Fade what was worked out before a change; its starts are no longer explained."""
        self._faded = on
        if on:
            self._desk.operations.cancel("detail")
        fade((self.view, self.foot), on)

    def _failed(self, failure: Failure) -> None:
        self._fade(False)
        self.picture = self._outlook = None
        self.view.show_what_if("")
        self.view.clear()
        self._notice(f"Can't tell: {failure.text}")
        self.foot.show_words("Can't tell", "The week could not be worked out.")
        if failure.details:
            self._desk.messages.failure(failure)

    def tick(self) -> None:
        """A minute went by."""
        self.refresh()

    def _notice(self, words: str) -> None:
        self.notice.setText(words)
        restyle(self.notice, "role", "title" if self.picture is None else "small")
        pad = 8 if self.picture is None else 2
        self.notice.setContentsMargins(16, pad, 16, pad)
        self._fit()

    def _show(self, picture: WeekPicture) -> None:
        self._outlook = picture
        words = self._desk.words()
        self.box.show_words(words)
        self.source.show_source(picture.source, words)
        if not self.box.isHidden():
            self.live.prepare()
        if self.live.on:
            return  # stays faded until the change is worked out on the new outlook
        self._put_up(picture, "")

    def _put_up(self, picture: WeekPicture, what_if: str, words: Words | None = None) -> None:
        self._fade(False)
        self.picture = picture
        words = words or self._desk.words()
        notes = [picture.note] if picture.note else []
        if not picture.lanes:
            notes.append("Every coat of this job is on.")
            self.foot.show_words("Nothing to plan", "Add a coat in the job set-up.")
        self._notice(" ".join(notes))
        if what_if and not self.view.what_if:
            self._scroll.verticalScrollBar().setValue(0)
        self.view.show_what_if(what_if, self._outlook)
        self.view.show_week(picture, words.zone, words.units)

    # --- what if -------------------------------------------------------------------------

    def idle(self) -> bool:
        """Whether nothing is being worked out or waits to be."""
        return self.live.idle() and not (self._pointed.isActive() or self._rest.isActive())

    @Slot(bool)
    def _open_box(self, on: bool) -> None:
        self.box.setVisible(on)
        self._fit()
        if on:
            job = self._desk.bench.job()
            if job is not None:
                self._show_shop(job)
            self.live.prepare()
            self._pointed.start()
            self.box.heater.track.setFocus()
        elif self.live.on:
            self.box.clear()

    def _show_shop(self, job: Job) -> None:
        out = [area.outdoors for area in job.areas]
        self.box.show_places(indoors=not all(out), outdoors=any(out))
        if job.shop is not None:
            self.box.show_room(job.shop.volume_m3)

    @Slot(object)
    def _change(self, change: Change) -> None:
        self.live.want(change)
        if not self.live.on:
            self.box.say(ASK)
            if self._outlook is not None:
                self._put_up(self._outlook, "")

    @Slot(object, object)
    def _show_what_if(self, answer: WhatIf, picture: WeekPicture) -> None:
        self.box.say(answer.text, answer.notes)
        words = self._desk.words()
        self._put_up(picture, change_words(answer.change, words), words)

    def _cannot_change(self, why: str) -> None:
        self.box.say(f"Can't tell: {why}")
        if self._faded and self._outlook is not None:
            self._put_up(self._outlook, "")

    def _choose_coat(self) -> None:
        lane = self.view.lane()
        if lane is not None and not self.box.isHidden():
            self.live.choose(lane.lane.coat.id)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Leave the foot out where the open box leaves no room for it."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        room = self.height() * 100 / self._desk.look.scale_pct
        roomy = self.box.isHidden() or room >= FOOT_FROM
        noted = self.box.isHidden() or room >= NOTE_FROM or self.picture is None
        self.notice.setVisible(bool(self.notice.text()) and noted)
        self.foot.set_short(not self.box.isHidden())
        self.foot.setVisible(roomy)
        self.box.set_roomy(room >= OFFERS_FROM)

    # --- one start -----------------------------------------------------------------------

    @Slot(int, int)
    def _point(self, lane: int, j: int) -> None:
        """Explain a start; while levers move only once the hand rests, for the picture's sake."""
        self._start = (lane, j)
        if self.view.what_if:
            self._rest.start()
        else:
            self._explain()

    def _explain(self) -> None:
        lane, j = self._start
        if self.picture is None or self._faded or lane >= len(self.picture.lanes):
            return
        if j >= len(self.picture.lanes[lane].starts_s):
            return
        if not self.box.isHidden():
            self._pointed.start()
        box = self.view.lane_box(lane)
        if not self.view.what_if:  # else what says so could be scrolled out of sight
            self._scroll.ensureVisible(0, int(box.center().y()), 0, int(box.height()))
        chosen, now_s = self.picture.lanes[lane].lane, self._desk.now_s()
        bench = self._desk.bench
        self._desk.operations.run(
            "detail",
            lambda: bench.start_detail(chosen, j, now_s),
            lambda detail: self._tell(f"{chosen.coat.name}, {chosen.area.name}", detail),
            lambda failure: self.foot.show_words("Can't tell", failure.text),
        )

    def _tell(self, coat: str, detail: StartDetail) -> None:
        words = self._desk.words()
        kind = kind_of(detail.verdict, detail.sand_first)
        soft = f", {detail.strength}" if detail.strength else ""
        turn = (
            "sand and wipe, then press Sanded and wiped."
            if detail.sand_first
            else (detail.would_turn)
        )
        title = f"{WORDS[kind]}{soft}: {coat}, start {words.moment(detail.at_s)}"
        if self.view.what_if:
            title = f"What if, {title[:1].lower()}{title[1:]}"
        self.foot.show_start(kind, title, sentence(detail, words), turn)


def _after(owner: QWidget, ms: int, action: Callable[[], None]) -> QTimer:
    """Make a timer that acts once, that long after its last start."""
    timer = QTimer(owner)
    timer.setSingleShot(True)
    timer.setInterval(ms)
    timer.timeout.connect(action)
    return timer


def chance_words(detail: StartDetail) -> str:
    """Return in how many courses of the outlook a start holds, never rounded up; "" unknown."""
    if detail.chance is None:
        return ""
    if detail.chance >= 1.0:
        return "holds in every course of the outlook"
    whole = 10 if detail.chance < 0.95 else 20 if detail.chance < 0.99 else 100
    count = int(detail.chance * whole + 1e-9)
    told = f"{count} of {whole}" if count else "fewer than 1 of 10"
    return f"holds in {told} courses of the outlook"


def sentence(detail: StartDetail, words: Words) -> str:
    """Put a start into one line: what stands against it, else its milestones."""
    reasons = [reason for reason in detail.reasons if reason.holds is not True]
    if detail.sand_first:
        reasons.sort(key=lambda reason: reason.rule != "previous_coat")
    against = [reason.text for reason in reasons]
    if against:
        more = f" (and {len(against) - 2} more)" if len(against) > 2 else ""
        return "; ".join(against[:2]) + more
    told = [
        f"{stone.label} {words.moment(stone.at_s)}"
        for stone in detail.milestones
        if stone.at_s is not None and stone.name != "mix"
    ]
    return " · ".join([*told, chance_words(detail)] if detail.chance is not None else told)
