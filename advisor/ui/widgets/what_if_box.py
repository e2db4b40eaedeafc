"""What if: levers under the picture of the week, and what they come to in one sentence."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import cast

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from advisor.base.units import Units
from advisor.climate.shop.shop import Change, HeaterKind, Move
from advisor.planning.words import Words
from advisor.ui.dialogs.fields import ChoiceField
from advisor.ui.theme import Look
from advisor.ui.widgets import what_if_words as w
from advisor.ui.widgets.lever import Lever
from advisor.ui.widgets.parts import capital, clear, text
from advisor.work.outlook_views import Suggestion

HOUR_S = 3600.0
#: Hours ahead the levers for from and until reach; the last one means the whole time.
REACH_H = 72
AIR = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0)
KINDS = (("electric", "electric"), ("vented", "vented"), ("unvented", "unvented"))
#: Where the work can be taken; each is offered where some of it is not there yet.
STAYS, YARD, SHOP = ("", "Work stays"), ("outdoors", "In the yard"), ("indoors", "In the shop")
#: Narrowest a lever may be, px at 100 %.
CELL = 116
USUAL_DAMP_M2 = 20.0
ASK = "Move a lever: the picture shows the week as it would be."


class Offer(QPushButton):
    """A suggestion as a button, its words wrapped so that none is lost."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.setAccessibleName(words)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.words = text(words, "small", wrap=True)
        self.words.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 4, 10, 4)
        row.addWidget(self.words)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return room for the words at the width there is."""
        height = self.words.heightForWidth(max(80, self.width() - 22)) + 10
        return QSize(120, max(super().sizeHint().height(), height))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Same as wished."""
        return self.sizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Take the height the words need at the new width."""
        super().resizeEvent(event)
        self.updateGeometry()


class WhatIfBox(QFrame):
    """`changed` with the change the levers stand for."""

    changed = Signal(object)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("card")
        self._look = look
        self._words: Words | None = None
        self._begin_s, self._columns = 0.0, 0
        self._make_levers()
        self.kind = ChoiceField("Heater kind", list(KINDS), "electric")
        self.place = ChoiceField("Where the work is", [STAYS], "")
        for choice in (self.kind, self.place):
            choice.changed.connect(self._moved)
        self.sentence = text(ASK, wrap=True)
        self.notes = text("", "bad", wrap=True)
        self.notes.hide()
        self.as_it_is = QPushButton("&As it is")
        self.as_it_is.setToolTip("Put every lever back")
        self.as_it_is.clicked.connect(self.clear)
        self._roomy = True
        self.shelf = QWidget()
        self.offers = QHBoxLayout(self.shelf)
        self.offers.setContentsMargins(0, 0, 0, 0)
        self.offers.setSpacing(8)
        self._lay_out()
        look.changed.connect(self._arrange)

    def _make_levers(self) -> None:
        look = self._look
        hours = tuple(float(h) for h in range(REACH_H + 1))
        self.heater = Lever(look, "Heater", _steps(8, 0.5), self._say(w.power))
        self.drier = Lever(look, "Dehumidifier", _steps(60, 2), self._say(w.rate))
        self.air = Lever(look, "Air change", AIR, w.air, 1.0)
        self.damp = Lever(look, "Water on floor", _steps(40, 1), self._say(w.water))
        self.floor = Lever(look, "Spread over", _steps(100, 5)[1:], self._say(w.floor),
                           USUAL_DAMP_M2)  # fmt: skip
        self.tent = Lever(look, "Tent round work", _steps(100, 2), self._say(w.room))
        self.begin = Lever(look, "From", hours, lambda h: self._moment(h, 0, "now"))
        self.end = Lever(look, "Until", hours, lambda h: self._moment(h, REACH_H, "the end"),
                         REACH_H)  # fmt: skip
        self.begin.changed.connect(lambda: self._keep_order(self.begin))
        self.end.changed.connect(lambda: self._keep_order(self.end))
        for lever in self.levers():  # after the order is kept, or a wrong one is sent first
            lever.changed.connect(self._moved)

    def levers(self) -> tuple[Lever, ...]:
        """Return the levers in reading order."""
        return (self.heater, self.drier, self.air, self.damp, self.floor, self.tent,
                self.begin, self.end)  # fmt: skip

    def _lay_out(self) -> None:
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(14)
        self._grid.setVerticalSpacing(6)
        told = QVBoxLayout()
        told.setSpacing(2)
        told.addWidget(self.sentence)
        told.addWidget(self.notes)
        foot = QHBoxLayout()
        foot.setSpacing(10)
        foot.addLayout(told, 5)
        foot.addWidget(self.shelf, 6)
        foot.addWidget(self.as_it_is)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 18, 8)
        column.setSpacing(6)
        column.addLayout(self._grid)
        column.addLayout(foot)
        self._arrange()

    # --- what is shown -------------------------------------------------------------------

    def show_words(self, words: Words) -> None:
        """Write every number in the reader's units and clock; the hours count from now."""
        self._words = words
        if words.now_s is not None and w.is_nothing(self.change()):
            self._begin_s = math.ceil(words.now_s / HOUR_S) * HOUR_S
        for lever in self.levers():
            lever.write()

    def show_room(self, volume_m3: float) -> None:
        """Let the tent be no larger than the shop it hangs in."""
        step = 1.0 if volume_m3 <= 60 else 2.0 if volume_m3 <= 200 else 10.0
        kept = self.tent.value
        self.tent.set_values(_steps(max(step, volume_m3 // 2), step))
        self.tent.show_value(kept)

    def show_places(self, *, indoors: bool, outdoors: bool) -> None:
        """Offer the places the work can go to, by where some of it is now."""
        kept = self.place.key
        options = [STAYS, *([YARD] if indoors else []), *([SHOP] if outdoors else [])]
        self.place.set_options(options)
        self._show_choice(self.place, kept if kept in dict(options) else "")

    def change(self) -> Change:
        """Return the change the levers stand for."""
        damp, begin, end = self.damp.value, self.begin.value, self.end.value
        return Change(
            heater_kw=self.heater.value,
            heater_kind=cast(HeaterKind, self.kind.key),
            dehumidifier_l_per_day=self.drier.value,
            air_changes=self.air.value,
            damp_litres=damp,
            damp_m2=self.floor.value if damp else 0.0,
            tent_m3=self.tent.value,
            from_s=None if begin == 0 else self._begin_s + begin * HOUR_S,
            until_s=None if end == REACH_H else self._begin_s + end * HOUR_S,
            move=cast(Move, self.place.key),
        )

    def show_change(self, change: Change) -> None:
        """Put the levers where a change has them, and say so."""
        for lever, value in (
            (self.heater, change.heater_kw),
            (self.drier, change.dehumidifier_l_per_day),
            (self.air, change.air_changes),
            (self.damp, change.damp_litres),
            (self.floor, change.damp_m2 or USUAL_DAMP_M2),
            (self.tent, change.tent_m3),
            (self.begin, 0.0 if change.from_s is None else self._hours(change.from_s)),
            (self.end, REACH_H if change.until_s is None else self._hours(change.until_s)),
        ):
            lever.show_value(value)
        self._show_choice(self.kind, change.heater_kind)
        self._show_choice(self.place, change.move)
        self.changed.emit(self.change())

    def clear(self) -> None:
        """Leave the shop as it is."""
        self.show_change(Change())

    def say(self, words: str, notes: Sequence[str] = ()) -> None:
        """Say what the change comes to, and its cautions."""
        self.sentence.setText(capital(words))
        self.notes.setText(" ".join(notes))
        self.notes.setVisible(bool(notes))

    def show_offers(self, suggestions: Sequence[Suggestion]) -> None:
        """Offer the cheapest changes as buttons that set the levers; two at most."""
        clear(self.offers)
        for one in suggestions[:2]:
            offer = Offer(one.text)
            offer.clicked.connect(lambda _=False, change=one.change: self.show_change(change))
            self.offers.addWidget(offer, 1)
        self._show_shelf()

    def set_roomy(self, on: bool) -> None:
        """Say whether there is room for the suggestions."""
        self._roomy = on
        self._show_shelf()

    def _show_shelf(self) -> None:
        self.shelf.setVisible(self._roomy and self.offers.count() > 0)

    # --- inner ---------------------------------------------------------------------------

    def _say(self, write: Callable[[float, Units], str]) -> Callable[[float], str]:
        def say(value: float) -> str:
            if value == 0.0:
                return "none"
            return write(value, "metric" if self._words is None else self._words.units)

        return say

    def _moment(self, hours: float, rest: float, words: str) -> str:
        if hours == rest or self._words is None:
            return words
        return self._words.moment(self._begin_s + hours * HOUR_S)

    def _show_choice(self, field: ChoiceField, key: str) -> None:
        field.box.setCurrentIndex(max(0, field.box.findData(key)))

    def _hours(self, at_s: float) -> float:
        return (at_s - self._begin_s) / HOUR_S

    def _keep_order(self, moved: Lever) -> None:
        """Push the other end along, so that from stays before until."""
        begin, end = self.begin.value, self.end.value
        if begin >= end:
            if moved is self.begin:
                self.end.show_value(min(begin + 1, REACH_H))
                self.begin.show_value(min(begin, REACH_H - 1))
            else:
                self.begin.show_value(max(end - 1, 0))
                self.end.show_value(max(end, 1))

    def _moved(self) -> None:
        self.changed.emit(self.change())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fold the levers into as many rows as the width asks for."""
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        cells: list[QWidget] = list(self.levers())
        cells.insert(1, self.kind)
        cells.insert(-2, self.place)
        most = max(2, (self.width() - 36) // (self._look.px(CELL) + 14))
        rows = math.ceil(len(cells) / most)
        columns = math.ceil(len(cells) / rows)
        if columns == self._columns:
            return
        self._columns = columns
        for k in range(self._grid.columnCount()):
            self._grid.setColumnStretch(k, 0)
        for k, cell in enumerate(cells):
            self._grid.addWidget(cell, k // columns, k % columns)
            self._grid.setColumnStretch(k % columns, 1)


def _steps(last: float, step: float) -> tuple[float, ...]:
    """Return 0, step, 2 step … last."""
    return tuple(k * step for k in range(int(last / step) + 1))
