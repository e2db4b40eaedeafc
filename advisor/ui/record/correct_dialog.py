"""Correct an entry: what is entered anew, why, and what will stay to be read."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.base.errors import RangeError
from advisor.planning.job import Job
from advisor.record.canonical import Json
from advisor.record.corrections import STANDING
from advisor.record.effective import ENTRY, STRUCK_OUT, Effective, value_of
from advisor.record.entry import iso
from advisor.record.kinds import KINDS, Field
from advisor.record.telling import field_of, shown, title
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import ChoiceField
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.record.editors import ChoiceEditor
from advisor.ui.record.entry_dialog import LEAVING
from advisor.ui.record.entry_form import EntryForm
from advisor.ui.record.entry_row import struck
from advisor.ui.record.moment_editor import MomentEditor
from advisor.ui.record.places import area_options, coat_options
from advisor.ui.widgets.parts import Tall, clear, size_to_screen, text

_TOLD = "What was written stays to be read, with a line through it, your reason, name and the time."
_RECKONED = "Dew point and the room above it are reckoned anew and shown the same way."
_SPOTS = ("surface_temp", "surface_hot")
_REASONS = ("misread", "typing slip", "wrong unit", "wrong time", "wrong coat", "entered twice")
_PLACES: Mapping[str, str] = MappingProxyType({"at": "When", "area": "Area", "coat": "Coat"})


class CorrectDialog(KeepDialog):
    """Writes one correction; nothing is kept before the button is pressed."""

    def __init__(
        self, desk: Desk, job: Job, told: Effective, parent: QWidget | None = None
    ) -> None:
        name = f"Correct entry {told.entry.number}"
        super().__init__(desk, name, "&Keep this correction", parent)
        self._job, self._told = job, told
        self._words = desk.words()
        kind = KINDS[told.entry.kind]
        # What stands by its hash is not typed anew, only struck out.
        stands = kind.key in STANDING
        self.form = None if stands else EntryForm(kind, self._words, desk.now_s)
        self._make_fields()
        self._lay_out(kind.label)
        self._connect()
        self._show_kept()
        size_to_screen(self, 1120, 740, desk.look.scale_pct)

    def _make_fields(self) -> None:
        entry = self._told.now
        self.reason = ChoiceEditor(
            Field("reason", "Why", "choice", required=True, choices=_REASONS, free=True)
        )
        self.strike = QPushButton("&Strike the whole entry out")
        self.strike.setCheckable(True)
        self.strike.setAutoDefault(False)
        self.strike.setProperty("choice", True)
        moment = Field("at", "When it happened", "moment", required=True)
        self.at = MomentEditor(moment, self._words, self._desk.now_s)
        self.at.show_moment(entry.at_s)
        self.coat = ChoiceField("Coat", coat_options(self._job), entry.coat_id)
        self.area = ChoiceField("Area", area_options(self._job), entry.area_id)
        typed = self.form is not None
        self.at.setVisible(typed)
        self.coat.setVisible(typed and bool(entry.coat_id))
        self.area.setVisible(typed and bool(entry.area_id) and not entry.coat_id)
        self._begun_at = self.at.json()

    def _lay_out(self, label: str) -> None:
        column = QVBoxLayout(self)
        column.setSpacing(10)
        name = f"Correct entry {self._told.entry.number}, {label.lower()}"
        column.addWidget(text(name, "title", wrap=True))
        column.addWidget(text(title(self._told.now, self._words), "grey", wrap=True))
        pair = QHBoxLayout()
        pair.setSpacing(14)
        pair.addWidget(self._left(), 62)
        pair.addWidget(self._right(), 38)
        column.addLayout(pair, 1)
        column.addWidget(self.said)
        column.addLayout(self.foot(self.strike))

    def _left(self) -> QWidget:
        self.fields_area = QScrollArea()
        self.fields_area.setWidgetResizable(True)
        self.fields_area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        inner = QVBoxLayout(holder)
        inner.setContentsMargins(0, 0, 8, 0)
        inner.setSpacing(10)
        inner.addWidget(self.reason)
        for field in (self.at, self.coat, self.area):
            inner.addWidget(field)
        if self.form is not None:
            inner.addWidget(self.form)
        inner.addStretch(1)
        self.fields_area.setWidget(holder)
        return self.fields_area

    def _right(self) -> QFrame:
        frame = QFrame()
        frame.setObjectName("card")
        column = QVBoxLayout(frame)
        column.setContentsMargins(18, 14, 18, 14)
        column.addWidget(text("What will stay visible", "title", wrap=True))
        column.addWidget(text(_TOLD, "small", wrap=True))
        self.preview = QVBoxLayout()
        self.preview.setSpacing(6)
        column.addLayout(self.preview)
        column.addStretch(1)
        return frame

    def _connect(self) -> None:
        for field in (self.reason, self.at, self.coat, self.area):
            field.changed.connect(self.show_preview)
            field.changed.connect(self._typed_more)
        self.strike.clicked.connect(self.show_preview)
        if self.form is not None:
            self.form.changed.connect(self.show_preview)
            self.form.changed.connect(self._typed_more)
            self.form.pad_wanted.connect(self.open_pad)

    def _show_kept(self) -> None:
        self._begun: dict[str, Json] = {}
        for key, editor in self.form.editors.items() if self.form is not None else ():
            editor.show_json(self._told.now.data.get(key))
            self._begun[key] = editor.json()
        self.show_preview()

    # --- what is corrected ---------------------------------------------------------------

    def changes(self) -> dict[str, Json]:
        """Return the fields entered anew; RangeError where one cannot be kept."""
        if self.strike.isChecked():
            return {ENTRY: STRUCK_OUT}
        found: dict[str, Json] = {}
        for key, editor in self.form.editors.items() if self.form is not None else ():
            now = editor.json()
            if now != self._begun[key]:
                found[key] = "" if now in ("", [], ()) else now
        at_s = self.at.moment()
        if at_s is not None and self.at.json() != self._begun_at:
            found["at"] = iso(at_s, self._told.entry.zone)
        entry = self._told.now
        for key, field, was in (("area", self.area, entry.area_id), ("coat", self.coat,
                                                                     entry.coat_id)):  # fmt: skip
            if field.touched and field.key != was:
                found[key] = field.key
        return found

    def _typed_more(self) -> None:
        """Ask anew before leaving: more was typed since the last time."""
        if self.said.text() == LEAVING:
            self.said.setText("")

    def show_preview(self) -> None:
        """Show each change as it will be read: the old one struck through, the new one under it."""
        clear(self.preview)
        if self.form is not None:
            self.form.setEnabled(not self.strike.isChecked())
        try:
            changes = self.changes()
        except RangeError as error:
            self.preview.addWidget(text(f"Not yet: {error}", "bad", wrap=True))
            return
        if not changes:
            self.preview.addWidget(text("Nothing is changed yet.", "grey", wrap=True))
        for key, now in changes.items():
            self._preview_one(key, now)
        if self._told.entry.kind == "reading" and changes.keys() & {"air_temp", "rh", *_SPOTS}:
            self.preview.addWidget(text(_RECKONED, "small", wrap=True))
        if changes:
            by = self._desk.bench.settings.text("person") or "name not given"
            reason = str(self.reason.json()) or "the reason is still missing"
            self.preview.addWidget(text(f"{reason}; {by}, now", "small", wrap=True))

    def _preview_one(self, key: str, now: Json) -> None:
        if key == ENTRY:
            self.preview.addWidget(struck(title(self._told.now, self._words)))
            self.preview.addWidget(text("Struck out: counts for nothing, stays to be read."))
            return
        field = field_of(self._told.entry, key)
        if field is None:  # its time or its place
            field = Field(key, _PLACES.get(key, key), "moment" if key == "at" else "text")
        was = shown(value_of(self._told.now, key), self._words, field)
        self.preview.addWidget(text(field.label, "strong", wrap=True))
        self.preview.addWidget(struck(self._named(key, was) or "nothing"))
        told = shown(now, self._words, field)
        self.preview.addWidget(text(self._named(key, told) or "nothing", wrap=True))

    def _named(self, key: str, words: str) -> str:
        options = {"area": area_options, "coat": coat_options}.get(key)
        return words if options is None else dict(options(self._job)).get(words, words)

    # --- keeping -------------------------------------------------------------------------

    def accept(self) -> None:
        """Keep the correction; the form stays, with the reason, where it could not be kept."""
        wrong = self.form.check(always=True) if self.form and not self.strike.isChecked() else []
        reasoned = self.reason.judge(self.reason.problem(), always=True)
        timed = self.at.judge(self.at.problem(), always=True)
        if wrong or not reasoned or not timed:
            self.said.setText("Not kept yet: mend what is marked.")
            self.fields_area.ensureWidgetVisible(wrong[0] if wrong else self.reason)
            return
        changes, reason = self.changes(), str(self.reason.json())
        if not changes:
            self.said.setText("Nothing is changed yet.")
            return
        bench, now_s, number = self._desk.bench, self._desk.now_s(), self._told.entry.number
        self.keep_by(lambda: bench.record.correct(number, changes, reason, now_s))

    def may_leave(self) -> bool:
        """Ask first, inside the form, where something was changed."""
        try:
            changed = bool(self.changes()) or bool(self.reason.json())
        except RangeError:  # something is in a field, if nothing that could be kept
            changed = True
        if not changed or self.said.text() == LEAVING:
            return True
        self.say(LEAVING)
        self.keep.setFocus()
        return False
