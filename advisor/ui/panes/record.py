"""The record: to read and search, to add to and correct, to look back on, to hand over."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QHBoxLayout,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from advisor.planning.job import Job
from advisor.record.effective import Effective
from advisor.ui.desk import Desk
from advisor.ui.record.record_view import RecordView
from advisor.ui.record.who import Who
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.parts import BigButton

VIEWS = (("record", "&Entries"),)


class RecordPane(QWidget):
    """Entries of the job in hand, and everything that is made from them."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self._job: Job | None = None
        self._then: Callable[[], None] | None = None
        self.who = Who()
        self.entries = RecordView(desk)
        self.views: dict[str, QPushButton] = {}
        self._stack = QStackedWidget()
        self.add = BigButton("&Add to the record", main=True)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 10, 20, 14)
        column.setSpacing(10)
        top = QHBoxLayout()
        group = QButtonGroup(self)
        pages: dict[str, QWidget] = {"record": self.entries}
        for key, words in VIEWS:
            button = self.views[key] = QPushButton(words)
            button.setCheckable(True)
            button.setProperty("choice", True)
            button.clicked.connect(lambda _=False, k=key: self.open_view(k))
            group.addButton(button)
            top.addWidget(button)
            self._stack.addWidget(pages[key])
        self.views["record"].setChecked(True)
        top.addStretch(1)
        top.addWidget(self.who)
        column.addLayout(top)
        column.addWidget(self._stack, 1)
        column.addWidget(ButtonRow(self._desk.look, (self.add,)))

    def _connect(self) -> None:
        self.who.given.connect(self._keep_name)
        self.add.clicked.connect(lambda: self._named(self._add))

    # --- what is shown -------------------------------------------------------------------

    def refresh(self) -> None:
        """Work it out anew: it was opened, or job, products or readings changed."""
        self._job = self._desk.bench.job()
        if not self.who.asking or not self.who.name:
            self.who.show_name(self._desk.bench.settings.text("person"))
        if self._job is not None:
            self.entries.show_job(self._job)

    def tick(self) -> None:
        """Half a minute went by."""

    def open_view(self, key: str) -> None:
        """Show entries, coats, the job or the papers."""

    # --- who is writing ------------------------------------------------------------------

    def _keep_name(self, name: str) -> None:
        self._desk.bench.settings.set("person", name)
        self.who.show_name(name)
        then, self._then = self._then, None
        if then is not None:
            then()

    def _named(self, then: Callable[[], None]) -> None:
        """Do it once it is known who is writing."""
        if self._desk.bench.settings.text("person"):
            then()
            return
        self._then = then
        self.who.ask()

    # --- adding --------------------------------------------------------------------------

    def _add(self) -> None:
        """Open the form."""
