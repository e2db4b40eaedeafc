"""What each kind of entry holds, declared once: forms, checks, print and export come from here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from advisor.base.errors import InputError, RangeError, which
from advisor.record.canonical import Json
from advisor.record.entry import Data
from advisor.record.exact_line import is_number

FieldType = Literal["text", "choice", "yes_no", "moment", "quantity", "quantities", "rows"]


@dataclass(frozen=True)
class Field:
    """One field. `unit` the house unit of a quantity ("" where the entry says its own).

    `choices` are what is offered; `free` allows other words. `keys` are the columns of rows.
    """

    key: str
    label: str
    type: FieldType = "text"
    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    free: bool = False
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of entry; `of` says what it is about. `by_hand` where a person may add one."""

    key: str
    label: str
    of: Literal["job", "area", "coat"]
    fields: tuple[Field, ...]
    by_hand: bool = True

    def field(self, key: str) -> Field:
        """Return a field; InputError names the nearest one."""
        for found in self.fields:
            if found.key == key:
                return found
        near = which(key, (f.key for f in self.fields))
        raise InputError(f"{self.label}: no field is called {key!r}; {near}")


def _quantity(key: str, label: str, unit: str, *, required: bool = False) -> Field:
    return Field(key, label, "quantity", unit, required)


def _choice(key: str, label: str, *choices: str, free: bool = True) -> Field:
    return Field(key, label, "choice", choices=choices, free=free)


_JOB = Kind("job", "Job", "job", (
    Field("name", "Job", required=True), Field("item", "Vessel or item"),
    Field("item_id", "Its number"), Field("owner", "Owner"), Field("yard", "Yard"),
    Field("place", "Place"), Field("enclosure", "Enclosure"),
    Field("previous_coating", "Previous coating"), Field("specification", "Specification"),
    Field("people", "People"),
    Field("areas", "Areas", "rows", keys=("id", "name", "area_m2", "substrate", "outdoors")),
    Field("coats", "Coats", "rows", keys=("id", "name", "area", "product", "method", "dft_um")),
    Field("products", "Products", "rows",
          keys=("id", "name", "status", "title", "revision", "issued", "sha256")),
))  # fmt: skip

_INSTRUMENT = Kind("instrument", "Instrument", "job", (
    Field("id", "Its short name", required=True),
    _choice("measures", "Measures", "air and humidity", "surface", "material", "wet film",
            "dry film", "moisture"),
    Field("type", "Type"), Field("serial", "Serial number"),
    Field("calibrated", "Calibrated on"), Field("due", "Calibration due"),
    Field("accuracy", "Accuracy"), Field("range", "Range"),
    Field("field_check", "Field check"), Field("position", "Position"),
))  # fmt: skip

REASONS = ("before preparation", "before mixing", "start", "four hours", "change", "end",
           "until it can take dew", "between coats", "other")  # fmt: skip

_READING = Kind("reading", "Reading", "area", (
    _quantity("air_temp", "Air", "°C"), _quantity("rh", "Humidity", "%"),
    _quantity("wet_bulb", "Wet bulb", "°C"), _quantity("dew_point", "Dew point", "°C"),
    _quantity("frost_point", "Frost point", "°C"),
    _quantity("surface_temp", "Coldest spot", "°C"),
    _quantity("surface_hot", "Hottest spot", "°C"),
    _quantity("margin", "Above dew point", "K"), _quantity("pressure", "Pressure", "hPa"),
    _quantity("material_temp", "Material", "°C"), _quantity("wind", "Wind", "m/s"),
    Field("formula", "Dew point by"), Field("spot", "Where on the work"),
    _choice("light", "Light", "daylight", "lamps", "dusk", "dark"),
    _choice("weather", "Weather", "clear", "cloud", "fog", "rain", "snow"),
    _choice("ventilation", "Ventilation", "doors shut", "doors open", "fan on"),
    _choice("heater", "Heater", "off", "electric on", "vented on", "unvented on"),
    _choice("reason", "Reason for reading", *REASONS),
    Field("flags", "Doubts"),
))  # fmt: skip

