"""House units to display units and back; the only converter in the program.

Inside the program every number is in house units (°C, K, m², m³, litres, µm, m/s, mm, m, hPa,
kW, litres a day).
Here, at the border, they become what the painter reads. A temperature difference is not a
temperature: 3 K is 5.4 F°, without the offset of 32.

Factors are exact by definition: international foot 0.3048 m, inch 25.4 mm, US gallon
231 cubic inches, pound 0.45359237 kg (NIST SP 811, appendix B). Inch of mercury: 33.86389 hPa
(same source, conventional, 7 figures).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeVar

from advisor.base.errors import RangeError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Units = Literal["metric", "us"]
UNIT_SYSTEMS: tuple[Units, ...] = ("metric", "us")

#: A number or an array of them.
Number = TypeVar("Number", float, "NDArray[np.float64]")

#: Printed where a value is not known; never a zero.
NOT_KNOWN = "–"

_FOOT_M = 0.3048
_INCH_MM = 25.4
_GALLON_L = 231 * _INCH_MM**3 / 1e6
_SQUARE_FOOT_M2 = _FOOT_M**2


@dataclass(frozen=True)
class Scale:
    """One way to show a quantity: shown = house × factor + offset."""

    label: str
    decimals: int
    factor: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """A quantity with its metric and US scales. `name` is what error messages say."""

    name: str
    metric: Scale
    us: Scale

    def scale(self, units: Units) -> Scale:
        """Return the scale of a unit system; RangeError for an unknown one."""
        if units not in UNIT_SYSTEMS:
            raise RangeError("units", repr(units), "metric or us")
        return self.us if units == "us" else self.metric


TEMPERATURE = Quantity("temperature", Scale("°C", 1), Scale("°F", 1, 1.8, 32.0))
TEMPERATURE_DIFFERENCE = Quantity("temperature difference", Scale("K", 1), Scale("F°", 1, 1.8))
AREA = Quantity("area", Scale("m²", 1), Scale("ft²", 0, 1 / _SQUARE_FOOT_M2))
VOLUME = Quantity("volume", Scale("L", 2), Scale("US gal", 2, 1 / _GALLON_L))
SMALL_VOLUME = Quantity("volume", Scale("mL", 0, 1000.0), Scale("fl oz", 1, 128 / _GALLON_L))
FILM = Quantity("film thickness", Scale("µm", 0), Scale("mil", 1, 1 / _INCH_MM))
SPEED = Quantity("wind speed", Scale("m/s", 1), Scale("mph", 1, 3600 / (5280 * _FOOT_M)))
RAIN = Quantity("rain", Scale("mm", 1), Scale("in", 2, 1 / _INCH_MM))
LENGTH = Quantity("length", Scale("m", 2), Scale("ft", 1, 1 / _FOOT_M))
PACE = Quantity("pace", Scale("m²/h", 1), Scale("ft²/h", 0, 1 / _SQUARE_FOOT_M2))
COVERAGE = Quantity(
    "spreading rate", Scale("m²/L", 1), Scale("ft²/US gal", 0, _GALLON_L / _SQUARE_FOOT_M2)
)
PRESSURE = Quantity("pressure", Scale("hPa", 0), Scale("inHg", 2, 1 / 33.86389))
MASS = Quantity("mass", Scale("kg", 2), Scale("lb", 2, 1 / 0.45359237))
PERCENT = Quantity("percentage", Scale("%", 1), Scale("%", 1))
HUMIDITY = Quantity("relative humidity", Scale("%", 0), Scale("%", 0))
AIR_VOLUME = Quantity("volume of air", Scale("m³", 0), Scale("ft³", 0, 1 / _FOOT_M**3))
ALTITUDE = Quantity("altitude", Scale("m", 0), Scale("ft", 0, 1 / _FOOT_M))
THICKNESS = Quantity("thickness", Scale("mm", 0), Scale("in", 2, 1 / _INCH_MM))
WATER = Quantity("water", Scale("L", 0), Scale("US gal", 1, 1 / _GALLON_L))
WATER_RATE = Quantity("water taken out", Scale("L/day", 0), Scale("gal/day", 1, 1 / _GALLON_L))
POWER = Quantity("power", Scale("kW", 1), Scale("kW", 1))
ENERGY = Quantity("energy", Scale("kWh", 0), Scale("kWh", 0))


def label(quantity: Quantity, units: Units) -> str:
    """Return the unit as printed, such as "°C" or "mil"."""
    return quantity.scale(units).label


def to_display(value: Number, quantity: Quantity, units: Units) -> Number:
    """Convert house units to display units; a number or an array, NaN stays NaN."""
    scale = quantity.scale(units)
    return value * scale.factor + scale.offset


def from_display(value: Number, quantity: Quantity, units: Units) -> Number:
    """Convert display units to house units; the inverse of `to_display`."""
    scale = quantity.scale(units)
    return (value - scale.offset) / scale.factor


def format_value(
    value: float | None,
    quantity: Quantity,
    units: Units,
    *,
    decimals: int | None = None,
    with_label: bool = True,
) -> str:
    """Write a house value with fixed decimals, so that columns of figures line up.

    An unknown value (None, NaN) is a dash. A plain hyphen is the minus sign, because old
    consoles cannot print the typographic one.
    """
    if value is None or math.isnan(value):
        return NOT_KNOWN
    scale = quantity.scale(units)
    places = scale.decimals if decimals is None else decimals
    text = _fixed(value * scale.factor + scale.offset, places)
    if not with_label:
        return text
    return f"{text}{'' if scale.label == '%' else ' '}{scale.label}"


def format_temperature(value_c: float | None, units: Units) -> str:
    """Write a temperature in °C as "12.4 °C" or "54.3 °F"."""
    return format_value(value_c, TEMPERATURE, units)


def format_difference(value_k: float | None, units: Units) -> str:
    """Write a temperature difference in K as "3.0 K" or "5.4 F°"."""
    return format_value(value_k, TEMPERATURE_DIFFERENCE, units)


def format_difference_with_sd(value_k: float | None, sd_k: float | None, units: Units) -> str:
    """Write a difference and its standard uncertainty, both in K, as "3.4 K ± 0.7"."""
    text = format_difference(value_k, units)
    if value_k is None or sd_k is None or math.isnan(value_k) or math.isnan(sd_k):
        return text
    return f"{text} ± {format_value(sd_k, TEMPERATURE_DIFFERENCE, units, with_label=False)}"


def format_humidity(value_pct: float | None, units: Units = "metric") -> str:
    """Write a relative humidity in % as "62%"."""
    return format_value(value_pct, HUMIDITY, units)


def format_area(value_m2: float | None, units: Units) -> str:
    """Write an area in m² as "24.0 m²" or "258 ft²"."""
    return format_value(value_m2, AREA, units)


def format_volume(value_l: float | None, units: Units) -> str:
    """Write a volume in litres; under a litre (US: a quarter gallon) in mL or fl oz."""
    small_l = 1.0 if units == "metric" else _GALLON_L / 4
    known = value_l is not None and not math.isnan(value_l)
    small = known and value_l is not None and abs(value_l) < small_l
    return format_value(value_l, SMALL_VOLUME if small else VOLUME, units)


def format_film(value_um: float | None, units: Units) -> str:
    """Write a film thickness in µm as "50 µm" or "2.0 mil"."""
    return format_value(value_um, FILM, units)


def format_speed(value_m_s: float | None, units: Units) -> str:
    """Write a wind speed in m/s as "4.2 m/s" or "9.4 mph"."""
    return format_value(value_m_s, SPEED, units)


def format_rain(value_mm: float | None, units: Units) -> str:
    """Write rain in mm as "1.2 mm" or "0.05 in"."""
    return format_value(value_mm, RAIN, units)


def format_length(value_m: float | None, units: Units) -> str:
    """Write a length in m as "10.00 m" or "32.8 ft"."""
    return format_value(value_m, LENGTH, units)


def format_pace(value_m2_per_h: float | None, units: Units) -> str:
    """Write a pace in m²/h as "8.0 m²/h" or "86 ft²/h"."""
    return format_value(value_m2_per_h, PACE, units)


def _fixed(value: float, decimals: int) -> str:
    """Fixed decimals without a minus sign in front of a rounded zero."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text
