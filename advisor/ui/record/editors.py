"""One editor for every type of field a kind of entry declares; for gloves, checked as typed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Signal
from PySide6.QtWidgets import QButtonGroup, QLineEdit, QPushButton, QVBoxLayout, QWidget

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.planning.words import Words
from advisor.record.as_entered import as_entered, as_shown, shown_unit
from advisor.record.canonical import Json
from advisor.record.kinds import Field as Declared
from advisor.ui.dialogs.fields import Field
from advisor.ui.widgets.flow import Flow


class Editor(Field):
    """A field of an entry. `pad_wanted` with the line a number pad should write into."""

    pad_wanted = Signal(object)

    def __init__(self, declared: Declared, caption: str, editor: QWidget) -> None:
        super().__init__(f"{caption} *" if declared.required else caption, editor)
        self.declared = declared

    def json(self) -> Json:
        """Return what is filled in, "" where nothing is; RangeError where it cannot be kept."""
        raise NotImplementedError

    def show_json(self, value: Json) -> None:
        """Show what is kept."""
        raise NotImplementedError

    def problem(self) -> str:
        """Return what is wrong with what is filled in, "" where nothing is."""
        try:
            empty = self.json() in ("", [], ())
        except RangeError as error:
            return f"found {error.found}; accepted: {error.accepted}"
        return "fill this in" if empty and self.declared.required else ""


class TextEditor(Editor):
    """A line of words."""

    def __init__(self, declared: Declared) -> None:
        self.line = QLineEdit()
        super().__init__(declared, declared.label, self.line)
        self.line.textEdited.connect(self._touch)

    def json(self) -> Json:
        """Return the words."""
        return " ".join(self.line.text().split())

    def show_json(self, value: Json) -> None:
        """Show words."""
        self.line.setText(str(value or ""))
        self.line.setCursorPosition(0)


class ChoiceEditor(Editor):
    """A button for each choice, and a line for other words where they may be used."""

    def __init__(self, declared: Declared) -> None:
        holder = QWidget()
        self.buttons: dict[str, QPushButton] = {}
        self.other = QLineEdit()
        self.other.setPlaceholderText("other words")
        self.other.setAccessibleName(f"{declared.label}: other words")
        self._group = QButtonGroup(holder)
        self._group.setExclusive(False)
        flow = Flow(holder)
        for choice in declared.choices or ("yes", "no"):
            flow.addWidget(self._button(choice, declared.label))
        if declared.free and declared.choices:
            self.other.setMinimumWidth(150)
            flow.addWidget(self.other)
        else:
            self.other.setParent(holder)
            self.other.hide()
        super().__init__(declared, declared.label, holder)
        self.other.textEdited.connect(self._own_words)

    def _button(self, choice: str, caption: str) -> QPushButton:
        button = self.buttons[choice] = QPushButton(choice)
        button.setCheckable(True)
        button.setAutoDefault(False)
        button.setProperty("choice", True)
        button.setAccessibleName(f"{caption}: {choice}")
        button.clicked.connect(lambda on: self._choose(choice if on else ""))
        self._group.addButton(button)
        return button

    def _choose(self, choice: str) -> None:
        self._mark(choice)
        self.other.clear()
        self._touch()

    def _own_words(self) -> None:
        self._mark("")
        self._touch()

    def _mark(self, choice: str) -> None:
        for key, button in self.buttons.items():
            button.setChecked(key == choice)

    def json(self) -> Json:
        """Return the choice, or the other words."""
        chosen = next((key for key, button in self.buttons.items() if button.isChecked()), "")
        return chosen or " ".join(self.other.text().split())

    def show_json(self, value: Json) -> None:
        """Show a choice, or other words."""
        words = str(value or "")
        self._mark(words)
        self.other.setText("" if words in self.buttons else words)


class NumberLine(QLineEdit):
    """A line for a number; `reached` when it is tapped or comes into hand."""

    reached = Signal(object)

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Ask for the pad on a tap."""
        if event.type() == QEvent.Type.MouseButtonRelease:
            self.reached.emit(self)
        return super().eventFilter(watched, event)


