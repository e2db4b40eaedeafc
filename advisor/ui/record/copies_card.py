"""Copies of the database: where they go, make one now, go back to one, check what is there."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QFrame, QHBoxLayout, QVBoxLayout

from advisor.base.backup import Backup, content_words, is_broken, offered
from advisor.record.telling import day_and_clock
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.parts import BigButton, clear, text
from advisor.ui.widgets.twice_pressed import TwicePressed

_TOLD = "A copy is made by itself about once a day and checked. Keep some on another disk."
_BACK = "Going back keeps what is there now beside it, as a file of its own."
#: Copies on show; the older ones are in the folder.
MOST = 5


class CopiesCard(QFrame):
    """Backup and restore."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.folder = text("", "grey", wrap=True)
        self.now = BigButton("&Back up now")
        self.choose = BigButton("Choose the &folder")
        self.check = BigButton("C&heck the record")
        self.back: dict[str, TwicePressed] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("Copies of the database", "title"))
        column.addWidget(text(_TOLD, wrap=True))
        column.addWidget(self.folder)
        column.addWidget(ButtonRow(desk.look, (self.now, self.choose, self.check)))
        self._rows = QVBoxLayout()
        self._rows.setSpacing(6)
        column.addLayout(self._rows)
        column.addWidget(text(_BACK, "small", wrap=True))
        self.now.clicked.connect(self._make)
        self.choose.clicked.connect(self._ask_folder)
        self.check.clicked.connect(self._check)

    def refresh(self) -> None:
        """Show what copies there are."""
        bench = self._desk.bench
        self.folder.setText(f"In {bench.guard.folder}")
        self._desk.slow.run("copies", lambda: _with_content(bench.guard.backups()), self._show)

    def _show(self, found: tuple[tuple[Backup, str], ...]) -> None:
        clear(self._rows)
        self.back = {}
        words = self._desk.words()
        for copy, holds in found[:MOST]:
            row = QHBoxLayout()
            told = day_and_clock(copy.made_s, words)
            row.addWidget(text(f"{told}: {holds}", wrap=True), 1)
            back = self.back[copy.path.name] = TwicePressed("Go back to this", "Press again")
            back.setAccessibleName(f"Go back to the copy of {told}")
            back.meant.connect(lambda path=copy.path, when=told: self._restore(path, when))
            row.addWidget(back)
            self._rows.addLayout(row)
        if not found:
            self._rows.addWidget(text("No copy there yet.", "grey"))
        if len(found) > MOST:
            self._rows.addWidget(text(f"{len(found) - MOST} older ones in the folder.", "small"))

    def _make(self) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._desk.messages.note("Copying …")
        self._desk.slow.run("copy", lambda: bench.guard.backup(now_s), self._made)

    def _made(self, path: Path) -> None:
        if is_broken(path):
            self._desk.messages.error(
                f"Copied as it is: {path.name}. A record in it is broken: press Check the record."
            )
        else:
            self._desk.messages.note(f"Copied and checked: {path.name}.")
        self.refresh()

    def _restore(self, path: Path, when: str) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        # On the worker of what is kept: nothing may be written while the file changes.
        self._desk.operations.write(
            lambda: bench.guard.restore(path, now_s), lambda before: self._restored(before, when)
        )

    def _restored(self, before: Path, when: str) -> None:
        self._desk.messages.note(f"Back to the copy of {when}. What was there is in {before.name}.")
        self._desk.changed.emit()
        self.refresh()

    def _check(self) -> None:
        bench = self._desk.bench
        self._desk.messages.note("Checking …")
        self._desk.slow.run("check", bench.guard.check, self._checked, self._failed)

    def _checked(self, wrong: str) -> None:
        if wrong:
            self._desk.messages.error(wrong)
        else:
            self._desk.messages.note("The database is whole and every entry is in its place.")

    def _failed(self, failure: Failure) -> None:
        self._desk.messages.failure(failure)

    def _ask_folder(self) -> None:
        bench = self._desk.bench
        chosen = QFileDialog.getExistingDirectory(
            self, "Folder of the copies", str(bench.guard.folder)
        )
        if chosen:
            bench.settings.set("backup_folder", chosen)
            self.refresh()


def _with_content(found: tuple[Backup, ...]) -> tuple[tuple[Backup, str], ...]:
    """Say what each copy on show holds; the older ones are only counted."""
    shown = offered(found, MOST)
    told = tuple((copy, content_words(copy.path)) for copy in shown)
    return (*told, *((copy, "") for copy in found if copy not in shown))
