"""Fields for gloves: caption above, editor at least 44 px high, the error right under it."""

from __future__ import annotations

import functools
import math
from pathlib import Path
from zoneinfo import available_timezones

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QCompleter,
    QFileDialog,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from advisor.base.errors import InputError
from advisor.base.units import Quantity, Units, from_display, label, to_display
from advisor.ui.theme import TARGET
from advisor.ui.widgets.parts import text
from advisor.work.workbench import Workbench


@functools.cache
def zone_names() -> tuple[str, ...]:
    """Names of all time zones, sorted."""
    return tuple(sorted(available_timezones()))


def positive(words: str) -> float | None:
    """Read a number above 0, with a point or a comma; None where it is none."""
    try:
        value = float(words.strip().replace(",", "."))
    except ValueError:
        return None
    return value if 0 < value < math.inf else None


class Field(QWidget):
    """A caption, an editor and room for an error. `changed` when the person changed it."""

    changed = Signal()

    def __init__(self, caption: str, editor: QWidget) -> None:
        super().__init__()
        self.editor = editor
        self.touched = False
        self._caption = text(caption, "small")
        self._caption.setBuddy(editor)
        editor.setAccessibleName(caption)
        self._error = text("", "bad", wrap=True)
        self._error.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        for part in (self._caption, editor, self._error):
            column.addWidget(part)
        column.addStretch(1)

    @property
    def error(self) -> str:
        """Return the error on show, "" when none is."""
        return "" if self._error.isHidden() else self._error.text()

    def judge(self, problem: str, *, always: bool) -> bool:
        """Show a problem if the field was touched or `always`; return whether there is none."""
        shown = problem if always or self.touched else ""
        self._error.setText(shown)
        self._error.setVisible(bool(shown))
        self.editor.setAccessibleDescription(shown)
        return not problem

    def show_caption(self, caption: str) -> None:
        """Change the caption, such as its unit."""
        self._caption.setText(caption)
        self.editor.setAccessibleName(caption)

    def _touch(self) -> None:
        self.touched = True
        self.changed.emit()


