"""Units as loggers write them, and the way from each to house units."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from advisor.climate.logs.words import mend

#: Unit code -> (kind, factor, offset): house value = value · factor + offset.
TO_HOUSE: Mapping[str, tuple[str, float, float]] = MappingProxyType(
    {
        "°C": ("temperature", 1.0, 0.0),
        "°F": ("temperature", 5.0 / 9.0, -160.0 / 9.0),
        "K": ("temperature", 1.0, -273.15),
        "%": ("humidity", 1.0, 0.0),
        "fraction": ("humidity", 100.0, 0.0),
        "hPa": ("pressure", 1.0, 0.0),
        "kPa": ("pressure", 10.0, 0.0),
        "Pa": ("pressure", 0.01, 0.0),
        "mmHg": ("pressure", 1.333223874, 0.0),
        "inHg": ("pressure", 33.86388640, 0.0),
        "m/s": ("speed", 1.0, 0.0),
        "km/h": ("speed", 1.0 / 3.6, 0.0),
        "mph": ("speed", 0.44704, 0.0),
        "kn": ("speed", 1852.0 / 3600.0, 0.0),
        "mm": ("length", 1.0, 0.0),
        "cm": ("length", 10.0, 0.0),
        "in": ("length", 25.4, 0.0),
        "g/m³": ("density", 1.0, 0.0),
    }
)

#: House column -> the kind of unit it must have.
KIND_OF: Mapping[str, str] = MappingProxyType(
    {
        "air_temp_c": "temperature",
        "dew_point_c": "temperature",
        "surface_temp_c": "temperature",
        "surface_hot_c": "temperature",
        "wet_bulb": "temperature",
        "frost_point": "temperature",
        "rh_pct": "humidity",
        "pressure_hpa": "pressure",
        "wind_m_s": "speed",
        "rain_mm": "length",
        "abs_humidity": "density",
    }
)
HOUSE_UNIT: Mapping[str, str] = MappingProxyType(
    {
        "temperature": "°C",
        "humidity": "%",
        "pressure": "hPa",
        "speed": "m/s",
        "length": "mm",
        "density": "g/m³",
    }
)

_ALIASES: Mapping[str, str] = MappingProxyType(
    {
        alias: unit
        for unit, aliases in {
            "°C": "°c c degc deg.c degrees_c degreesc celsius gradc grad_celsius °celsius oc",
            "°F": "°f f degf deg.f degrees_f degreesf fahrenheit °fahrenheit of",
            "K": "k kelvin °k",
            "%": "% %rh rh% %r.h. %rf %r.f. %rel %hr %ur pct percent prozent %relf %rlf r.h.% rh",
            "hPa": "hpa mbar mb millibar millibars",
            "kPa": "kpa",
            "Pa": "pa",
            "mmHg": "mmhg torr",
            "inHg": "inhg in.hg inchhg",
            "m/s": "m/s mps m·s-1 ms-1 m.s-1 m*s-1 m/sec",
            "km/h": "km/h kph kmh kmph",
            "mph": "mph mi/h",
            "kn": "kn kt kts knots knot",
            "mm": "mm l/m2 mm/h",
            "cm": "cm",
            "in": "in inch inches",
            "g/m³": "g/m3 g/m^3 gm-3 g/cbm",
        }.items()
        for alias in aliases.split()
    }
)
_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_ANYWHERE = re.compile(
    r"°\s?[CFK](?![a-z])|(?:deg|degrees)[ _]?[CF]\b|%|\bhPa\b|\bmbar\b|\bkPa\b|\bmm ?Hg\b"
    r"|\bin ?Hg\b|\bm/s\b|\bkm/h\b|\bmph\b|\bg/m3|celsius|fahrenheit",
    re.IGNORECASE,
)
_TRAILING = re.compile(
    r"[ _\-/,](?:in )?(°?[CFK]|deg_?[CF]|pct|percent|hPa|mbar|kPa|Pa|mmHg|inHg|m_s|mps|kmh|km_h|kph"
    r"|mph|kn|kts?|mm|cm|in|inch)$",
    re.IGNORECASE,
)
_CAMEL_TAIL = re.compile(r"(?<=[a-z])([CF])$")


@dataclass(frozen=True)
class NamedUnit:
    """A header split in the words that are left and the unit found in it (None if none)."""

    rest: str
    unit: str | None


def unit_of(text: str) -> str | None:
    """Return the unit code a text stands for as a whole, else None."""
    key = re.sub(r"\s+", "", mend(text)).casefold().strip("()[]{}.'\"")
    return _ALIASES.get(key)


def split_header(header: str) -> NamedUnit:
    """Find the unit in a header such as `Temp (°F)`, `RH %`, `T_degC`, `Temperatur in °C`."""
    name = mend(header).strip()
    for found in _BRACKETS.finditer(name):
        unit = unit_of(found.group(1))
        if unit is not None:
            return NamedUnit(f"{name[: found.start()]} {name[found.end() :]}".strip(), unit)
    for pattern, group in ((_ANYWHERE, 0), (_TRAILING, 1), (_CAMEL_TAIL, 1)):
        match = pattern.search(name)
        if match is None:
            continue
        unit = unit_of(match.group(group).replace("_", "" if "deg" in match.group(group) else "/"))
        if unit is not None and match.start() > 0:
            before = re.sub(r"[\s,/]+in\s*$", "", name[: match.start()])  # `Temperatur in °C`
            return NamedUnit(f"{before} {name[match.end() :]}".strip(), unit)
    return NamedUnit(name, None)


def is_unit_cell(text: str) -> bool:
    """Whether a cell of a second header row is a unit or a stand-in for one."""
    plain = text.strip()
    if unit_of(plain) is not None:
        return True
    return bool(re.fullmatch(r"[(\[]?[ymdhsYMDHSTjJaAtT:/\-. ]{2,20}[)\]]?|-|utc|UTC|s|#", plain))
