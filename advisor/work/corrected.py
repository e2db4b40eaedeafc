"""After a correction, what the bench counts with: a coat's times, when a surface was prepared."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.planning.job import Job, Laid
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, Effective
from advisor.record.entry import Entry, moment_of
from advisor.work import kept_events

if TYPE_CHECKING:
    from advisor.work.kept import Kept


def follow(
    db: sqlite3.Connection, bench: Kept, told: Effective, changes: Mapping[str, Json]
) -> None:
    """Bring job and events in line with a correction, inside its write transaction."""
    entry = told.entry
    if entry.kind == "application" and entry.data.get("event") == "finish":
        if not bench.goes_by_file:
            _coat(db, bench.job_in_hand(), told.now, changes)
    elif entry.kind == "preparation":
        _preparation(db, told.now, changes)


def _coat(db: sqlite3.Connection, job: Job, was: Entry, changes: Mapping[str, Json]) -> None:
    """Move or take back when a coat went on, where the job still has it from this entry."""
    job = kept_events.as_kept(db, job)
    coat = next((one for one in job.coats if one.id == was.coat_id), None)
    if coat is None or coat.laid is None or int(coat.laid.end_s) != int(was.at_s):
        return
    laid, target = _laid(was, changes), str(changes.get("coat", coat.id))
    moved = job.with_coat(replace(coat, laid=None))
    if laid is not None and any(one.id == target for one in job.coats):
        moved = moved.with_coat(replace(moved.coat(target), laid=laid))
    kept_events.put_job(db, moved)


def _laid(was: Entry, changes: Mapping[str, Json]) -> Laid | None:
    if ENTRY in changes or changes.get("event", "finish") != "finish":
        return None
    end_s = _moment(changes.get("at"), was.at_s)
    start_s = _moment(changes.get("began", was.data.get("began")), end_s)
    return Laid(min(start_s, end_s), end_s)


def _preparation(db: sqlite3.Connection, was: Entry, changes: Mapping[str, Json]) -> None:
    """Move or take back the events that this entry was also kept as."""
    at_s = int(_moment(was.data.get("finished"), was.at_s))
    rows = db.execute(
        "SELECT id, kind FROM event WHERE job_id = ? AND at_s = ? AND kind IN ('dried', 'sanded') "
        "AND json_extract(detail_json, '$.area') = ?",
        (was.job_id, at_s, was.area_id),
    ).fetchall()
    db.executemany("DELETE FROM event WHERE id = ?", [(row[0],) for row in rows])
    if ENTRY in changes or "what" in changes:
        return  # what was done instead is told by an entry of its own
    finished = changes.get("finished", was.data.get("finished"))
    now_s = _moment(finished, _moment(changes.get("at"), was.at_s))
    detail = {"area": str(changes.get("area", was.area_id))}
    for _, kind in rows:
        kept_events.put_event(db, was.job_id, "", kind, now_s, detail)


def _moment(text: Json, otherwise_s: float) -> float:
    found = moment_of(text)
    return otherwise_s if found is None else found
