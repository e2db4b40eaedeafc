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
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import Choice, ChoiceField, LineField
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.pad_opener import PadOpener
from advisor.ui.widgets.parts import BigButton, Tall, capital, clear, text
from advisor.ui.widgets.taps import WhenStepper
from advisor.work.live_views import BatchForm, PartMixed

#: Pause after the last change before the form is looked through, ms.
PAUSE_MS = 250
YES_NO = (("", "not said"), ("yes", "yes"), ("no", "no"))
UNITS = (("volume", "L"), ("mass", "kg"))


class PartRow:
    """The fields of one component."""

    def __init__(self, part: PartMixed) -> None:
        self.part = part
        self.amount = LineField(f"{capital(part.part)}, {part.unit}", part.amount)
        self.batch = LineField("Lot number on the tin", part.batch)
        self.expiry = LineField("Use by", part.expiry, "2027-03 or 2027-03-31")

    def fields(self) -> tuple[LineField, LineField, LineField]:
        """Return them from left to right."""
        return self.amount, self.batch, self.expiry

    def mixed(self, unit: str) -> PartMixed:
        """Return what was typed."""
        return replace(self.part, amount=number_text(self.amount.value), batch=self.batch.value,
                       expiry=self.expiry.value, unit=unit)  # fmt: skip

    def show_unit(self, unit: str) -> None:
        """Write the unit into the caption."""
        self.amount.show_caption(f"{capital(self.part.part)}, {unit}")


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
        self.cautions, self.when = CautionBar(), WhenStepper()
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
        self.thinner = LineField("Thinner, %")
        self.temp = LineField("Tins")
        self.colour = LineField("Colour")
        self.strained = ChoiceField("Strained", list(YES_NO), "")
        self.strained.changed.connect(self._touched)
        for field in (self.thinner, self.temp, self.colour):
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
        for field in (self.by, self.thinner, self.temp, self.strained, self.colour):
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
        column.addWidget(self.cautions)
        column.addLayout(buttons)

    # --- what is shown -------------------------------------------------------------------

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
        self.rows = tuple(PartRow(part) for part in form.parts)
        clear(self._grid)
        for k, row in enumerate(self.rows):
            for column, field in enumerate(row.fields()):
                field.changed.connect(self._touched)
                self._grid.addWidget(field, k, column)
        self.thinner.show_text(form.thinner_pct)
        self.temp.show_text(self._shown_temp(form.mix_temp_c))
        self.temp.show_caption(self._temp_name())
        self.colour.show_text(form.colour)
        _choose(self.by, form.ratio_by)
        _choose(self.strained, form.strained)
        self.cautions.show_cautions(list(cautions), sources)
        self.when.reset()
        self._numbers()
        self.show_checked(form)

    def show_checked(self, form: BatchForm) -> None:
        """Show what looks wrong in what was typed, and the ratio asked."""
        self.ratio.setText(f"Mix {form.ratio_asked}" if form.ratio_asked else "")
        self.warnings.setText("\n".join(f"▲ {warning}" for warning in form.warnings))
        self.warnings.setVisible(bool(form.warnings))

    def form(self) -> BatchForm:
        """Return what is in the fields."""
        assert self._form is not None
        by = cast(Literal["volume", "mass"], self.by.key)
        unit = dict(UNITS)[by]
        return replace(
            self._form,
            parts=tuple(row.mixed(unit) for row in self.rows),
            ratio_by=by,
            colour=self.colour.value,
            thinner_pct=number_text(self.thinner.value),
            mix_temp_c=self._kept_temp(),
            strained=self.strained.key,
            warnings=(),
        )

    @property
    def waiting(self) -> bool:
        """Whether a change waits to be looked through."""
        return self._pause.isActive()

    # --- inner ---------------------------------------------------------------------------

    def _numbers(self) -> None:
        """Open the number pad where a number is wanted."""
        numbers = [row.amount for row in self.rows] + [self.thinner, self.temp]
        for field in numbers:
            self._opens.add(field.line, field)
        self.pad.hide()

    def _touched(self) -> None:
        for row in self.rows:
            row.show_unit(dict(UNITS)[self.by.key])
        self._pause.start()

    def _mixed(self) -> None:
        self._pause.stop()
        self.pad.put_away()
        self.mixed.emit(self.form(), self.when.minutes)

    def _temp_name(self) -> str:
        return f"Tins, {u.label(u.TEMPERATURE, self._desk.units)}"

    def _shown_temp(self, text_c: str) -> str:
        if not text_c or self._desk.units == "metric":
            return text_c
        return f"{u.to_display(float(text_c), u.TEMPERATURE, self._desk.units):.1f}"

    def _kept_temp(self) -> str:
        typed = number_text(self.temp.value)
        assert self._form is not None
        if typed == self._shown_temp(self._form.mix_temp_c):
            return self._form.mix_temp_c  # untouched: keep its exact digits
        if self._desk.units == "metric":
            return typed
        try:
            return f"{u.from_display(float(typed), u.TEMPERATURE, self._desk.units):.1f}"
        except ValueError:
            return typed

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Escape puts the pad away, then leaves the page; what was typed stays."""
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self.pad.isVisible():
            self.pad.put_away()
        else:
            self.left.emit()


def number_text(typed: str) -> str:
    """Return a number as it is kept: a point for a comma, nothing else touched."""
    return typed.strip().replace(",", ".").replace("−", "-")


def _choose(field: ChoiceField, key: str) -> None:
    field.box.setCurrentIndex(max(0, field.box.findData(key)))
