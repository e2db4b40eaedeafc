"""The invented demo job, laid out so that it starts today whatever the date."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate import reading_store
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.readings import ReadingTable
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.planning.job import Job
from advisor.planning.job_file import read_job
from advisor.work import kept_fits
from advisor.work.demo_air import HOUR_S, demo_log, demo_outdoors
from advisor.work.demo_history import demo_laid
from advisor.work.outlook_basis import place_of
from advisor.work.outlooks import RESPONSE, SKILL
from advisor.work.views import Reading

if TYPE_CHECKING:
    from advisor.work.workbench import Workbench

#: The demo's reading was typed this long before now.
TYPED_BEFORE_S = 240
CREDIT = "Invented weather of the demo"


def load_demo(bench: Workbench, now_s: float) -> Job:
    """Put the demo's products, weather, log, history and one typed reading on the bench."""
    folder = bench.resources / "demo"
    for path in sorted((folder / "products").glob("*.toml")):
        bench.add_product_file(path)
    job = demo_laid(read_job(folder / "job.toml"), now_s)
    bench.save_job(job)
    shop, zone = job.shop or Shop(), ZoneInfo(job.time_zone)
    outdoors = demo_outdoors(now_s, zone)
    archive.put(bench.store, demo_forecast(outdoors, shop, now_s), place_of(shop), (), int(now_s))
    log = demo_log(outdoors, shop, now_s, zone)
    # The log ends where the typed reading takes over.
    reading_store.save_table(bench.store, _until(log, now_s - TYPED_BEFORE_S), bench.readings_area)
    bench.type_reading(_reading(log, now_s - TYPED_BEFORE_S))
    _keep_response(bench, job, folder / "response.json", now_s)
    return job


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


def _until(table: ReadingTable, last_s: float) -> ReadingTable:
    rows = table.time_s <= last_s
    columns = {name: values[rows] for name, values in table.columns.items()}
    return replace(table, time_s=table.time_s[rows], columns=columns, flags=table.flags[rows])


def _reading(table: ReadingTable, at_s: float) -> Reading:
    """Read the demo's own air at a moment, rounded as a person would read it."""

    def read(name: str, digits: int) -> float:
        return round(float(np.interp(at_s, table.time_s, table.column(name))), digits)

    return Reading(
        at_s,
        read("air_temp_c", 1),
        read("rh_pct", 0),
        read("surface_temp_c", 1),
        read("surface_hot_c", 1),
    )
