"""Rows of the same few words and numbers, such as the components of a batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtWidgets import QGridLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from advisor.record.canonical import Json
from advisor.record.kinds import Field as Declared
from advisor.ui.record.editors import Editor
from advisor.ui.widgets.parts import text


class RowsEditor(Editor):
    """A line for every column; an empty row is not kept."""

    def __init__(self, declared: Declared) -> None:
        holder = QWidget()
        self.rows: list[dict[str, QLineEdit]] = []
        self._grid = QGridLayout()
        self._grid.setSpacing(6)
        self.more = QPushButton("One more row")
        self.more.setAutoDefault(False)
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._grid)
        column.addWidget(self.more)
        super().__init__(declared, declared.label, holder)
        for at, key in enumerate(declared.keys):
            self._grid.addWidget(text(key.replace("_", " "), "small"), 0, at)
        self.more.clicked.connect(lambda: self.add_row({}))
        self.add_row({})

    def add_row(self, values: Mapping[str, Json]) -> None:
        """Put a row at the end."""
        row: dict[str, QLineEdit] = {}
        number = len(self.rows) + 1
        for at, key in enumerate(self.declared.keys):
            line = row[key] = QLineEdit(str(values.get(key) or ""))
            line.setAccessibleName(f"{self.declared.label} {number}: {key.replace('_', ' ')}")
            line.setMinimumWidth(60)
            line.textEdited.connect(self._touch)
            self._grid.addWidget(line, number, at)
        self.rows.append(row)

    def json(self) -> Json:
        """Return the rows that hold something."""
        texts = [{key: line.text().strip() for key, line in row.items()} for row in self.rows]
        return [
            {key: text for key, text in row.items() if text} for row in texts if any(row.values())
        ]

    def show_json(self, value: Json) -> None:
        """Show kept rows."""
        given = value if isinstance(value, Sequence) and not isinstance(value, str) else ()
        for row in self.rows:
            for line in row.values():
                line.hide()
                line.deleteLater()
        self.rows = []
        for one in given or ({},):
            if isinstance(one, Mapping):
                self.add_row(one)
