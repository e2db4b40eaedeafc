"""A form that keeps one thing in the background, and stays, with the reason, where it could not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QDialog, QHBoxLayout, QLineEdit, QWidget

from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import button
from advisor.ui.operations import Failure, Operations
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.parts import BigButton, text

KEEPING = "It is being kept. This closes by itself."


class KeepDialog(QDialog):
    """Has the line `said` and the buttons `keep` and `cancel`; nothing is kept before `keep`.

    `accept` of each form checks what was typed and calls `keep_by` with the work. While that goes
    on nothing can be changed and the form cannot be left: it closes when the thing is kept, and
    opens again, with the reason, where it was not.
    """

    def __init__(self, desk: Desk, title: str, keep: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._desk = desk
        self._asked: list[tuple[Operations, str]] = []
        self._held: QWidget | None = None
        self.keeping = False
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

    def ask(
        self,
        worker: Operations,
        what: str,
        work: Callable[[], Any],
        done: Callable[[Any], None],
        failed: Callable[[Failure], None] | None = None,
    ) -> None:
        """Ask something in the background; the answer is void once the form is left."""
        key = f"{what} {id(self)}"
        self._asked.append((worker, key))
        worker.run(key, work, done, failed)

    def keep_by(self, work: Callable[[], object]) -> None:
        """Do the work in the background, once, then close."""
        if self.keeping:
            return
        self.keeping, self._held = True, self.focusWidget()
        self.pad.put_away()
        self.setEnabled(False)
        self._desk.operations.write(work, lambda _: self._kept(), self._failed)

    def _kept(self) -> None:
        self.keeping = False
        super().accept()

    def _failed(self, failure: Failure) -> None:
        self.keeping = False
        self.setEnabled(True)
        if self._held is not None:
            self._held.setFocus()
        self.say(failure.text)

    def say(self, words: str) -> None:
        """Say beside the buttons what is in the way; "" takes it back."""
        self.said.setText(words)

    def may_leave(self) -> bool:
        """Return whether the form may be left; one that holds something asks first."""
        return True

    def reject(self) -> None:
        """Leave, unless something is being kept: whether it was kept must be told."""
        if self.keeping:
            self.say(KEEPING)
        elif self.may_leave():
            super().reject()

    def done(self, result: int) -> None:
        """Close; what was asked is not waited for any more."""
        for worker, key in self._asked:
            worker.cancel(key)
        super().done(result)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Enter presses the button in hand, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if isinstance(found := self.focusWidget(), QAbstractButton):
                found.click()
        else:
            super().keyPressEvent(event)
