"""Before the window: the database cannot be used; what is wrong, and ways out that lose nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QApplication, QDialog, QLabel, QPushButton, QVBoxLayout, QWidget

from advisor.base.backup import Backup, backups, go_back_closed, why_damaged
from advisor.base.errors import AdvisorError
from advisor.base.rescue import rescue
from advisor.work.guard import default_folder

#: Backups offered; the folder has the rest.
MOST_OFFERED = 3


class RescueDialog(QDialog):
    """`exec` returns Accepted when the database was put right and can be opened again."""

    def __init__(
        self, database: Path, told: str, clock: Callable[[], float], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._database, self._clock = database, clock
        self.setWindowTitle("The record cannot be opened")
        self.setMinimumWidth(620)
        self.told = self._line(told)
        self.outcome = self._line("")
        self.outcome.hide()
        self.buttons: list[QPushButton] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 20, 24, 20)
        column.setSpacing(12)
        column.addWidget(self.told)
        for words, action in self._ways_out():
            button = QPushButton(words)
            button.setMinimumHeight(48)
            button.clicked.connect(action)
            self.buttons.append(button)
            column.addWidget(button)
        column.addWidget(self.outcome)
        column.addWidget(self._line("Nothing is deleted: the file stays under another name."))

    def _line(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        return label

    def _ways_out(self) -> list[tuple[str, Callable[[], None]]]:
        found: list[tuple[str, Callable[[], None]]] = []
        if self._damaged():
            for one in self._whole_backups():
                made = datetime.fromtimestamp(one.made_s).astimezone()
                words = f"Go back to the backup of {made:%d %b %Y %H:%M}"
                found.append((words, partial(self._go_back, one.path)))
            found.append(("Save what can still be read, and go on with that", self._save))
        else:
            found.append(("Try again", self.accept))
        found.append(("Close the program", self.reject))
        return found

    def _damaged(self) -> bool:
        return "damaged" in why_damaged(self._database)

    def _whole_backups(self) -> list[Backup]:
        every = backups(self._database, default_folder(self._database))
        return [one for one in every if not why_damaged(one.path)][:MOST_OFFERED]

    def _go_back(self, backup: Path) -> None:
        self._do(lambda: go_back_closed(self._database, backup, self._clock()))

    def _save(self) -> None:
        """Read into a new file first; only when that is whole does it take the old one's place."""
        target = self._database.with_name(self._database.name + ".saved")

        def work() -> None:
            target.unlink(missing_ok=True)
            rescue(self._database, target)
            go_back_closed(self._database, target, self._clock())
            target.unlink(missing_ok=True)

        self._do(work)

    def _do(self, work: Callable[[], object]) -> None:
        self.outcome.setText("Working …")
        self.outcome.show()
        QApplication.processEvents()
        try:
            work()
        except AdvisorError as error:
            self.outcome.setText(str(error))
            return
        self.accept()


def opened_after_rescue(database: Path, told: str, clock: Callable[[], float]) -> bool:
    """Ask what to do; whether the database is to be opened again."""
    return RescueDialog(database, told, clock).exec() == QDialog.DialogCode.Accepted
