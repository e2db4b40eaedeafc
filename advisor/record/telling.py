"""An entry in words: its one line, its facts with where each number is from, what was corrected."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from advisor.base import units as u
from advisor.planning.words import Words, duration
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, PLACES, Change, Effective, value_of
from advisor.record.entry import Data, Entry, number_of
from advisor.record.kinds import KINDS, Field

#: Written this much after it happened, an entry is marked as late.
LATE_S = 15 * 60
_QUANTITIES: Mapping[str, u.Quantity] = MappingProxyType({
    "°C": u.TEMPERATURE, "K": u.TEMPERATURE_DIFFERENCE, "µm": u.FILM, "L": u.VOLUME,
    "m/s": u.SPEED, "hPa": u.PRESSURE, "kg": u.MASS,
})  # fmt: skip
_PLACE_LABELS: Mapping[str, str] = MappingProxyType(
    {"at": "When", "area": "Area", "coat": "Coat", ENTRY: "The whole entry"}
)
_EVENTS: Mapping[str, str] = MappingProxyType({
    "start": "Coat begun", "patch": "Patch", "stop": "Stopped", "carry on": "Carried on",
    "finish": "Last patch on", "not on": "Not on after all",
})  # fmt: skip


@dataclass(frozen=True)
class Was:
    """What stood there first, still to be read: why, by whom and when it was corrected."""

    text: str
    reason: str
    by: str
    written_s: float
    number: int


@dataclass(frozen=True)
class Fact:
    """One field in words. `text` counts now; `was` is struck through, oldest first."""

    key: str
    label: str
    text: str
    source: str = ""
    was: tuple[Was, ...] = ()


def title(entry: Entry, words: Words) -> str:
    """Return what happened in one line."""
    found = _TITLES.get(entry.kind)
    told = found(entry.data, words) if found is not None else ""
    kind = KINDS.get(entry.kind)
    return told or (entry.kind if kind is None else kind.label)


def facts(told: Effective, words: Words) -> tuple[Fact, ...]:
    """Return the fields that hold something, in the order of the form, corrections with them."""
    kind = KINDS.get(told.entry.kind)
    changed = {change.field for change in told.changes}
    found = [
        _fact(told, field.key, field.label, words, field)
        for field in (kind.fields if kind is not None else ())
        if told.entry.data.get(field.key) or field.key in changed
    ]
    places = [_fact(told, p, _PLACE_LABELS[p], words) for p in (*PLACES, ENTRY) if p in changed]
    return (*found, *places)


def field_of(entry: Entry, key: str) -> Field | None:
    """Return how a field of an entry is declared, None for its time and place."""
    kind = KINDS.get(entry.kind)
    return next((f for f in kind.fields if f.key == key), None) if kind is not None else None


def shown(value: Json, words: Words, field: Field | None = None) -> str:
    """Return a kept value in words; a measured number as entered, in the reader's unit beside."""
    if value in (None, "", [], ()):
        return ""
    if isinstance(value, Mapping):
        measured = "value" in value and "source" in value
        return _number(value, words) if measured else _row(value, field)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return _many(value, words, field)
    text = str(value)
    moment = field is not None and field.type == "moment"
    return day_and_clock(datetime.fromisoformat(text).timestamp(), words) if moment else text


def source_of(value: Json) -> str:
    """Return where a number is from: typed, measured, imported, forecast, estimated, computed."""
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(sorted({source_of(one) for one in value} - {""}))
    if not isinstance(value, Mapping) or not value.get("source"):
        return ""
    instrument = value.get("instrument")
    return f"{value['source']}, {instrument}" if instrument else str(value["source"])


def late(entry: Entry) -> str:
    """Say how long after the event an entry was written, "" where it was written then."""
    return f"written {duration(entry.late_s / 3600)} later" if entry.late_s > LATE_S else ""


def day(time_s: float, words: Words) -> str:
    """Return a whole date, such as Thursday 14 May 2026."""
    local = datetime.fromtimestamp(time_s, words.zone)
    return f"{local.strftime('%A')} {local.day} {local.strftime('%B %Y')}"


def day_and_clock(time_s: float, words: Words) -> str:
    """Return a date with its clock time: a record is read years later."""
    local = datetime.fromtimestamp(time_s, words.zone)
    return f"{local.strftime('%a')} {local.day} {local.strftime('%b %Y')} {clock(time_s, words)}"


def clock(time_s: float, words: Words) -> str:
    """Return the clock time alone, with the zone's name in the hour that comes twice."""
    local = datetime.fromtimestamp(time_s, words.zone)
    twice = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
    return local.strftime("%H:%M %Z" if twice else "%H:%M")


# --- inner -------------------------------------------------------------------------------


