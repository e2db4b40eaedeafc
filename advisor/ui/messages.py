"""The one door for messages: a bar inside the window, never a pop-up in the way."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from advisor.ui.operations import Failure
from advisor.ui.widgets.parts import restyle


class MessageBar(QFrame):
    """Shows one message at a time; stays until put away or replaced."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("message")
        self._details = ""
        self._text = QLabel(wordWrap=True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._copy = QPushButton("Copy details")
        self._copy.clicked.connect(self._copy_details)
        away = QPushButton("Put away")
        away.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.addWidget(self._text, 1)
        row.addWidget(self._copy)
        row.addWidget(away)
        self.hide()

    @property
    def text(self) -> str:
        """Return the message on show, "" when none is."""
        return "" if self.isHidden() else self._text.text()

    def note(self, text: str) -> None:
        """Tell that something was done."""
        self._show(text, "note", "")

    def error(self, text: str) -> None:
        """Tell what went wrong and what to do."""
        self._show(text, "error", "")

    def failure(self, failure: Failure) -> None:
        """Tell how a background task failed."""
        self._show(failure.text, "error", failure.details)

    def _show(self, text: str, kind: str, details: str) -> None:
        self._details = details
        self._text.setText(text)
        self._copy.setVisible(bool(details))
        restyle(self, "kind", kind)
        self.show()

    def _copy_details(self) -> None:
        QGuiApplication.clipboard().setText(f"{self._text.text()}\n{self._details}")
