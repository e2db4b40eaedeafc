"""The invented demo job, laid out so that it starts today whatever the date."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate import reading_store
from advisor.climate.readings import Origin, ReadingTable
from advisor.planning.job import Job
from advisor.planning.job_file import read_job
from advisor.work.demo_air import demo_table
from advisor.work.demo_history import demo_laid
from advisor.work.views import Reading

if TYPE_CHECKING:
    from advisor.work.workbench import Workbench

#: The demo's reading was typed this long before now.
TYPED_BEFORE_S = 240


def load_demo(bench: Workbench, now_s: float) -> Job:
    """Put the demo's products, air, history and one typed reading on the bench."""
    folder = bench.resources / "demo"
    for path in sorted((folder / "products").glob("*.toml")):
        bench.add_product_file(path)
    job = demo_laid(read_job(folder / "job.toml"), now_s)
    bench.save_job(job)
    table = demo_table(now_s, ZoneInfo(job.time_zone))
    # The log ends where the typed reading takes over.
    ahead = table.time_s > now_s - TYPED_BEFORE_S
    for rows, origin in ((~ahead, Origin.IMPORTED), (ahead, Origin.FORECAST)):
        reading_store.save_table(bench.store, _part(table, rows, origin))
    bench.type_reading(_reading(table, now_s - TYPED_BEFORE_S))
    return job


def _part(table: ReadingTable, rows: np.ndarray, origin: Origin) -> ReadingTable:
    columns = {name: values[rows] for name, values in table.columns.items()}
    return ReadingTable(table.time_s[rows], columns, table.flags[rows], origin)


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
