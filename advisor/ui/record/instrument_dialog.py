"""One instrument: what it measures, its serial number, its calibration."""

from __future__ import annotations

from dataclasses import asdict

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from advisor.record.kinds import KINDS
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import button
from advisor.ui.operations import Failure
from advisor.ui.record.editors import TextEditor
from advisor.ui.record.entry_form import EntryForm
from advisor.ui.widgets.parts import BigButton, Tall, text
from advisor.work.instrument_list import Instrument, keep_instrument

_HINTS = (("calibrated", "2026-05-31"), ("due", "2027-05-31"), ("accuracy", "± 0.5 °C"))


class InstrumentDialog(QDialog):
    """Keeps one instrument; nothing is kept before the button is pressed."""

    def __init__(
        self, desk: Desk, instrument: Instrument | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Instrument")
        self._desk = desk
        self.form = EntryForm(KINDS["instrument"], desk.words(), desk.now_s)
        for key, hint in _HINTS:
            editor = self.form.editors[key]
            if isinstance(editor, TextEditor):
                editor.line.setPlaceholderText(hint)
        if instrument is not None:
            self._fill(instrument)
        self.said = text("", "bad", wrap=True)
        self.keep = BigButton("&Keep this instrument", main=True)
        self.keep.setAutoDefault(False)
        self.keep.clicked.connect(self.accept)
        self.cancel = button("Cancel")
        self.cancel.clicked.connect(self.reject)
        self._lay_out()
        self.resize(900, 640)

    def _fill(self, instrument: Instrument) -> None:
        for key, value in asdict(instrument).items():
            self.form.editors[key].show_json(value)
        # Entries name an instrument by its short name: another name is another instrument.
        self.form.editors["id"].setEnabled(False)

    def _lay_out(self) -> None:
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        inner = QVBoxLayout(holder)
        inner.setContentsMargins(0, 0, 8, 0)
        inner.addWidget(self.form)
        inner.addStretch(1)
        area.setWidget(holder)
        column = QVBoxLayout(self)
        column.addWidget(area, 1)
        column.addWidget(self.said)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.cancel)
        row.addWidget(self.keep)
        column.addLayout(row)

    def accept(self) -> None:
        """Keep it; the form stays, with the reason, where it could not be kept."""
        if self.form.check(always=True):
            self.said.setText("Not kept yet: mend what is marked.")
            return
        told = {key: str(value) for key, value in self.form.data().items()}
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.keep.setEnabled(False)
        self._desk.operations.run(
            "write instrument",
            lambda: keep_instrument(bench, Instrument(**told), now_s),
            lambda _: self._done(),
            self._failed,
        )

    def _done(self) -> None:
        super().accept()

    def _failed(self, failure: Failure) -> None:
        self.keep.setEnabled(True)
        self.said.setText(failure.text)
