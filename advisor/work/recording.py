"""Keeping the record: every use case that is an event of the job adds its entry here."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from advisor import __version__
from advisor.base.attachments import Attachments
from advisor.base.errors import InputError, RangeError, StoreError
from advisor.base.paths import data_dir
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.chain import Head
from advisor.record.effective import ENTRY, STRUCK_OUT, Effective, effective
from advisor.record.entry import Draft, Entry
from advisor.work.moments import refuse_ahead, refuse_moments_ahead

if TYPE_CHECKING:
    from advisor.record.signing import SigningKey
    from advisor.work.kept import Kept
    from advisor.work.photos import Photo

#: More digits than any entry number has.
MOST_DIGITS = 15


class Recorder:
    """The record of the job in hand. Every method is acknowledged only when it is on the disk."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench
        #: Who is writing these entries alone; as set in the settings where empty.
        self.writer = ""

    @property
    def by(self) -> str:
        """Who is writing."""
        return self.writer or self._bench.settings.text("person")

    @property
    def zone(self) -> str:
        """The time zone of the job in hand."""
        return self._bench.job_in_hand().time_zone

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
        """Append a draft inside a write transaction, after the job entry where one is due.

        RangeError for what is said to have happened later than now; a log goes by its own clock.
        """
        if draft.kind != "import":
            refuse_ahead(draft.at_s, draft.written_s)
            refuse_moments_ahead(draft.kind, draft.data, draft.written_s)
        self._put_header(db, draft)
        return chain.append(db, draft, __version__)

    def _put_header(self, db: sqlite3.Connection, draft: Draft) -> None:
        from advisor.work.job_header import header_before

        header = header_before(self._bench, db, draft)
        if header is not None:
            chain.append(db, header, __version__)

    # --- what stands in the record already ----------------------------------------------------

    def entry(self, number: int | str) -> Entry | None:
        """Return an entry by its number, None where there is none."""
        wanted = str(number)
        if not wanted.isascii() or not wanted.isdigit() or len(wanted) > MOST_DIGITS:
            return None
        return chain.entry(self._bench.store, self._bench.job_in_hand().id, int(wanted))

    def told(self, number: int | str) -> Effective:
        """Return an entry with the corrections of it; InputError where there is none."""
        found = self.entry(number)
        if found is None:
            raise InputError(
                f"entry: found no number {number}; accepted: 1 to {self.head().entries}"
            )
        if found.kind == "correction":
            return Effective(found, found)
        kept = chain.entries(self._bench.store, found.job_id, kinds=("correction",))
        return effective((found, *kept))[0]

    def correct(
        self, number: int | str, changes: Mapping[str, Json], reason: str, now_s: float
    ) -> Entry:
        """Correct fields of an entry; InputError for what cannot be, and nothing is kept.

        `changes` by field of its data, or "at", "coat", "area"; "" strikes a field out. What was
        said first stays, and what follows from a reading is reckoned anew.
        """
        from advisor.work.correcting import correct_by_hand

        told = self.told(number)
        self._check_places(changes)
        return correct_by_hand(self._bench, told, changes, reason, now_s)

    def strike_out(self, number: int | str, reason: str, now_s: float) -> Entry:
        """Take a whole entry back; it stays to be read, struck through."""
        return self.correct(number, {ENTRY: STRUCK_OUT}, reason, now_s)

    def _check_places(self, changes: Mapping[str, Json]) -> None:
        job = self._bench.job_in_hand()
        for name, known in (("coat", job.coats), ("area", job.areas)):
            ids = [one.id for one in known]
            if changes.get(name) and changes[name] not in ids:
                raise RangeError(f"correction, {name}", repr(changes[name]), ", ".join(ids))

    # --- photos, header, sign-off -------------------------------------------------------------

    def attach_photo(self, photo: Photo, now_s: float, at_s: float | None = None) -> Entry:
        """Keep a photo by its hash with an entry; InputError for a file that is no picture."""
        from advisor.work.photos import attach

        files = Attachments(self._bench.store.path)
        return attach(self, files, photo, now_s if at_s is None else at_s, now_s)

    def write_job_header(
        self, now_s: float, fields: Mapping[str, str] | None = None
    ) -> Entry | None:
        """Keep the job entry as it is now; None where nothing changed since the last.

        `fields` such as owner or specification; those not given stay as they were last kept.
        """
        from advisor.work.job_header import changed_header

        with self._bench.store.write() as db:
            data = changed_header(self._bench, db, fields)
            if data is None:
                return None
            return self.append(db, self.draft("job", data, at_s=now_s, now_s=now_s))

    def ready_to_give(self, now_s: float) -> None:
        """Bring the job entry up to date before the record is given away or printed.

        Where nothing can be written, what is there is given away all the same.
        """
        with suppress(StoreError):
            if self._bench.job() is not None:
                self.write_job_header(now_s)

    def sign_off(
        self,
        name: str,
        now_s: float,
        *,
        role: str = "",
        statement: str = "",
        key: SigningKey | None = None,
    ) -> Entry:
        """Sign off all entries so far, by name alone or with a key too.

        The signature is over this entry's own line, which holds the hash of the one before.
        """
        from advisor.record.signing import signed

        given: dict[str, Json] = {"name": name.strip(), "role": role, "statement": statement}
        data = {field: text for field, text in given.items() if text}
        draft = self.draft("sign-off", data, at_s=now_s, now_s=now_s)
        with self._bench.store.write() as db:
            self._put_header(db, draft)  # before the signature, which binds all before it
            if key is not None:
                draft = signed(draft, key, chain.head(db, draft.job_id), __version__)
            return chain.append(db, draft, __version__)

    @property
    def keys_folder(self) -> Path:
        """Where the keys of the person are kept; apart from the record, which may be given away."""
        return data_dir() / "keys"
