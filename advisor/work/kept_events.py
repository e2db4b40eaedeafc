"""What a person does at the bench, kept with its entry in the record: both or neither."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.climate import reading_store
from advisor.climate.reading_store import TypedReading
from advisor.planning.job import Job, Laid
from advisor.planning.job_file import job_to_toml, parse_job
from advisor.record.canonical import Json
from advisor.record.entry import Draft, Entry, iso

if TYPE_CHECKING:
    from advisor.work.kept import Kept
    from advisor.work.views import Reading

#: What was done to a surface, and the kinds of event that is counted as.
PREPARED = MappingProxyType(
    {"dried and wiped": ("dried",), "sanded and wiped": ("sanded", "dried")}
)


def put_job(db: sqlite3.Connection, job: Job) -> None:
    """Keep a job inside a write transaction."""
    db.execute("INSERT INTO job (id, toml) VALUES (?, ?) "
        "ON CONFLICT (id) DO UPDATE SET toml = excluded.toml",
               (job.id, job_to_toml(job)))  # fmt: skip


def put_event(
    db: sqlite3.Connection,
    job_id: str,
    coat_id: str,
    kind: str,
    at_s: float,
    detail: Mapping[str, object],
) -> None:
    """Keep an event inside a write transaction."""
    db.execute(
        "INSERT INTO event (job_id, coat_id, kind, at_s, detail_json) VALUES (?,?,?,?,?)",
        (job_id, coat_id, kind, int(at_s), json.dumps(detail)),
    )


def lay_coat(
    bench: Kept,
    coat_id: str,
    laid: Laid,
    draft: Draft | None = None,
    now_s: float | None = None,
) -> Entry:
    """Note that a coat went on, from its first to its last patch, with the entry that says so.

    Told as it happens where `now_s` is not given; `draft` an entry that says more.
    """
    if laid.end_s < laid.start_s:
        raise InputError("the last patch: found a time before the first; accepted: after it")
    if draft is None:
        draft = finish_draft(bench, coat_id, laid, laid.end_s if now_s is None else now_s)
    event = ("applied", laid.start_s, {"end_s": laid.end_s})
    return _change_coat(bench, coat_id, laid, event, draft)


def finish_draft(
    bench: Kept,
    coat_id: str,
    laid: Laid,
    now_s: float,
    *,
    said: Mapping[str, Json] | None = None,
    known: Mapping[str, Json] | None = None,
) -> Draft:
    """Return the entry of a coat that is on; `said` are further fields of it."""
    from advisor.work.known import known_of_coat

    job = bench.job_in_hand()
    data: dict[str, Json] = {
        "event": "finish",
        "method": job.coat(coat_id).method,
        **(said or {}),
        "began": iso(laid.start_s, job.time_zone),
    }
    known = known_of_coat(bench, coat_id, now_s) if known is None else known
    return bench.record.draft("application", data, at_s=laid.end_s, now_s=now_s,
                              coat_id=coat_id, known=known)  # fmt: skip


def unlay_coat(bench: Kept, coat_id: str, now_s: float) -> Entry:
    """Take back that a coat went on; what was said before stays."""
    draft = bench.record.draft("application", {"event": "not on"}, at_s=now_s, now_s=now_s,
                               coat_id=coat_id)  # fmt: skip
    return _change_coat(bench, coat_id, None, ("not applied", now_s, {}), draft)


def _change_coat(
    bench: Kept,
    coat_id: str,
    laid: Laid | None,
    event: tuple[str, float, Mapping[str, object]],
    draft: Draft,
) -> Entry:
    job = bench.job_in_hand()

    def change(kept: Job) -> Job:
        return kept.with_coat(replace(kept.coat(coat_id), laid=laid))

    with bench.store.write() as db:
        put_job(db, change(job if bench.goes_by_file else as_kept(db, job)))
        kind, at_s, detail = event
        put_event(db, job.id, coat_id, kind, at_s, detail)
        entry = bench.record.append(db, draft)
    bench.make_in_hand(job.id)
    return entry


def as_kept(db: sqlite3.Connection, job: Job) -> Job:
    """Return the job as it stands now: another window may have changed it since it was read."""
    row = db.execute("SELECT toml FROM job WHERE id = ?", (job.id,)).fetchone()
    return job if row is None else parse_job(row[0], f"job {job.id}")


def log_preparation(
    bench: Kept, what: str, at_s: float, now_s: float | None, area_id: str
) -> Entry:
    """Note what was done to the surface of an area, in the words of `PREPARED`."""
    from advisor.work.known import known_of_values

    now_s = at_s if now_s is None else now_s
    job = bench.job_in_hand()
    data: dict[str, Json] = {"what": what, "finished": iso(at_s, job.time_zone)}
    draft = bench.record.draft("preparation", data, at_s=at_s, now_s=now_s, area_id=area_id,
                               known=known_of_values(bench, now_s))  # fmt: skip
    return keep_preparation(bench, draft, at_s)


def keep_preparation(bench: Kept, draft: Draft, at_s: float) -> Entry:
    """Keep the entry of a preparation with its events: drying and sanding are counted with."""
    with bench.store.write() as db:
        for kind in PREPARED.get(str(draft.data.get("what", "")), ()):
            put_event(db, draft.job_id, "", kind, at_s, {"area": draft.area_id})
        return bench.record.append(db, draft)


def type_reading(
    bench: Kept,
    reading: Reading,
    now_s: float | None,
    area_id: str,
    said: Mapping[str, str],
) -> Entry | None:
    """Keep a reading typed at the bench with its entry; without a job there is no record yet.

    `said` holds further fields of a reading, such as its reason, in words.
    """
    draft = None
    if bench.job() is not None:
        from advisor.work.reading_entry import reading_draft

        now_s = reading.taken_s if now_s is None else now_s
        draft = reading_draft(bench, reading, now_s, area_id, said)
    with bench.store.write() as db:
        reading_store.put_typed(db, typed_row(reading), bench.readings_area)
        return None if draft is None else bench.record.append(db, draft)


def typed_row(reading: Reading) -> TypedReading:
    """Return a reading as the row of the store that every pane reads."""
    return TypedReading(
        int(reading.taken_s),
        air_temp_c=reading.air_temp_c,
        rh_pct=reading.rh_pct,
        surface_temp_c=reading.surface_temp_c,
        surface_hot_c=reading.surface_hot_c,
    )
