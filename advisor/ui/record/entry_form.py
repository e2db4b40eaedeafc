"""The fields of one kind of entry on one page: required ones first, numbers, words, choices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QVBoxLayout

from advisor.planning.words import Words
from advisor.record.canonical import Json
from advisor.record.kinds import Field, Kind
from advisor.ui.record.editors import Editor, editor_for
from advisor.ui.widgets.parts import text
from advisor.work.by_hand import RECKONED

#: Fields of a type side by side.
_BESIDE: Mapping[str, int] = MappingProxyType({"quantity": 4, "text": 3, "moment": 2, "yes_no": 3})
_ORDER = ("quantities", "rows", "quantity", "choice", "yes_no", "moment", "text")


class EntryForm(QFrame):
    """`changed` on every edit; `pad_wanted` with the line a number goes into."""

    changed = Signal()
    pad_wanted = Signal(object)

    def __init__(self, kind: Kind, words: Words, now: Callable[[], float]) -> None:
        super().__init__()
        self.setObjectName("card")
        self.kind = kind
        self.editors: dict[str, Editor] = {}
        self._tried = False
        for field in kind.fields:
            if kind.key != "reading" or field.key not in RECKONED:
                self._make(field, words, now)
        self._lay_out()

    def _make(self, field: Field, words: Words, now: Callable[[], float]) -> None:
        editor = self.editors[field.key] = editor_for(field, words, now)
        editor.changed.connect(self._changed)
        editor.pad_wanted.connect(self.pad_wanted)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(10)
        needed = [e for e in self.editors.values() if e.declared.required]
        rest = [e for e in self.editors.values() if not e.declared.required]
        for group in (needed, rest):
            for kind in _ORDER:
                same = [e for e in group if e.declared.type == kind]
                if same:
                    column.addLayout(_grid(same, _BESIDE.get(kind, 1)))
        if needed:
            column.addWidget(text("* must be filled in", "small"))

    def _changed(self) -> None:
        self.check(always=self._tried)
        self.changed.emit()

    def check(self, *, always: bool) -> list[Editor]:
        """Show what is wrong; return the editors that hold something wrong."""
        self._tried = self._tried or always
        return [e for e in self.editors.values() if not e.judge(e.problem(), always=self._tried)]

    def data(self) -> dict[str, Json]:
        """Return the fields that hold something; RangeError where one cannot be kept."""
        found = {key: editor.json() for key, editor in self.editors.items()}
        return {key: value for key, value in found.items() if value not in ("", [], ())}

    def offer(self, key: str, value: str) -> None:
        """Fill a field in that the person has not touched."""
        editor = self.editors.get(key)
        if editor is not None and not editor.touched:
            editor.show_json(value)

    def focus_first(self) -> None:
        """Put the keyboard into the first field that takes words or numbers."""
        first = next((line for line in self.findChildren(QLineEdit) if not line.isHidden()), None)
        if first is not None:
            first.setFocus()

    @property
    def touched(self) -> bool:
        """Whether anything was typed."""
        return any(editor.touched for editor in self.editors.values())


def _grid(editors: list[Editor], beside: int) -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(12)
    grid.setVerticalSpacing(8)
    for at, editor in enumerate(editors):
        grid.addWidget(editor, at // beside, at % beside)
    for column in range(min(beside, max(len(editors), 1))):
        grid.setColumnStretch(column, 1)
    return grid
