"""MQTT messages to rows: where the number is, its unit, its time, and what was told before."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from advisor.base.errors import InputError
from advisor.climate.live.mqtt import Message
from advisor.climate.live.sensor import Arrived, Sensor, TopicValue
from advisor.climate.logs.units import KIND_OF, TO_HOUSE, unit_of
from advisor.climate.logs.values import parse_cell
from advisor.climate.logs.zones import zone_of
from advisor.climate.readings import COLUMNS, IntArray

if TYPE_CHECKING:
    from jsonpath_rfc9535 import JSONPathQuery

#: A time further ahead of this computer's is no time; loggers' clocks may run so much fast.
AHEAD_S = 15 * 60
AHEAD = "its time lies ahead: see the sensor's clock and time zone"
RETAINED = "kept by the broker, its age not known"
REPEATED = "sent again"
NOT_OURS = "of another topic"


@dataclass(frozen=True)
class Counted:
    """How many messages there were and what became of those that gave no row, by reason."""

    messages: int = 0
    repeated: int = 0
    refused: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Parsed:
    """Rows of messages, each time once, in time order; and the messages that gave none.

    `weights` [n] is how many messages each row is made of.
    """

    arrived: Arrived
    weights: IntArray
    counted: Counted
    retained_only: bool


@dataclass(frozen=True)
class Reading:
    """One number of one message, in house units."""

    time_s: int
    quantity: str
    value: float


class Parser:
    """Reads one sensor's messages. Remembers the last message of each topic, for what is resent."""

    def __init__(self, sensor: Sensor, zone: str = "") -> None:
        self._sensor = sensor
        self._zone = sensor.time_zone or zone or "UTC"
        self._queries = {v.path: query(v.path) for v in sensor.values if v.path}
        if sensor.time_path:
            self._queries[sensor.time_path] = query(sensor.time_path)
        self._last: dict[str, bytes] = {}

    def parse(self, came: Iterable[Message]) -> Parsed:
        """Return rows, one a second; what is left out is counted with its reason."""
        rows: dict[int, dict[str, float]] = {}
        weights: dict[int, int] = {}
        messages, repeated, retained = 0, 0, 0
        refused: dict[str, int] = {}
        for message in came:
            messages += 1
            retained += message.retained
            why, found = self._read(message)
            why = why or _placed(rows, found)
            if why == REPEATED:
                repeated += 1
            elif why:
                refused[why] = refused.get(why, 0) + 1
            else:
                weights[found[0].time_s] = weights.get(found[0].time_s, 0) + 1
        counted = Counted(messages, repeated, refused)
        told = np.array([weights[t] for t in sorted(rows)], dtype=np.int64)
        return Parsed(_arrived(self._sensor.id, rows), told, counted, 0 < messages == retained)

    def forget(self) -> None:
        """Forget which messages were seen: they come again."""
        self._last.clear()

    def _read(self, message: Message) -> tuple[str, tuple[Reading, ...]]:
        """Return why a message gives nothing, or its readings."""
        values = [v for v in self._sensor.values if matches(v.topic, message.topic)]
        if not values:
            return NOT_OURS, ()
        if message.again and self._last.get(message.topic) == message.payload:
            return REPEATED, ()
        self._last[message.topic] = message.payload
        if message.retained and not self._sensor.time_path:
            return RETAINED, ()
        try:
            text = message.payload.decode("utf-8").strip()
            body = json.loads(text) if self._queries else None
            time_s = self._time(body, message.arrived_s)
            readings = [self._value(value, text, body, time_s) for value in values]
        except (ValueError, RecursionError, OverflowError) as error:
            return _reason(error), ()
        found = tuple(reading for reading in readings if reading is not None)
        return ("" if found else "no number in it"), found

    def _time(self, body: object, arrived_s: float) -> int:
        if not self._sensor.time_path:
            return int(arrived_s)
        told = self._first(self._sensor.time_path, body)
        time_s = _moment(told, self._zone)
        if time_s is None:
            raise ValueError("no time in it")
        if time_s > arrived_s + AHEAD_S:
            raise ValueError(AHEAD)
        return int(time_s)

    def _value(self, value: TopicValue, text: str, body: object, time_s: int) -> Reading | None:
        told = self._first(value.path, body) if value.path else text
        number = _number(told, value)
        return None if number is None else Reading(time_s, value.quantity, number)

    def _first(self, path: str, body: object) -> object:
        found = self._queries[path].find(body).values()  # type: ignore[arg-type]
        return found[0] if found else None


