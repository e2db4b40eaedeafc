"""Entries of a record: a draft before it is kept, and the entry with its number and its hash."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, TypeAlias
from zoneinfo import ZoneInfo

from advisor.record.canonical import Json, canonical, digest, parsed

if TYPE_CHECKING:
    from advisor.climate.readings import Origin

#: Form of the line; a reader refuses one it does not know.
FORM = 1
Data: TypeAlias = Mapping[str, Json]


@dataclass(frozen=True)
class Draft:
    """What is to be kept. `at_s` when it happened and `written_s` when told, UTC seconds.

    `data` has the fields of `kinds.KINDS[kind]`; `known` what was known and shown then.
    """

    kind: str
    job_id: str
    at_s: float
    written_s: float
    zone: str
    by: str
    data: Data
    area_id: str = ""
    coat_id: str = ""
    known: Data = field(default_factory=dict)


@dataclass(frozen=True)
class Entry:
    """One kept entry. `number` counts from 1; `line` is the exact bytes that were hashed."""

    number: int
    kind: str
    job_id: str
    area_id: str
    coat_id: str
    at_s: float
    written_s: float
    zone: str
    by: str
    app: str
    data: Data
    known: Data
    previous: str
    hash: str
    line: bytes

    @property
    def late_s(self) -> float:
        """Seconds from when it happened to when it was written."""
        return self.written_s - self.at_s


def line_of(draft: Draft, number: int, previous: str, app: str) -> bytes:
    """Return the canonical line of a draft at its place in the record."""
    return canonical(
        {
            "app": app,
            "area": draft.area_id,
            "at": iso(draft.at_s, draft.zone),
            "by": draft.by,
            "coat": draft.coat_id,
            "data": draft.data,
            "form": FORM,
            "job": draft.job_id,
            "kind": draft.kind,
            "known": draft.known,
            "number": number,
            "previous": previous,
            "written": iso(draft.written_s, draft.zone),
            "zone": draft.zone,
        }
    )


def entry_of(line: bytes) -> Entry:
    """Return the entry a stored line says; its hash is computed, nothing is proved here."""
    found = parsed(line)

    def text(key: str) -> str:
        return str(found[key])

    data, known, number = found["data"], found["known"], found["number"]
    assert isinstance(data, Mapping)
    assert isinstance(known, Mapping)
    assert isinstance(number, int)
    return Entry(
        number,
        text("kind"),
        text("job"),
        text("area"),
        text("coat"),
        datetime.fromisoformat(text("at")).timestamp(),
        datetime.fromisoformat(text("written")).timestamp(),
        text("zone"),
        text("by"),
        text("app"),
        data,
        known,
        text("previous"),
        digest(line),
        line,
    )


def iso(time_s: float, zone: str) -> str:
    """Return ISO 8601 with the offset of the zone, to the second."""
    return datetime.fromtimestamp(int(time_s), ZoneInfo(zone)).isoformat()


def quantity(value: str, unit: str, source: Origin | str, instrument: str = "") -> dict[str, Json]:
    """Return a measured number as it is kept: text as entered, unit, where from, with what.

    `source` is an Origin, "computed" or "data sheet"; `instrument` the id of an instrument entry.
    """
    kept: dict[str, Json] = {"value": value, "unit": unit, "source": str(source)}
    return kept | {"instrument": instrument} if instrument else kept


def number_of(kept: Json) -> float | None:
    """Return the number of a kept quantity, None where there is none."""
    if not isinstance(kept, Mapping) or not kept.get("value"):
        return None
    return float(str(kept["value"]))


def numbers_of(kept: Json) -> tuple[float, ...]:
    """Return the numbers of a list of kept quantities, those that there are."""
    if not isinstance(kept, Sequence) or isinstance(kept, str):
        return ()
    return tuple(number for one in kept if (number := number_of(one)) is not None)


def moment_of(kept: Json) -> float | None:
    """Return a kept moment in UTC seconds, None where there is none."""
    return datetime.fromisoformat(kept).timestamp() if isinstance(kept, str) and kept else None
