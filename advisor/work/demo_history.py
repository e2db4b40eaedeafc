"""What the demo's crew has already laid: day from today and local clock times."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from advisor.planning.job import Job, Laid
from advisor.work.demo_air import local_s

#: Coat, day from today, first patch, last patch.
LAID = (
    ("port-sealer", -7, time(10, 0), time(11, 0)),
    ("starboard-sealer", -7, time(11, 20), time(12, 20)),
    ("port-primer-1", -6, time(10, 0), time(11, 0)),
    ("starboard-primer-1", -6, time(11, 20), time(12, 20)),
    ("port-primer-2", -5, time(10, 0), time(11, 0)),
    ("starboard-primer-2", -5, time(11, 20), time(12, 20)),
    ("port-undercoat", -3, time(9, 0), time(10, 0)),
    ("starboard-undercoat", -3, time(9, 0), time(10, 0)),
    ("port-gloss-1", -1, time(10, 10), time(11, 25)),
    ("starboard-gloss-1", -1, time(10, 10), time(11, 25)),
    ("sheer-stripe-gloss", -1, time(17, 0), time(17, 20)),
    ("bottom-boards-sealer", -4, time(14, 0), time(14, 30)),
    ("bottom-boards-primer", -3, time(10, 0), time(10, 30)),
    ("bottom-boards-undercoat", -1, time(13, 30), time(14, 0)),
)


def demo_laid(job: Job, now_s: float) -> Job:
    """Return the demo job with what was laid before today, by the local date of now."""
    zone = ZoneInfo(job.time_zone)
    today = datetime.fromtimestamp(now_s, zone).date()
    for coat_id, day, start, end in LAID:
        job = job.with_coat(replace(job.coat(coat_id), laid=_laid(today, day, (start, end), zone)))
    return job


def _laid(today: date, day: int, clocks: tuple[time, time], zone: ZoneInfo) -> Laid:
    start, end = (local_s(today, day, clock, zone) for clock in clocks)
    return Laid(start, end)
