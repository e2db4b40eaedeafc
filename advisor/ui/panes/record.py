"""The record: to read and search, to add to and correct, to look back on, to hand over."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QDialog,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from advisor.planning.job import Job
from advisor.record.effective import Effective
from advisor.ui.desk import Desk
from advisor.ui.naming import Naming
from advisor.ui.record.causes_dialog import CausesDialog
from advisor.ui.record.coats_view import CoatsView
from advisor.ui.record.job_view import JobView
from advisor.ui.record.paper_view import PaperView
from advisor.ui.record.record_view import RecordView
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.parts import BigButton
from advisor.ui.widgets.who import Who

VIEWS = (
    ("entries", "&Entries"),
    ("coats", "&Inside the limits?"),
    ("job", "&Job and instruments"),
    ("paper", "Report an&d copies"),
)
#: Width in px at 100 % under which who is writing goes underneath.
BESIDE_FROM = 850


class RecordPane(QWidget):
    """Entries of the job in hand, and everything that is made from them."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self._job: Job | None = None
        self.dialog: QDialog | None = None
        self.who = Who()
        self._naming = Naming(desk, (self.who,))
        self.entries, self.coats = RecordView(desk), CoatsView(desk)
        self.job, self.paper = JobView(desk), PaperView(desk)
        self.views: dict[str, QPushButton] = {}
        self._stack = QStackedWidget()
        self.add = BigButton("&Add to the record", main=True)
        self.photo = BigButton("Add a &photo")
        self.sign = BigButton("&Sign off")
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 10, 20, 14)
        column.setSpacing(10)
        column.addWidget(ButtonRow(self._desk.look, tuple(self._view_buttons())))
        column.addWidget(self._stack, 1)
        self._foot = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._foot.addWidget(ButtonRow(self._desk.look, (self.add, self.photo, self.sign)), 1)
        self._foot.addWidget(self.who)
        column.addLayout(self._foot)

    def _view_buttons(self) -> list[QPushButton]:
        group = QButtonGroup(self)
        for key, words in VIEWS:
            button = self.views[key] = QPushButton(words)
            button.setCheckable(True)
            button.setProperty("choice", True)
            button.clicked.connect(lambda _=False, k=key: self.open_view(k))
            group.addButton(button)
            self._stack.addWidget(self._pages()[key])
        self.views["entries"].setChecked(True)
        return list(self.views.values())

    def _pages(self) -> dict[str, QWidget]:
        return {"entries": self.entries, "coats": self.coats, "job": self.job, "paper": self.paper}

    def _connect(self) -> None:
        self.add.clicked.connect(lambda: self._naming.first(self._add))
        self.photo.clicked.connect(lambda: self._naming.first(self._add_photo))
        self.sign.clicked.connect(lambda: self._naming.first(self._sign))
        self.entries.correct_wanted.connect(
            lambda told: self._naming.first(lambda: self._correct(told))
        )
        self.entries.causes_wanted.connect(self._causes)
        self.coats.entry_wanted.connect(self._causes)
        self.coats.page_wanted.connect(self.paper.ask_coat_page)
        self._desk.units_changed.connect(self._units)

    # --- what is shown -------------------------------------------------------------------

    def refresh(self) -> None:
        """Work it out anew: it was opened, or job, products or readings changed."""
        self._job = self._desk.bench.job()
        self._naming.refresh()
        if self._job is not None:
            self._refresh_view()

    def _units(self) -> None:
        if self.isVisible():  # opening the pane works it out anyway
            self.refresh()

    def tick(self) -> None:
        """Half a minute went by: nothing here grows old by itself."""

    def open_view(self, key: str) -> None:
        """Show entries, coats, the job or the papers."""
        self.views[key].setChecked(True)
        self._stack.setCurrentWidget(self._pages()[key])
        if self._job is not None:
            self._refresh_view()

    def _refresh_view(self) -> None:
        shown = self._stack.currentWidget()
        if shown is self.entries and self._job is not None:
            self.entries.show_job(self._job)
        elif shown in (self.coats, self.job, self.paper):
            shown.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put who is writing into a line of its own where there is little room."""
        super().resizeEvent(event)
        room = self.width() * 100 / self._desk.look.scale_pct
        way = QBoxLayout.Direction
        self._foot.setDirection(way.LeftToRight if room >= BESIDE_FROM else way.TopToBottom)

    # --- adding --------------------------------------------------------------------------

    def _add(self) -> None:
        from advisor.ui.record.entry_dialog import EntryDialog

        if self._job is not None:
            beside = self.entries.details.told
            coat_id = beside.now.coat_id if beside is not None else ""
            dialog = EntryDialog(self._desk, self._job, self, coat_id=coat_id)
            self._open(dialog, "Kept in the record.")

    def _add_photo(self) -> None:
        from advisor.ui.record.photo_dialog import PhotoDialog

        if self._job is not None:
            open_entry = self.entries.details.told
            self._open(PhotoDialog(self._desk, self._job, open_entry, self), "Photo kept.")

    def _sign(self) -> None:
        from advisor.ui.record.sign_dialog import SignDialog

        self._open(SignDialog(self._desk, self), "Signed off. The end of the record has changed.")

    def _correct(self, told: Effective) -> None:
        from advisor.ui.record.correct_dialog import CorrectDialog

        if self._job is not None:
            dialog = CorrectDialog(self._desk, self._job, told, self)
            self._open(dialog, "Corrected. What was written first stays to be read.")

    def _causes(self, number: int) -> None:
        bench = self._desk.bench

        def show(told: Effective) -> None:
            data = told.now.data
            name = str(data.get("defect") or data.get("text") or "defect")
            self._open(CausesDialog(self._desk, number, name, self), "")

        self._desk.operations.run("defect", lambda: bench.record.told(number), show)

    def _open(self, dialog: QDialog, told: str) -> None:
        self.dialog = dialog
        dialog.accepted.connect(lambda: self._kept(told))
        dialog.finished.connect(self._closed)
        dialog.open()

    def _closed(self) -> None:
        if self.dialog is not None:
            self.dialog.deleteLater()
            self.dialog = None

    def _kept(self, told: str) -> None:
        self._desk.messages.note(told)
        self._desk.changed.emit()
