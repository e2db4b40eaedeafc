"""About the job, as a reader years later needs it, and the instruments it was measured with."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QSize
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QVBoxLayout,
    QWidget,
)

from advisor.record.canonical import Json
from advisor.record.chain import entries
from advisor.record.effective import counting
from advisor.record.kinds import KINDS
from advisor.ui.desk import Desk
from advisor.ui.record.editors import TextEditor
from advisor.ui.record.instrument_list import InstrumentList
from advisor.ui.widgets.parts import BigButton, text
from advisor.ui.widgets.side_by_side import SideBySide

#: Fields the job set-up does not know; the rest of the entry is written from the job itself.
FREE = ("item", "item_id", "owner", "yard", "enclosure", "previous_coating", "specification",
        "people")  # fmt: skip
_TOLD = (
    "Name, place, areas, coats and products stand in the record from the job set-up. What is "
    "said here stands beside them; a change is a new entry, the old one stays."
)


class JobView(QWidget):
    """Keeps the heading of the record and the list of instruments."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.editors: dict[str, TextEditor] = {}
        self.keep = BigButton("&Keep this about the job", main=True)
        self.keep.clicked.connect(self._keep)
        self.instruments = InstrumentList(desk)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(SideBySide(desk.look, self._heading(), self.instruments))

    def _heading(self) -> QFrame:
        frame = QFrame()
        frame.setObjectName("card")
        column = QVBoxLayout(frame)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("About the job", "title"))
        column.addWidget(text(_TOLD, "small", wrap=True))
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        for at, key in enumerate(FREE):
            editor = self.editors[key] = TextEditor(KINDS["job"].field(key))
            grid.addWidget(editor, at // 2, at % 2)
        column.addLayout(grid)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.keep)
        column.addLayout(row)
        return frame

    def refresh(self) -> None:
        """Show what is kept; what is being typed stays."""
        self.instruments.refresh()
        bench = self._desk.bench
        job = bench.job()
        if job is None or any(editor.touched for editor in self.editors.values()):
            return
        store, job_id = bench.store, job.id
        self._desk.operations.run(
            "job heading",
            lambda: counting(entries(store, job_id, kinds=("job", "correction"))),
            lambda kept: self._show(kept[-1].data if kept else {}),
        )

    def _show(self, data: Mapping[str, Json]) -> None:
        for key, editor in self.editors.items():
            if not editor.touched:
                editor.show_json(data.get(key))

    def _keep(self) -> None:
        told = {key: str(editor.json()) for key, editor in self.editors.items()}
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._desk.operations.write(lambda: bench.record.write_job_header(now_s, told), self._kept)

    def _kept(self, entry: object) -> None:
        for editor in self.editors.values():
            editor.touched = False
        self._desk.messages.note(
            "Nothing changed: it stands in the record already." if entry is None
            else "Kept in the record."
        )  # fmt: skip
        self._desk.changed.emit()

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Let a narrow window be narrow."""
        return QSize(300, 300)
