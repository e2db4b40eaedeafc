"""Weather years in the open TMY3 and EPW formats, read into house units.

Both carry a fixed standard-time offset in the header (no summer time) and stamp the end of the
hour, so that hour 24 of one day is 00:00 of the next. TMY3: Wilcox & Marion, "Users Manual for
TMY3 Data Sets", NREL/TP-581-43156 (2008), table 1-1. EPW: EnergyPlus "Auxiliary Programs",
chapter "Weather File Data Dictionary".
"""

from __future__ import annotations

import calendar
import csv
import hashlib
import io
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from advisor.base.errors import FileFormatError
from advisor.climate.readings import (
    DroppedRow,
    FloatArray,
    ImportedFile,
    ImportReport,
    IntArray,
    Origin,
    ReadingTable,
)
from advisor.climate.weather_headers import Header, epw_header, tmy3_header

_EPOCH_ORDINAL = date(1970, 1, 1).toordinal()
_DAY_S = 86400


@dataclass(frozen=True)
class _Stamp:
    """A local stamp as written: calendar day and minutes after its midnight (up to 1440)."""

    year: int
    month: int
    day: int
    minute: int

    def local_s(self, year: int) -> int:
        """Return local standard time in `year`, as if it were UTC. Raises ValueError."""
        days = date(year, self.month, self.day).toordinal() - _EPOCH_ORDINAL
        return days * _DAY_S + self.minute * 60


@dataclass(frozen=True)
class _Row:
    line: int
    stamp: _Stamp
    values: tuple[float, ...]


_Fields = list[tuple[int, list[str]]]
_StampReader = Callable[[list[str]], _Stamp]


def is_tmy3(head: str) -> bool:
    """Say whether the start of a file (two lines are enough) is TMY3."""
    lines = head.lstrip("\ufeff").splitlines()
    names = [name.strip().lower() for name in lines[1].split(",")[:2]] if len(lines) > 1 else []
    return names == ["date (mm/dd/yyyy)", "time (hh:mm)"]


def is_epw(head: str) -> bool:
    """Say whether the start of a file (one line is enough) is EPW."""
    first = head.lstrip("\ufeff").split("\n", 1)[0]
    return first.upper().startswith("LOCATION,") and first.count(",") >= 8


def read_tmy3(path: str | Path, *, outdoors: bool = False) -> ImportedFile:
    """Read a TMY3 file: UTC, °C, %, hPa, m/s, mm; flags are left at none.

    `outdoors`: with sun (mean W/m² of the hour before the stamp) and cloud (%) too.

    Raises FileFormatError when it is no TMY3 file or no row can be used.
    """
    path = Path(path)
    data = _bytes(path)
    fields = list(_split(_text(data)))
    if not is_tmy3("\n".join(",".join(row) for _, row in fields[:2])):
        raise FileFormatError(path.name, "lines 1-2", "no TMY3 header", "a TMY3 weather file")
    header = tmy3_header(path, fields[0][1], fields[1][1], outdoors=outdoors)
    return _imported(path, data, header, fields[2:], _tmy3_stamp)


