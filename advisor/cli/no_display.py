"""The plan as text, for machines without a display: of the job in a database, else of the demo."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.cli.printing import iso, number, verdict_word, write_json
from advisor.cli.request import Call
from advisor.planning.job import Job
from advisor.planning.verdict import Verdict
from advisor.planning.words import Words
from advisor.work.days import start_detail
from advisor.work.views import Lane, StartDetail
from advisor.work.workbench import Workbench

#: The demo must never pass for the plan of the user's own job.
NO_FILE = "There is no file {}: what follows is the invented demo, not your plan."
NO_JOB = "{} holds no job: what follows is the invented demo, not your plan."
ASKED = (
    "--demo was asked for and {} was not read: what follows is the invented demo, not your plan."
)
OWN = "This is the demo plan as text; the plan of your own job: --database FILE."
INVENTED = "Invented job, typical values. The maker's data sheet comes first."
LAST = "The maker's data sheet comes first."


def print_plan(call: Call, why: str) -> int:
    """Print the week of the job in the database named, else of the demo, and why no window."""
    named = call.options.database
    if named is None:
        return _print_demo(call, f"{why} {OWN}")
    path = Path(named)
    if call.options.demo:
        return _print_demo(call, f"{why} {ASKED.format(path)}")
    if not path.exists():
        return _print_demo(call, f"{why} {NO_FILE.format(path)}")
    with Store(path) as store:
        bench = Workbench(store, resources_dir())
        job = bench.job()
        if job is not None:
            said = f"{why} This is the plan of the job in {path} as text."
            return _print_week(call, bench, job, (said, LAST))
    return _print_demo(call, f"{why} {NO_JOB.format(path)}")


def _print_demo(call: Call, why: str) -> int:
    with _demo_bench() as bench:
        return _print_week(call, bench, bench.load_demo(call.now_s), (why, INVENTED))


@contextmanager
def _demo_bench() -> Iterator[Workbench]:
    """Give a bench whose database is gone afterwards."""
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        Store(Path(folder) / "demo.sqlite3") as store,
    ):
        yield Workbench(store, resources_dir())


def _print_week(call: Call, bench: Workbench, job: Job, around: tuple[str, str]) -> int:
    """Print the coming days of a job; `around` is what is said before and after."""
    zone = call.given_zone or bench.words(call.now_s).zone
    words = Words(call.options.units, zone, call.now_s)
    week = bench.coming_days(call.now_s)
    if call.options.json:
        told = [_lane_json(lane, words, call.now_s) for lane in week.lanes]
        write_json(call.out, {"job": job.name, "why_text": around[0], "coats": told})
        return 0
    call.out.write(f"{around[0]}\n\n{', '.join(filter(None, (job.name, job.place)))}; ")
    call.out.write(f"times in {zone.key}\n")
    for lane in week.lanes:
        _print_lane(call, lane, words)
    note = week.note if week.lanes else "Every coat of this job is on."
    call.out.write(f"\n{note}\n" if note else "")
    call.out.write(f"\n{around[1]}\n")
    return 0


def _print_lane(call: Call, lane: Lane, words: Words) -> None:
    call.out.write(f"\n{lane.coat.name}, {lane.area.name} ({lane.product_name})\n")
    if lane.after:
        call.out.write(f"  {lane.after}\n")
    rows = _rows(lane, words, call.now_s)
    if not rows:
        call.out.write("  no start in these days\n")
        if len(lane.judged.timeline.starts):
            call.out.write(f"  now: {start_detail(lane, 0, words, call.now_s).headline}\n")
    for first_s, last_s, verdict, told in rows:
        span = f"{words.moment(first_s)} to {words.moment(last_s)}"
        far = f" ({told.strength})" if told.strength else ""
        why = f": {told.headline}" if verdict is Verdict.BORDERLINE else ""
        call.out.write(f"  {verdict_word(verdict, False):<11} {span}{far}{why}\n")


def _rows(
    lane: Lane, words: Words, now_s: float
) -> list[tuple[float, float, Verdict, StartDetail]]:
    """Return first and last start, the verdict, and the first start of that verdict in words."""
    starts, series = lane.judged.timeline.starts, lane.judged.series
    found = []
    for w in (w for w in lane.windows if w.verdict <= Verdict.BORDERLINE):
        at = int(np.argmax(lane.judged.verdicts[w.first : w.last + 1] == w.verdict))
        first_s, last_s = (series.time_at(int(starts[k])) for k in (w.first, w.last))
        told = start_detail(lane, w.first + at, words, now_s)
        found.append((first_s, last_s, w.verdict, told))
    return found


def _lane_json(lane: Lane, words: Words, now_s: float) -> dict[str, object]:
    rows = [
        {
            "opens": iso(first_s, words.zone),
            "closes": iso(last_s, words.zone),
            "verdict": verdict.json,
            "chance": number(told.chance),
            "text": told.headline,
        }
        for first_s, last_s, verdict, told in _rows(lane, words, now_s)
    ]
    return {"coat": lane.coat.name, "area": lane.area.name, "windows": rows}
