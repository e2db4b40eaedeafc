"""From the rows of the form to a job, with ids that stay and new ones made from the names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

from advisor.planning.job import Area, Coat, Job
from advisor.planning.job_file import job_to_toml, parse_job
from advisor.ui.dialogs.job_rows import AreaRow, CoatRow
from advisor.ui.dialogs.product_copy import words_to_id


def free_id(words: str, otherwise: str, taken: set[str]) -> str:
    """Make an id from words that nobody has, and take it."""
    wanted = words_to_id(words, otherwise)
    found, number = wanted, 2
    while found in taken:
        found, number = f"{wanted}-{number}", number + 1
    taken.add(found)
    return found


def new_job_id(name: str, now_s: float, time_zone: str) -> str:
    """Make the id of a new job: its name and the moment, so that jobs of one name stay apart."""
    moment = datetime.fromtimestamp(now_s, ZoneInfo(time_zone))
    return f"{words_to_id(name, 'job')}-{moment:%Y%m%d-%H%M%S}"


def build(head: Job, areas: Sequence[AreaRow], coats: Sequence[CoatRow]) -> Job:
    """Join the head with the rows; FileFormatError where a job file could not hold the result."""
    taken = {row.base.id for row in areas if row.base}
    by_key = {row.key: _area(row, taken) for row in areas}
    used = {row.base.id for row in coats if row.base}
    job = replace(
        head,
        areas=tuple(by_key.values()),
        coats=tuple(_coat(row, by_key[row.area.key], used) for row in coats),
    )
    return parse_job(job_to_toml(job), "this job")


def _area(row: AreaRow, taken: set[str]) -> Area:
    base = row.base or Area(free_id(row.name.value, "area", taken), "", 0.0)
    return replace(
        base,
        name=row.name.value,
        area_m2=row.extent.number or 0.0,
        substrate=cast(Any, row.substrate.key),
        outdoors=row.outdoors.on,
        thickness_mm=row.thickness.number,
        heading_deg=row.heading_deg,
        tilt_deg=float(row.tilt.key),
        colour=row.colour.key,
    )


def _coat(row: CoatRow, area: Area, used: set[str]) -> Coat:
    base = row.base
    if base is None:
        made = free_id(f"{area.id}-{row.name.value}", "coat", used)
        base = Coat(made, "", area.id, "", 0.0)
    return replace(
        base,
        name=row.name.value,
        area_id=area.id,
        product_id=row.product.key,
        pace_m2_per_h=row.pace.number or 0.0,
        method=cast(Any, row.method.key),
        reverse=row.order.key == "reverse",
    )
