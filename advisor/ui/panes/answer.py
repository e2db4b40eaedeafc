"""May I? The verdict, the latest start, the reasons, what would turn it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QVBoxLayout, QWidget

from advisor.planning.job import Job
from advisor.planning.verdict_words import Verdict
from advisor.ui.desk import Desk
from advisor.ui.widgets.coat_chooser import CoatChooser
from advisor.ui.widgets.parts import capital, card, fade, text
from advisor.ui.widgets.reason_list import ReasonList
from advisor.ui.widgets.verdict_mark import ROLES, WORDS, Kind, VerdictMark, kind_of
from advisor.work.views import BeforeMixing

if TYPE_CHECKING:
    from advisor.planning.explain import Reason


class Answer(QFrame):
    """`coat_chosen` with the id of the coat picked."""

    coat_chosen = Signal(str)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self._kind: Kind = "working"
        self.coats = CoatChooser(desk.look)
        self.coats.setObjectName("coat")
        self.coats.setAccessibleName("Coat")
        self.coats.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.coats.setMinimumContentsLength(12)
        self.coats.activated.connect(self._chosen)
        self.under = text("", "grey", wrap=True)
        self.mark = VerdictMark(desk.look, 84)
        self.word = text("", "verdict")
        self.headline = text("", "grey", wrap=True)
        self.steps = text("", wrap=True)
        self.reasons = ReasonList(desk.look)
        self.turn = text("", "strong", wrap=True)
        self.notes = text("", "small", wrap=True)
        self._lay_out()
        desk.look.changed.connect(self._paint_word)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        column.addWidget(self.coats)
        column.addWidget(self.under)
        verdict = QHBoxLayout()
        verdict.setSpacing(18)
        verdict.addWidget(self.mark)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.word)
        words.addWidget(self.headline)
        verdict.addLayout(words, 1)
        column.addLayout(verdict)
        column.addWidget(self._latest_start())
        column.addWidget(self.turn)
        column.addWidget(self.steps)
        column.addWidget(self.reasons)
        column.addWidget(self.notes)
        column.addStretch(1)

    def _latest_start(self) -> QFrame:
        frame, column = card("inset")
        column.setContentsMargins(16, 8, 16, 10)
        row = QHBoxLayout()
        row.setSpacing(16)
        left = QVBoxLayout()
        left.setSpacing(0)
        self.latest_title = text("Latest start", "grey")
        self.latest = text("", "clock")
        self.because = text("", wrap=True)
        left.addWidget(self.latest_title)
        left.addWidget(self.latest)
        row.addLayout(left)
        row.addWidget(self.because, 1)
        column.addLayout(row)
        return frame

    def show_job(self, job: Job, coat_id: str) -> None:
        """List the coats still to do."""
        self.coats.clear()
        for coat in job.next_coats():
            area = job.area(coat.area_id)
            self.coats.addItem(capital(f"{coat.name}, {area.name}"), coat.id)
        at = self.coats.findData(coat_id)
        self.coats.setCurrentIndex(max(0, at))

    def coat_id(self) -> str | None:
        """Return the id of the coat chosen, None when no coat is left."""
        data = self.coats.currentData()
        return data if isinstance(data, str) else None

    def _chosen(self) -> None:
        coat_id = self.coat_id()
        if coat_id is not None:
            self.coat_chosen.emit(coat_id)

    def _set(self, kind: Kind, word: str = "") -> None:
        self._kind = kind
        self.mark.set_kind(kind)
        self.word.setText(word or WORDS[kind])
        self._paint_word()

    def _paint_word(self) -> None:
        look = self._desk.look
        size = 56 if self._kind != "working" else 34
        self.word.setStyleSheet(
            f"color: {getattr(look.palette, ROLES[self._kind])}; font-size: {look.px(size)}px;"
        )

    def _told(self) -> tuple[QWidget, ...]:
        return self.reasons, self.turn, self.steps, self.notes

    def show_working(self) -> None:
        """Show that the verdict is being worked out; no remembered verdict stays."""
        self._set("working")
        self.headline.setText("…")
        fade(self._told(), True)
        self._show_latest("…", "")
        self.mark.setToolTip("")

    def show_cannot(self, headline: str, advice: str) -> None:
        """Show "can't tell" with what to do about it."""
        fade(self._told(), False)
        self._set("unknown")
        self.headline.setText(headline)
        self._show_latest("–", "")
        self.reasons.show_reasons((), self._desk.words())
        self._show_turn("What to do", advice)
        self.steps.hide()
        self.notes.setText("")

    def _show_latest(self, latest: str, because: str, title: str = "Latest start") -> None:
        self.latest_title.setText(title)
        self.latest.setText(latest)
        self.because.setText(because)

    def _show_turn(self, title: str, sentence: str) -> None:
        self.turn.setText(f"{title}: {sentence}")
        self.turn.setVisible(bool(sentence))

    def show_answer(self, answer: BeforeMixing) -> None:
        """Show the answer of the bench."""
        words = self._desk.words()
        fade(self._told(), False)
        self._set(kind_of(answer.verdict, answer.sand_first))
        self.under.setText(f"{answer.product_name}, {answer.coat.method}")
        self.headline.setText(capital(headline_of(answer)))
        self._latest_of(answer)
        steps = [f"First: {step}" for step in answer.required_steps]
        steps += [f"Mind: {warning}" for warning in answer.warnings]
        self.steps.setText("\n".join(steps))
        self.steps.setVisible(bool(steps))
        self.reasons.show_reasons(bond_first(answer), words, sand=answer.sand_first)
        unknown = answer.verdict is Verdict.UNKNOWN
        self._show_turn("What to do" if unknown else "What would turn it", turn_line(answer))
        self.notes.setText(" ".join(filter(None, (chance_line(answer), assumptions_line(answer)))))

    def _latest_of(self, answer: BeforeMixing) -> None:
        words = self._desk.words()
        kind = kind_of(answer.verdict, answer.sand_first)
        next_s = answer.next_start_s
        if next_s is not None and kind in ("wait", "sand", "unknown"):
            self._show_latest(words.moment(next_s), capital(answer.latest_because), "Next start")
            return
        if answer.latest_start_s is None:
            none = "not now" if kind in ("wait", "sand") else "–"
            self._show_latest(none, answer.latest_because)
            return
        self._show_latest(words.moment(answer.latest_start_s), capital(answer.latest_because))


def assumptions_line(answer: BeforeMixing) -> str:
    """Put the assumptions on one line."""
    return f"Assumed: {'; '.join(answer.assumptions)}." if answer.assumptions else ""


def headline_of(answer: BeforeMixing) -> str:
    """Return the headline; a closed bond comes before every limit, since waiting cannot mend it."""
    if answer.sand_first:
        return next((r.text for r in answer.reasons if is_bond(r)), answer.headline)
    return answer.headline


def is_bond(reason: Reason) -> bool:
    """Whether a reason tells of a bond that is no longer open."""
    return reason.rule == "previous_coat" and reason.holds is False


def bond_first(answer: BeforeMixing) -> tuple[Reason, ...]:
    """Return the reasons, a closed bond before the others."""
    if not answer.sand_first:
        return answer.reasons
    return tuple(sorted(answer.reasons, key=lambda reason: not is_bond(reason)))


def turn_line(answer: BeforeMixing) -> str:
    """Return what would turn it; where the headline says so already, how to go about it."""
    if answer.sand_first:
        later = answer.would_turn
        start = f" {later}" if later.startswith("Start") else ""
        return f"sand and wipe, then press Sanded and wiped.{start}"
    said = answer.would_turn.rstrip(".").lower() == answer.headline.rstrip(".").lower()
    if said and any(r.rule == "data" and r.holds is None for r in answer.reasons):
        return "measure and type it. Enter in a box confirms a number that still holds."
    return "" if said else answer.would_turn


def chance_line(answer: BeforeMixing) -> str:
    """Say how likely the surface stays above the dew point; never "100 %"."""
    if answer.chance is None:
        return ""
    share = "over 99" if answer.chance > 0.99 else f"{answer.chance * 100:.0f}"
    return f"Chance that it stays above dew point until it can take dew: {share} %."
