"""The temperature of the tins: one row, empty unless it was measured."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.record.entry import number_of
from advisor.ui.widgets.parts import restyle, text
from advisor.ui.widgets.reading_box import BoxKind, parse_reading, told_beside

KIND = BoxKind(
    "Tins", u.TEMPERATURE, -40.0, 60.0, 0.1,
    "Temperature of base and hardener. Empty: the warmer of shop air and {0}.",
)  # fmt: skip


class TinsBox(QFrame):
    """`changed` on every edit. `kept` is what the setting holds: °C as text, empty if not given."""

    changed = Signal()
    pad_wanted = Signal(object)
    pad_unwanted = Signal()

    def __init__(self, kept: str, units: u.Units) -> None:
        super().__init__()
        self.setObjectName("box")
        self._value = float(kept) if kept else None
        self._units = units
        self._writing = False
        self.name = text(KIND.name, "strong")
        self.field = QLineEdit()
        self.field.setObjectName("tins")
        self.field.setAccessibleName("Temperature of the tins")
        self.field.setMinimumWidth(60)
        self.field.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.field.textChanged.connect(self._typed)
        self.field.editingFinished.connect(self._settle)
        self.field.installEventFilter(self)
        self._unit = text("", "unit")
        self.empty = QPushButton("×")
        self.empty.setProperty("step", True)
        self.empty.setAccessibleName("Clear the temperature of the tins")
        self.empty.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.empty.clicked.connect(self.field.clear)
        self.problem = text("", "bad", wrap=True)
        self.problem.hide()
        self._lay_out()
        self.set_units(units)

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.setSpacing(6)
        for widget, stretch in ((self.name, 0), (self.field, 1), (self._unit, 0), (self.empty, 0)):
            row.addWidget(widget, stretch)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 2, 10, 2)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self.problem)

    @property
    def wrong(self) -> bool:
        """Whether the box holds a text that is no temperature."""
        return not self.problem.isHidden()

    def kept(self) -> str:
        """Return the temperature in °C as the setting holds it, empty when none is given."""
        return "" if self._value is None else f"{self._value:.9g}"

    def set_units(self, units: u.Units) -> None:
        """Show the same temperature in other units."""
        warm = u.format_temperature(20.0, units)
        self.field.setToolTip(KIND.hint.format(warm))
        self.empty.setToolTip(f"Clear: reckon with the warmer of shop air and {warm}")
        self._units = units
        self._unit.setText(u.label(u.TEMPERATURE, units))
        plain = round(u.to_display(20.0, u.TEMPERATURE, units))
        self.field.setPlaceholderText(f"{plain} {u.label(u.TEMPERATURE, units)} or shop air")
        if not self.wrong:
            self._write()

    def _write(self) -> None:
        self._writing = True
        shown = None if self._value is None else (
            u.to_display(self._value, u.TEMPERATURE, self._units)
        )  # fmt: skip
        decimals = u.TEMPERATURE.scale(self._units).decimals
        self.field.setText("" if shown is None else f"{shown:.{decimals}f}")
        self._writing = False
        self._show_parts()

    def _show_parts(self) -> None:
        given = bool(self.field.text())
        self._unit.setVisible(given)
        self.empty.setVisible(given)

    def _typed(self, words: str) -> None:
        if self._writing:
            return
        self._value, trouble = None, ""
        if words.strip():
            try:
                self._value = number_of(parse_reading(words, KIND, self._units))
            except RangeError as error:
                trouble = told_beside(error)
        self.problem.setText(trouble)
        self.problem.setVisible(bool(trouble))
        restyle(self, "bad", bool(trouble))
        self._show_parts()
        self.changed.emit()

    def _settle(self) -> None:
        if self._value is not None:
            self._write()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Open the pad on a tap; Enter and Escape put it away and keep the text."""
        if watched is self.field and isinstance(event, QMouseEvent):
            if event.type() == QEvent.Type.MouseButtonRelease:
                self.pad_wanted.emit(self)
        elif isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._key(event.key())
        return super().eventFilter(watched, event)

    def _key(self, key: int) -> bool:
        if key not in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            return False
        self._settle()
        self.pad_unwanted.emit()
        return True
