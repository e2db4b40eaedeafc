"""Before the window: the database cannot be used; what is wrong, and ways out that lose nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from itertools import islice
from pathlib import Path

from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QFileDialog,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from advisor.base.backup import Backup, content_words, go_back_closed, offered, why_damaged
from advisor.base.errors import AdvisorError
from advisor.base.files import part_of
from advisor.base.rescue import rescue, take_away
from advisor.work.guard import known_backups, known_folders

#: Backups offered; the folder has the rest.
MOST_OFFERED = 3
ANOTHER = "Another copy …"
KINDS = "Databases (*.sqlite3 *.before-*);;All files (*)"


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
        self._ways = QVBoxLayout()
        self._ways.setSpacing(12)
        column.addLayout(self._ways)
        for words, action in self._ways_out():
            self._offer(words, action)
        column.addWidget(self.outcome)
        column.addWidget(self._line("Nothing is deleted: the file stays under another name."))

    def _line(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        return label

    def _offer(self, words: str, action: Callable[[], None], at: int = -1) -> QPushButton:
        button = QPushButton(words)
        button.setMinimumHeight(48)
        button.clicked.connect(action)
        self.buttons.insert(len(self.buttons) if at < 0 else at, button)
        self._ways.insertWidget(at, button)
        return button

    def _ways_out(self) -> list[tuple[str, Callable[[], None]]]:
        found: list[tuple[str, Callable[[], None]]] = []
        if self._damaged():
            for one in self._whole_backups():
                made = datetime.fromtimestamp(one.made_s).astimezone()
                words = f"Go back to the backup of {made:%d %b %Y %H:%M}"
                words += f"\n{content_words(one.path)}"
                found.append((words, partial(self._go_back, one.path)))
            found.append((ANOTHER, self._ask_copy))
            found.append(("Save what can still be read, and go on with that", self._save))
        else:
            found.append(("Try again", self.accept))
        found.append(("Close the program", self.reject))
        return found

    def _damaged(self) -> bool:
        return "damaged" in why_damaged(self._database)

    def _whole_backups(self) -> list[Backup]:
        """Return the whole ones of those to offer, else the newest that is whole."""
        every = known_backups(self._database)
        whole = [one for one in offered(every, MOST_OFFERED) if not why_damaged(one.path)]
        rest = (one for one in every[MOST_OFFERED:] if not why_damaged(one.path))
        return whole or list(islice(rest, 1))

    def _ask_copy(self) -> None:
        start = next((f for f in known_folders(self._database) if f.is_dir()),
                     self._database.parent)  # fmt: skip
        path, _ = QFileDialog.getOpenFileName(self, "A copy of the database", str(start), KINDS)
        if path:
            self.take(Path(path))

    def take(self, path: Path) -> None:
        """Look into a chosen copy; where it is whole, offer it with what it holds."""
        why = why_damaged(path)
        if why:
            self._say(f"{path.name}: {why}; choose another.")
            return
        self._say(f"{path.name} is whole. Press its button to go back to it.")
        words = f"Go back to {path.name}\n{content_words(path)}"
        above = next(at for at, one in enumerate(self.buttons) if one.text() == ANOTHER)
        self._offer(words, partial(self._go_back, path), above).setFocus()

    def _go_back(self, backup: Path) -> None:
        self._do(lambda: go_back_closed(self._database, backup, self._clock()))

    def _save(self) -> None:
        """Read into a new file first; only when that is whole does it take the old one's place."""
        # Of this process alone, and known by its name where it is killed before the end.
        target = part_of(self._database.with_name(self._database.name + ".saved"))

        def work() -> None:
            rescue(self._database, target)
            go_back_closed(self._database, target, self._clock())
            take_away(target)

        self._do(work)

    def _do(self, work: Callable[[], object]) -> None:
        self._say("Working …")
        QApplication.processEvents()
        try:
            work()
        except AdvisorError as error:
            self.outcome.setText(str(error))
            return
        self.accept()

    def _say(self, text: str) -> None:
        self.outcome.setText(text)
        self.outcome.show()


def opened_after_rescue(database: Path, told: str, clock: Callable[[], float]) -> bool:
    """Ask what to do; whether the database is to be opened again."""
    return RescueDialog(database, told, clock).exec() == QDialog.DialogCode.Accepted
