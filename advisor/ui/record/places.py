"""Names of the coats and areas that entries point at."""

from __future__ import annotations

from advisor.planning.job import Job
from advisor.record.entry import Entry


def place_of(job: Job | None, entry: Entry) -> str:
    """Return coat and area in words; an id that the job no longer has is said as it stands."""
    coats = {} if job is None else {coat.id: coat.name for coat in job.coats}
    areas = {} if job is None else {area.id: area.name for area in job.areas}
    coat = coats.get(entry.coat_id, entry.coat_id)
    area = areas.get(entry.area_id, entry.area_id)
    return ", ".join(part for part in (coat, area) if part)


def coat_options(job: Job | None) -> list[tuple[str, str]]:
    """Return id and words of every coat."""
    if job is None:
        return []
    return [(coat.id, f"{coat.name}, {job.area(coat.area_id).name}") for coat in job.coats]


def area_options(job: Job | None) -> list[tuple[str, str]]:
    """Return id and words of every area."""
    return [] if job is None else [(area.id, area.name) for area in job.areas]
