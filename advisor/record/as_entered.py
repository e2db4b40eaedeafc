"""A number as a person entered it: its digits stay, in the reader's own unit too."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.record.canonical import Json
from advisor.record.entry import quantity

#: House units to what the reader may type in.
QUANTITIES: Mapping[str, u.Quantity] = MappingProxyType({
    "°C": u.TEMPERATURE, "K": u.TEMPERATURE_DIFFERENCE, "µm": u.FILM, "L": u.VOLUME,
    "m/s": u.SPEED, "hPa": u.PRESSURE,
})  # fmt: skip
ACCEPTED = "a number such as 18.5"
_NUMBER = re.compile(r"-?\d{1,12}(\.\d{1,9})?")
#: Decimals of a number in another unit, turned into the house unit: two more, up to this many.
_MOST_PLACES = 6


def shown_unit(unit: str, units: u.Units) -> str:
    """Return the unit a number is typed in."""
    found = QUANTITIES.get(unit)
    return unit if found is None else u.label(found, units)


def digits_of(words: str, name: str, accepted: str = ACCEPTED) -> str:
    """Return the digits as entered, with a point; RangeError for what is no number."""
    digits = words.strip().replace(",", ".").replace("−", "-").removesuffix(".")
    if not _NUMBER.fullmatch(digits):
        raise RangeError(name, words.strip() or "nothing", accepted)
    return digits


def as_entered(words: str, name: str, unit: str, units: u.Units) -> dict[str, Json]:
    """Return a number as kept: its digits as typed; in other units, house digits beside them."""
    digits = digits_of(words, name)
    kind = QUANTITIES.get(unit)
    if kind is None or u.label(kind, units) == unit:
        return quantity(digits, unit, "typed")
    places = min(len(digits.partition(".")[2]) + 2, _MOST_PLACES)
    house = f"{u.from_display(float(digits), kind, units):.{places}f}"
    return quantity(house, unit, "typed") | {"entered": f"{digits} {u.label(kind, units)}"}


def as_shown(value: Json, unit: str, units: u.Units) -> str:
    """Return a kept number as it would be typed."""
    if not isinstance(value, Mapping) or not value.get("value"):
        return ""
    kind = QUANTITIES.get(unit)
    if kind is None or u.label(kind, units) == unit:
        return str(value["value"])
    entered, label = str(value.get("entered", "")), u.label(kind, units)
    if entered.endswith(f" {label}"):
        return entered.removesuffix(f" {label}")
    return f"{u.to_display(float(str(value['value'])), kind, units):.5g}"
