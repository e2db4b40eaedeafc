"""A correction with what follows from it: reckoned values anew, and the reading every pane uses."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.climate import reading_spans, reading_store
from advisor.climate.readings import Origin
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.corrections import check_changes
from advisor.record.effective import ENTRY, Effective, counting, effective, value_of
from advisor.record.entry import Draft, Entry
from advisor.work import kept_events
from advisor.work.corrected import follow
from advisor.work.moments import refuse_ahead, refuse_moments_ahead
from advisor.work.reading_entry import from_wet_bulb, reading_draft, reading_of

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
    _refuse_ahead(told.entry.kind, real, now_s)
    if told.entry.kind == "reading" and real.keys() & {*_READ, "wet_bulb"}:
        real |= _humidity(bench, told.now, real)
        real |= _reckoned(bench, told.now, real, now_s)
    draft = _draft(bench, told, real, reason, now_s)
    with bench.store.write() as db:
        _refuse_stale(db, told)
        if told.entry.kind == "reading" and real.keys() & {*_READ, "at", ENTRY}:
            _store_again(db, told, real, bench.readings_area)
        follow(db, bench, told, real)
        return bench.record.append(db, draft)


def _refuse_ahead(kind: str, changes: Mapping[str, Json], now_s: float) -> None:
    if "at" in changes:
        refuse_ahead(_moment(changes), now_s)
    refuse_moments_ahead(kind, changes, now_s)


def _refuse_stale(db: sqlite3.Connection, told: Effective) -> None:
    """Refuse to correct what another window corrected since: it no longer says what was read."""
    entry = told.entry
    kept = chain.entries_in(db, entry.job_id, kinds=("correction",), after=entry.number)
    if effective((entry, *kept))[0].changes != told.changes:
        raise InputError(f"entry {entry.number}: found it corrected meanwhile in another window; "
                         "accepted: look at it again, then correct it")  # fmt: skip


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


def _humidity(bench: Kept, entry: Entry, changes: Mapping[str, Json]) -> dict[str, Json]:
    """Humidity reckoned from a wet bulb follows both thermometers; one that was read stays."""
    was = entry.data.get("rh")
    if "rh" in changes or (isinstance(was, Mapping) and was.get("source") != "computed"):
        return {}
    now = from_wet_bulb(bench, {**entry.data, **changes, "rh": ""}).get("rh", "")
    return {"rh": now} if now != (was or "") else {}


def _reckoned(
    bench: Kept, entry: Entry, changes: Mapping[str, Json], now_s: float
) -> dict[str, Json]:
    """Dew point and margin of the corrected values, where they come out otherwise."""
    reading = reading_of({**entry.data, **changes}, entry.at_s)
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
    """Make the rows every pane reads anew, of the second it was at and the one it is at now.

    What other entries say of these seconds stays in them.
    """
    was_s = int(told.now.at_s)
    now_s = int(_moment(changes)) if "at" in changes else was_s
    beside = _beside(db, told.entry, {was_s, now_s})
    mine = replace(told.now, at_s=now_s, data={**told.now.data, **changes})
    for time_s in sorted({was_s, now_s}):
        _take_out(db, time_s, area)
    for entry in sorted([*beside, *(() if ENTRY in changes else (mine,))], key=_number):
        row = kept_events.typed_row(reading_of(entry.data, entry.at_s))
        if row.values():
            reading_store.put_typed(db, row, area)


def _beside(db: sqlite3.Connection, entry: Entry, times: set[int]) -> list[Entry]:
    """Return the other readings of these seconds as they count now."""
    kept = chain.entries_in(db, entry.job_id, kinds=("correction",))
    moved = {str(one.data["corrects"]) for one in kept if _moves(one)}
    rows = db.execute(
        "SELECT number FROM entry WHERE job_id = ? AND kind = 'reading' AND at_s IN (?, ?)",
        (entry.job_id, min(times), max(times)),
    ).fetchall()
    numbers = {row[0] for row in rows} | {int(text) for text in moved if text.isdigit()}
    found = chain.numbered(db, entry.job_id, sorted(numbers - {entry.number}))
    return [one for one in counting((*found, *kept))
            if one.kind == "reading" and int(one.at_s) in times]  # fmt: skip


def _moves(correction: Entry) -> bool:
    rows = correction.data.get("values", ())
    assert isinstance(rows, Sequence)
    return any(isinstance(row, Mapping) and row.get("field") == "at" for row in rows)


def _moment(changes: Mapping[str, Json]) -> float:
    return datetime.fromisoformat(str(changes["at"])).timestamp()


def _number(entry: Entry) -> int:
    return entry.number


def _take_out(db: sqlite3.Connection, time_s: int, area: str) -> None:
    db.execute("DELETE FROM reading WHERE area = ? AND time_s = ? AND origin = ?",
               (area, time_s, Origin.TYPED.value))  # fmt: skip
    reading_spans.marked(db, area, Origin.TYPED, time_s)
