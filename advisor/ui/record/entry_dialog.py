"""Add to the record by hand: choose what happened, say where and when, fill in, keep."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from advisor.planning.job import Job
from advisor.record.kinds import KINDS, Field, Kind
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import ChoiceField, button
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.operations import Failure
from advisor.ui.record.entry_form import EntryForm
from advisor.ui.record.moment_editor import MomentEditor
from advisor.ui.record.places import area_options, coat_options
from advisor.ui.widgets.parts import BigButton, Tall, size_to_screen, text
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.form_offers import Offer, offered

#: Kinds with a form of their own elsewhere: they need a file, or change a list.
ELSEWHERE = ("job", "instrument", "photo")
_LATE = "Set the time back if it happened before now: late entries are kept, and marked as late."
LEAVING = "What you filled in is not kept. Press Cancel or Escape again to throw it away."
_HINTS: Mapping[str, str] = MappingProxyType({
    "reading": "read at the work", "preparation": "sanded, wiped, washed", "batch": "what is in it",
    "batch end": "used up, thrown away", "application": "begun, a patch, finished",
    "film": "comb or gauge", "observation": "tack-free, weather", "defect": "what went wrong",
    "non-conformance": "a limit departed from",
})  # fmt: skip


def kinds_by_hand() -> list[Kind]:
    """Return the kinds this form adds, in the order they are offered."""
    return [k for k in KINDS.values() if k.by_hand and k.key not in ELSEWHERE]


class EntryDialog(KeepDialog):
    """Keeps one entry; nothing is kept before the button is pressed."""

    def __init__(
        self,
        desk: Desk,
        job: Job,
        parent: QWidget | None = None,
        *,
        kind: str = "",
        coat_id: str = "",
    ) -> None:
        super().__init__(desk, "Add to the record", "&Keep this entry", parent)
        self._job = job
        self._beside, self._leaving = coat_id, False
        self.form: EntryForm | None = None
        self.kinds: dict[str, BigButton] = {}
        self._stack = QStackedWidget()
        self._stack.addWidget(self._chooser())
        self._page = QWidget()
        self._stack.addWidget(self._page)
        column = QVBoxLayout(self)
        column.addWidget(self._stack)
        self._make_page()
        size_to_screen(self, 1060, 740, desk.look.scale_pct)
        next(iter(self.kinds.values())).setFocus()
        if kind:
            self.begin(kind)

    def _chooser(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setSpacing(14)
        column.addWidget(text("What happened?", "title"))
        grid = QGridLayout()
        grid.setSpacing(12)
        for at, kind in enumerate(kinds_by_hand()):
            made = self.kinds[kind.key] = BigButton(kind.label)
            made.setText(f"{kind.label}\n{_HINTS.get(kind.key, '')}")
            made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
            made.setMaximumHeight(self._desk.look.px(130))
            made.setAutoDefault(False)
            made.clicked.connect(lambda _=False, k=kind.key: self.begin(k))
            grid.addWidget(made, at // 3, at % 3)
        column.addLayout(grid, 4)
        column.addStretch(1)
        away = button("Cancel")
        away.clicked.connect(self.reject)
        column.addWidget(away, 0, Qt.AlignmentFlag.AlignRight)
        return page

    def _make_page(self) -> None:
        words, now = self._desk.words(), self._desk.now_s
        self.title = text("", "title")
        self.coat = ChoiceField("Coat", [("", "no coat"), *coat_options(self._job)])
        self.area = ChoiceField("Area", [("", "the whole job"), *area_options(self._job)])
        self.at = MomentEditor(Field("at", "When it happened", "moment", required=True), words, now)
        self.at.show_moment(now())
        self.back = button("Another kind")
        self.fields_area = QScrollArea()
        self.fields_area.setWidgetResizable(True)
        self.fields_area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.back.clicked.connect(lambda: self._stack.setCurrentIndex(0))
        self.coat.changed.connect(self._offer)
        self._lay_out_page()

    def _lay_out_page(self) -> None:
        column = QVBoxLayout(self._page)
        column.setSpacing(8)
        column.addWidget(self.title)
        row = QHBoxLayout()
        row.setSpacing(12)
        for field, stretch in ((self.coat, 3), (self.area, 3), (self.at, 4)):
            row.addWidget(field, stretch)
        column.addLayout(row)
        column.addWidget(text(_LATE, "small", wrap=True))
        column.addWidget(self.fields_area, 1)
        column.addWidget(self.said)
        column.addLayout(self.foot(self.back))

    # --- filling in ----------------------------------------------------------------------

    def begin(self, key: str) -> None:
        """Show the form of a kind."""
        kind = KINDS[key]
        self.title.setText(kind.label)
        if self.form is None or self.form.kind.key != key:
            self._make_form(kind)
        self.coat.setVisible(kind.of == "coat")
        self.area.setVisible(kind.of == "area")
        if not self.area.key:
            self.area.box.setCurrentIndex(0)
        self._offer()
        self.said.setText("")
        self._stack.setCurrentWidget(self._page)
        if self.form is not None:
            self.form.focus_first()

    def _make_form(self, kind: Kind) -> None:
        self.form = EntryForm(kind, self._desk.words(), self._desk.now_s)
        self.form.pad_wanted.connect(self.open_pad)
        self.form.changed.connect(self._stay)
        holder = Tall()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(self.form)
        column.addStretch(1)
        self.fields_area.setWidget(holder)

    def _offer(self) -> None:
        """Ask what the coat already says: its product, its newest batch, its method.

        Not on this thread: a long record takes a tenth of a second. Until the answer is there
        nothing can be kept, so that no entry goes to the coat shown before.
        """
        form, bench, job, beside = self.form, self._desk.bench, self._job, self._beside
        coat_id = self.coat.key if self.coat.touched else ""
        wanted = form is not None and form.kind.of == "coat"
        wanted = wanted and bool(coat_id or not self.coat.touched)  # else no coat was chosen
        self.keep.setEnabled(not wanted)
        if form is None or not wanted:
            return
        kind = form.kind.key
        self.ask(self._desk.pages, "offer", lambda: offered(bench, job, kind, coat_id, beside),
                 lambda offer: self._fill(form, offer), self._cannot_offer)  # fmt: skip

    def _fill(self, form: EntryForm, offer: Offer) -> None:
        if form is not self.form:  # another kind was chosen meanwhile
            return
        self.keep.setEnabled(True)
        if not self.coat.touched:
            self.coat.box.setCurrentIndex(max(0, self.coat.box.findData(offer.coat_id)))
        for key, words in offer.fields.items():
            form.offer(key, words)

    def _cannot_offer(self, failure: Failure) -> None:
        self.keep.setEnabled(True)
        self.say(failure.text)

    def typed(self) -> ByHand | None:
        """Return what was filled in; None, with every problem shown, where it cannot be kept."""
        form = self.form
        if form is None:
            return None
        wrong = form.check(always=True)
        at_s = self.at.moment()
        timed = self.at.judge(self.at.problem(), always=True)
        if wrong:
            self.fields_area.ensureWidgetVisible(wrong[0])
        if wrong or not timed or at_s is None:
            self.said.setText("Not kept yet: mend what is marked.")
            return None
        coat = self.coat.key if form.kind.of == "coat" else ""
        area = self.area.key if form.kind.of == "area" else ""
        return ByHand(form.kind.key, form.data(), at_s, area, coat)

    def accept(self) -> None:
        """Keep the entry; the form stays, with the reason, where it could not be kept."""
        typed = self.typed()
        if typed is None:
            return
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.keep_by(lambda: keep_by_hand(bench, typed, now_s))

    def _stay(self) -> None:
        """Ask anew: more was typed since the last time."""
        self._leaving = False

    def may_leave(self) -> bool:
        """Ask first, inside the form, where something was filled in."""
        if self.form is None or not self.form.touched or self._leaving:
            return True
        self._leaving = True
        self.say(LEAVING)
        self._stack.setCurrentWidget(self._page)
        self.keep.setFocus()
        return False
