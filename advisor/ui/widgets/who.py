"""Who is writing: asked once, shown always, changed with one button."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QSizePolicy, QWidget

from advisor.ui.widgets.elided import Elided
from advisor.ui.widgets.parts import BigButton, text

#: A name is a line, not a page.
MOST_LETTERS = 80


class Who(QFrame):
    """`given` with a name to keep."""

    given = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.name = ""
        self.shown = Elided("", "strong")
        self.change = QPushButton("Change")
        self.change.setAccessibleName("Change who is writing")
        self.change.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.asked = text("Who is writing?", "strong")
        self.line = QLineEdit()
        self.line.setAccessibleName("Who is writing")
        self.line.setPlaceholderText("Name or initials")
        self.line.setMaxLength(MOST_LETTERS)
        self.keep = BigButton("That is me", main=True)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for part, stretch in (
            (self.shown, 0), (self.change, 0), (self.asked, 0), (self.line, 1), (self.keep, 0)
        ):  # fmt: skip
            row.addWidget(part, stretch)
        self.change.clicked.connect(self.ask)
        self.keep.clicked.connect(self._give)
        self.line.returnPressed.connect(self._give)
        self.show_name("")

    def show_name(self, name: str) -> None:
        """Show who is writing, or ask where nobody has said."""
        self.name = name
        self.shown.setText(f"Writing: {name}")
        typed = self.line.hasFocus() or self.keep.hasFocus()
        self._asking(not name)
        if typed and name:
            self.change.setFocus()  # what is hidden would hand the focus to anything

    @property
    def asking(self) -> bool:
        """Whether the name is being asked for."""
        return not self.line.isHidden()

    def ask(self) -> None:
        """Ask for the name, beginning with the one in force."""
        self.show()
        self._asking(True)
        self.line.setText(self.name)
        self.line.selectAll()
        self.line.setFocus()

    def _give(self) -> None:
        name = " ".join(self.line.text().split())
        if name:
            self.given.emit(name)
        else:
            self.line.setFocus()

    def _asking(self, on: bool) -> None:
        asking: tuple[QWidget, ...] = (self.asked, self.line, self.keep)
        known: tuple[QWidget, ...] = (self.shown, self.change)
        for part in asking:
            part.setVisible(on)
        for part in known:
            part.setVisible(not on)
