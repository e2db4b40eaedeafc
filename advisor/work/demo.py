"""The invented demo job, laid out so that it starts today whatever the date."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate import reading_store
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.planning.job import Job
from advisor.planning.job_file import read_job
from advisor.record import chain
from advisor.work import kept_events, kept_fits
from advisor.work.demo_air import HOUR_S, demo_log, demo_outdoors, read_off
from advisor.work.demo_history import demo_laid
from advisor.work.demo_record import CREW
from advisor.work.kept import DEMO_ID
from advisor.work.outlook_basis import place_of
from advisor.work.outlooks import RESPONSE, SKILL

if TYPE_CHECKING:
    from advisor.work.views import Reading
    from advisor.work.workbench import Workbench

#: The demo's reading was typed this long before now.
TYPED_BEFORE_S = 240
CREDIT = "Invented weather of the demo"


def load_demo(bench: Workbench, now_s: float) -> Job:
    """Put the demo's products, weather, log, history and one typed reading on the bench."""
    folder = bench.resources / "demo"
    for path in sorted((folder / "products").glob("*.toml")):
        bench.add_product_file(path)
    job = todays_job(read_job(folder / "job.toml"), now_s)
    has_record = _taken_up(bench, demo_laid(job, now_s))
    shop, zone = job.shop or Shop(), ZoneInfo(job.time_zone)
    outdoors = demo_outdoors(now_s, zone)
    archive.put(bench.store, demo_forecast(outdoors, shop, now_s), place_of(shop), (), int(now_s))
    log = demo_log(outdoors, shop, now_s, zone)
    # The log ends where the typed reading takes over.
    until = log.part(log.time_s <= now_s - TYPED_BEFORE_S)
    reading_store.save_table(bench.store, until, bench.readings_area)
    _type_as_crew(bench, read_off(log, now_s - TYPED_BEFORE_S), has_record)
    _keep_response(bench, job, folder / "response.json", now_s)
    return bench.job_in_hand()


def todays_job(job: Job, now_s: float) -> Job:
    """Return the demo job under the id of its day: its dates move on, a kept record does not."""
    day = datetime.fromtimestamp(now_s, ZoneInfo(job.time_zone)).date()
    return replace(job, id=f"{DEMO_ID}-{day.isoformat()}")


def _taken_up(bench: Workbench, job: Job) -> bool:
    """Make the job the one in hand, as it was kept; True where its record was begun already."""
    with bench.store.read() as db:
        kept = db.execute("SELECT 1 FROM job WHERE id = ?", (job.id,)).fetchone()
        begun = chain.head(db, job.id).entries > 0
    if kept is None or not begun:
        bench.save_job(job)
    else:
        bench.make_in_hand(job.id)
    return begun


def _type_as_crew(bench: Workbench, reading: Reading, has_record: bool) -> None:
    """Type the crew's reading; its entry comes with the record where that is not begun yet."""
    if not has_record:
        row = kept_events.typed_row(reading)
        reading_store.save_typed(bench.store, row, bench.readings_area)
        return
    before, bench.record.writer = bench.record.writer, CREW
    try:
        bench.type_reading(reading)
    finally:
        bench.record.writer = before


def _keep_response(bench: Workbench, job: Job, path: Path, now_s: float) -> None:
    """Keep the response fitted to the demo's log by `scripts/demo_response.py`, and its skill."""
    if not path.is_file():
        return
    whole = json.loads(path.read_text(encoding="utf-8"))
    for kind in (RESPONSE, SKILL):
        kept_fits.put(bench.store, kept_fits.name(kind, job), json.dumps(whole[kind]), now_s)


def demo_forecast(outdoors: Outdoor, shop: Shop, now_s: float) -> Forecast:
    """Return the invented weather as a forecast of this hour."""
    made_s = int(now_s) // HOUR_S * HOUR_S
    steps = np.ones(len(outdoors))
    return Forecast("demo", place_of(shop), made_s, made_s, outdoors, steps, CREDIT)
