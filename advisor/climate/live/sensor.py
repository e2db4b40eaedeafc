"""A sensor as it is set up, and how it stands."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Literal

from advisor.climate.readings import FloatArray

Standing = Literal["off", "waiting", "live", "stale", "lost"]
#: An expected step, a stale and a lost age where nothing is said, seconds.
STEP_S = 60.0


@dataclass(frozen=True)
class TopicValue:
    """One quantity of an MQTT sensor: its topic, where in the message, and the unit it comes in.

    `path` is a JSONPath (RFC 9535), empty where the whole payload is the number.
    """

    topic: str
    path: str
    quantity: str
    unit: str


@dataclass(frozen=True)
class Broker:
    """An MQTT broker. No password is kept in the record."""

    host: str
    port: int = 1883
    user: str = ""
    password: str = field(default="", repr=False)  # no error may tell it
    tls: bool = False


@dataclass(frozen=True)
class Sensor:
    """One source of readings that come by themselves.

    `zone` is the id of the area it hangs at, empty for the shop as a whole. `path` is a log file,
    or a folder whose newest log is followed. `time_path` is where an MQTT message says its time.
    """

    id: str
    name: str
    kind: Literal["file", "folder", "mqtt"]
    zone: str = ""
    on: bool = True
    path: str = ""
    time_zone: str = ""
    columns: tuple[tuple[str, str], ...] = ()
    broker: Broker | None = None
    values: tuple[TopicValue, ...] = ()
    time_path: str = ""
    step_s: float = STEP_S
    instrument: str = ""


@dataclass(frozen=True)
class SensorState:
    """How a sensor stands now. `last_s` is the time of its newest good value, UTC seconds.

    `latest` has the newest good value of each quantity; `doubt` says what is wrong with it.
    """

    sensor: Sensor
    standing: Standing
    last_s: float | None
    text: str
    latest: Mapping[str, float] = field(default_factory=dict)
    rows_in: int = 0
    rows_kept: int = 0
    rows_repeated: int = 0
    rows_refused: int = 0
    doubt: str = ""


@dataclass(frozen=True, eq=False)
class Arrived:
    """Rows that came from one sensor, in the order they came; columns [n] of house values."""

    sensor_id: str
    time_s: FloatArray
    columns: Mapping[str, FloatArray]


def to_json(sensor: Sensor) -> str:
    """Return a sensor as it is stored."""
    return json.dumps(asdict(sensor), ensure_ascii=False)


def from_json(text: str) -> Sensor:
    """Return a stored sensor."""
    found = json.loads(text)
    broker = found.pop("broker")
    values = tuple(TopicValue(**one) for one in found.pop("values"))
    columns = tuple((a, b) for a, b in found.pop("columns"))
    return Sensor(**found, broker=Broker(**broker) if broker else None, values=values,
                  columns=columns)  # fmt: skip