_IMPORT = Kind("import", "Readings imported", "job", (
    Field("file_name", "File", required=True), Field("sha256", "SHA-256", required=True),
    Field("bytes", "Bytes"), Field("sensor", "Sensor"), Field("zone", "Zone in the shop"),
    Field("rows_read", "Rows read"), Field("rows_used", "Rows used"),
    Field("rows_dropped", "Rows left out"), Field("rows_flagged", "Rows in doubt"),
    Field("first", "From", "moment"), Field("last", "To", "moment"), Field("columns", "Columns"),
    _choice("source", "Source", "imported", "measured", "forecast", "estimated", free=False),
    Field("blocks", "Blocks of lines", "rows", keys=("first_line", "lines", "sha256")),
), by_hand=False)  # fmt: skip

_PREPARATION = Kind("preparation", "Preparation", "area", (
    _choice("what", "What was done", "dried and wiped", "sanded and wiped", "washed", "degreased",
            "abraded", "blasted", "solvent wipe", "dust wipe", "masked"),
    Field("method", "Method"), Field("grit", "Grits"), Field("wipe", "Dust or solvent wipe"),
    _choice("water_break", "Water-break test", "passed", "failed", "not done"),
    _quantity("moisture", "Moisture content", "%"), Field("salts", "Salts"),
    Field("finished", "Finished", "moment"),
))  # fmt: skip

_BATCH = Kind("batch", "Batch mixed", "coat", (
    Field("product", "Product", required=True), Field("colour", "Colour"),
    Field("parts", "Components", "rows", keys=("part", "batch", "expiry", "value", "unit")),
    Field("ratio_asked", "Ratio asked"), Field("ratio_mixed", "Ratio mixed"),
    _choice("ratio_by", "Ratio by", "volume", "mass", free=False),
    _quantity("thinner", "Thinner", "%"), _quantity("mix_temp", "Material temperature", "°C"),
    Field("strained", "Strained", "yes_no"), Field("stirred", "Stirred", "yes_no"),
    _quantity("induction", "Induction", "h"), _quantity("pot_life", "Pot life limit", "h"),
))  # fmt: skip

_BATCH_END = Kind("batch end", "Batch ended", "coat", (
    Field("batch", "Batch (entry number)", required=True),
    _choice("what", "What became of it", "used up", "discarded", "set hard"),
    _quantity("leftover", "Leftover", "L"), Field("why", "Why"),
))  # fmt: skip

_APPLICATION = Kind("application", "Application", "coat", (
    _choice("event", "Event", "start", "patch", "stop", "carry on", "finish", "not on", free=False),
    Field("patch", "Patch"), _choice("method", "Method", "brush", "roll", "spray", "roll and tip"),
    Field("tool", "Tool"), Field("batch", "Batch (entry number)"),
    Field("began", "First patch", "moment"), Field("weather", "Weather change"),
    Field("holidays", "Holidays and repairs"), Field("sanded", "Sand state"),
    Field("why", "Why"),
))  # fmt: skip

_FILM = Kind("film", "Film readings", "coat", (
    _choice("film", "Film", "wet", "dry", free=False),
    Field("readings", "Readings", "quantities", "µm", required=True),
    _quantity("target_low", "Target from", "µm"), _quantity("target_high", "Target to", "µm"),
    Field("patch", "Patch"), Field("batch", "Batch (entry number)"),
    Field("instrument_check", "Zero or shim check"),
))  # fmt: skip

_OBSERVATION = Kind("observation", "Observation", "coat", (
    _choice("what", "What was seen", "tack-free", "tape-dry", "sandable", "hard",
            "conditions changed", "holiday", "repair", "adhesion", "gloss", "weather change"),
    Field("text", "In words"), _choice("decision", "Decision", "carry on", "stop", "wait"),
    _quantity("share", "Of the data sheet's time", "share"),
))  # fmt: skip

DEFECTS = ("amine blush", "gloss loss", "bubbles or pinholes", "solvent pop", "white haze",
           "dry spray", "brush drag or lap lines", "sags", "soft film", "peeling", "wrinkling",
           "fisheyes", "dust nibs", "flash rust", "outgassing bubbles", "poor adhesion",
           "cracking")  # fmt: skip

