"""A reading typed by hand: boxes for gloves with a number pad, kept with the time it was taken."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from advisor.planning.words import Words
from advisor.ui.desk import Desk
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.panes.at_the_work import KINDS, reading_in, refuse_exchanged
from advisor.ui.widgets.parts import size_to_screen, text
from advisor.ui.widgets.reading_box import ReadingBox
from advisor.work.readings_look import Zone
from advisor.work.views import Reading

ABOUT = "What was measured just now. Leave empty what was not."
NOTHING = "Nothing is typed yet."


class TypeReadingDialog(KeepDialog):
    """Keeps one reading with its entry in the record; nothing before Keep."""

    def __init__(self, desk: Desk, zone: Zone, parent: QWidget | None = None) -> None:
        super().__init__(desk, "A reading by hand", "&Keep this reading", parent)
        self._zone = zone
        self.boxes = {name: ReadingBox(desk.look, kind, desk.now_s) for name, kind in KINDS.items()}
        self.said.hide()
        self._lay_out(desk.words())
        for box in self.boxes.values():
            box.set_units(desk.units)
            box.changed.connect(self._compare)
            box.pad_wanted.connect(self._open_pad)
            box.pad_unwanted.connect(self.pad.put_away)
        self.boxes["air_temp_c"].field.setFocus()
        size_to_screen(self, 760, 440, desk.look.scale_pct)

    def _lay_out(self, words: Words) -> None:
        grid = QGridLayout()
        grid.setSpacing(12)
        for k, box in enumerate(self.boxes.values()):
            grid.addWidget(box, k // 2, k % 2)
        column = QVBoxLayout(self)
        column.setSpacing(12)
        column.addWidget(text(f"{self._zone.name}, {words.moment(self._desk.now_s())}", "title"))
        column.addWidget(text(ABOUT, "small", wrap=True))
        column.addLayout(grid)
        column.addStretch(1)
        column.addWidget(self.said)
        column.addLayout(self.foot())

    def reading(self) -> Reading | None:
        """Return what is typed, taken now; None, with the reason shown, where it will not do."""
        wrong = next((box for box in self.boxes.values() if box.wrong), None)
        if wrong is not None:
            wrong.field.setFocus()
            return None
        typed = {name: box for name, box in self.boxes.items() if box.value is not None}
        if not typed:
            self.say(NOTHING)
            return None
        return reading_in(typed, self._desk.now_s())

    def accept(self) -> None:
        """Keep the reading; the window closes once it is kept."""
        reading = self.reading()
        if reading is None:
            return
        bench, now_s, area = self._desk.bench, self._desk.now_s(), self._area_id()
        self.keep_by(lambda: bench.type_reading(reading, now_s, area))

    def _area_id(self) -> str:
        return "" if self._zone.area == self._desk.bench.readings_area else self._zone.area

    def _open_pad(self, box: ReadingBox) -> None:
        self.pad.open_for(box.field, box)

    def _compare(self) -> None:
        self.say("")
        refuse_exchanged(self.boxes)
        for box in self.boxes.values():
            box.show_age(self._desk.now_s(), self._desk.stale_after_s)

    def say(self, words: str) -> None:
        """Say why it cannot be kept; the line takes no room where there is nothing to say."""
        super().say(words)
        self.said.setVisible(bool(words))
