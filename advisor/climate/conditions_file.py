"""One door for every file of conditions: a weather year or a log, read and flagged."""

from __future__ import annotations

import codecs
import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from advisor.base.errors import FileFormatError
from advisor.climate.quality import flag_table, flagged_rows, quality_notes
from advisor.climate.readings import ImportedFile
from advisor.climate.weather_files import is_epw, is_tmy3, read_epw, read_tmy3

_ACCEPTED = "a text log with air temperature and RH or dew point, a TMY3 or an EPW file"
_HEAD_BYTES = 8192
_BOMS = (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
#: Files people take for a log, by their first bytes.
_SIGNATURES = MappingProxyType(
    {
        b"PK\x03\x04": "a spreadsheet workbook or zip file (open it and save the sheet as CSV)",
        b"\xd0\xcf\x11\xe0": "an old spreadsheet workbook (open it and save the sheet as CSV)",
        b"%PDF": "a PDF",
        b"{\\rtf": "a word processor document (RTF)",
        b"\x1f\x8b": "a gzip archive (unpack it first)",
        b"\x89PNG": "a picture",
        b"\xff\xd8\xff": "a picture",
        b"SQLite format 3": "a database",
    }
)


DateOrder = Literal["dmy", "mdy"]


def read_conditions(
    path: str | Path,
    *,
    time_zone: str | None = None,
    station: str | None = None,
    columns: Mapping[str, str] | None = None,
    date_order: DateOrder | None = None,
    outdoors: bool = False,
) -> ImportedFile:
    """Read a TMY3, EPW or log file: UTC, house units, flags set, hash in the report.

    `time_zone`, `station` and `columns` are for logs; a weather year says these itself.
    `outdoors`: as the weather outdoors, so with sun and cloud where the format has them. Raises
    FileFormatError in one line for what cannot be used.
    """
    path = Path(path)
    head = _head(path)
    _refuse_binary(path, head)
    text = _decoded(head)
    if is_tmy3(text) or is_epw(text):
        read = read_tmy3 if is_tmy3(text) else read_epw
        imported = read(path, outdoors=outdoors)
        imported = _say_ignored(imported, time_zone, station, columns)
    else:
        imported = _read_log(path, time_zone, station, columns, date_order)
    return _flagged(imported, path)


def _head(path: Path) -> bytes:
    if path.is_dir():
        raise FileFormatError(str(path), "", "a folder", _ACCEPTED)
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except FileNotFoundError as error:
        raise FileFormatError(str(path), "", "no such file", _ACCEPTED) from error
    except OSError as error:
        reason = (error.strerror or "it cannot be opened").lower()
        raise FileFormatError(str(path), "", f"an unreadable file ({reason})", _ACCEPTED) from error
    if not head.strip(b" \t\r\n\x00\x1a\xef\xbb\xbf"):
        raise FileFormatError(str(path), "", "an empty file", _ACCEPTED)
    return head


def _refuse_binary(path: Path, head: bytes) -> None:
    for start, found in _SIGNATURES.items():
        if head.startswith(start):
            raise FileFormatError(str(path), "", found, _ACCEPTED)
    if head.startswith(_BOMS) or _looks_utf16(head):
        return
    # Padding after the last line is common in loggers, so only what stands before it counts.
    body = head.rstrip(b"\x00\x1a")
    odd = sum(byte < 32 and byte not in b"\t\n\v\f\r" for byte in body)
    if odd > 0.02 * len(body):
        raise FileFormatError(str(path), "", "binary data", _ACCEPTED)


def _looks_utf16(head: bytes) -> bool:
    """Say whether every other byte is zero: UTF-16 written without its mark."""
    even, odd = head[0::2], head[1::2]
    zeros = (even.count(0) / max(len(even), 1), odd.count(0) / max(len(odd), 1))
    return max(zeros) > 0.8 and min(zeros) == 0.0


def _decoded(head: bytes) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return head[: len(head) // 2 * 2].decode("utf-16", errors="replace")
    # Latin-1 never fails, and the headers sought are plain ASCII.
    return head.removeprefix(codecs.BOM_UTF8).decode("latin-1")


def _read_log(
    path: Path,
    time_zone: str | None,
    station: str | None,
    columns: Mapping[str, str] | None,
    date_order: DateOrder | None,
) -> ImportedFile:
    # Here, so that a weather year does not pay for loading the log importer.
    from advisor.climate.logs.importer import read_log

    return read_log(
        path,
        time_zone=time_zone,
        station=station,
        columns=None if columns is None else dict(columns),
        date_order=date_order,
    )


def _say_ignored(
    imported: ImportedFile,
    time_zone: str | None,
    station: str | None,
    columns: Mapping[str, str] | None,
) -> ImportedFile:
    given = {"time zone": time_zone, "station": station, "columns": columns}
    unused = " and ".join(name for name, value in given.items() if value)
    if not unused:
        return imported
    kind = imported.report.mapping["format"]
    note = f"The {unused} given is not used: this {kind} file says it itself."
    notes = (*imported.report.notes, note)
    return replace(imported, report=replace(imported.report, notes=notes))


def _flagged(imported: ImportedFile, path: Path) -> ImportedFile:
    table = flag_table(imported.table)
    # The log importer has told its own flags already; each is told once.
    new = replace(table, flags=table.flags & ~imported.table.flags)
    report = replace(
        imported.report,
        flagged=flagged_rows(table),
        notes=(*imported.report.notes, *quality_notes(new)),
        file_sha256=imported.report.file_sha256 or _sha256(path),
    )
    return ImportedFile(table, report)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
