"""The forecast: whether the internet may be asked, by whom, from which source, or by hand."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QApplication, QCheckBox, QFrame, QVBoxLayout

from advisor.planning.words import Words
from advisor.ui.dialogs.fields import LineField
from advisor.ui.theme import TARGET, Look
from advisor.ui.widgets.parts import BigButton, clear, restyle, text
from advisor.ui.widgets.source_row import SourceRow
from advisor.work.views import SourceView

OFF = "Nothing is asked of the internet. What was fetched before stays in use, with its age."
ON = (
    "About once an hour the source in use is asked. A service that fails never takes away what "
    "it gave before."
)
NO_PLACE = "Say where the shop stands first, then a forecast can be fetched."


class ForecastCard(QFrame):
    """Signals what was asked for; decides nothing."""

    switched = Signal(bool, str)
    chosen = Signal(str, bool)
    fetch = Signal()
    by_hand = Signal()
    from_file = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("card")
        self._look = look
        self._shown: object = None
        self._place, self._busy = False, False
        self.rows: list[SourceRow] = []
        self.switch = QCheckBox("Fetch forecasts from the internet")
        self.switch.setMinimumHeight(TARGET)
        self.switch.clicked.connect(self._switch)
        self.about = text(OFF, "small", wrap=True)
        self.contact = LineField("Contact the services may write to, such as a mail address")
        self.contact.line.editingFinished.connect(self._contact)
        self.told = text("", wrap=True)
        self.told.hide()
        self.type = BigButton("&Type a forecast by hand…")
        self.type.clicked.connect(self.by_hand)
        self.file = BigButton("&Weather file as the weather outdoors…")
        self.file.clicked.connect(self.from_file)
        self._list = QVBoxLayout()
        self._list.setSpacing(8)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addWidget(text("Forecast", "title"))
        for part in (self.switch, self.about, self.contact, self.told):
            column.addWidget(part)
        column.addLayout(self._list)
        column.addWidget(self.type)
        column.addWidget(self.file)
        column.addStretch(1)

    def show_choice(self, fetching: bool, contact: str, *, place: bool) -> None:
        """Show what is allowed; a contact somebody is typing stays."""
        self.switch.setChecked(fetching)
        self._place = place
        self.about.setText(OFF if not fetching else ON if place else NO_PLACE)
        if not self.contact.touched:
            self.contact.show_text(contact)

    def show_sources(self, sources: tuple[SourceView, ...], words: Words) -> None:
        """Replace the list where something changed; opened terms stay open meanwhile."""
        minute = None if words.now_s is None else words.now_s // 60
        if self._shown == (sources, words.units, minute):
            return
        opened = {row.source.id for row in self.rows if not row.terms.isHidden()}
        if opened and self._same_ids(sources):
            return
        focus = QApplication.focusWidget()
        held = next((r.source.id for r in self.rows if focus and r.isAncestorOf(focus)), "")
        self._shown = (sources, words.units, minute)
        clear(self._list)
        self.rows = [SourceRow(self._look, source, words) for source in sources]
        for row in self.rows:
            row.chosen.connect(self.chosen)
            row.fetch.connect(self.fetch)
            self._list.addWidget(row)
            if row.source.id == held:
                (row.fetch_now if row.source.chosen else row.use).setFocus()
        self._mark_busy()

    def show_fetch(self, busy: bool, last: str, failed: bool) -> None:
        """Show that a source is being asked, or how the last time ended."""
        self._busy = busy
        words = "Asking the forecast service; everything else goes on." if busy else last
        self.told.setText(words)
        self.told.setVisible(bool(words))
        restyle(self.told, "role", "bad" if failed and not busy else "strong")
        self._mark_busy()

    def _mark_busy(self) -> None:
        for row in self.rows:
            row.fetch_now.setText("Asking …" if self._busy else "Fetch now")
            row.fetch_now.setEnabled(not self._busy)
            allowed = self.switch.isChecked() and self._place
            row.fetch_now.setVisible(row.source.chosen and allowed)

    def _same_ids(self, sources: tuple[SourceView, ...]) -> bool:
        return [(s.id, s.chosen) for s in sources] == [
            (row.source.id, row.source.chosen) for row in self.rows
        ]

    def _switch(self, on: bool) -> None:
        self.contact.touched = False
        self.switched.emit(on, self.contact.value)

    def _contact(self) -> None:
        if self.contact.touched:
            self.contact.touched = False
            self.switched.emit(self.switch.isChecked(), self.contact.value)
