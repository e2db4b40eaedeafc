"""Reads and writes job files (TOML, schema 1). Every fault is one FileFormatError line.

Times are ISO 8601 with an offset; what the keys may hold is in `resources/schemas/job-1.json`.
"""

from __future__ import annotations

import datetime as dt
import functools
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from advisor.base.errors import FileFormatError, RangeError
from advisor.base.paths import resource
from advisor.base.toml_file import parse_toml, read_toml_text
from advisor.climate.place import Place
from advisor.climate.shop.shop import Shop
from advisor.coatings.schema import check, nearest, shown
from advisor.planning.hours import parse_hours
from advisor.planning.job import Area, Coat, Job, Laid

Table = Mapping[str, Any]

_MOMENT = "a time with its offset such as 2024-05-14T10:10:00+01:00"
_YEARS = (1970, 2200)
_WHERE = ("latitude_deg", "longitude_deg", "altitude_m")
_NUMBERS = ("area_m2", "thickness_mm", "tilt_deg", "heading_deg")


@functools.cache
def job_schema() -> Mapping[str, Any]:
    """Read the description of schema 1 of job files."""
    text = resource("schemas", "job-1.json").read_text(encoding="utf-8")
    schema: Mapping[str, Any] = json.loads(text)
    return schema


def read_job(path: Path) -> Job:
    """Read one job file; raises FileFormatError naming the file, key, found, accepted."""
    return parse_job(read_toml_text(path, "job"), path.name or str(path))


def parse_job(text: str, file_name: str) -> Job:
    """Parse the text of a job file; `file_name` is only named in errors."""
    table = parse_toml(text, file_name)
    check(table, job_schema(), file_name)
    return _Reader(file_name, table).job()


class _Reader:
    """Builds the job from a table that fits the schema, and checks what it cannot say."""

    def __init__(self, file_name: str, table: Table) -> None:
        self.file_name, self.table = file_name, table

    def job(self) -> Job:
        table = self.table
        areas = tuple(self._area(row) for row in table["area"])
        self._once([area.id for area in areas], "area")
        known = [area.id for area in areas]
        coats = tuple(self._coat(row, k, known) for k, row in enumerate(table["coat"]))
        self._once([coat.id for coat in coats], "coat")
        lag = table.get("surface_lag_h")
        return Job(
            id=table["id"],
            name=table["name"],
            place=table.get("place", ""),
            time_zone=self._zone(table["time_zone"]),
            areas=areas,
            coats=coats,
            working_hours=self._hours(table.get("working_hours", "")),
            surface_lag_h=None if lag is None else float(lag),
            shop=self._shop(table["shop"]) if "shop" in table else None,
        )

    def _shop(self, row: Table) -> Shop:
        default = Shop()
        volume = float(row.get("volume_m3", default.volume_m3))
        return Shop(row.get("kind", default.kind), volume, self._place(row))

    def _place(self, row: Table) -> Place | None:
        """Return where the shop stands; half a place is a mistake worth telling."""
        given = [key for key in _WHERE if key in row]
        if not given:
            return None
        for key in _WHERE[:2]:
            if key not in row:
                raise self._wrong(f"shop.{key}", "nothing", f"degrees beside {given[0]}")
        return Place(*(float(row.get(key, 0.0)) for key in _WHERE))

    def _wrong(self, where: str, found: str, accepted: str) -> FileFormatError:
        return FileFormatError(self.file_name, where, found, accepted)

    def _once(self, ids: Sequence[str], what: str) -> None:
        for k, name in enumerate(ids):
            first = ids.index(name)
            if first < k:
                found = f'"{name}" again (already {what}[{first}])'
                raise self._wrong(f"{what}[{k}].id", found, f"each {what} with an id of its own")

    def _zone(self, name: str) -> str:
        try:
            ZoneInfo(name)
        except (ValueError, OSError, KeyError):
            known = sorted(available_timezones())
            close = f'; the nearest is "{nearest(name, known)}"' if known else ""
            accepted = f'an IANA time zone such as "Europe/London"{close}'
            raise self._wrong("time_zone", shown(name), accepted) from None
        return name

    def _hours(self, text: str) -> str:
        if text:
            try:
                parse_hours(text)
            except RangeError as error:
                raise self._wrong("working_hours", error.found, error.accepted) from None
        return text

    def _area(self, row: Table) -> Area:
        keys: dict[str, Any] = {k: float(v) if k in _NUMBERS else v for k, v in row.items()}
        return Area(**keys)

    def _coat(self, row: Table, k: int, areas: Sequence[str]) -> Coat:
        if row["area"] not in areas:
            close = nearest(row["area"], areas)
            accepted = f'the id of an [[area]]; the nearest is "{close}"; all: {", ".join(areas)}'
            raise self._wrong(f"coat[{k}].area", shown(row["area"]), accepted)
        return Coat(
            id=row["id"],
            name=row["name"],
            area_id=row["area"],
            product_id=row["product"],
            pace_m2_per_h=float(row["pace_m2_per_h"]),
            method=row.get("method", "brush"),
            reverse=row.get("order", "same") == "reverse",
            laid=self._laid(row, f"coat[{k}]"),
        )

    def _laid(self, row: Table, where: str) -> Laid | None:
        given = [key for key in ("laid_from", "laid_to") if key in row]
        if not given:
            return None
        if len(given) == 1:
            missing = "laid_to" if given == ["laid_from"] else "laid_from"
            raise self._wrong(f"{where}.{missing}", "nothing", f"{_MOMENT} beside {given[0]}")
        start, end = (self._moment(row[key], f"{where}.{key}") for key in given)
        if end < start:
            accepted = "a time not before laid_from"
            raise self._wrong(f"{where}.laid_to", shown(row["laid_to"]), accepted)
        return Laid(start, end)

    def _moment(self, value: str | dt.date, where: str) -> float:
        try:
            moment = dt.datetime.fromisoformat(value) if isinstance(value, str) else value
        except ValueError:
            raise self._wrong(where, shown(value), _MOMENT) from None
        if not isinstance(moment, dt.datetime) or moment.tzinfo is None:
            raise self._wrong(where, f"{shown(str(value))} without an offset", _MOMENT)
        if not _YEARS[0] <= moment.year <= _YEARS[1]:
            raise self._wrong(where, shown(str(value)), f"a year from {_YEARS[0]} to {_YEARS[1]}")
        return moment.timestamp()


