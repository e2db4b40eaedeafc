"""A change to the shop's air in a few words, and the numbers beside its levers."""

from __future__ import annotations

from types import MappingProxyType

from advisor.base import units as u
from advisor.climate.shop.shop import Change
from advisor.planning.words import Words

#: Where the work is taken, in words.
MOVED = MappingProxyType({"outdoors": "work in the yard", "indoors": "work in the shop"})


def is_nothing(change: Change) -> bool:
    """Whether a change leaves the shop as it is, whatever hours it names."""
    return not (
        change.heater_kw
        or change.dehumidifier_l_per_day
        or change.air_changes != 1.0
        or change.damp_litres
        or change.tent_m3
        or change.move
    )


def change_words(change: Change, words: Words) -> str:
    """Return "2.0 kW electric heater, air change × 4, from 18:00 until Thu 08:00"."""
    parts = [
        MOVED.get(change.move, ""),
        f"{power(change.heater_kw, words.units)} {change.heater_kind} heater"
        if change.heater_kw
        else "",
        f"dehumidifier {rate(change.dehumidifier_l_per_day, words.units)}"
        if change.dehumidifier_l_per_day
        else "",
        f"air change {air(change.air_changes)}" if change.air_changes != 1.0 else "",
        _damp(change, words.units) if change.damp_litres else "",
        f"tent of {room(change.tent_m3, words.units)}" if change.tent_m3 else "",
    ]
    told = ", ".join(part for part in parts if part)
    return f"{told}{_hours(change, words)}" if told else ""


def power(kw: float, units: u.Units) -> str:
    """Return a heater's power."""
    return u.format_value(kw, u.POWER, units)


def rate(l_per_day: float, units: u.Units) -> str:
    """Return what a dehumidifier takes out."""
    return u.format_value(l_per_day, u.WATER_RATE, units)


def water(litres: float, units: u.Units) -> str:
    """Return an amount of water on the floor."""
    return u.format_value(litres, u.WATER, units)


def floor(m2: float, units: u.Units) -> str:
    """Return the part of the floor that is damp."""
    return u.format_value(m2, u.AREA, units, decimals=0)


def room(m3: float, units: u.Units) -> str:
    """Return a volume of air."""
    return u.format_value(m3, u.AIR_VOLUME, units)


def air(changes: float) -> str:
    """Return the air change against the shop as it is: doors and fans."""
    if changes == 1.0:
        return "as it is"
    return f"× {changes:g}"


def _damp(change: Change, units: u.Units) -> str:
    spread = f" over {floor(change.damp_m2, units)}" if change.damp_m2 else ""
    return f"{water(change.damp_litres, units)} on the floor{spread}"


def _hours(change: Change, words: Words) -> str:
    begin = "" if change.from_s is None else f" from {words.moment(change.from_s)}"
    end = "" if change.until_s is None else f" until {words.moment(change.until_s)}"
    return f",{begin}{end}" if begin or end else ""