_DEFECT = Kind("defect", "Defect", "coat", (
    _choice("defect", "Defect", *DEFECTS), Field("extent", "Where and how much"),
    Field("text", "In words"),
))  # fmt: skip

_PHOTO = Kind("photo", "Photo", "coat", (
    Field("file_name", "File", required=True), Field("sha256", "SHA-256", required=True),
    Field("bytes", "Bytes"), Field("caption", "Caption"), Field("of", "Of entry number"),
    Field("flags", "Doubts"),
))  # fmt: skip

_DEPARTURE = Kind("non-conformance", "Non-conformance", "coat", (
    Field("what", "Limit departed from", required=True), Field("decision", "Decision"),
    Field("decided_by", "Decided by"), Field("why", "Why"),
))  # fmt: skip

_CORRECTION = Kind("correction", "Correction", "job", (
    Field("corrects", "Corrects entry number", required=True),
    Field("corrects_hash", "Its hash", required=True), Field("reason", "Reason", required=True),
    Field("values", "New values", "rows", keys=("field", "was", "now")),
), by_hand=False)  # fmt: skip

_SIGN_OFF = Kind("sign-off", "Sign-off", "job", (
    Field("name", "Name", required=True), Field("role", "Role"), Field("statement", "Statement"),
    Field("public_key", "Public key (Ed25519)"), Field("signature", "Signature"),
), by_hand=False)  # fmt: skip

_ALL = (_JOB, _INSTRUMENT, _READING, _IMPORT, _PREPARATION, _BATCH, _BATCH_END, _APPLICATION,
        _FILM, _OBSERVATION, _DEFECT, _PHOTO, _DEPARTURE, _CORRECTION, _SIGN_OFF)  # fmt: skip

#: Every kind by key, in the order forms offer them.
KINDS: Mapping[str, Kind] = MappingProxyType({kind.key: kind for kind in _ALL})


def kind_of(key: str) -> Kind:
    """Return a kind; InputError names the nearest one."""
    found = KINDS.get(key)
    if found is None:
        raise InputError(f"no kind of entry is called {key!r}; {which(key, KINDS)}")
    return found


def check(key: str, data: Data) -> None:
    """Refuse unknown fields, missing required ones and values of the wrong form (InputError)."""
    kind = kind_of(key)
    for name, value in data.items():
        _check_value(kind, kind.field(name), value)
    missing = [f.label for f in kind.fields if f.required and not data.get(f.key)]
    if missing:
        raise InputError(f"{kind.label}: found nothing for {', '.join(missing)}; accepted: a value")


def _check_value(kind: Kind, field: Field, value: Json) -> None:
    name = f"{kind.label}, {field.label}"
    if field.type == "quantity":
        _check_quantity(name, value)
    elif field.type in ("quantities", "rows"):
        if not isinstance(value, list | tuple):
            raise RangeError(name, repr(value), "a list")
        for one in value:
            _check_quantity(name, one) if field.type == "quantities" else _check_row(
                name, field, one
            )
    elif not isinstance(value, str):
        raise RangeError(name, repr(value), "text")
    else:
        _check_text(name, field, value)


def _check_text(name: str, field: Field, value: str) -> None:
    if field.type == "yes_no" and value not in ("yes", "no"):
        raise RangeError(name, repr(value), "yes or no")
    if field.choices and not field.free and value not in field.choices:
        raise RangeError(name, repr(value), ", ".join(field.choices))
    if field.type == "moment":
        check_moment(name, value)


def check_moment(name: str, value: str) -> None:
    """Refuse (RangeError) what is no time with its offset."""
    try:
        aware = datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        aware = False
    if not aware:
        raise RangeError(name, repr(value), "an ISO 8601 time with its offset")


def _check_quantity(name: str, value: Json) -> None:
    if not isinstance(value, Mapping) or not {"value", "unit", "source"} <= value.keys():
        raise RangeError(name, repr(value), "a value with its unit and its source")
    text = str(value["value"])
    if not is_number(text):
        raise RangeError(name, repr(text), "a number such as 18.5")


def _check_row(name: str, field: Field, value: Json) -> None:
    if not isinstance(value, Mapping) or not set(value) <= set(field.keys):
        raise RangeError(name, repr(value), f"rows of {', '.join(field.keys)}")