def _fact(told: Effective, key: str, label: str, words: Words, field: Field | None = None) -> Fact:
    def put(value: Json) -> str:
        if key == "at" and isinstance(value, str):
            return day_and_clock(datetime.fromisoformat(value).timestamp(), words)
        return shown(value, words, field)

    now = "struck out" if key == ENTRY else put(value_of(told.now, key))
    source = source_of(told.now.data.get(key))
    return Fact(key, label, now, source, tuple(_was(c, put) for c in told.changed(key)))


def _was(change: Change, put: Callable[[Json], str]) -> Was:
    first = "" if change.field == ENTRY else put(change.was)
    return Was(first or "nothing", change.reason, change.by, change.written_s, change.number)


def _number(kept: Mapping[str, Json], words: Words) -> str:
    value, unit = str(kept["value"]), str(kept.get("unit", ""))
    entered = f"{value}{'' if unit == '%' else ' '}{unit}".strip()
    if kept.get("entered"):
        return f"{kept['entered']} ({entered})"
    quantity, number = _QUANTITIES.get(unit), number_of(kept)
    if words.units == "metric" or quantity is None or number is None:
        return entered
    return f"{entered} ({u.format_value(number, quantity, words.units)})"


def _row(row: Mapping[str, Json], field: Field | None) -> str:
    """In the order of the form: a kept line has its keys in the order of their letters."""
    keys = field.keys if field is not None and field.keys else tuple(row)
    return " ".join(str(row[key]) for key in keys if row.get(key))


def _many(values: Sequence[Json], words: Words, field: Field | None) -> str:
    numbers = [one for one in values if isinstance(one, Mapping) and "source" in one]
    units = {str(one.get("unit", "")) for one in numbers}
    entered = any(one.get("entered") for one in numbers)
    if len(numbers) == len(values) and len(units) == 1 and not entered:
        return _listed(numbers, units.pop(), words)
    return "; ".join(text for one in values if (text := shown(one, words, field)))


def _listed(numbers: Sequence[Mapping[str, Json]], unit: str, words: Words) -> str:
    """Numbers of one unit with the unit once, and in the reader's behind them."""
    told = f"{', '.join(str(one['value']) for one in numbers)} {unit}"
    quantity = _QUANTITIES.get(unit)
    if words.units == "metric" or quantity is None:
        return told
    known = [number for one in numbers if (number := number_of(one)) is not None]
    other = (u.format_value(x, quantity, words.units, with_label=False) for x in known)
    return f"{told} ({', '.join(other)} {u.label(quantity, words.units)})"


def _join(data: Data, words: Words, *named: tuple[str, str]) -> str:
    parts = ((label, shown(data.get(key), words)) for key, label in named)
    return ", ".join(f"{label} {text}".strip() for label, text in parts if text)


def _text(data: Data, *keys: str) -> str:
    return ", ".join(str(data[key]) for key in keys if data.get(key))


def _reading(data: Data, words: Words) -> str:
    told = _join(
        data, words, ("air_temp", "Air"), ("rh", "humidity"), ("surface_temp", "coldest spot"),
        ("margin", "above dew point"),
    ) or _join(data, words, ("material_temp", "Material"), ("surface_hot", "Hottest spot"),
               ("wind", "Wind"))  # fmt: skip
    return told[:1].upper() + told[1:]


def _application(data: Data, words: Words) -> str:
    event = str(data.get("event", ""))
    told = _EVENTS.get(event, event)
    patch = str(data.get("patch", ""))
    return f"{told}: {patch}" if patch else told


def _film(data: Data, words: Words) -> str:
    return f"{str(data.get('film', '')).capitalize()} film {shown(data.get('readings'), words)}"


def _correction(data: Data, words: Words) -> str:
    return f"Entry {data.get('corrects', '?')} corrected: {data.get('reason', '')}"


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


_TITLES: Mapping[str, Callable[[Data, Words], str]] = MappingProxyType({
    "job": lambda data, words: f"About the job: {_text(data, 'name', 'item')}",
    "instrument": lambda data, words: f"Instrument: {_text(data, 'id', 'measures')}",
    "reading": _reading,
    "import": lambda data, words: f"Readings from {_text(data, 'file_name')}, "
                                  f"{data.get('rows_used', '?')} rows",
    "preparation": lambda data, words: _upper(_text(data, "what", "grit")),
    "batch": lambda data, words: f"Batch mixed: {_text(data, 'product', 'colour')}",
    "batch end": lambda data, words: f"Batch of entry {data.get('batch', '?')} "
                                     f"{data.get('what') or 'ended'}",
    "application": _application,
    "film": _film,
    "observation": lambda data, words: _upper(_text(data, "what", "text")),
    "defect": lambda data, words: f"Defect: {_text(data, 'defect', 'extent')}",
    "photo": lambda data, words: f"Photo: {_text(data, 'caption') or _text(data, 'file_name')}",
    "non-conformance": lambda data, words: f"Departure: {_text(data, 'what')}",
    "correction": _correction,
    "sign-off": lambda data, words: f"Signed off by {_text(data, 'name', 'role')}",
})  # fmt: skip
