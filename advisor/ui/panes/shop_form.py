"""The shop itself: kind, volume, where it stands; kept when asked, never overwritten unasked."""

from __future__ import annotations

import math

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout

from advisor.base import units as u
from advisor.climate.place import Place
from advisor.climate.shop.shop import KINDS, Shop
from advisor.ui.dialogs.fields import ChoiceField, Field, LineField, NumberField
from advisor.ui.panes.instrument_fields import InstrumentFields
from advisor.ui.widgets.parts import BigButton, text
from advisor.work.instruments import Instruments

PRIVATE = (
    "Coordinates are cut to 2 decimals, about a kilometre (0.7 mile), before any service is asked"
)
#: Kinds of shop in the words of the list.
_KIND_WORDS = (
    ("open shelter", "open shelter, roof only"),
    ("tent", "tent or sheeting"),
    ("stone shed", "stone shed, unheated"),
    ("timber shed", "timber shed, unheated"),
    ("metal shed", "metal shed, unheated"),
    ("insulated", "insulated shop"),
)


def degrees(words: str, letters: str) -> float | None:
    """Read "50.37", "-4,14" or "4.14 W"; None where it is no number. `letters`: plus, minus."""
    typed = words.strip().upper().replace("°", "").replace("−", "-").replace(",", ".")
    sign = 1.0
    if typed and typed[-1] in letters:
        sign = -1.0 if typed[-1] == letters[1] else 1.0
        typed = typed[:-1].strip()
    try:
        value = sign * float(typed)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


