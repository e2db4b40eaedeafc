"""`advisor readings import|export`: logs into the database, and out again as CSV."""

from __future__ import annotations

import argparse
import contextlib
import csv
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from advisor.base.errors import InputError, RangeError
from advisor.base.files import whole
from advisor.base.paths import default_database, resources_dir
from advisor.base.store import Store
from advisor.cli.printing import iso, write_json, write_list
from advisor.cli.request import Call
from advisor.climate.conditions_file import read_conditions
from advisor.climate.reading_store import STORED, load
from advisor.climate.readings import ImportReport, ReadingTable
from advisor.work.moments import time_zone
from advisor.work.workbench import Workbench

#: Whole span of moments the database can hold.
ALL_TIME_S = (-(2**53), 2**53)
CANONICAL = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c")


def import_file(call: Call) -> int:
    """Read a file, keep it unless this is a dry run, and report what was understood."""
    options = call.options
    if options.time_zone is not None:
        time_zone(options.time_zone)
    imported = read_conditions(
        options.file,
        time_zone=options.time_zone,
        station=options.station,
        columns=_columns(options),
        date_order=options.date_order,
    )
    kept = None
    if not options.dry_run:
        with Store(options.database or default_database()) as store:
            bench = Workbench(store, resources_dir())
            kept = bench.keep_import(imported, options.file.name, call.now_s, options.file)
    if options.json:
        write_json(call.out, as_json(imported.report, call))
    else:
        _print(call, imported.report, kept)
    return 0


def _columns(options: argparse.Namespace) -> dict[str, str] | None:
    chosen = {}
    for text in options.column:
        name, equals, field = text.rpartition("=")
        if not equals or not name or field not in STORED:
            raise RangeError(
                "--column", repr(text), f"NAME=FIELD, FIELD one of {', '.join(STORED)}"
            )
        chosen[name] = field
    return chosen or None


def as_json(report: ImportReport, call: Call) -> dict[str, object]:
    """Return the report in the documented keys, then notes."""
    return {
        "rows_read": report.rows_read,
        "rows_used": report.rows_used,
        "rows_dropped": report.rows_dropped,
        "flagged": report.flagged,
        "first": iso(report.first_s, call.zone),
        "last": iso(report.last_s, call.zone),
        "mapping": report.mapping,
        "dropped": [{"line": row.line, "reason": row.reason} for row in report.dropped],
        "notes": list(report.notes),
    }


def _print(call: Call, report: ImportReport, kept: int | None) -> None:
    out = call.out
    out.write(
        f"{call.options.file.name}: {report.rows_used} of {report.rows_read} rows used, "
        f"{report.rows_dropped} left out, {report.flagged} doubtful\n"
    )
    out.write(f"From {iso(report.first_s, call.zone)} to {iso(report.last_s, call.zone)}\n")
    write_list(out, "Columns:", tuple(f"{k}: {v}" for k, v in report.mapping.items()))
    write_list(out, "Left out:", tuple(f"line {d.line}: {d.reason}" for d in report.dropped[:20]))
    if len(report.dropped) > 20:
        out.write(f"  and {len(report.dropped) - 20} more (--json lists all)\n")
    write_list(out, "Notes:", report.notes)
    if kept is None:
        out.write("Dry run: nothing kept.\n")
    elif kept == 0:
        out.write("Nothing new: these rows were there already.\n")
    else:
        out.write(f"{kept} rows kept.\n")


def export_file(call: Call) -> int:
    """Write all readings of the shop to a CSV file that the importer reads back."""
    options = call.options
    path: Path = options.file
    if path.suffix.lower() != ".csv":
        raise RangeError("readings export", str(path), "a file name ending in .csv")
    if path.exists() and not options.force:
        raise InputError(f"{path}: found a file already there; accepted: a new name, or --force")
    table = _stored(call)
    with _new_file(path) as part:
        _write_csv(part, table)
    if options.json:
        span = (int(table.time_s[0]), int(table.time_s[-1])) if len(table) else (None, None)
        write_json(call.out, {"rows_written": len(table), "first": iso(span[0], call.zone),
                              "last": iso(span[1], call.zone), "file": str(path)})  # fmt: skip
    else:
        call.out.write(f"{len(table)} rows written to {path}\n")
    return 0


def _stored(call: Call) -> ReadingTable:
    database = call.options.database or default_database()
    if not database.is_file():
        raise InputError(f"{database}: found no database; accepted: one with readings")
    with Store(database) as store:
        return load(store, *ALL_TIME_S)


@contextlib.contextmanager
def _new_file(path: Path) -> Iterator[Path]:
    """Give a part file that takes the name only when whole; InputError if it cannot be written."""
    try:
        with whole(path) as part:
            yield part
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise InputError(f"{path}: found {reason}; accepted: a file that can be written") from error


def _write_csv(path: Path, table: ReadingTable) -> None:
    more = [name for name in STORED if name not in CANONICAL and name in table.columns]
    names = [*CANONICAL, *more]
    columns = [_cells(table, name) for name in names]
    times = [datetime.fromtimestamp(t, UTC).strftime("%Y-%m-%dT%H:%M:%SZ") for t in table.time_s]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["time", *names])
        writer.writerows(zip(times, *columns, strict=True))


def _cells(table: ReadingTable, name: str) -> list[str]:
    """Values as short as they read back the same; empty where there is none."""
    values = table.column(name)
    return [
        "" if gone else repr(v) for v, gone in zip(values.tolist(), np.isnan(values), strict=True)
    ]
