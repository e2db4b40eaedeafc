"""Keeping the record: every use case that is an event of the job adds its entry here."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import TYPE_CHECKING

from advisor import __version__
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.chain import Head
from advisor.record.entry import Draft, Entry

if TYPE_CHECKING:
    from advisor.work.kept import Kept


class Recorder:
    """The record of the job in hand. Every method is acknowledged only when it is on the disk."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench

    @property
    def by(self) -> str:
        """Who is writing, as set in the settings."""
        return self._bench.settings.text("person")

    def head(self) -> Head:
        """Return the end of the record."""
        return chain.head_of(self._bench.store, self._bench.job_in_hand().id)

    def add(
        self,
        kind: str,
        data: Mapping[str, Json],
        *,
        at_s: float,
        now_s: float,
        area_id: str = "",
        coat_id: str = "",
        known: Mapping[str, Json] | None = None,
    ) -> Entry:
        """Keep one entry; InputError for a field that cannot be kept, and nothing is kept."""
        draft = self.draft(kind, data, at_s=at_s, now_s=now_s, area_id=area_id, coat_id=coat_id,
                           known=known)  # fmt: skip
        with self._bench.store.write() as db:
            return self.append(db, draft)

    def draft(
        self,
        kind: str,
        data: Mapping[str, Json],
        *,
        at_s: float,
        now_s: float,
        area_id: str = "",
        coat_id: str = "",
        known: Mapping[str, Json] | None = None,
    ) -> Draft:
        """Return an entry to be appended in a transaction that changes more than the record."""
        job = self._bench.job_in_hand()
        if coat_id and not area_id:
            area_id = job.coat(coat_id).area_id
        return Draft(kind, job.id, at_s, now_s, job.time_zone, self.by, data, area_id, coat_id,
                     known or {})  # fmt: skip

    def append(self, db: sqlite3.Connection, draft: Draft) -> Entry:
        """Append a draft inside a write transaction."""
        return chain.append(db, draft, __version__)
