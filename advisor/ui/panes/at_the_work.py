"""What is it like at the work? Four readings, the tins, the dew point, how far above it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QVBoxLayout

from advisor.base import units as u
from advisor.climate.quality import AS_WARM, COLDER
from advisor.climate.reading_store import LatestValue
from advisor.ui.desk import Desk
from advisor.ui.widgets.parts import fade, text
from advisor.ui.widgets.reading_box import BoxKind, ReadingBox
from advisor.ui.widgets.tins_box import TinsBox
from advisor.work.views import BeforeMixing, Reading

if TYPE_CHECKING:
    from advisor.work.bench_side import AirNow

_TEMPERATURES = (-40.0, 60.0, 0.1)
KINDS = MappingProxyType({
    "air_temp_c": BoxKind("Air", u.TEMPERATURE, *_TEMPERATURES, "Air in the shade, at the work."),
    "rh_pct": BoxKind("Humidity", u.HUMIDITY, 1.0, 100.0, 1.0, "Relative humidity at the work."),
    "surface_temp_c": BoxKind(
        "Coldest spot", u.TEMPERATURE, *_TEMPERATURES,
        "The coldest spot you will paint. Infra-red: aim at matt tape, not at gloss or metal.",
    ),
    "surface_hot_c": BoxKind(
        "Hottest spot", u.TEMPERATURE, *_TEMPERATURES,
        "The hottest spot you will paint; leave empty if all is alike.",
    ),
})  # fmt: skip


#: Values confirmed within this long are one reading (common practice: one round), seconds.
ONE_READING_S = 5 * 60
EXCHANGED = f"found {COLDER}; accepted: {AS_WARM}"


class AtTheWork(QFrame):
    """`changed` when a reading in a box, or the temperature of the tins, changed."""

    changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.boxes = {name: ReadingBox(desk.look, kind, desk.now_s) for name, kind in KINDS.items()}
        self.dew = text("", "dew", wrap=True)
        self.above = text("", "strong", wrap=True)
        self.note = text("Limits are judged on readings as taken.", "small", wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        self.title = text("At the work, now", "title")
        column.addWidget(self.title)
        for box in self.boxes.values():
            box.changed.connect(self._check)
            box.set_units(desk.units)
            column.addWidget(box)
        self.tins = TinsBox(desk.bench.settings.text("mix_temp_c"), desk.units)
        self.tins.changed.connect(self._keep_tins)
        column.addWidget(self.tins)
        for label in (self.dew, self.above, self.note):
            column.addWidget(label)
        column.addStretch(1)

    def put_air_first(self) -> None:
        """Show the margin large above the boxes: with a batch open it is what counts."""
        column = self.layout()
        assert isinstance(column, QVBoxLayout)
        for at, label in enumerate((self.above, self.dew), start=1):
            column.removeWidget(label)
            column.insertWidget(at, label)
        self.title.hide()
        self.above.setProperty("role", "aim")
        self.note.hide()
        self.tins.hide()  # asked for with the batch

    @Slot(bool)
    def set_low(self, low: bool) -> None:
        """Show all four readings where height is short."""
        for box in self.boxes.values():
            box.set_low(low)
        column = self.layout()
        assert column is not None
        column.setSpacing(4 if low else 8)

    def show_latest(self, latest: Mapping[str, LatestValue]) -> None:
        """Fill the boxes nobody is typing in from what is kept, each with its own age."""
        for name, box in self.boxes.items():
            found = None if name == "surface_hot_c" and _hot_is_other(latest) else latest.get(name)
            if found is None:
                box.set_reading(None, None, "")
            else:
                box.set_reading(found.value, float(found.time_s), str(found.origin))
        refuse_exchanged(self.boxes)
        self.show_ages()

    def _check(self) -> None:
        refuse_exchanged(self.boxes)
        self.changed.emit()

    def _keep_tins(self) -> None:
        if not self.tins.wrong:
            settings, value = self._desk.bench.settings, self.tins.kept()
            # Through the one worker: the verdict asked after it finds the new temperature.
            self._desk.operations.write(lambda: settings.set("mix_temp_c", value), lambda _: None)
        self.changed.emit()

    def show_ages(self) -> None:
        """Show how old each reading is."""
        for box in self.boxes.values():
            box.show_age(self._desk.now_s(), self._desk.stale_after_s)

    def set_units(self) -> None:
        """Show the readings in the reader's units."""
        for box in self.boxes.values():
            box.set_units(self._desk.units)
        self.tins.set_units(self._desk.units)

    def wrong(self) -> ReadingBox | None:
        """Return the first box whose text is no reading."""
        return next((box for box in self.boxes.values() if box.wrong), None)

    def wrong_tins(self) -> TinsBox | None:
        """Return the box of the tins if its text is no temperature."""
        return self.tins if self.tins.wrong else None

    def typed(self) -> tuple[Reading, ...]:
        """Return what was typed and not kept yet, nothing else in it.

        A painter goes from one instrument to the next: what was confirmed within a few minutes
        is one reading, as old as its oldest value.
        """
        typed = sorted(
            (int(box.taken_s), name) for name, box in self.boxes.items()
            if box.edited and box.value is not None and box.taken_s is not None
        )  # fmt: skip
        moments: dict[int, dict[str, ReadingBox]] = {}
        first_s: int | None = None
        for taken_s, name in typed:
            if first_s is None or taken_s - first_s > ONE_READING_S:
                first_s = taken_s
            moments.setdefault(first_s, {})[name] = self.boxes[name]
        return tuple(reading_in(boxes, taken_s) for taken_s, boxes in moments.items())

    def reading(self) -> Reading | None:
        """Return what is in the boxes, as old as the oldest of them; None when all is as kept."""
        if not any(box.edited for box in self.boxes.values()):
            return None
        return self._gathered()

    def _gathered(self) -> Reading:
        full = {name: box for name, box in self.boxes.items() if box.value is not None}
        taken = [box.taken_s for box in full.values() if box.taken_s is not None]
        return reading_in(full, min(taken, default=self._desk.now_s()))

    def forget(self) -> None:
        """Go by what is kept again, whatever is in the boxes."""
        for box in self.boxes.values():
            box.stored()

    def stored(self, readings: tuple[Reading, ...]) -> None:
        """Note that these have been kept; what was typed since has not."""
        kept = [(name, was) for one in readings for name, was in one.entered.items()]
        for name, box in self.boxes.items():
            same = any(name == one and box.entered is was for one, was in kept)
            if same or not box.field.text().strip():
                box.stored()

    def show_working(self) -> None:
        """Fade the dew point of before the change."""
        fade((self.dew, self.above), True)

    def show_answer(self, answer: BeforeMixing | AirNow | None) -> None:
        """Show dew point and how far above it; without an answer, that it is not known."""
        fade((self.dew, self.above), False)
        if answer is None:
            self.dew.setText("Dew point: not known")
            self.above.setText("")
            return
        units = self._desk.units
        frost = answer.frost_point_c is not None
        name = "Frost point" if frost else "Dew point"
        point = answer.frost_point_c if frost else answer.dew_point_c
        self.dew.setText(f"{name} {u.format_temperature(point, units)}")
        if answer.margin_k is None:
            self.above.setText("Coldest spot: not known")
            return
        side = "above" if answer.margin_k >= 0 else "below"
        gap = u.format_difference_with_sd(abs(answer.margin_k), answer.margin_sd_k, units)
        self.above.setText(f"Coldest spot {gap} {side}")


def refuse_exchanged(boxes: Mapping[str, ReadingBox]) -> None:
    """Refuse a hottest spot colder than the coldest beside its box, not after the verdict."""
    cold, hot = boxes["surface_temp_c"].value, boxes["surface_hot_c"].value
    exchanged = cold is not None and hot is not None and hot < cold
    boxes["surface_hot_c"].refuse(EXCHANGED if exchanged else "")


def reading_in(boxes: Mapping[str, ReadingBox], taken_s: float) -> Reading:
    """Return what is in some of the boxes as one reading, its numbers as they were typed."""
    values = {name: box.value for name, box in boxes.items()}
    entered = {name: box.entered for name, box in boxes.items() if box.entered is not None}
    return Reading(
        taken_s,
        values.get("air_temp_c"),
        values.get("rh_pct"),
        values.get("surface_temp_c"),
        values.get("surface_hot_c"),
        entered=entered,
    )


def _hot_is_other(latest: Mapping[str, LatestValue]) -> bool:
    """Whether the hottest spot kept, colder than the coldest, is of another time: tells nothing."""
    hot, cold = latest.get("surface_hot_c"), latest.get("surface_temp_c")
    if hot is None or cold is None:
        return False
    return hot.value < cold.value and hot.time_s != cold.time_s
