"""Batches of the jobs that are not in hand: their alarms are heard whichever job is open."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from advisor.base.errors import AdvisorError
from advisor.base.store import Store
from advisor.planning.job import Job
from advisor.work.kept import Kept, is_demo
from advisor.work.live_look import Look
from advisor.work.live_rounds import LONGEST_S
from advisor.work.live_state import LiveState
from advisor.work.live_views import Alarm, LiveBench

#: Between the job and the alarm in a key.
OF_JOB = "|"


class _OtherBench(Kept):
    """The store as seen by another job than the one in hand."""

    def __init__(self, store: Store, resources: Path, job_id: str) -> None:
        super().__init__(store, resources)
        self._id = job_id

    def job(self) -> Job | None:
        """Return that job as it is kept now."""
        with self.store.read() as db:
            row = db.execute("SELECT toml FROM job WHERE id = ?", (self._id,)).fetchone()
        return None if row is None else self._parsed(self._id, row[0])


class OtherJobs:
    """Looks at the benches of other jobs that mixed a batch lately."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench
        self._looks: dict[str, tuple[LiveState, Look]] = {}

    def alarms(self, job_id: str, now_s: float) -> tuple[tuple[Alarm, ...], tuple[Alarm, ...]]:
        """Return alarms due and coming of all jobs but one, each naming its job."""
        due: list[Alarm] = []
        coming: list[Alarm] = []
        for other in self._lately(job_id, now_s):
            with suppress(AdvisorError):  # a job that cannot be read holds no other alarm up
                name, view = self._view(other, now_s)
                due += _named(view.alarms, other, name)
                coming += _named(view.coming, other, name)
        return tuple(due), tuple(coming)

    def _view(self, job_id: str, now_s: float) -> tuple[str, LiveBench]:
        if job_id not in self._looks:
            bench = _OtherBench(self._bench.store, self._bench.resources, job_id)
            self._looks[job_id] = (LiveState(bench), Look(bench))
        state, look = self._looks[job_id]
        at = state.now()
        return at.job.name, look.at(at, now_s)

    def _lately(self, in_hand: str, now_s: float) -> list[str]:
        found = []
        with self._bench.store.read() as db:
            for (job_id,) in db.execute("SELECT id FROM job").fetchall():
                if job_id == in_hand or is_demo(job_id):
                    continue
                row = db.execute(
                    "SELECT at_s FROM entry WHERE job_id = ? AND kind = 'batch' "
                    "ORDER BY number DESC LIMIT 1",
                    (job_id,),
                ).fetchone()
                if row is not None and row[0] > now_s - LONGEST_S:
                    found.append(job_id)
        return found


def of_job(alarms: tuple[Alarm, ...], job_id: str) -> tuple[Alarm, ...]:
    """Return alarms with the job in their key: heard is heard for that job alone."""
    return tuple(replace(one, key=f"{job_id}{OF_JOB}{one.key}") for one in alarms)


def _named(alarms: tuple[Alarm, ...], job_id: str, name: str) -> tuple[Alarm, ...]:
    """Batches and changed conditions; readings are asked for in the job in hand alone."""
    told = [one for one in alarms if not one.key.startswith("reading:")]
    return of_job(tuple(replace(one, text=f"{name}: {one.text}") for one in told), job_id)