def job_to_toml(job: Job) -> str:
    """Write a job as a file that `parse_job` reads back to an equal job."""
    head = {
        "schema": 1,
        "id": job.id,
        "name": job.name,
        "place": job.place or None,
        "time_zone": job.time_zone,
        "working_hours": job.working_hours or None,
        "surface_lag_h": job.surface_lag_h,
    }
    zone = ZoneInfo(job.time_zone)
    blocks = [_lines(head)]
    if job.shop is not None:
        blocks.append("[shop]\n" + _lines(_shop_keys(job.shop)))
    blocks += ["[[area]]\n" + _lines(_area_keys(area)) for area in job.areas]
    blocks += ["[[coat]]\n" + _lines(_coat_keys(coat, zone)) for coat in job.coats]
    # A job with no coat yet is still a job; the reader asks for the key.
    if not job.coats:
        blocks[0] += "\ncoat = []"
    return "\n\n".join(blocks) + "\n"


def _shop_keys(shop: Shop) -> dict[str, object]:
    keys: dict[str, object] = {"kind": shop.kind, "volume_m3": shop.volume_m3}
    if shop.place is not None:
        where = (shop.place.lat_deg, shop.place.lon_deg, shop.place.altitude_m)
        keys |= dict(zip(_WHERE, where, strict=True))
    return keys


def _area_keys(area: Area) -> dict[str, object]:
    return {
        "id": area.id,
        "name": area.name,
        "area_m2": area.area_m2,
        "substrate": area.substrate,
        "outdoors": area.outdoors or None,
        "trend": area.trend,
        "thickness_mm": area.thickness_mm,
        "tilt_deg": None if area.tilt_deg == Area.tilt_deg else area.tilt_deg,
        "heading_deg": area.heading_deg,
        "colour": None if area.colour == Area.colour else area.colour,
    }


def _coat_keys(coat: Coat, zone: ZoneInfo) -> dict[str, object]:
    laid = coat.laid
    return {
        "id": coat.id,
        "name": coat.name,
        "area": coat.area_id,
        "product": coat.product_id,
        "pace_m2_per_h": coat.pace_m2_per_h,
        "method": coat.method,
        "order": "reverse" if coat.reverse else None,
        "laid_from": laid and dt.datetime.fromtimestamp(laid.start_s, zone),
        "laid_to": laid and dt.datetime.fromtimestamp(laid.end_s, zone),
    }


def _lines(table: Mapping[str, object]) -> str:
    """One line a key; None is left out."""
    given = {key: value for key, value in table.items() if value is not None}
    return "\n".join(f"{key} = {_written(value)}" for key, value in given.items())


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    return _quoted(value) if isinstance(value, str) else str(value)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in escaped) + '"'
