"""Coming days: the picture of the week, and at its foot why a start is what it is."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from advisor.planning.words import Words
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.plots.picture import WeekPicture, week_picture
from advisor.ui.plots.week import WeekView
from advisor.ui.widgets.caution_bar import FIRST
from advisor.ui.widgets.parts import fade, text
from advisor.ui.widgets.verdict_mark import WORDS, kind_of
from advisor.ui.widgets.week_foot import WeekFoot
from advisor.work.views import StartDetail


class ComingDaysPane(QWidget):
    """The week above, the chosen start below."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self.view = WeekView(desk.look)
        self.view.chosen.connect(self._explain)
        self.picture: WeekPicture | None = None
        self._faded = False
        self.foot = WeekFoot(desk.look)
        self.notice = text("Working it out …", "title", wrap=True)
        self._lay_out()
        desk.units_changed.connect(self.refresh)

    def _lay_out(self) -> None:
        frame = QFrame()
        frame.setObjectName("card")
        inner = QVBoxLayout(frame)
        inner.setContentsMargins(2, 6, 2, 6)
        scroll = self._scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(self.view)
        inner.addWidget(self.notice)
        inner.addWidget(scroll, 1)
        self.setFocusProxy(self.view)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        column.addWidget(frame, 1)
        column.addWidget(self.foot)
        row = QHBoxLayout()
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
        column.addLayout(row)

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
        self.picture = None
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
        self.notice.setContentsMargins(16, 8, 16, 8)
        self.notice.setVisible(bool(words))

    def _show(self, picture: WeekPicture) -> None:
        self._fade(False)
        self.picture = picture
        words = self._desk.words()
        notes = [picture.note] if picture.note else []
        if not picture.lanes:
            notes.append("Every coat of this job is on.")
            self.foot.show_words("Nothing to plan", "Add a coat in the job set-up.")
        self._notice(" ".join(notes))
        self.view.show_week(picture, words.zone, self._desk.units)

    @Slot(int, int)
    def _explain(self, lane: int, j: int) -> None:
        if self.picture is None or self._faded:
            return
        box = self.view.lane_box(lane)
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
        self.foot.show_start(kind, title, sentence(detail, words), turn)


def sentence(detail: StartDetail, words: Words) -> str:
    """Put a start into one line: what stands against it, else its milestones."""
    reasons = [reason for reason in detail.reasons if reason.holds is not True]
    if detail.sand_first:
        reasons.sort(key=lambda reason: reason.rule != "previous_coat")
    against = [reason.text for reason in reasons]
    if against:
        more = f" (and {len(against) - 2} more)" if len(against) > 2 else ""
        return "; ".join(against[:2]) + more
    return " · ".join(
        f"{stone.label} {words.moment(stone.at_s)}"
        for stone in detail.milestones
        if stone.at_s is not None and stone.name != "mix"
    )
