"""A form that keeps one thing in the background, and stays, with the reason, where it could not."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QLineEdit, QWidget

from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import button
from advisor.ui.operations import Failure
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.parts import BigButton, text


class KeepDialog(QDialog):
    """Has the line `said` and the buttons `keep` and `cancel`; nothing is kept before `keep`.

    `accept` of each form checks what was typed and calls `keep_by` with the work.
    """

    def __init__(self, desk: Desk, title: str, keep: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._desk = desk
        self.pad = NumberPad(self)
        self.said = text("", "bad", wrap=True)
        self.keep = BigButton(keep, main=True)
        self.keep.setAutoDefault(False)
        self.keep.clicked.connect(self.accept)
        self.cancel = button("Cancel")
        self.cancel.clicked.connect(self.reject)

    def foot(self, *before: QWidget) -> QHBoxLayout:
        """Return the row of buttons, others standing before."""
        row = QHBoxLayout()
        for widget in before:
            row.addWidget(widget)
        row.addStretch(1)
        row.addWidget(self.cancel)
        row.addWidget(self.keep)
        return row

    def open_pad(self, line: QLineEdit) -> None:
        """Open the number pad for a field."""
        self.pad.open_for(line, line)

    def keep_by(self, work: Callable[[], object]) -> None:
        """Do the work in the background, then close."""
        self.keep.setEnabled(False)
        self._desk.operations.write(work, lambda _: self._done(), self._failed)

    def _done(self) -> None:
        super().accept()

    def _failed(self, failure: Failure) -> None:
        self.keep.setEnabled(True)
        self.said.setText(failure.text)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Escape puts the pad away first."""
        if event.key() == Qt.Key.Key_Escape and not self.pad.isHidden():
            self.pad.put_away()
        else:
            super().keyPressEvent(event)