def _placed(rows: dict[int, dict[str, float]], found: tuple[Reading, ...]) -> str:
    """Put a message's readings in their second's row, or return why not.

    Twice the same in a second is one reading; a second other one has no place.
    """
    row = rows.get(found[0].time_s, {})
    if any(row.get(r.quantity, r.value) != r.value for r in found):
        return "more than one value in a second"
    if all(r.quantity in row for r in found):
        return REPEATED
    rows[found[0].time_s] = row | {r.quantity: r.value for r in found}
    return ""


def _arrived(sensor_id: str, rows: Mapping[int, Mapping[str, float]]) -> Arrived:
    times = sorted(rows)
    names = [name for name in COLUMNS if any(name in row for row in rows.values())]
    columns = {n: np.array([rows[t].get(n, math.nan) for t in times], float) for n in names}
    return Arrived(sensor_id, np.array(times, float), columns)


def _reason(error: Exception) -> str:
    known = type(error) is ValueError
    return str(error) if known else "not the JSON or text that was expected"


def _number(told: object, value: TopicValue) -> float | None:
    """Return a number in house units, None where there is none; a unit in the text wins."""
    if isinstance(told, bool) or not isinstance(told, int | float | str):
        return None
    if isinstance(told, str):
        decimal = "," if "," in told and "." not in told else "."
        number, _, unit = parse_cell(told.strip(), decimal)  # type: ignore[arg-type]
    else:
        number, unit = float(told), None
    if not math.isfinite(number):
        return None
    code = unit if unit is not None and _kind(unit) == KIND_OF[value.quantity] else value.unit
    _, factor, shift = TO_HOUSE[unit_of(code) or code]
    return number * factor + shift


def _kind(code: str) -> str:
    return TO_HOUSE[code][0]


def _moment(told: object, zone: str) -> float | None:
    """Return UTC seconds of an epoch in s, ms or µs (by its size) or of an ISO 8601 text."""
    if isinstance(told, bool):
        return None
    if isinstance(told, str):
        try:
            told = float(told)
        except ValueError:
            return _iso(str(told), zone)
    if not isinstance(told, int | float) or not math.isfinite(told):
        return None
    for low, high, scale in ((3e8, 5e9, 1.0), (3e11, 5e12, 1e-3), (3e14, 5e15, 1e-6)):
        if low <= told < high:
            return told * scale
    return None


def _iso(text: str, zone: str) -> float | None:
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    at = at if at.tzinfo is not None else at.replace(tzinfo=zone_of(zone))
    return at.timestamp()


def matches(pattern: str, topic: str) -> bool:
    """Whether a topic is one of a subscription's: `+` one level, `#` the rest (MQTT 3.1.1, 4.7)."""
    wanted, given = pattern.split("/"), topic.split("/")
    if topic.startswith("$") and wanted[0] in ("+", "#"):
        return False
    for place, level in enumerate(wanted):
        if level == "#":
            return True
        if place >= len(given) or level not in ("+", given[place]):
            return False
    return len(wanted) == len(given)


def query(path: str) -> JSONPathQuery:
    """Return a JSONPath (RFC 9535); InputError for one that is none."""
    import jsonpath_rfc9535 as jsonpath

    try:
        return jsonpath.compile(path)
    except jsonpath.JSONPathError as error:
        said = " ".join(str(error).split())
        raise InputError(
            f"path: found {path!r} ({said}); accepted: a JSONPath such as $.temperature"
        ) from error


def check_value(value: TopicValue) -> TopicValue:
    """Return a value of a sensor with its unit's usual spelling; InputError for what cannot be."""
    if value.quantity not in COLUMNS:
        raise InputError(f"quantity: found {value.quantity!r}; accepted: {', '.join(COLUMNS)}")
    levels = value.topic.split("/")
    wrong = any(("+" in x and x != "+") or ("#" in x and x != "#") for x in levels)
    if not value.topic or "\x00" in value.topic or wrong or "#" in levels[:-1]:
        raise InputError(
            f"topic: found {value.topic!r}; accepted: such as shed/air/temperature, with + for "
            "any one level and # at the end for all the rest"
        )
    code = unit_of(value.unit) or value.unit
    units = [u for u, (kind, _, _) in TO_HOUSE.items() if kind == KIND_OF[value.quantity]]
    if code not in units:
        raise InputError(f"unit: found {value.unit!r}; accepted: {', '.join(units)}")
    if value.path:
        query(value.path)
    return replace(value, unit=code)
