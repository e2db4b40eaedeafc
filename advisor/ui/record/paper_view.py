"""Hand the record over, keep copies of it, put the page Tonight where a phone finds it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QFrame, QVBoxLayout, QWidget

from advisor.record.chain import Head
from advisor.record.export import Exported
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import ask_save
from advisor.ui.dialogs.product_copy import words_to_id
from advisor.ui.record.copies_card import CopiesCard
from advisor.ui.record.phone_card import PhoneCard
from advisor.ui.widgets.parts import BigButton, text
from advisor.ui.widgets.side_by_side import SideBySide

_TOLD = (
    "The report shows every entry, corrections struck through, gaps as gaps. The export holds the "
    "same entries to the byte, the files, and a small program that checks them without this one."
)
_HEAD_TOLD = (
    "Note this number somewhere else, or have it signed: with it anyone can tell later that no "
    "entry before it was altered or left out."
)


class PaperView(QWidget):
    """Report, export, copies of the database, the page for the phone."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.head = text("", "strong", wrap=True)
        self.head.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.copy = BigButton("Copy this &number")
        self.report = BigButton("&Whole report (PDF)", main=True)
        self.export = BigButton("E&xport with verifier")
        self.json = BigButton("As JSON")
        self.csv = BigButton("As CSV")
        self.copies, self.phone = CopiesCard(desk), PhoneCard(desk)
        self._hash = ""
        self._lay_out()
        self.report.clicked.connect(self._ask_report)
        self.export.clicked.connect(self._ask_export)
        self.json.clicked.connect(self._ask_json)
        self.csv.clicked.connect(self._ask_csv)
        self.copy.clicked.connect(self._copy)

    def _lay_out(self) -> None:
        frame = QFrame()
        frame.setObjectName("card")
        column = QVBoxLayout(frame)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(10)
        column.addWidget(text("Hand the record over", "title"))
        column.addWidget(text(_TOLD, wrap=True))
        for button in (self.report, self.export, self.json, self.csv):
            column.addWidget(button)
        column.addWidget(text("End of the record", "strong"))
        column.addWidget(self.head)
        column.addWidget(text(_HEAD_TOLD, "small", wrap=True))
        column.addWidget(self.copy)
        right = QWidget()
        under = QVBoxLayout(right)
        under.setContentsMargins(0, 0, 0, 0)
        under.setSpacing(14)
        under.addWidget(self.copies)
        under.addWidget(self.phone)
        under.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(SideBySide(self._desk.look, frame, right))

    def refresh(self) -> None:
        """Show the end of the record and what copies there are."""
        bench = self._desk.bench
        self._desk.operations.run("record head", bench.record.head, self._show_head)
        self.copies.refresh()
        self.phone.refresh()

    def _show_head(self, head: Head) -> None:
        self._hash = head.hash if head.entries else ""
        number = f"{head.entries} entries; {grouped(head.hash)}"
        self.head.setText(number if head.entries else "Nothing is in the record yet.")
        self.copy.setVisible(bool(head.entries))

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self._hash)
        self._desk.messages.note("The number is on the clipboard.")

    # --- handing over --------------------------------------------------------------------

    def name(self, ending: str, coat_id: str = "") -> str:
        """Return a file name that says job, coat and day."""
        job, now_s = self._desk.bench.job_in_hand(), self._desk.now_s()
        day = datetime.fromtimestamp(now_s, self._desk.zone).date().isoformat()
        parts = [words_to_id(job.name, "job"), words_to_id(coat_id, "coat") if coat_id else "",
                 "record", day]  # fmt: skip
        return "-".join(part for part in parts if part) + ending

    def write(self, work: Callable[[], Any], told: str) -> None:
        """Write something in the background; say when it is there, or why it is not."""
        self._desk.messages.note("Writing …")
        self._desk.slow.run(
            f"paper {told}", work, lambda _: self._desk.messages.note(f"Written: {told}.")
        )

    def write_report(self, path: Path, coat_id: str | None = None) -> None:
        """Write the report of the job, or the page for one coat."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.write(lambda: bench.reporting.pdf(path, now_s, coat_id, replace=True), path.name)

    def ask_coat_page(self, coat_id: str) -> None:
        """Let the person choose where the page for one coat goes, then write it."""
        name = self.name(".pdf", coat_id)
        if path := self._file("Page for this coat", name, "PDF (*.pdf)"):
            self.write_report(path, coat_id)

    def _ask_report(self) -> None:
        if path := self._file("Whole report", self.name(".pdf"), "PDF (*.pdf)"):
            self.write_report(path)

    def _ask_json(self) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        if path := self._file("The record as JSON", self.name(".json"), "JSON (*.json)"):
            self.write(lambda: bench.reporting.json(path, now_s, replace=True), path.name)

    def _ask_csv(self) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        if folder := self._folder("Folder for the CSV files", self.name("-csv")):
            self.write(lambda: bench.reporting.csv(folder, now_s), folder.name)

    def _ask_export(self) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        if folder := self._folder("Where the export goes", self.name("")):
            self._desk.messages.note("Writing …")
            self._desk.slow.run(
                "export", lambda: bench.reporting.package(folder, now_s),
                lambda made: self._exported(folder, made),
            )  # fmt: skip

    def _exported(self, folder: Path, made: Exported) -> None:
        if made.wrong:
            self._desk.messages.error(f"Written: {folder.name}. {' '.join(made.wrong)}")
        else:
            self._desk.messages.note(
                f"Written: {folder.name}. Anyone can check it with the verifier inside."
            )

    def _file(self, title: str, name: str, kinds: str) -> Path | None:
        path = ask_save(self, self._desk.bench, title, name, kinds)
        ending = Path(name).suffix
        return path if path is None or path.suffix else path.with_suffix(ending)

    def _folder(self, title: str, name: str) -> Path | None:
        """Let a folder be chosen; what is written goes into a new folder of its own inside it."""
        start = self._desk.bench.settings.text("last_folder")
        chosen = QFileDialog.getExistingDirectory(self, title, start)
        if not chosen:
            return None
        self._desk.bench.settings.set("last_folder", chosen)
        return Path(chosen, name)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Let a narrow window be narrow."""
        return QSize(300, 300)


def grouped(number: str) -> str:
    """Return a hash in groups that can be read aloud and that wrap."""
    return " ".join(number[at : at + 8] for at in range(0, len(number), 8))
