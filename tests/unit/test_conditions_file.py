"""One door for files of conditions: kind, refusals, flags and hash."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError
from advisor.climate import conditions_file
from advisor.climate.conditions_file import read_conditions
from advisor.climate.readings import Flag, ImportedFile, ImportReport, ReadingTable

DATA = Path(__file__).parents[1] / "data" / "weather"
LOG = "time,air_temp_c,rh_pct\n" + "".join(
    f"2025-03-01T{h:02d}:00:00Z,{8 + h % 5}.{h % 10},{0 if h == 3 else 60 + h}\n" for h in range(8)
)


@pytest.mark.parametrize(
    ("name", "kind"), [("invented-day-tmy3.csv", "TMY3"), ("invented-day.epw", "EPW")]
)
def test_weather_years_are_recognised_by_content(name: str, kind: str, tmp_path: Path) -> None:
    path = tmp_path / "weather.txt"
    path.write_bytes((DATA / name).read_bytes())
    report = read_conditions(path).report
    assert report.mapping["format"] == kind
    assert report.rows_used == 24
    assert report.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_flags_are_set_counted_and_told(tmp_path: Path) -> None:
    text = (DATA / "invented-day.epw").read_text().splitlines()
    fields = text[10].split(",")
    text[10] = ",".join([*fields[:8], "0", *fields[9:]])  # third row, RH 0
    path = tmp_path / "a.epw"
    path.write_text("\n".join(text))
    read = read_conditions(path)
    assert read.report.flagged == 1
    assert np.isnan(read.table.column("rh_pct")[2])
    assert read.table.flags[2] == Flag.FAULT
    assert any(note.startswith("1 row with an impossible") for note in read.report.notes)


def test_options_a_weather_year_does_not_need_are_said_to_be_unused() -> None:
    notes = read_conditions(DATA / "invented-day.epw", time_zone="Europe/Paris").report.notes
    assert notes == ("The time zone given is not used: this EPW file says it itself.",)
    assert read_conditions(DATA / "invented-day.epw").report.notes == ()


def test_anything_else_goes_to_the_log_importer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(LOG)
    seen = {}

    def read_log(path, time_zone, station, columns, date_order):
        seen.update(time_zone=time_zone, station=station, columns=columns, order=date_order)
        columns = {"rh_pct": np.array([0.0, 60.0])}
        table = ReadingTable(np.array([0, 60]), columns, np.zeros(2, dtype=np.uint16))
        return ImportedFile(table, ImportReport(2, 2, 0, 0, 0, 60))

    monkeypatch.setattr(conditions_file, "_read_log", read_log)
    chosen = {"T": "air_temp_c"}
    read = read_conditions(path, time_zone="UTC", station="shed", columns=chosen, date_order="mdy")
    assert seen == {"time_zone": "UTC", "station": "shed", "columns": chosen, "order": "mdy"}
    assert read.report.flagged == 1
    # The importer says it; the flagging after it does not say it again.
    assert len([note for note in read.report.notes if "impossible" in note]) == 1
    assert read.report.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_real_log_end_to_end(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(LOG)
    read = read_conditions(path)
    assert len(read.table) == 8
    assert read.table.time_s[0] == 1_740_787_200  # 2025-03-01T00:00Z
    assert np.isnan(read.table.column("rh_pct")[3])
    assert read.report.flagged == 1
    # The importer says it; the flagging after it does not say it again.
    assert len([note for note in read.report.notes if "impossible" in note]) == 1
    assert read.report.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "an empty file"),
        (b"\xef\xbb\xbf \r\n\x00\x00", "an empty file"),
        (b"PK\x03\x04rest", "a spreadsheet workbook"),
        (b"\xd0\xcf\x11\xe0rest", "an old spreadsheet"),
        (b"%PDF-1.7", "a PDF"),
        (b"\x89PNG\r\n", "a picture"),
        (bytes(range(256)) * 8, "binary data"),
    ],
)
def test_files_that_are_no_log(tmp_path: Path, content: bytes, found: str) -> None:
    path = tmp_path / "shed.csv"
    path.write_bytes(content)
    with pytest.raises(FileFormatError) as error:
        read_conditions(path)
    assert f"found {found}" in str(error.value)
    assert "\n" not in str(error.value)
    assert "shed.csv" in str(error.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="found no such file"):
        read_conditions(tmp_path / "none.csv")
    with pytest.raises(FileFormatError, match="found a folder"):
        read_conditions(tmp_path)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads anything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(LOG)
    path.chmod(0)
    with pytest.raises(FileFormatError, match="an unreadable file"):
        read_conditions(path)


@pytest.mark.parametrize(
    "content",
    [
        LOG.encode("utf-16"),
        LOG.encode("utf-16-le"),
        LOG.encode() + b"\x00" * 400 + b"\x1a",
        LOG.replace("air_temp_c", "Temp(°C)").encode("cp1252"),
    ],
)
def test_text_in_odd_encodings_is_not_called_binary(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes
) -> None:
    path = tmp_path / "shed.csv"
    path.write_bytes(content)
    empty = ReadingTable(np.zeros(0, np.int64), {}, np.zeros(0, np.uint16))
    imported = ImportedFile(empty, ImportReport(0, 0, 0, 0, None, None))
    monkeypatch.setattr(conditions_file, "_read_log", lambda *_: imported)
    assert len(read_conditions(path).table) == 0
