"""A correction with what follows from it: reckoned values anew, and the reading every pane uses."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.climate import reading_spans, reading_store
from advisor.climate.reading_store import TypedReading
from advisor.climate.readings import Origin
from advisor.record.canonical import Json
from advisor.record.corrections import check_changes
from advisor.record.effective import ENTRY, Effective, value_of
from advisor.record.entry import Draft, Entry, number_of
from advisor.work.corrected import follow
from advisor.work.reading_entry import reading_draft
from advisor.work.views import Reading

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: What is reckoned of a reading, and what it is reckoned from.
_RECKONED = ("dew_point", "frost_point", "margin", "pressure", "formula")
_READ = ("air_temp", "rh", "surface_temp", "surface_hot")


def correct_by_hand(
    bench: Kept, told: Effective, changes: Mapping[str, Json], reason: str, now_s: float
) -> Entry:
    """Keep one correction; InputError without a reason or a change, and then nothing is kept."""
    check_changes(told, changes, reason)
    real = {field: _with_instrument(told.now, field, now) for field, now in changes.items()}
    real = {field: now for field, now in real.items() if now != (value_of(told.now, field) or "")}
    if not real:
        raise InputError("correction: found nothing changed; accepted: at least one field")
    if told.entry.kind == "reading" and real.keys() & set(_READ):
        real |= _reckoned(bench, told.now, real, now_s)
    draft = _draft(bench, told, real, reason, now_s)
    with bench.store.write() as db:
        if told.entry.kind == "reading" and real.keys() & {*_READ, "at", ENTRY}:
            _store_again(db, told, real, bench.readings_area)
        follow(db, bench, told, real)
        return bench.record.append(db, draft)


def _draft(
    bench: Kept, told: Effective, changes: Mapping[str, Json], reason: str, now_s: float
) -> Draft:
    entry = told.entry
    rows: list[Json] = [
        {"field": field, "was": value_of(told.now, field) or "", "now": now}
        for field, now in changes.items()
    ]
    data: dict[str, Json] = {
        "corrects": str(entry.number),
        "corrects_hash": entry.hash,
        "reason": reason.strip(),
        "values": rows,
    }
    return bench.record.draft("correction", data, at_s=now_s, now_s=now_s, area_id=entry.area_id,
                              coat_id=entry.coat_id)  # fmt: skip


def _with_instrument(entry: Entry, field: str, now: Json) -> Json:
    """A number corrected was read with the same instrument."""
    was = entry.data.get(field)
    if isinstance(now, dict) and isinstance(was, Mapping) and was.get("instrument"):
        return {**now, "instrument": was["instrument"]}
    return now


def _reckoned(
    bench: Kept, entry: Entry, changes: Mapping[str, Json], now_s: float
) -> dict[str, Json]:
    """Dew point and margin of the corrected values, where they come out otherwise."""
    air, rh, cold, hot = _values(entry, changes)
    reading = Reading(entry.at_s, air, rh, cold, hot)
    fresh = reading_draft(bench, reading, now_s, entry.area_id, {}).data
    found: dict[str, Json] = {}
    for field in _RECKONED:
        now, was = fresh.get(field, ""), entry.data.get(field, "")
        if _reckoned_here(was) and now != was:
            found[field] = now
    return found


def _reckoned_here(was: Json) -> bool:
    """A dew point or a pressure that a person read stays as read."""
    return not isinstance(was, Mapping) or was.get("source") in ("computed", "estimated")


def _store_again(
    db: sqlite3.Connection, told: Effective, changes: Mapping[str, Json], area: str
) -> None:
    """Put the row every pane reads in the place of the old one, or take it out."""
    _take_out(db, int(told.now.at_s), area)
    if ENTRY in changes:
        return
    values = dict(zip(_READ, _values(told.now, changes), strict=True))
    at_s = datetime.fromisoformat(str(changes["at"])).timestamp() if "at" in changes else None
    row = TypedReading(
        int(told.now.at_s if at_s is None else at_s),
        air_temp_c=values["air_temp"],
        rh_pct=values["rh"],
        surface_temp_c=values["surface_temp"],
        surface_hot_c=values["surface_hot"],
    )
    if row.values():
        reading_store.put_typed(db, row, area)


def _take_out(db: sqlite3.Connection, time_s: int, area: str) -> None:
    db.execute("DELETE FROM reading WHERE area = ? AND time_s = ? AND origin = ?",
               (area, time_s, Origin.TYPED.value))  # fmt: skip
    reading_spans.marked(db, area, Origin.TYPED, time_s)


def _values(entry: Entry, changes: Mapping[str, Json]) -> list[float | None]:
    return [number_of({**entry.data, **changes}.get(field)) for field in _READ]
