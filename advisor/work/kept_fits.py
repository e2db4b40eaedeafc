"""What was learned from the shop's log, kept as JSON until it is learned anew."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.base.store import Store
from advisor.planning.job import Job


@dataclass(frozen=True)
class KeptFit:
    """One fitted thing as it was written, and when it was made (UTC seconds)."""

    made_s: int
    json: str


def name(kind: str, job: Job) -> str:
    """Return the name of a fit of this job's shop: another shop, or another job's, is another."""
    return f"{kind} of {job.id}: {job.shop}"


def put(store: Store, kind: str, json: str, made_s: float) -> None:
    """Keep a fit in place of the one before it."""
    with store.write() as db:
        db.execute(
            "INSERT INTO fit (kind, made_at_s, json) VALUES (?, ?, ?) ON CONFLICT (kind) "
            "DO UPDATE SET made_at_s = excluded.made_at_s, json = excluded.json",
            (kind, int(made_s), json),
        )


def get(store: Store, kind: str) -> KeptFit | None:
    """Return a fit, None when there is none."""
    with store.read() as db:
        row = db.execute("SELECT made_at_s, json FROM fit WHERE kind = ?", (kind,)).fetchone()
    return None if row is None else KeptFit(int(row[0]), row[1])


def drop(store: Store, kind: str) -> None:
    """Forget a fit, as when the shop is another one."""
    with store.write() as db:
        db.execute("DELETE FROM fit WHERE kind = ?", (kind,))
