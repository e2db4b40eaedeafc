"""The makers' ± of the shop's instruments, and what is counted with."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from advisor.base import units as u
from advisor.ui.dialogs.fields import SignedField
from advisor.ui.widgets.parts import text
from advisor.work.instruments import USUAL, Instruments

TOLD = (
    "What the maker states. Left empty: common practice for a fair hygrometer and contact "
    "probe. An infra-red reading of gloss or bare metal without tape counts for far less."
)
#: Caption, quantity and largest figure of each field, in house units.
FIELDS = (
    ("Air ±", u.TEMPERATURE_DIFFERENCE, 20.0),
    ("Humidity ±", u.HUMIDITY, 50.0),
    ("Surface ±", u.TEMPERATURE_DIFFERENCE, 20.0),
)


class Accuracy(SignedField):
    """One ± figure or nothing. An untouched figure keeps its exact house value."""

    def __init__(self, caption: str, quantity: u.Quantity, most: float) -> None:
        self._name = caption
        self._given: float | None = None
        self._written = ""
        super().__init__(caption, quantity, "metric", 0.0, most)

    @property
    def figure(self) -> float | None:
        """Return the figure in house units; None where nothing is typed."""
        return self._given if self.value == self._written else self.number

    @property
    def problem(self) -> str:
        """Say what is accepted where what is typed cannot be."""
        wrong = self.value != self._written and self.value and self.number is None
        return f"{self.accepted}, or empty" if wrong else ""

    def show_figure(self, figure: float | None, units: u.Units) -> None:
        """Write a figure in the reader's units; not counted as the person's own change."""
        self._units, self._given = units, figure
        self._written = "" if figure is None else self._write(figure)
        self.show_caption(f"{self._name}, {u.label(self._quantity, units)}")
        self.show_text(self._written)

    def _write(self, figure: float) -> str:
        return f"{u.to_display(figure, self._quantity, self._units):.4g}"


class InstrumentFields(QFrame):
    """`changed` when a figure was changed by hand."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("inset")
        self.air, self.rh, self.surface = self.fields = tuple(Accuracy(*f) for f in FIELDS)
        self.counted = text("", "small", wrap=True)
        row = QHBoxLayout()
        row.setSpacing(10)
        for field in self.fields:
            field.changed.connect(self.changed)
            row.addWidget(field, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("Instruments", "strong", wrap=True))
        column.addLayout(row)
        column.addWidget(self.counted)
        column.addWidget(text(TOLD, "small", wrap=True))

    def show_instruments(self, kept: Instruments, units: u.Units) -> None:
        """Fill the fields with what is kept."""
        for field, figure in zip(
            self.fields, (kept.air_k, kept.rh_pct, kept.surface_k), strict=True
        ):
            field.show_figure(figure, units)
        self.show_counted(kept, units)

    def show_counted(self, kept: Instruments, units: u.Units) -> None:
        """Say what is counted with, stated or of common practice."""
        air, rh, surface = (
            u.format_value(usual if stated is None else stated, quantity, units, with_label=False)
            for stated, usual, quantity in (
                (kept.air_k, USUAL.air_k, u.TEMPERATURE_DIFFERENCE),
                (kept.rh_pct, USUAL.rh_pct, u.HUMIDITY),
                (kept.surface_k, USUAL.surface_k, u.TEMPERATURE_DIFFERENCE),
            )
        )
        unit = u.label(u.TEMPERATURE_DIFFERENCE, units)
        self.counted.setText(
            f"Counted with: air ± {air} {unit}, humidity ± {rh} points, surface ± {surface} {unit}"
        )

    def instruments(self) -> Instruments:
        """Return the figures as entered."""
        return Instruments(*(field.figure for field in self.fields))
