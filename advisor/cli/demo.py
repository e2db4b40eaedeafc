"""The demo plan as text, for machines without a display."""

from __future__ import annotations

import tempfile
from pathlib import Path

from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.cli.printing import iso, verdict_word, write_json
from advisor.cli.request import Call
from advisor.planning.verdict import Verdict
from advisor.planning.words import Words
from advisor.work.views import Lane
from advisor.work.workbench import Workbench

#: The demo must never pass for the plan of the user's own job.
NOT_YOURS = "The job in {} was not read: what follows is the invented demo, not your plan."


def print_demo(call: Call, why: str) -> int:
    """Print the week of the demo job, kept in a temporary database, and why it is no window.

    A database that was named is not opened: it is said so, and that the plan is not its job's.
    """
    if getattr(call.options, "database", None) is not None:
        why = f"{why} {NOT_YOURS.format(call.options.database)}"
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        Store(Path(folder) / "demo.sqlite3") as store,
    ):
        bench = Workbench(store, resources_dir())
        job = bench.load_demo(call.now_s)
        zone = call.given_zone or bench.words(call.now_s).zone
        words = Words(call.options.units, zone, call.now_s)
        lanes = bench.coming_days(call.now_s).lanes
    if call.options.json:
        told = [_lane_json(lane, words) for lane in lanes]
        write_json(call.out, {"job": job.name, "why_text": why, "coats": told})
        return 0
    call.out.write(f"{why} This is the demo plan as text.\n\n")
    call.out.write(f"{job.name}, {job.place}; times in {zone.key}\n")
    for lane in lanes:
        _print_lane(call, lane, words)
    call.out.write("\nInvented job, typical values. The maker's data sheet comes first.\n")
    return 0


def _print_lane(call: Call, lane: Lane, words: Words) -> None:
    call.out.write(f"\n{lane.coat.name}, {lane.area.name} ({lane.product_name})\n")
    if lane.after:
        call.out.write(f"  {lane.after}\n")
    good = [row for row in _rows(lane) if row[2] <= Verdict.BORDERLINE]
    if not good:
        call.out.write("  no start in these days\n")
    for first_s, last_s, verdict in good:
        span = f"{words.moment(first_s)} to {words.moment(last_s)}"
        call.out.write(f"  {verdict_word(verdict, False):<11} {span}\n")


def _rows(lane: Lane) -> list[tuple[float, float, Verdict]]:
    starts, series = lane.judged.timeline.starts, lane.judged.series
    return [
        (series.time_at(int(starts[w.first])), series.time_at(int(starts[w.last])), w.verdict)
        for w in lane.windows
    ]


def _lane_json(lane: Lane, words: Words) -> dict[str, object]:
    rows = [
        {"opens": iso(a, words.zone), "closes": iso(b, words.zone), "verdict": verdict.json}
        for a, b, verdict in _rows(lane)
    ]
    return {"coat": lane.coat.name, "area": lane.area.name, "windows": rows}
