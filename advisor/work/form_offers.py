"""What an entry form fills in before anyone types: the coat meant, its product, its batch."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.planning.job import Job
from advisor.record.kinds import kind_of

if TYPE_CHECKING:
    from advisor.work.kept import Kept


@dataclass(frozen=True)
class Offer:
    """A coat by its id, "" for none, and what its fields say, by their keys."""

    coat_id: str
    fields: Mapping[str, str] = field(default_factory=dict)


def offered(bench: Kept, job: Job, kind: str, coat_id: str, beside: str = "") -> Offer:
    """Return what a form of this kind may fill in; `coat_id` is the coat chosen, "" for none yet.

    `beside` is the coat of the entry that is open beside the form.
    """
    if kind_of(kind).of != "coat":
        return Offer("")
    with bench.store.read() as db:
        chosen = coat_id or _coat_meant(db, job, kind, beside)
        if not chosen:
            return Offer("")
        batch = _newest_batch(db, job.id, chosen)
    fields = {"batch": batch, "method": job.coat(chosen).method}
    if kind == "batch":
        fields["product"] = _product_name(bench, job.coat(chosen).product_id)
    known = {declared.key for declared in kind_of(kind).fields}
    return Offer(chosen, {key: words for key, words in fields.items() if key in known})


def _coat_meant(db: sqlite3.Connection, job: Job, kind: str, beside: str) -> str:
    """Return the coat of the entry open beside, else the one last worked on, else the next.

    A batch is of the next one; a defect is of a coat that was begun, or of none.
    """
    worked = db.execute(
        "SELECT coat_id, max(number), max(kind = 'application') FROM entry "
        "WHERE job_id = ? AND coat_id <> '' GROUP BY coat_id ORDER BY 2 DESC", (job.id,)
    ).fetchall()  # fmt: skip
    begun = {coat.id for coat in job.coats if coat.laid is not None}
    begun |= {coat_id for coat_id, _, put_on in worked if put_on}
    last = [] if kind == "batch" else [str(coat_id) for coat_id, *_ in worked]
    there = {coat.id for coat in job.coats}
    for coat_id in (beside, *last, *(coat.id for coat in job.next_coats())):
        if coat_id in there and (kind != "defect" or coat_id in begun):
            return coat_id
    return ""


def _newest_batch(db: sqlite3.Connection, job_id: str, coat_id: str) -> str:
    row = db.execute(
        "SELECT number FROM entry WHERE job_id = ? AND kind = 'batch' AND coat_id = ? "
        "ORDER BY number DESC LIMIT 1", (job_id, coat_id)
    ).fetchone()  # fmt: skip
    return "" if row is None else str(row[0])


def _product_name(bench: Kept, product_id: str) -> str:
    with suppress(InputError):
        return bench.shelf.find(product_id).product.name
    return product_id
