"""The shop's instruments with serial numbers and calibration; out of date is said in words."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QFrame, QHBoxLayout, QPushButton, QVBoxLayout

from advisor.ui.desk import Desk
from advisor.ui.record.instrument_dialog import InstrumentDialog
from advisor.ui.widgets.parts import BigButton, clear, text
from advisor.ui.widgets.twice_pressed import TwicePressed
from advisor.work.instrument_list import Instrument, instruments_kept, remove_instrument

_TOLD = (
    "Each reading names the instrument it was taken with. One whose calibration is out of date is "
    "flagged in the entry and in print."
)
_NONE = "No instrument yet. Without one a reading says only that it was typed."


class InstrumentList(QFrame):
    """Add, change, take off the list; entries already written stay as they are."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.dialog: InstrumentDialog | None = None
        self.add = BigButton("Add an i&nstrument")
        self.add.clicked.connect(lambda: self._open(None))
        self.changes: dict[str, QPushButton] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("Instruments", "title"))
        column.addWidget(text(_TOLD, "small", wrap=True))
        self._rows = QVBoxLayout()
        self._rows.setSpacing(8)
        column.addLayout(self._rows)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.add)
        column.addLayout(row)

    def refresh(self) -> None:
        """Show what is kept."""
        clear(self._rows)
        self.changes = {}
        kept = instruments_kept(self._desk.bench.store)
        for instrument in kept:
            self._rows.addWidget(self._row(instrument))
        if not kept:
            self._rows.addWidget(text(_NONE, "grey", wrap=True))

    def _row(self, instrument: Instrument) -> QFrame:
        frame = QFrame()
        frame.setObjectName("box")
        row = QHBoxLayout(frame)
        row.setContentsMargins(12, 8, 8, 8)
        column = QVBoxLayout()
        column.setSpacing(2)
        column.addWidget(text(instrument.id, "strong", wrap=True))
        column.addWidget(text(told_of(instrument), "small", wrap=True))
        late = instrument.out_of_date(self._desk.now_s(), self._zone())
        if late:
            words = f"Calibration out of date since {instrument.due}"
            column.addWidget(text(words, "bad", wrap=True))
        row.addLayout(column, 1)
        change = self.changes[instrument.id] = QPushButton("Change")
        change.setAccessibleName(f"Change {instrument.id}")
        change.clicked.connect(lambda: self._open(instrument))
        gone = TwicePressed("Take off", "Press again")
        gone.setAccessibleName(f"Take {instrument.id} off the list")
        gone.meant.connect(lambda: self._take_off(instrument.id))
        row.addWidget(change)
        row.addWidget(gone)
        return frame

    def _zone(self) -> str:
        job = self._desk.bench.job()
        return "UTC" if job is None else job.time_zone

    def _open(self, instrument: Instrument | None) -> None:
        self.dialog = InstrumentDialog(self._desk, instrument, self)
        self.dialog.finished.connect(self._closed)
        self.dialog.open()

    def _closed(self, result: int) -> None:
        if self.dialog is not None:
            self.dialog.deleteLater()
            self.dialog = None
        if result == QDialog.DialogCode.Accepted:
            self._desk.changed.emit()
            self.refresh()

    def _take_off(self, name: str) -> None:
        store = self._desk.bench.store
        self._desk.operations.write(
            lambda: remove_instrument(store, name), lambda _: self.refresh()
        )


def told_of(instrument: Instrument) -> str:
    """Return what is known of an instrument in one line."""
    parts = (
        instrument.measures,
        instrument.type,
        f"serial {instrument.serial}" if instrument.serial else "no serial number",
        instrument.accuracy,
        f"calibrated {instrument.calibrated}" if instrument.calibrated else "",
        f"due {instrument.due}" if instrument.due else "",
        instrument.position,
    )
    return ", ".join(part for part in parts if part)
