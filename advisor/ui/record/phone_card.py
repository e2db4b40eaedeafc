"""The page Tonight in a folder that a phone can see."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QFrame, QVBoxLayout

from advisor.ui.desk import Desk
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.parts import BigButton, text

_TOLD = (
    "A page to read on a phone: what the night does to each film, with the time it was written. "
    "Choose a folder that is shared with the phone; while the window is open the page is kept up "
    "to date there."
)


class PhoneCard(QFrame):
    """Chooses the folder; empty means that no page is written."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.folder = text("", "grey", wrap=True)
        self.choose = BigButton("Choose a f&older")
        self.stop = BigButton("Write no page")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("Tonight on the phone", "title"))
        column.addWidget(text(_TOLD, wrap=True))
        column.addWidget(self.folder)
        column.addWidget(ButtonRow(desk.look, (self.choose, self.stop)))
        self.choose.clicked.connect(self._ask)
        self.stop.clicked.connect(self._stop)

    def refresh(self) -> None:
        """Show where the page goes."""
        folder = self._desk.bench.settings.text("tonight_folder")
        self.folder.setText(f"In {folder}" if folder else "No page is written.")
        self.stop.setVisible(bool(folder))

    def _ask(self) -> None:
        start = self._desk.bench.settings.text("tonight_folder")
        chosen = QFileDialog.getExistingDirectory(self, "Folder for the page", start)
        if chosen:
            self.use(Path(chosen))

    def use(self, folder: Path) -> None:
        """Keep the page up to date in a folder from now on."""
        self._desk.bench.settings.set("tonight_folder", str(folder))
        self.refresh()
        self._write(folder)

    def _stop(self) -> None:
        self._desk.bench.settings.set("tonight_folder", "")
        self.refresh()

    def _write(self, folder: Path) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()

        def write() -> Path:
            from advisor.work.tonight_page import write_tonight_page

            return write_tonight_page(bench, folder, now_s)

        self._desk.slow.run(
            "tonight page",
            write,
            lambda path: self._desk.messages.note(f"Written: {path.name}."),
        )
