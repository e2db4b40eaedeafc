"""A batch as it is mixed: amounts and lot numbers of each part, thinner, temperature, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, cast

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.base import units as u
from advisor.planning.job import Job
from advisor.record.ratio import THINNER
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import Choice, ChoiceField, LineField
from advisor.ui.panes.batch_fields import (
    THINNER_KIND,
    NumberLine,
    PartRow,
    amount_kind,
    number_text,
)
from advisor.ui.widgets.cautions_and_who import CautionsAndWho
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.pad_opener import PadOpener
from advisor.ui.widgets.parts import BigButton, Tall, capital, clear, restyle, text
from advisor.ui.widgets.taps import WhenStepper
from advisor.ui.widgets.tins_box import KIND as TINS_KIND
from advisor.work.live_views import BatchForm, PartMixed

#: Pause after the last change before the form is looked through, ms.
PAUSE_MS = 250
YES_NO = (("", "not said"), ("yes", "yes"), ("no", "no"))


class BatchFormPage(QWidget):
    """`mixed` with the form and how many minutes ago; `changed` with the form to look through."""

    mixed = Signal(object, int)
    changed = Signal(object)
    coat_chosen = Signal(str)
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self._form: BatchForm | None = None
        self.rows: tuple[PartRow, ...] = ()
        self.thin = _thinner_row(PartMixed(THINNER), "")
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(lambda: self.changed.emit(self.form()))
        self.coats = Choice()
        self.coats.setObjectName("coat")
        self.coats.setAccessibleName("Coat")
        self.coats.activated.connect(lambda _: self.coat_chosen.emit(self.coats.currentData()))
        self.product, self.ratio = text("", "grey", wrap=True), text("", "aim", wrap=True)
        self.warnings = text("", "strong", wrap=True)
        self.foot, self.when = CautionsAndWho(desk.look), WhenStepper()
        self.cautions, self.who = self.foot.cautions, self.foot.who
        self.mix, self.back = BigButton("Batch is mixed", main=True), BigButton("Back")
        self.mix.setProperty("huge", True)
        self._make_fields()
        self._lay_out()
        self.pad = NumberPad(self)
        self._opens = PadOpener(self.pad)
        self.mix.clicked.connect(self._mixed)
        self.back.clicked.connect(self.left)

    def _make_fields(self) -> None:
        self.by = ChoiceField("Ratio by", [("volume", "volume"), ("mass", "mass")], "volume")
        self.by.changed.connect(self._touched)
        self.temp = NumberLine(TINS_KIND)
        self.colour = LineField("Colour")
        self.strained = ChoiceField("Strained", list(YES_NO), "")
        self.strained.changed.connect(self._touched)
        for field in (self.temp, self.colour):
            field.changed.connect(self._touched)

    def _lay_out(self) -> None:
        card = QFrame()
        card.setObjectName("card")
        inner = QVBoxLayout(card)
        inner.setContentsMargins(18, 12, 18, 14)
        inner.setSpacing(8)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(8)
        foot = QHBoxLayout()
        foot.setSpacing(12)
        for field in (self.by, self.temp, self.strained, self.colour):
            foot.addWidget(field, 1)
        inner.addWidget(self.coats)
        inner.addWidget(self.product)
        top = QHBoxLayout()
        top.addWidget(self.ratio, 1)
        top.addWidget(self.when)
        inner.addLayout(top)
        inner.addLayout(self._grid)
        inner.addLayout(foot)
        inner.addWidget(self.warnings)
        page, paper = Tall(), QScrollArea()
        under = QVBoxLayout(page)
        under.setContentsMargins(0, 0, 0, 0)
        under.addWidget(card)
        under.addStretch(1)
        paper.setWidgetResizable(True)
        paper.setWidget(page)
        buttons = QHBoxLayout()
        buttons.setSpacing(14)
        buttons.addWidget(self.mix)
        buttons.addStretch(1)
        buttons.addWidget(self.back)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        column.addWidget(paper, 1)
        column.addWidget(self.foot)
        column.addLayout(buttons)

    # --- what is shown -------------------------------------------------------------------

    def set_short(self, short: bool) -> None:
        """Leave more of a low page to the fields."""
        restyle(self.mix, "huge", not short)
        self.foot.set_short(short)

    def show_job(self, job: Job, coat_id: str) -> None:
        """List the coats a batch can be mixed for."""
        self.coats.clear()
        for coat in job.next_coats():
            self.coats.addItem(capital(f"{coat.name}, {job.area(coat.area_id).name}"), coat.id)
        self.coats.setCurrentIndex(max(0, self.coats.findData(coat_id)))

    def show_form(self, form: BatchForm, cautions: Sequence[str], sources: str) -> None:
        """Show a batch as offered."""
        self._form = form
        self.product.setText(form.product_name)
        self._show_parts(form)
        self.temp.show_kind(TINS_KIND, self._desk.units)
        self.temp.show_text(self._shown_temp(form.mix_temp_c))
        self.colour.show_text(form.colour)
        _choose(self.by, form.ratio_by)
        _choose(self.strained, form.strained)
        self.cautions.show_cautions(list(cautions), sources)
        self.when.reset()
        self._numbers()
        self.show_checked(form)

    def _show_parts(self, form: BatchForm) -> None:
        """Show a row for each part, and the thinner last: once, as a share of the paint."""
        thin = next((part for part in form.parts if part.part == THINNER), PartMixed(THINNER))
        self.rows = tuple(
            PartRow(part, amount_kind(part.part, form.ratio_by), part.amount)
            for part in form.parts if part.part != THINNER
        )  # fmt: skip
        self.thin = _thinner_row(thin, form.thinner_pct)
        clear(self._grid)
        for k, row in enumerate((*self.rows, self.thin)):
            for column, field in enumerate(row.fields()):
                field.changed.connect(self._touched)
                self._grid.addWidget(field, k, column)

    def show_checked(self, form: BatchForm) -> None:
        """Show what looks wrong in what was typed, and the ratio asked."""
        self.ratio.setText(f"Mix {form.ratio_asked}" if form.ratio_asked else "")
        self.warnings.setText("\n".join(f"▲ {warning}" for warning in form.warnings))
        self.warnings.setVisible(bool(form.warnings))

    def form(self) -> BatchForm:
        """Return what is in the fields."""
        assert self._form is not None
        by, temp, tin = self.by.key, self._temp(), self.thin.tin()
        thinner = (tin,) if tin in self._form.parts or tin.batch or tin.expiry else ()
        return replace(
            self._form,
            parts=(*(row.mixed(by) for row in self.rows), *thinner),
            ratio_by=cast(Literal["volume", "mass"], by),
            colour=self.colour.value,
            thinner_pct=number_text(self.thin.amount.value),
            mix_temp_c=temp[0],
            mix_temp_entered=temp[1],
            strained=self.strained.key,
            warnings=(),
        )

    def numbers(self) -> tuple[NumberLine, ...]:
        """Return the fields for numbers."""
        return (*(row.amount for row in self.rows), self.thin.amount, self.temp)

    @property
    def waiting(self) -> bool:
        """Whether a change waits to be looked through."""
        return self._pause.isActive()

    # --- inner ---------------------------------------------------------------------------

    def _numbers(self) -> None:
        """Open the number pad where a number is wanted."""
        for field in self.numbers():
            self._opens.add(field.line, field)
        self.pad.hide()

    def _touched(self) -> None:
        for row in self.rows:
            row.amount.show_kind(amount_kind(row.part.part, self.by.key))
        self._pause.start()

    def _mixed(self) -> None:
        self._pause.stop()
        self.pad.put_away()
        wrong = next((field for field in self.numbers() if field.error), None)
        if wrong is None:
            self.mixed.emit(self.form(), self.when.minutes)
        else:
            wrong.line.setFocus()
            self._desk.messages.error(f"Not kept: mend {wrong.kind.name} first.")

    def _shown_temp(self, text_c: str) -> str:
        if not text_c or self._desk.units == "metric":
            return text_c
        return f"{u.to_display(float(text_c), u.TEMPERATURE, self._desk.units):.1f}"

    def _temp(self) -> tuple[str, str]:
        """Return the tins in °C, and what was entered where that was in another unit."""
        assert self._form is not None
        if self.temp.value == self._shown_temp(self._form.mix_temp_c):
            return self._form.mix_temp_c, ""  # untouched: keep its exact digits
        kept = self.temp.kept
        if kept is None:
            return number_text(self.temp.value), ""
        return str(kept["value"]), str(kept.get("entered", ""))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Escape puts the pad away, then leaves the page; what was typed stays."""
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self.pad.isVisible():
            self.pad.put_away()
        else:
            self.left.emit()


def _thinner_row(part: PartMixed, share: str) -> PartRow:
    return PartRow(part, THINNER_KIND, share)


def _choose(field: ChoiceField, key: str) -> None:
    field.box.setCurrentIndex(max(0, field.box.findData(key)))
