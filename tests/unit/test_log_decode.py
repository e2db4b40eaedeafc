"""Item 1 of the log format list: encodings, line ends, rubbish at the end, other kinds of file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError
from advisor.climate.logs.decode import decode
from advisor.climate.logs.importer import read_log

LOG = (
    "Zeit;Temp (°C);Feuchte (%)\r\n"
    "2031-05-04 06:00;12,5;71,2\r\n"
    "2031-05-04 06:15;12,7;70,9\r\n"
    "2031-05-04 06:30;12,9;70,1\r\n"
)


def save(folder: Path, raw: bytes) -> Path:
    path = folder / "log.csv"
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (LOG.encode("utf-8"), "UTF-8"),
        (LOG.encode("utf-8-sig"), "byte order mark"),
        (LOG.encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + LOG.encode("utf-16-be"), "UTF-16 big endian"),
        (LOG.encode("utf-16-le"), "UTF-16-LE without mark"),
        (LOG.encode("cp1252"), "Windows-1252"),
        (LOG.encode("latin-1"), "Windows-1252"),  # the same bytes for these letters
        (LOG.encode("mac_roman"), "Mac Roman"),
        (LOG.encode("utf-8").decode("cp1252").encode("utf-8"), "UTF-8"),  # encoded twice
        (LOG.replace("°", "�").encode(), "UTF-8"),
        (LOG.replace("°", "?").encode(), "ASCII"),
        (LOG.replace("°C", "deg C").encode(), "ASCII"),
        (LOG.replace("°C", "℃").encode(), "UTF-8"),
        (LOG.replace("%", "％").encode(), "UTF-8"),
        (LOG.encode() + b"\x00\x00\x1a", "UTF-8"),
        (LOG.replace("\r\n", "\n").encode(), "UTF-8"),
        (LOG.replace("\r\n", "\r").encode(), "UTF-8"),
    ],
)
def test_the_same_log_in_every_encoding(tmp_path: Path, raw: bytes, words: str) -> None:
    file = read_log(save(tmp_path, raw), time_zone="UTC")
    assert words in file.report.mapping["encoding"]
    np.testing.assert_array_equal(file.table.column("air_temp_c"), [12.5, 12.7, 12.9])
    np.testing.assert_array_equal(file.table.column("rh_pct"), [71.2, 70.9, 70.1])
    assert "°C" in file.report.mapping["air_temp_c"]


@pytest.mark.parametrize(("ends", "name"), [("\r\n", "CRLF"), ("\n", "LF"), ("\r", "CR")])
def test_line_ends_are_told(tmp_path: Path, ends: str, name: str) -> None:
    assert decode(save(tmp_path, LOG.replace("\r\n", ends).encode())).line_ends == name


def test_degree_sign_in_fahrenheit_survives_a_lost_letter(tmp_path: Path) -> None:
    text = "Time,Temp (?F),RH\n2031-05-04T06:00Z,50,71\n2031-05-04T07:00Z,59,70\n"
    file = read_log(save(tmp_path, text.encode()))
    np.testing.assert_allclose(file.table.column("air_temp_c"), [10.0, 15.0], atol=1e-12)


def test_filler_bytes_are_told(tmp_path: Path) -> None:
    file = read_log(save(tmp_path, LOG.encode() + b"\x00\x00\x1a"), time_zone="UTC")
    assert any("3 filler bytes" in note for note in file.report.notes)


def test_a_last_line_cut_by_a_flat_battery_is_dropped_and_told(tmp_path: Path) -> None:
    file = read_log(save(tmp_path, (LOG + "2031-05-04 06:4").encode()), time_zone="UTC")
    assert (file.report.rows_read, file.report.rows_used) == (4, 3)
    assert file.report.dropped[0].line == 5
    file = read_log(save(tmp_path, (LOG + "2031-05-04 06:45;13").encode()), time_zone="UTC")
    assert "cut short" in file.report.dropped[0].reason


@pytest.mark.parametrize(
    ("raw", "found"),
    [
        (b"PK\x03\x04rest", ".xlsx"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", ".xls"),
        (b"{\\rtf1\\ansi", "RTF"),
        (b"\n <!DOCTYPE html><html>", "HTML"),
        (b"<table><tr><td>1</td></tr></table>", "HTML"),
        (b"%PDF-1.7", "PDF"),
        (b"SQLite format 3\x00", "database"),
        (b"\x1f\x8b\x08", "gzip"),
        (b"", "empty"),
        (b" \r\n\r\n", "empty"),
        (b"a story about nothing\nand nobody\n", "no rows"),
    ],
)
def test_other_kinds_of_file_are_named(tmp_path: Path, raw: bytes, found: str) -> None:
    with pytest.raises(FileFormatError, match=r"accepted: ") as caught:
        read_log(save(tmp_path, raw), time_zone="UTC")
    assert found in str(caught.value)
    assert "log.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="No such file"):
        read_log(tmp_path / "none.csv")