class QuantityEditor(Editor):
    """A number with its unit; its digits are kept as typed."""

    def __init__(self, declared: Declared, units: u.Units) -> None:
        self._units = units
        self.line = NumberLine(declared.label)
        unit = shown_unit(declared.unit, units)
        super().__init__(declared, f"{declared.label}, {unit}", self.line)
        self.line.textEdited.connect(self._touch)
        self.line.reached.connect(self.pad_wanted)

    def json(self) -> Json:
        """Return the number with unit and source."""
        typed = self.line.text().strip()
        if not typed:
            return ""
        return as_entered(typed, self.declared.label, self.declared.unit, self._units)

    def show_json(self, value: Json) -> None:
        """Show a kept number in the reader's units."""
        self.line.setText(as_shown(value, self.declared.unit, self._units))


class QuantitiesEditor(Editor):
    """Several numbers: type one, press Add; tap one to take it out again."""

    def __init__(self, declared: Declared, units: u.Units) -> None:
        self._units = units
        self._typed: list[str] = []
        holder = QWidget()
        self.line = NumberLine(declared.label)
        self.add = QPushButton("Add this one")
        self.add.setAutoDefault(False)
        self._flow = Flow()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        top = Flow()
        self.line.setMinimumWidth(110)
        top.addWidget(self.line)
        top.addWidget(self.add)
        column.addLayout(top)
        column.addLayout(self._flow)
        unit = shown_unit(declared.unit, units)
        super().__init__(declared, f"{declared.label}, {unit}", holder)
        self.line.textEdited.connect(self._touch)
        self.line.reached.connect(self.pad_wanted)
        self.line.editingFinished.connect(self._add)  # Enter, or Done on the number pad
        self.add.clicked.connect(self._add)

    def _add(self) -> None:
        parts = self.line.text().replace(";", " ").split()
        try:
            for part in parts:
                as_entered(part, self.declared.label, self.declared.unit, self._units)
        except RangeError:
            self._touch()
            return
        self._typed += parts
        self.line.clear()
        self._show()
        self._touch()

    def _show(self) -> None:
        while (item := self._flow.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        for at, typed in enumerate(self._typed):
            button = QPushButton(f"{typed}  ×")
            button.setAutoDefault(False)
            button.setAccessibleName(f"take {typed} out")
            button.clicked.connect(lambda _=False, k=at: self._take_out(k))
            self._flow.addWidget(button)
        self.updateGeometry()

    def _take_out(self, at: int) -> None:
        del self._typed[at]
        self._show()
        self._touch()

    def json(self) -> Json:
        """Return every number, the one still in the line too: nothing typed is lost."""
        parts = [*self._typed, *self.line.text().replace(";", " ").split()]
        label, unit = self.declared.label, self.declared.unit
        return [as_entered(part, label, unit, self._units) for part in parts]

    def show_json(self, value: Json) -> None:
        """Show kept numbers."""
        many = value if isinstance(value, Sequence) and not isinstance(value, str) else ()
        self._typed = [as_shown(one, self.declared.unit, self._units) for one in many]
        self._show()


def editor_for(declared: Declared, words: Words, now: Callable[[], float]) -> Editor:
    """Return the editor of a field."""
    from advisor.ui.record.moment_editor import MomentEditor
    from advisor.ui.record.rows_editor import RowsEditor

    if declared.type == "quantity":
        return QuantityEditor(declared, words.units)
    if declared.type == "quantities":
        return QuantitiesEditor(declared, words.units)
    if declared.type == "moment":
        return MomentEditor(declared, words, now)
    if declared.type == "rows":
        return RowsEditor(declared)
    return TextEditor(declared) if declared.type == "text" else ChoiceEditor(declared)