class ShopForm(QFrame):
    """`kept` with the shop and its instruments as entered."""

    kept = Signal(object, object)

    def __init__(self, units: u.Units) -> None:
        super().__init__()
        self.setObjectName("card")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        self._units, self._shown, self._stated = units, Shop(), Instruments()
        self._tried = False
        column.addWidget(text("Your shop", "title"))
        self._make_fields()
        column.addLayout(self._lay_out())
        self.instruments = InstrumentFields()
        self.instruments.changed.connect(self._changed)
        self.seen = text("", "small", wrap=True)
        self.state = text("", "strong", wrap=True)
        self.keep = BigButton("&Keep this shop", main=True)
        self.keep.clicked.connect(self._keep)
        for part in (self.seen, self.instruments, self.state, self.keep):
            column.addWidget(part)
        column.addStretch(1)
        self._fill(Shop(), Instruments())

    @property
    def edited(self) -> bool:
        """Whether something was changed and not kept."""
        return any(field.touched for field in self._all)

    def show_shop(self, shop: Shop, stated: Instruments, units: u.Units) -> None:
        """Fill the fields, unless somebody is in the middle of changing them."""
        wanted = (shop, stated, units)
        if self.edited or wanted == (self._shown, self._stated, self._units):
            return
        self._shown, self._stated, self._units = wanted
        self._fill(shop, stated)

    def stored(self) -> None:
        """Note that what is in the fields has been kept."""
        for field in self._all:
            field.touched = False
        self._tried = False
        self.instruments.show_counted(self._stated, self._units)
        self._changed()

    def entered(self) -> tuple[Shop, Instruments] | None:
        """Return what is entered; None, with every problem shown, where something is wrong."""
        self._tried = True
        return self._read() if self._check() else None

    def set_units(self, units: u.Units) -> None:
        """Write the same numbers in other units, what is not kept yet too."""
        if units == self._units:
            return
        entered, edited = self._read() if self._check() else None, self.edited
        if edited and entered is None:
            return  # a field that cannot be read stays as typed, in the units it was typed in
        self._units = units
        self._fill(*(entered or (self._shown, self._stated)))
        if edited:
            self.volume.touched = True
            self._changed()

    # --- inner ---------------------------------------------------------------------------

    def _make_fields(self) -> None:
        self.kind = ChoiceField("Kind of shop", list(_KIND_WORDS), "timber shed")
        self.volume = NumberField("Volume of air", u.AIR_VOLUME, self._units)
        self.altitude = LineField("Above the sea")
        self.lat = LineField("Latitude, ° north", hint="50.37")
        self.lon = LineField("Longitude, ° east", hint="-4.14")
        self._fields = (self.kind, self.volume, self.altitude, self.lat, self.lon)
        for field in self._fields:
            field.changed.connect(self._changed)

    def _lay_out(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.addWidget(self.kind, 0, 0, 1, 2)
        for k, field in enumerate(self._fields[1:]):
            grid.addWidget(field, 1 + k // 2, k % 2)
        return grid

    @property
    def _all(self) -> tuple[Field, ...]:
        return (*self._fields, *self.instruments.fields)

    def _fill(self, shop: Shop, stated: Instruments) -> None:
        """Write shop and instruments into the fields; none counts as changed by the person."""
        place = shop.place
        high_m = place.altitude_m if place else 0.0
        high = u.format_value(high_m, u.ALTITUDE, self._units, with_label=False)
        self._altitude_m = (high, high_m)
        self.kind.set_options(list(_KIND_WORDS), shop.kind)
        self.volume.show_number(shop.volume_m3, self._units)
        self.altitude.show_caption(f"Above the sea, {u.label(u.ALTITUDE, self._units)}")
        self.altitude.show_text(high)
        self.lat.show_text("" if place is None else _degree(place.lat_deg))
        self.lon.show_text("" if place is None else _degree(place.lon_deg))
        self.instruments.show_instruments(stated, self._units)
        for field in self._all:
            field.touched = False
        self._changed()

    def _changed(self) -> None:
        self._check()
        place = self._place()
        if place is None:
            self.seen.setText(f"{PRIVATE}. No place yet, so no forecast is fetched.")
        else:
            cut = place.cut()
            self.seen.setText(f"{PRIVATE}: it is told {cut.lat_deg:.2f}, {cut.lon_deg:.2f}.")
        self.state.setText("Not kept yet." if self.edited else "")
        self.state.setVisible(self.edited)

    def _numbers(self) -> tuple[float | None, float | None, float | None]:
        lat, lon = degrees(self.lat.value, "NS"), degrees(self.lon.value, "EW")
        if self.altitude.value == self._altitude_m[0]:
            return lat, lon, self._altitude_m[1]
        high = degrees(self.altitude.value, "  ")
        return lat, lon, None if high is None else u.from_display(high, u.ALTITUDE, self._units)

    def _no_place(self) -> bool:
        return not self.lat.value and not self.lon.value

    def _place(self) -> Place | None:
        lat, lon, high = self._numbers()
        known = lat is not None and lon is not None and high is not None
        inside = known and abs(lat or 0) <= 90 and abs(lon or 0) <= 180
        if not inside or not -430 <= (high or 0.0) <= 5500:
            return None
        return Place(lat or 0.0, lon or 0.0, high or 0.0)

    def _check(self) -> bool:
        lat, lon, high = self._numbers()
        low, top = (u.format_value(x, u.ALTITUDE, self._units) for x in (-430.0, 5500.0))
        volume = self.volume.number
        problems: dict[Field, str] = {
            self.volume: "" if volume and 1 <= volume <= 1e6 else "a number of at least "
            + u.format_value(1.0, u.AIR_VOLUME, self._units),
            self.lat: "" if self._no_place() or (lat is not None and abs(lat) <= 90)
            else "-90 to 90, such as 50.37",
            self.lon: "" if self._no_place() or (lon is not None and abs(lon) <= 180)
            else "-180 to 180, such as -4.14",
            self.altitude: "" if high is not None and -430 <= high <= 5500
            else f"{low} to {top}",
            **{field: field.problem for field in self.instruments.fields},
        }  # fmt: skip
        return all(
            [field.judge(problem, always=self._tried) for field, problem in problems.items()]
        )

    def _read(self) -> tuple[Shop, Instruments]:
        kind = next(kind for kind in KINDS if kind == self.kind.key)
        place = None if self._no_place() else self._place()
        return Shop(kind, self.volume.number or 1.0, place), self.instruments.instruments()

    def _keep(self) -> None:
        found = self.entered()
        if found is not None:
            self._shown, self._stated = found
            self.kept.emit(*found)


def _degree(value: float) -> str:
    return f"{value:.5f}".rstrip("0").rstrip(".")