class Choice(QComboBox):
    """A box whose open list shows long names whole; scrolling the page never changes it."""

    def __init__(self) -> None:
        super().__init__()
        # A long product name must not widen the whole page.
        self.setSizeAdjustPolicy(self.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(8)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the arrow in the ink of the look in force."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setPen(self.palette().color(QPalette.ColorRole.Text))
        side = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(self.rect().adjusted(0, 0, -10, 0), side, "▾")
        painter.end()

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Leave the wheel to the page."""
        event.ignore()


class LineField(Field):
    """One line of text."""

    def __init__(self, caption: str, value: str = "", hint: str = "") -> None:
        self.line = QLineEdit(value)
        self.line.setPlaceholderText(hint)
        self.line.setCursorPosition(0)
        super().__init__(caption, self.line)
        self.line.textEdited.connect(self._touch)

    @property
    def value(self) -> str:
        """Return the text without blanks around it."""
        return self.line.text().strip()

    def show_text(self, value: str) -> None:
        """Put a text in, showing its beginning; not counted as the person's own change."""
        self.line.setText(value)
        self.line.setCursorPosition(0)


class NumberField(LineField):
    """A number above 0 in the reader's units. An untouched number keeps its exact house value."""

    def __init__(
        self, caption: str, quantity: Quantity, units: Units, value: float | None = None
    ) -> None:
        self._name, self._quantity = caption, quantity
        super().__init__(caption)
        self.show_number(value, units)

    def show_number(self, value: float | None, units: Units) -> None:
        """Put a house value in, in the reader's units; not counted as the person's own change."""
        self._units, self._given = units, value
        self._shown = "" if value is None else f"{to_display(value, self._quantity, units):.5g}"
        self.show_caption(f"{self._name}, {label(self._quantity, units)}")
        self.show_text(self._shown)

    @property
    def number(self) -> float | None:
        """Return the value in house units, None where there is no number above 0."""
        if self._given is not None and self.value == self._shown:
            return self._given
        shown = positive(self.value)
        return None if shown is None else from_display(shown, self._quantity, self._units)


class SignedField(LineField):
    """A number of any sign in the reader's units, or nothing."""

    def __init__(
        self, caption: str, quantity: Quantity, units: Units, low: float, high: float
    ) -> None:
        self._quantity, self._units, self._low, self._high = quantity, units, low, high
        super().__init__(f"{caption}, {label(quantity, units)}")

    @property
    def number(self) -> float | None:
        """Return the value in house units, None where there is none inside the limits."""
        typed = self.value.replace(",", ".").replace("−", "-")
        try:
            found = from_display(float(typed), self._quantity, self._units)
        except ValueError:
            return None
        return found if self._low - 1e-9 <= found <= self._high + 1e-9 else None

    @property
    def accepted(self) -> str:
        """Return what is accepted, in the reader's units."""
        low, high = (to_display(x, self._quantity, self._units) for x in (self._low, self._high))
        return f"{low:.4g} to {high:.4g}"


class ChoiceField(Field):
    """One of several; each has a key and its words."""

    def __init__(self, caption: str, options: list[tuple[str, str]], key: str = "") -> None:
        self.box = Choice()
        super().__init__(caption, self.box)
        self.set_options(options, key)
        self.box.activated.connect(self._touch)

    @property
    def key(self) -> str:
        """Return the key of the choice, "" when none is made."""
        found = self.box.currentData()
        return "" if found is None else str(found)

    def set_options(self, options: list[tuple[str, str]], key: str = "") -> None:
        """Put in new options and choose `key`; no choice when it is not among them."""
        self.box.clear()
        for name, words in options:
            self.box.addItem(words, name)
            self.box.setItemData(self.box.count() - 1, words, Qt.ItemDataRole.ToolTipRole)
        self.box.setCurrentIndex(self.box.findData(key) if key else -1)

    def choose(self, key: str) -> None:
        """Choose as the person would."""
        self.box.setCurrentIndex(self.box.findData(key))
        self._touch()


class SwitchField(Field):
    """Yes or no."""

    def __init__(self, caption: str, words: str, on: bool = False) -> None:
        self.switch = QCheckBox(words)
        self.switch.setMinimumHeight(TARGET)
        super().__init__(caption, self.switch)
        self.switch.setAccessibleName(f"{caption}: {words}")
        self.switch.setChecked(on)
        self.switch.clicked.connect(self._touch)

    @property
    def on(self) -> bool:
        """Return whether it is switched on."""
        return self.switch.isChecked()


def zone_field(caption: str, value: str, hint: str = "") -> LineField:
    """Make a line that offers time zones by any part of their name."""
    field = LineField(caption, value, hint)
    offers = QCompleter(list(zone_names()), field)
    offers.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    offers.setFilterMode(Qt.MatchFlag.MatchContains)
    offers.activated.connect(field.changed)
    field.line.setCompleter(offers)
    return field


def button(words: str, spoken: str = "") -> QPushButton:
    """Make a plain button that Enter in a field never presses."""
    made = QPushButton(words)
    made.setAutoDefault(False)
    made.setAccessibleName(spoken or words.replace("&", ""))
    return made


def ask_open(parent: QWidget, bench: Workbench, title: str, kinds: str) -> Path | None:
    """Let the person choose a file to read; None when they change their mind."""
    name, _ = QFileDialog.getOpenFileName(parent, title, _folder(bench), kinds)
    return _remembered(bench, name)


def ask_save(parent: QWidget, bench: Workbench, title: str, name: str, kinds: str) -> Path | None:
    """Let the person choose a file to write; None when they change their mind."""
    start = str(Path(_folder(bench), name))
    chosen, _ = QFileDialog.getSaveFileName(parent, title, start, kinds)
    return _remembered(bench, chosen)


def write_text(path: Path, words: str) -> None:
    """Write a file; InputError when it cannot be written."""
    try:
        path.write_text(words, encoding="utf-8")
    except OSError as error:
        reason = error.strerror or "it cannot be written"
        raise InputError(f"{path.name}: {reason}; accepted: a file that can be written") from error


def _folder(bench: Workbench) -> str:
    return bench.settings.text("last_folder")


def _remembered(bench: Workbench, name: str) -> Path | None:
    if not name:
        return None
    bench.settings.set("last_folder", str(Path(name).parent))
    return Path(name)
