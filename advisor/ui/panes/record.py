"""The record: to read, to search, to add to."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from advisor.ui.desk import Desk


class RecordPane(QWidget):
    """The record: to read, to search, to add to."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk

    def refresh(self) -> None:
        """Work it out anew: it was opened, or job, products or readings changed."""

    def tick(self) -> None:
        """Half a minute went by."""
