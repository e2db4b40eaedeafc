"""One instrument: what it measures, its serial number, its calibration."""

from __future__ import annotations

from dataclasses import asdict

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from advisor.record.kinds import KINDS
from advisor.ui.desk import Desk
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.record.editors import TextEditor
from advisor.ui.record.entry_form import EntryForm
from advisor.ui.widgets.parts import Tall, size_to_screen
from advisor.work.instrument_list import Instrument, keep_instrument

_HINTS = (("calibrated", "2026-05-31"), ("due", "2027-05-31"), ("accuracy", "± 0.5 °C"))


class InstrumentDialog(KeepDialog):
    """Keeps one instrument; nothing is kept before the button is pressed."""

    def __init__(
        self, desk: Desk, instrument: Instrument | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(desk, "Instrument", "&Keep this instrument", parent)
        self.form = EntryForm(KINDS["instrument"], desk.words(), desk.now_s)
        for key, hint in _HINTS:
            editor = self.form.editors[key]
            if isinstance(editor, TextEditor):
                editor.line.setPlaceholderText(hint)
        if instrument is not None:
            self._fill(instrument)
        self._lay_out()
        size_to_screen(self, 900, 640, desk.look.scale_pct)

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
        column.addLayout(self.foot())

    def accept(self) -> None:
        """Keep it; the form stays, with the reason, where it could not be kept."""
        if self.form.check(always=True):
            self.said.setText("Not kept yet: mend what is marked.")
            return
        told = {key: str(value) for key, value in self.form.data().items()}
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.keep_by(lambda: keep_instrument(bench, Instrument(**told), now_s))
