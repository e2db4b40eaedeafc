"""A weather year of the past as an outlook for this one: the same calendar dates, this year."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.climate.conditions_file import read_conditions
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.readings import ImportedFile, ImportReport, Origin, ReadingTable
from advisor.climate.sources.table import from_table, part_of

DAY_S = 86400
#: A file this long that ended this long ago is a weather year, not a log of the job.
YEAR_S = 360 * DAY_S
LONG_AGO_S = 60 * DAY_S
#: Another year's weather is as far off as a forecast of this long ago.
LAID_LEAD_S = 10 * DAY_S
LAID_NOTE = "A past year laid onto this one, not a forecast."
#: What the outlook looks at of the weather outdoors: the days to come, and those the shop's state
#: is read from. Weather really measured also serves to fit the shop (`fitting.FIT_DAYS`).
AHEAD_S, BEHIND_S, MEASURED_BEHIND_S = 16 * DAY_S, 15 * DAY_S, 45 * DAY_S


def weather_of_file(path: Path, time_zone: str, place: Place, now_s: float) -> Forecast:
    """Read a file as the weather outdoors: as much of it as the outlook looks at.

    With sun and cloud where the format has them. InputError where it cannot be used.
    """
    imported = read_conditions(path, time_zone=time_zone or None, outdoors=True)
    table = onto_this_year(imported, now_s)
    laid = table is not imported.table
    behind_s = BEHIND_S if laid else MEASURED_BEHIND_S
    part = part_of(table, now_s - behind_s, now_s + AHEAD_S)
    said = (LAID_NOTE,) if laid else ()
    notes = (*said, *_unused(imported.report))
    found = from_table(part, place, int(now_s), label=path.name, notes=notes)
    return replace(found, issued_s=int(now_s) - LAID_LEAD_S) if laid else found


def _unused(report: ImportReport) -> tuple[str, ...]:
    if not report.rows_dropped:
        return ()
    rows = "1 row" if report.rows_dropped == 1 else f"{report.rows_dropped} rows"
    first = f", the first in line {report.dropped[0].line}" if report.dropped else ""
    return (f"{rows} of the file could not be used{first}.",)


def onto_this_year(imported: ImportedFile, now_s: float) -> ReadingTable:
    """Return a weather year laid onto this year and the next; any other file as it is."""
    table = imported.table
    if "format" not in imported.report.mapping or len(table) == 0:
        return table
    first, last = float(table.time_s[0]), float(table.time_s[-1])
    if last - first < YEAR_S or last > now_s - LONG_AGO_S:
        return table
    now_year = int(np.datetime64(int(now_s), "s").astype("datetime64[Y]").astype(int))
    years = table.time_s.astype("datetime64[s]").astype("datetime64[Y]").astype(int)
    # By the middle row: east of Greenwich the first rows are still of the year before in UTC.
    shifts = [now_year - int(years[len(years) // 2]) + k for k in (-1, 0, 1)]
    copies = [_shifted(table.time_s, shift) for shift in shifts]
    return _together(table, [*copies, *(_leap_day(copy) for copy in copies)])


def _shifted(time_s: NDArray[np.int64], years: int) -> NDArray[np.int64]:
    """Move times by whole calendar years; 29 February becomes 1 March in other years."""
    times = time_s.astype("datetime64[s]")
    months = times.astype("datetime64[M]")
    moved = (months + 12 * years).astype("datetime64[s]") + (times - months)
    return np.asarray(moved.astype(np.int64))


def _leap_day(time_s: NDArray[np.int64]) -> NDArray[np.int64]:
    """Move 28 February on by a day: it stands in where the year has no 29 February of its own."""
    days = time_s.astype("datetime64[s]").astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    eve = (months.astype(int) % 12 == 1) & (
        (days - months.astype("datetime64[D]")).astype(int) == 27
    )
    return np.asarray(np.where(eve, time_s + DAY_S, time_s))


def _together(table: ReadingTable, copies: list[NDArray[np.int64]]) -> ReadingTable:
    times, first = np.unique(np.concatenate(copies), return_index=True)
    row = first % len(table)
    columns = {name: values[row] for name, values in table.columns.items()}
    return replace(
        table, time_s=times, columns=columns, flags=table.flags[row], origin=Origin.ESTIMATED
    )
