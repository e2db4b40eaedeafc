"""The bench as the record has it, kept up with it at every look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.record import chain
from advisor.record.bench_state import KINDS_READ, BenchState, fold
from advisor.record.effective import counting
from advisor.record.entry import Entry, number_of

if TYPE_CHECKING:
    from advisor.planning.job import Job
    from advisor.work.kept import Kept

#: A batch older than the newest by this is not asked for its temperature any more, seconds.
LONGEST_BATCH_S = 2 * 24 * 3600.0


@dataclass(frozen=True)
class AtBench:
    """The bench after `number` entries; `heard` keys of alarms; `read` the newest reading's entry.

    `told_c` are material temperatures told since the oldest open batch was mixed: moment (UTC s)
    and °C, oldest first.
    """

    job: Job
    number: int
    state: BenchState
    heard: frozenset[str]
    read: int
    told_c: tuple[tuple[float, float], ...]


class LiveState:
    """Reads only what was added to the record since the last look."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench
        self._job_id = ""
        self._number = 0
        self._entries: list[Entry] = []
        self._state = BenchState()
        self._told: tuple[tuple[float, float], ...] = ()

    def now(self) -> AtBench:
        """Return the bench as it stands in the store."""
        job = self._bench.job_in_hand()
        with self._bench.store.read() as db:
            number = chain.head(db, job.id).entries
            rows = db.execute("SELECT key FROM alarm_heard WHERE job_id = ?", (job.id,)).fetchall()
            read = db.execute(
                "SELECT max(number) FROM entry WHERE job_id = ? AND kind IN ('reading', 'import')",
                (job.id,),
            ).fetchone()[0]
        if job.id != self._job_id or number < self._number:
            self._job_id, self._number, self._entries = job.id, 0, []
            self._state, self._told = BenchState(), ()
        if number > self._number:
            self._read_on(job, number)
        heard = frozenset(key for (key,) in rows)
        return AtBench(job, number, self._state, heard, read or 0, self._told)

    def _read_on(self, job: Job, number: int) -> None:
        store = self._bench.store
        newer = chain.entries(store, job.id, kinds=KINDS_READ, after=self._number)
        self._number = max([number, *(entry.number for entry in newer)])
        if newer:
            self._entries += newer
            self._state = fold(self._entries)
        self._told = self._material()

    def _material(self) -> tuple[tuple[float, float], ...]:
        """Return material temperatures of readings since the oldest open batch."""
        if not self._state.batches:
            return ()
        newest_s = max(batch.at_s for batch in self._state.batches)
        recent = [b for b in self._state.batches if b.at_s >= newest_s - LONGEST_BATCH_S]
        first = min(recent, key=lambda batch: batch.number)
        kinds = ("reading", "correction")
        found = chain.entries(self._bench.store, self._job_id, kinds=kinds, after=first.number)
        told = [(entry.at_s, number_of(entry.data.get("material_temp")))
                for entry in counting(found) if entry.kind == "reading"]  # fmt: skip
        return tuple(sorted((at_s, temp) for at_s, temp in told if temp is not None))
