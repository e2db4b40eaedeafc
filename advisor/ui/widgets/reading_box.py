"""One reading at the work: the number large, its age and source beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
)

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.planning.words import duration
from advisor.record.as_entered import as_entered, digits_of
from advisor.record.canonical import Json
from advisor.record.entry import number_of
from advisor.ui.theme import Look
from advisor.ui.widgets.age_ring import AgeRing
from advisor.ui.widgets.parts import restyle, text

#: Least width of the number in px, and what a number such as -12.5 takes, px at 100 %.
_LEAST, _FIGURES = 60, 108


@dataclass(frozen=True)
class BoxKind:
    """What a box holds. `low`, `high` and `step` in house units; step is in display units."""

    name: str
    quantity: u.Quantity
    low: float
    high: float
    step: float
    hint: str = ""


def shown_limits(kind: BoxKind, units: u.Units) -> tuple[float, float]:
    """Return the least and greatest value in display units."""
    low, high = (u.to_display(x, kind.quantity, units) for x in (kind.low, kind.high))
    return low, high


def parse_reading(words: str, kind: BoxKind, units: u.Units) -> dict[str, Json]:
    """Return a number typed in display units as it is kept; RangeError says what would do."""
    scale = kind.quantity.scale(units)
    low, high = shown_limits(kind, units)
    accepted = f"{low:g} to {high:g} {scale.label}"
    digits = digits_of(words, kind.name, accepted)
    if not low <= float(digits) <= high:
        raise RangeError(kind.name, digits, accepted)
    return as_entered(digits, kind.name, kind.quantity.metric.label, units)


def told_beside(error: RangeError) -> str:
    """Return what is wrong, to stand under the name of the box."""
    return f"found {error.found}; accepted: {error.accepted}"


class ReadingBox(QFrame):
    """`changed` on every edit; `value` is None while nothing usable is in the box.

    Enter confirms the number as read just now.
    """

    changed = Signal()
    pad_wanted = Signal(object)
    pad_unwanted = Signal()

    def __init__(self, look: Look, kind: BoxKind, clock: Callable[[], float]) -> None:
        super().__init__()
        self.setObjectName("box")
        self._look, self._kind, self._clock = look, kind, clock
        self._units: u.Units = "metric"
        self._value: float | None = None
        self._entered: dict[str, Json] | None = None
        self._taken_s: float | None = None
        self._source = ""
        self._writing = False
        self._trouble, self._refused = "", ""
        self.edited = False
        self._build()

    def _build(self) -> None:
        self.name = text(self._kind.name, "strong")
        self._ring = AgeRing(self._look)
        self.age = text("not read yet", "small")
        self.field = QLineEdit()
        self.field.setObjectName("value")
        self.field.setAccessibleName(self._kind.name)
        self.field.setToolTip(self._kind.hint)
        self.field.setMinimumWidth(_LEAST)
        self.field.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.field.textChanged.connect(self._typed)
        self.field.installEventFilter(self)
        self._unit = text(self._kind.quantity.metric.label, "unit")
        self.problem = text("", "bad", wrap=True)
        self.problem.hide()
        self._lay_out(self._stepper("−", -1), self._stepper("+", 1))

    def _lay_out(self, less: QPushButton, more: QPushButton) -> None:
        beside, row = QHBoxLayout(), QHBoxLayout()
        for line in (beside, row):
            line.setSpacing(6)
        beside.addWidget(self.age)
        beside.addWidget(self._ring)
        self._top = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._top.setSpacing(6)
        self._top.addWidget(self.name, 1)
        self._top.addLayout(beside)
        for widget, stretch in ((self.field, 1), (self._unit, 0), (less, 0), (more, 0)):
            row.addWidget(widget, stretch)
        self._body = QBoxLayout(QBoxLayout.Direction.TopToBottom)
        self._body.setSpacing(4)
        self._body.addLayout(self._top)
        self._body.addLayout(row, 1)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(12, 8, 10, 8)
        self._column.setSpacing(4)
        self._column.addLayout(self._body)
        self._column.addWidget(self.problem)

    def set_low(self, low: bool) -> None:
        """Put name and age beside the number rather than above it, where height is short."""
        way = QBoxLayout.Direction
        self._body.setDirection(way.LeftToRight if low else way.TopToBottom)
        self._top.setDirection(way.TopToBottom if low else way.LeftToRight)
        self._top.setSpacing(0 if low else 6)
        edge = 4 if low else 8
        self._column.setContentsMargins(12, edge, 10, edge)
        self.field.setMinimumWidth(self._look.px(_FIGURES) if low else _LEAST)

    def _stepper(self, sign: str, direction: int) -> QPushButton:
        button = QPushButton(sign)
        button.setProperty("step", True)
        button.setAutoRepeat(True)
        button.setAutoRepeatDelay(400)
        button.setAutoRepeatInterval(70)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.setAccessibleName(f"{self._kind.name} {'up' if direction > 0 else 'down'}")
        button.clicked.connect(lambda: self.step(direction))
        return button

    @property
    def value(self) -> float | None:
        """Return the reading in house units."""
        return self._value

    @property
    def entered(self) -> dict[str, Json] | None:
        """Return the reading as it was typed, with its unit; None where nobody typed it."""
        return self._entered

    @property
    def taken_s(self) -> float | None:
        """Return when it was read, UTC seconds."""
        return self._taken_s

    @property
    def stale(self) -> bool:
        """Whether the ring shows it as too old."""
        return self._ring.stale

    @property
    def wrong(self) -> bool:
        """Whether the box holds a text that is no reading."""
        return not self.problem.isHidden()

    def set_reading(self, value: float | None, taken_s: float | None, source: str) -> None:
        """Show a reading from elsewhere, unless the user is in the middle of typing one."""
        if self._trouble or self.edited:
            return
        self._value, self._taken_s, self._source = value, taken_s, source
        self._entered = None
        self._write()

    def set_units(self, units: u.Units) -> None:
        """Show the same reading in other units."""
        self._units = units
        self._unit.setText(u.label(self._kind.quantity, units))
        if not self._trouble:
            self._write()

    def show_age(self, now_s: float, stale_after_s: float) -> None:
        """Show how old the reading is."""
        if self._value is None or self._taken_s is None:
            self._ring.set_share(None)
            self.age.setText("not read yet")
            return
        old_s = max(0.0, now_s - self._taken_s)
        self._ring.set_share(max(0.0, 1 - old_s / stale_after_s))
        ago = "just now" if old_s < 60 else f"{duration(old_s / 3600)} ago"
        self.age.setText(f"too old: {ago}" if self.stale else f"{self._source} {ago}")
        self.setToolTip(f"{self._source} {ago}. Enter confirms it as read just now.")

    def step(self, direction: int, size: float = 1.0) -> None:
        """Move by one step of the display, or start from a plain number."""
        kind = self._kind
        shown = (
            50.0 if kind.quantity is u.HUMIDITY else u.to_display(15.0, kind.quantity, self._units)
        )
        if self._value is not None:
            shown = u.to_display(self._value, kind.quantity, self._units)
            shown += direction * kind.step * size
        low, high = shown_limits(kind, self._units)
        # The field is the one source: what it shows is what is judged.
        self.field.setText(self._format(min(max(shown, low), high)))

    def confirm(self) -> None:
        """Take the number in the box as read just now."""
        self.edited = True
        self._typed(self.field.text())

    def stored(self) -> None:
        """Note that what is in the box has been kept."""
        self.edited = False

    def _format(self, shown: float) -> str:
        return f"{shown:.{self._kind.quantity.scale(self._units).decimals}f}"

    def _write(self) -> None:
        """Put the value into the field without taking it for typing."""
        self._writing = True
        shown = u.to_display(self._value, self._kind.quantity, self._units) if (
            self._value is not None
        ) else None  # fmt: skip
        self.field.setText("" if shown is None else self._format(shown))
        self._writing = False

    def _typed(self, words: str) -> None:
        if self._writing:
            return
        self.edited = True
        self._entered, self._taken_s, self._source = None, self._clock(), "typed"
        self._trouble = ""
        if words.strip():
            try:
                self._entered = parse_reading(words, self._kind, self._units)
            except RangeError as error:
                self._trouble = told_beside(error)
        self._value = number_of(self._entered)
        self._tell()
        self.changed.emit()

    def refuse(self, why: str) -> None:
        """Say why a number in range cannot stand beside the others; "" takes it back."""
        if why != self._refused:
            self._refused = why
            self._tell()

    def _tell(self) -> None:
        trouble = self._trouble or self._refused
        self.problem.setText(trouble)
        self.problem.setVisible(bool(trouble))
        restyle(self, "bad", bool(trouble))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Open the pad on a tap, step on arrow keys, confirm on Enter."""
        if watched is self.field and isinstance(event, QMouseEvent):
            if event.type() == QEvent.Type.MouseButtonRelease:
                self.pad_wanted.emit(self)
        elif isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._key(event.key())
        return super().eventFilter(watched, event)

    def _key(self, key: int) -> bool:
        steps = {
            Qt.Key.Key_Up: (1, 1.0),
            Qt.Key.Key_Down: (-1, 1.0),
            Qt.Key.Key_PageUp: (1, 10.0),
            Qt.Key.Key_PageDown: (-1, 10.0),
        }
        if key in steps:
            self.step(*steps[Qt.Key(key)])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.confirm()
            self.pad_unwanted.emit()
        else:
            return False
        return True
