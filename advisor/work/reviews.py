"""Looking back on the coats of the job in hand: were they inside the limits, and why not?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.base.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.planning.job import Coat, Job
    from advisor.record.effective import Effective
    from advisor.record.entry import Entry
    from advisor.record.review.look import Look
    from advisor.record.review.observed import Observed
    from advisor.record.review.told import Told
    from advisor.record.review_types import Cause, CoatReview, JobReview
    from advisor.work.workbench import Workbench

#: Readings are looked at from this long before a coat, and no longer than this after it.
BEFORE_S = 26 * 3600
AFTER_S = 30 * 86400


class Reviews:
    """Plain readings against the limits in force, from the record and the table of readings."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench

    def coat(self, coat_id: str, now_s: float) -> CoatReview:
        """Look back on one coat; InputError where it was never begun. Slow with long logs."""
        from advisor.record.review.coat import review_coat

        job = self._bench.job_in_hand()
        coat = next((c for c in job.coats if c.id == coat_id), None)
        if coat is None:
            names = ", ".join(c.id for c in job.coats)
            raise InputError(f"coat: found {coat_id!r}; accepted: {names}")
        look = self._look(job, coat, self._record(job), now_s)
        if look is None:
            raise InputError(f"{coat.name}: found no start of it; accepted: a coat that was begun")
        return review_coat(look)

    def job(self, now_s: float) -> JobReview:
        """Look back on every coat that was begun, in the order they went on. Slow."""
        from advisor.record.canonical import NO_HASH
        from advisor.record.effective import effective
        from advisor.record.review.coat import review_coat
        from advisor.record.review_types import JobReview

        job = self._bench.job_in_hand()
        # One read: the head is that of the entries looked at, whatever is written meanwhile.
        entries = self._entries(job)
        record = effective(entries)
        looks = [self._look(job, coat, record, now_s) for coat in job.coats]
        found = [review_coat(look) for look in looks if look is not None]
        return JobReview(
            job.id,
            job.name,
            tuple(sorted(found, key=lambda review: review.started_s)),
            entries,
            entries[-1].hash if entries else NO_HASH,
            now_s,
            broken_links(entries),
        )

    def causes(self, entry_number: int, now_s: float) -> tuple[Cause, ...]:
        """Rank what may have caused a logged defect, with the evidence of its own coat.

        Nothing for a defect no cause is known of; InputError where the entry is no defect.
        """
        from advisor.record.causes import causes

        job = self._bench.job_in_hand()
        record = self._record(job)
        one = next((e for e in record if e.entry.number == entry_number), None)
        if one is None or one.entry.kind != "defect":
            raise InputError(f"entry {entry_number}: found no defect; accepted: a defect's number")
        coat = next((c for c in job.coats if c.id == one.now.coat_id), None)
        look = None if coat is None else self._look(job, coat, record, now_s)
        if look is None:
            raise InputError(
                f"entry {entry_number}: found no coat that was begun; accepted: a defect of one"
            )
        return causes(str(one.now.data.get("defect", "")), look)

    # --- inner ---------------------------------------------------------------------------

    def _entries(self, job: Job) -> tuple[Entry, ...]:
        from advisor.record import chain

        return chain.entries(self._bench.store, job.id)

    def _record(self, job: Job) -> tuple[Effective, ...]:
        from advisor.record.effective import effective

        return effective(self._entries(job))

    def _look(
        self, job: Job, coat: Coat, record: tuple[Effective, ...], now_s: float
    ) -> Look | None:
        """Gather what a look back goes by; None where the coat was never begun."""
        from advisor.record.review.look import Look
        from advisor.record.review.told import told
        from advisor.work.days import WIND_LIMIT_M_S, product_of

        tale = told(coat, record)
        if tale.started_s is None:
            return None
        bench, products = self._bench, self._bench.products()
        below = job.below(coat)
        return Look(
            job=job,
            coat=coat,
            product=product_of(products, coat),
            below=None if below is None else product_of(products, below),
            record=record,
            seen=self._seen(job, tale, record, now_s),
            words=bench.words(now_s),
            now_s=now_s,
            wind_m_s=WIND_LIMIT_M_S[coat.method],
            sanded_s=bench._logged(job, "sanded").get(coat.area_id),
        )

    def _seen(self, job: Job, tale: Told, record: tuple[Effective, ...], now_s: float) -> Observed:
        """Read what was observed, from the coat below to well past this one."""
        from advisor.climate import reading_store
        from advisor.record.review.observed import Rows, observed
        from advisor.record.review.told import told

        coat, below, above = tale.coat, job.below(tale.coat), job.above(tale.coat)
        under = None if below is None else told(below, record).started_s
        over = None if above is None else told(above, record).started_s
        # A hull by sections: the next coat may be begun days before this one is on all over.
        covered = now_s if over is None else max(over, tale.ended_s or over)
        first = tale.from_s - BEFORE_S if under is None else min(under, tale.from_s - BEFORE_S)
        last = min(now_s, (tale.ended_s or now_s) + AFTER_S, covered + BEFORE_S)
        bench = self._bench
        zones = ((bench.readings_area, False), (coat.area_id, True))
        rows = [
            Rows(reading_store.load(bench.store, int(first), int(last), area, (origin,)), origin,
                 at_work)
            for area, at_work in zones
            for origin in reading_store.OBSERVED
        ]  # fmt: skip
        return observed((r for r in rows if len(r.table)), record, coat.area_id)


def broken_links(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Say which entries do not follow the one before by number and hash."""
    from advisor.record.canonical import NO_HASH

    found, before, number = [], NO_HASH, 0
    for entry in entries:
        number += 1
        if entry.number != number:
            found.append(f"entry {entry.number}: stands in the place of entry {number}")
        if entry.previous != before:
            found.append(f"entry {entry.number}: does not follow the one before it unaltered")
        before, number = entry.hash, entry.number
    return tuple(found)
