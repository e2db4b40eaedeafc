"""The job entry: what stands at the head of a report, written anew only when something changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError
from advisor.planning.job import Coat, Job
from advisor.record import chain
from advisor.record.canonical import Json, canonical
from advisor.record.effective import counting
from advisor.record.entry import Draft, Entry
from advisor.record.in_force import number_text
from advisor.record.kinds import KINDS

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: What the program fills in itself, from the job and the shelf.
FROM_JOB = ("areas", "coats", "products")
#: Before these the header is written anew where something changed; besides before the first entry.
ANEW_BEFORE = ("batch", "sign-off")


def header_before(bench: Kept, db: sqlite3.Connection, draft: Draft) -> Draft | None:
    """Return the job entry that must stand before a draft, None where none is needed.

    Inside the write transaction the draft is appended in.
    """
    job = bench.job()
    if draft.kind == "job" or job is None or job.id != draft.job_id:
        return None
    if draft.kind not in ANEW_BEFORE and chain.head(db, job.id).entries:
        return None
    data = changed_header(bench, db)
    if data is None:
        return None
    return replace(draft, kind="job", at_s=draft.written_s, data=data, area_id="", coat_id="",
                   known={})  # fmt: skip


def changed_header(
    bench: Kept, db: sqlite3.Connection, fields: Mapping[str, str] | None = None
) -> dict[str, Json] | None:
    """Return the header as it would be kept, None where it is kept so already."""
    last = last_header(db, bench.job_in_hand().id)
    data = header_now(bench, last, fields)
    return None if last is not None and canonical(last.data) == canonical(data) else data


def header_now(
    bench: Kept, last: Entry | None, fields: Mapping[str, str] | None = None
) -> dict[str, Json]:
    """Return the header as it would be kept: fields given, else as last kept, and the job's own.

    An empty text takes a field out. InputError for a field a job entry does not have.
    """
    job = bench.job_in_hand()
    given: dict[str, Json] = {"name": job.name, "place": job.place}
    given |= {} if last is None else dict(last.data)
    for name, text in (fields or {}).items():
        KINDS["job"].field(name)
        given[name] = text.strip()
    if not fields or "name" not in fields:
        given["name"] = job.name or job.id
    given |= {"areas": _areas(job), "coats": _coats(bench, job), "products": _products(bench, job)}
    return {name: value for name, value in given.items() if value}


def last_header(db: sqlite3.Connection, job_id: str) -> Entry | None:
    """Return the last job entry as it counts now, None where there is none."""
    kept = chain.entries_in(db, job_id, kinds=("job", "correction"))
    found = [entry for entry in counting(kept) if entry.kind == "job"]
    return found[-1] if found else None


def _areas(job: Job) -> list[Json]:
    return [
        {
            "id": area.id,
            "name": area.name,
            "area_m2": number_text(area.area_m2),
            "substrate": area.substrate,
            "outdoors": "yes" if area.outdoors else "no",
        }
        for area in job.areas
    ]


def _coats(bench: Kept, job: Job) -> list[Json]:
    return [
        {
            "id": coat.id,
            "name": coat.name,
            "area": coat.area_id,
            "product": coat.product_id,
            "method": coat.method,
            "dft_um": _film(bench, coat),
        }
        for coat in job.coats
    ]


def _film(bench: Kept, coat: Coat) -> str:
    """Return the dry film asked for, such as "40 to 60"; "" where nothing says."""
    try:
        span = bench.shelf.of_coat(coat).film.dft_um
    except AdvisorError:
        return ""
    return "" if span is None else " to ".join(dict.fromkeys(number_text(um) for um in span))


def _products(bench: Kept, job: Job) -> list[Json]:
    from advisor.work.known import product_facts

    found: list[Json] = []
    for product_id in dict.fromkeys(coat.product_id for coat in job.coats):
        try:
            on_shelf = bench.shelf.find(product_id)
        except AdvisorError:  # named all the same: the report says what it could not find
            found.append({"id": product_id, "status": "not on the shelf"})
        else:
            found.append(product_facts(on_shelf.product, on_shelf.toml))
    return found
