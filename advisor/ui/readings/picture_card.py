"""Picture and table of one zone: which zone, which stretch, how old, and the moment picked."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout

from advisor.base import units as u
from advisor.planning.words import Words, duration
from advisor.ui.dialogs.fields import Choice, button
from advisor.ui.operations import Operations
from advisor.ui.plots.readings_picture import Ribbon, nearest
from advisor.ui.plots.readings_plot import ReadingsPlot
from advisor.ui.readings.filters import Filters
from advisor.ui.readings.rows import HEADINGS, RowPages, clock
from advisor.ui.readings.sensor_card import ago
from advisor.ui.theme import Look
from advisor.ui.widgets.age_ring import AgeRing
from advisor.ui.widgets.paged_table import PagedTable
from advisor.ui.widgets.parts import text
from advisor.work.readings_look import SOURCES, Zone

#: Stretches at a tap, seconds; None is all there is.
STRETCHES: tuple[tuple[str, float | None], ...] = (
    ("Day", 86400.0),
    ("Week", 7 * 86400.0),
    ("Month", 30 * 86400.0),
    ("All", None),
)
TAP_FOR_MORE = "Tap the picture or a row: it is told here."
#: Room left after the last reading, as a share of the view.
_AHEAD = 0.04
#: Rows of the table that are always on show.
_LEAST_ROWS = 4


class PictureCard(QFrame):
    """`zone_chosen` with the area of a zone."""

    zone_chosen = Signal(str)

    def __init__(self, look: Look, work: Operations) -> None:
        super().__init__()
        self.setObjectName("card")
        self._look = look
        self._reach: tuple[float, float] | None = None
        self.zone_box = Choice()
        self.zone_box.setAccessibleName("Zone")
        self.zone_box.activated.connect(lambda _: self.zone_chosen.emit(self.zone_key))
        self.ring, self.age = AgeRing(look), text("", "small", wrap=True)
        self.plot, self.filters = ReadingsPlot(look), Filters()
        self.table = PagedTable(look, HEADINGS, work)
        self.table.setAccessibleName("Table of the readings")
        self.told, self.count = text(TAP_FOR_MORE, "strong", wrap=True), text("", "small")
        self.stretches = tuple(self._stretch(name, span) for name, span in STRETCHES)
        self.closer, self.further = button("+", "Closer"), button("−", "Further away")
        self.closer.clicked.connect(lambda: self.plot.zoom(0.5))
        self.further.clicked.connect(lambda: self.plot.zoom(2.0))
        self._lay_out()
        self._relook()
        look.changed.connect(self._relook)

    def _lay_out(self) -> None:
        self._top, under = QGridLayout(), QHBoxLayout()
        age, self._buttons = QHBoxLayout(), QHBoxLayout()
        for row in (self._top, under, age, self._buttons):
            row.setSpacing(8)
        age.addWidget(self.zone_box, 2)
        age.addWidget(self.ring)
        age.addWidget(self.age, 2)
        for part in (*self.stretches, self.further, self.closer):
            self._buttons.addWidget(part)
        self._top.addLayout(age, 0, 0)
        self._top.addLayout(self._buttons, 0, 1)
        self._top.setColumnStretch(0, 1)
        under.addWidget(self.told, 1)
        under.addWidget(self.count)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(6)
        column.addLayout(self._top)
        column.addWidget(self.plot, 3)
        column.addLayout(under)
        column.addWidget(self.filters)
        column.addWidget(self.table, 2)

    def set_narrow(self, narrow: bool) -> None:
        """Put the buttons of the picture under the zone where there is little room."""
        self._top.removeItem(self._buttons)
        self._top.addLayout(self._buttons, *((1, 0, 1, 2) if narrow else (0, 1, 1, 1)))

    def _stretch(self, name: str, span: float | None) -> QPushButton:
        made = button(name, f"Show the last {name.lower()}" if span else "Show all readings")
        made.clicked.connect(lambda: self.show_last(span))
        return made

    def _relook(self) -> None:
        self.table.rows_wished = _LEAST_ROWS
        self.table.setMinimumHeight(self.table.sizeHint().height())

    # --- zone, age, stretch --------------------------------------------------------------

    @property
    def zone_key(self) -> str:
        """Return the area of the zone chosen."""
        return str(self.zone_box.currentData() or "")

    def show_zones(self, zones: tuple[Zone, ...]) -> None:
        """Offer the zones; the one chosen stays chosen."""
        chosen = self.zone_key
        self.zone_box.clear()
        for zone in zones:
            self.zone_box.addItem(zone.name, zone.area)
        self.zone_box.setCurrentIndex(max(0, self.zone_box.findData(chosen)))

    def show_reach(self, reach: tuple[float, float] | None, words: Words) -> None:
        """Take over from when to when there are readings."""
        self._reach = reach
        self.plot.set_reader(words.zone, words.units)
        self.plot.set_reach(reach)

    def show_age(self, now_s: float, stale_after_s: float, words: Words) -> None:
        """Show how old the newest reading is, as a ring and in words."""
        if self._reach is None:
            self.ring.set_share(None)
            self.age.setText("nothing read yet")
            return
        last_s = self._reach[1]
        self.ring.set_share(max(0.0, 1 - (now_s - last_s) / stale_after_s))
        told = ago(last_s, words)
        self.age.setText(f"too old: {told}" if self.ring.stale else f"last reading {told}")

    def show_last_day(self) -> None:
        """Show the day up to the newest reading."""
        self.show_last(STRETCHES[0][1])

    def show_last(self, span: float | None) -> None:
        """Show a stretch up to the newest reading, or all of them."""
        if self._reach is None:
            return
        first, last = self._reach
        wide = max(last - first, 600.0) if span is None else span
        self.plot.show_view(last - wide * (1 + (_AHEAD if span is None else 0)),
                            last + _AHEAD * wide)  # fmt: skip

    def follow(self, reach: tuple[float, float]) -> None:
        """Move on with new readings where the newest one was on show."""
        axis = self.plot.axis
        span = axis.last_s - axis.first_s
        if axis.last_s < reach[1] <= axis.last_s + span:
            self.plot.show_view(reach[1] - span * (1 - _AHEAD), reach[1] + _AHEAD * span)

    # --- what is told --------------------------------------------------------------------

    def say(self, words: str) -> None:
        """Say why there is no picture; "" takes it back."""
        self.plot.say(words)
        if words:
            self.table.show_pages(None, words)
            self.count.setText("")

    def show_rows(self, pages: RowPages, empty: str) -> None:
        """Show rows in the table, and how many there are."""
        self.table.show_pages(pages, empty)
        rows = f"{pages.rows:,}".replace(",", " ")
        self.count.setText("1 row" if pages.rows == 1 else f"{rows} rows")
        self.count.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def tell(self, words: str) -> None:
        """Tell one reading in a sentence."""
        self.told.setText(words or TAP_FOR_MORE)

    def tell_moment(self, at_s: float, words: Words) -> None:
        """Tell what was read nearest to a moment."""
        found = nearest(self.plot.fetched.ribbons, at_s) if self.plot.fetched else None
        self.tell("nothing read here" if found is None else told_point(*found, words))


def told_point(one: Ribbon, k: int, words: Words) -> str:
    """Tell one point: a reading, or lowest and highest of a step."""
    unit = u.label(u.TEMPERATURE, words.units)

    def pair(name: str) -> str:
        low, high = one.lines[name][:, k]
        if np.isnan(low):
            return u.NOT_KNOWN
        return f"{low:.1f} {unit}" if high - low < 0.05 else f"{low:.1f} to {high:.1f} {unit}"

    margin = u.format_difference(float(one.margin_k[k]), words.units)
    gap = f"margin {margin}" if not one.step_s else f"margin at the least {margin}"
    around = f"{duration(one.step_s / 3600)} around " if one.step_s else ""
    told = (
        f"{around}{clock(float(one.time_s[k]), words)}, {SOURCES[one.origin]}: surface "
        f"{pair('surface_temp_c')}, dew point {pair('wet_point_c')}, {gap}; "
        f"air {pair('air_temp_c')}"
    )
    return f"{told}. In doubt: its row in the table says why" if one.doubtful[k] else told