def read_epw(path: str | Path, *, outdoors: bool = False) -> ImportedFile:
    """Read an EPW file: UTC, °C, %, hPa, m/s, mm; flags are left at none.

    `outdoors`: with sun (mean W/m² of the hour before the stamp) and cloud (%) too.

    Raises FileFormatError when it is no EPW file or no row can be used.
    """
    path = Path(path)
    data = _bytes(path)
    fields = list(_split(_text(data)))
    first = fields[0][1] if fields else []
    if not is_epw(",".join(first)):
        raise FileFormatError(path.name, "line 1", "no EPW location line", "an EPW weather file")
    header = epw_header(path, first, outdoors=outdoors)
    rows = _after_data_periods(path, fields)
    return _imported(path, data, header, rows, _epw_stamp_reader(rows))


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        found = error.strerror or "a file that cannot be opened"
        raise FileFormatError(str(path), "", found.lower(), "a readable weather file") from error


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _split(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield (line number from 1, fields) of lines that are not blank."""
    # NUL and 0x1A are end-of-file padding of old programs; csv would refuse or keep them.
    reader = csv.reader(io.StringIO(text.rstrip("\x00\x1a"), newline=""))
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error:
            row = [""]
        if any(field.strip() for field in row):
            yield reader.line_num, row


def _after_data_periods(path: Path, fields: _Fields) -> _Fields:
    for place, (_, row) in enumerate(fields[:40]):
        if row[0].strip().upper() == "DATA PERIODS":
            return fields[place + 1 :]
    raise FileFormatError(
        path.name, "header", "no DATA PERIODS line", "an EPW header of eight lines"
    )


def _tmy3_stamp(fields: list[str]) -> _Stamp:
    month, day, year = (int(part) for part in fields[0].split("/"))
    hour, minute = (int(part) for part in fields[1].split(":")[:2])
    return _checked(_Stamp(year, month, day, hour * 60 + minute))


def _epw_stamp_reader(rows: _Fields) -> _StampReader:
    """Return how minutes are meant: 60 (or only 0) ends the hour; 0 beside others begins it."""
    minutes = {row[4].strip() for _, row in rows if len(row) > 4}
    begins = bool(minutes & {"0", "00"}) and bool(minutes - {"0", "00"}) and "60" not in minutes

    def read(fields: list[str]) -> _Stamp:
        year, month, day, hour, minute = (int(float(part)) for part in fields[:5])
        within = minute if begins or minute else 60
        return _checked(_Stamp(year, month, day, (hour - 1) * 60 + within))

    return read


def _checked(stamp: _Stamp) -> _Stamp:
    date(stamp.year, stamp.month, stamp.day)
    if not 1900 <= stamp.year <= 2200 or not 0 <= stamp.minute <= 1440:
        raise ValueError("outside the calendar")
    return stamp


def _value(fields: list[str], name: str, header: Header) -> float:
    place = header.columns[name]
    text = fields[place].strip() if place < len(fields) else ""
    number = float(text) if text else float("nan")
    if number in header.missing[name]:
        return float("nan")
    value = number * header.scale.get(name, 1.0)
    low, high = header.possible.get(name, (-math.inf, math.inf))
    return value if low <= value <= high else float("nan")


def _row(line: int, fields: list[str], header: Header, stamp: _StampReader) -> _Row | DroppedRow:
    try:
        when = stamp(fields)
    except (ValueError, IndexError):
        return DroppedRow(line, f"no date and hour: {','.join(fields[:5])[:40]!r}")
    try:
        values = tuple(_value(fields, name, header) for name in header.columns)
    except ValueError as error:
        return DroppedRow(line, f"not a number: {error.args[0].rsplit(': ', 1)[-1]}")
    if all(math.isnan(value) for value in values):
        return DroppedRow(line, "no value in any column that is used")
    return _Row(line, when, values)


def _imported(
    path: Path, data: bytes, header: Header, fields: _Fields, stamp: _StampReader
) -> ImportedFile:
    parsed = [_row(line, row, header, stamp) for line, row in fields]
    dropped = [row for row in parsed if isinstance(row, DroppedRow)]
    rows = [row for row in parsed if isinstance(row, _Row)]
    year, year_text = _year_of(rows)
    table, kept_out = _table(rows, header, year)
    if not len(table):
        reason = dropped[0].reason if dropped else "no rows"
        raise FileFormatError(path.name, "rows", reason, f"hourly rows of a {header.kind} file")
    dropped = sorted([*dropped, *kept_out], key=lambda row: row.line)
    report = _report(table, header, len(fields), dropped, year_text)
    notes = _notes(table, rows, year)
    digest = hashlib.sha256(data).hexdigest()
    return ImportedFile(table, replace(report, notes=notes, file_sha256=digest))


def _year_of(rows: list[_Row]) -> tuple[int | None, str]:
    """Return the year to lay all rows in (None: keep their own) and the words for it.

    Months of a typical year come from different years. Rows that follow one another with no
    step above a day are a real period and keep their dates.
    """
    own = np.array([row.stamp.local_s(row.stamp.year) for row in rows], dtype=np.int64)
    steps = np.diff(own)
    if not rows or bool(np.all((steps > 0) & (steps <= _DAY_S))):
        return None, "as written"
    year = rows[0].stamp.year
    while calendar.isleap(year):
        year += 1
    return year, f"all rows laid into {year}"


def _table(
    rows: list[_Row], header: Header, year: int | None
) -> tuple[ReadingTable, list[DroppedRow]]:
    placed, dropped = _placed(rows, year)
    order = sorted(range(len(placed)), key=lambda i: placed[i][0])
    kept: list[tuple[int, _Row]] = []
    for i in order:
        local_s, row = placed[i]
        if kept and kept[-1][0] == local_s:
            dropped.append(DroppedRow(row.line, f"same hour as line {kept[-1][1].line}"))
        else:
            kept.append((local_s, row))
    times: IntArray = np.array([local_s for local_s, _ in kept], dtype=np.int64)
    times = times - round(header.offset_h * 3600)
    values: FloatArray = np.array([row.values for _, row in kept], dtype=np.float64)
    values = values.reshape(len(kept), len(header.columns))
    columns = {name: values[:, i].copy() for i, name in enumerate(header.columns)}
    flags = np.zeros(len(kept), dtype=np.uint16)
    return ReadingTable(times, columns, flags, Origin.IMPORTED), dropped


def _placed(rows: list[_Row], year: int | None) -> tuple[list[tuple[int, _Row]], list[DroppedRow]]:
    placed: list[tuple[int, _Row]] = []
    dropped: list[DroppedRow] = []
    for row in rows:
        stamp = row.stamp
        if year is not None and (stamp.month, stamp.day) == (2, 29):
            dropped.append(DroppedRow(row.line, f"29 February does not exist in {year}"))
        else:
            placed.append((stamp.local_s(stamp.year if year is None else year), row))
    return placed, dropped


def _report(
    table: ReadingTable, header: Header, read: int, dropped: list[DroppedRow], year_text: str
) -> ImportReport:
    sign, minutes = ("-" if header.offset_h < 0 else "+"), round(abs(header.offset_h) * 60)
    mapping = {
        "format": header.kind,
        "station": header.station,
        "time": "end of the hour, standard time all year "
        f"(UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}, from the header)",
        "year": year_text,
    }
    return ImportReport(
        rows_read=read,
        rows_used=len(table),
        rows_dropped=len(dropped),
        flagged=0,
        first_s=int(table.time_s[0]),
        last_s=int(table.time_s[-1]),
        mapping=mapping | dict(header.sources),
        dropped=tuple(dropped),
    )


def _notes(table: ReadingTable, rows: list[_Row], year: int | None) -> tuple[str, ...]:
    notes = []
    if year is not None:
        years = sorted({row.stamp.year for row in rows})
        if len(years) == 1:
            notes.append(f"Rows of {years[0]} are laid into {year}.")
        else:
            notes.append(
                f"A typical year: its months come from {len(years)} years "
                f"({years[0]} to {years[-1]}); all are laid into {year}."
            )
    for name, column in table.columns.items():
        missing = int(np.count_nonzero(np.isnan(column)))
        if missing:
            notes.append(f"{name}: no value in {missing} of {len(table)} rows.")
        elif name == "pressure_hpa" and len(table) > 48 and float(np.ptp(column)) == 0.0:
            notes.append(f"pressure_hpa: {column[0]:g} in every row, so likely a filler.")
    return tuple(notes)
