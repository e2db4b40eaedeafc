"""Any valid table in any dialect reads back; counts always add up; nothing but our errors."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.base.errors import InputError
from advisor.climate.logs.bytecolumn import cut_text
from advisor.climate.logs.canonical import write_canonical
from advisor.climate.logs.importer import read_log
from advisor.climate.readings import ImportedFile, ReadingTable

START_S = int(np.datetime64("2031-01-20T00:00", "s").astype(np.int64))


@dataclass(frozen=True)
class Dialect:
    delimiter: str
    comma: bool
    stamp: Callable[[np.datetime64], str]
    fahrenheit: bool
    quote: bool
    newline: str
    encoding: str
    newest_first: bool


def iso(moment: np.datetime64) -> str:
    return f"{moment}Z"


def iso_space(moment: np.datetime64) -> str:
    return str(moment).replace("T", " ")


def dmy(moment: np.datetime64) -> str:
    text = str(moment)
    return f"{text[8:10]}/{text[5:7]}/{text[:4]} {text[11:]}"


def mdy_ampm(moment: np.datetime64) -> str:
    text = str(moment)
    hour = int(text[11:13])
    half = "PM" if hour >= 12 else "AM"
    day, month = int(text[8:10]), int(text[5:7])
    return f"{month}/{day}/{text[:4]} {(hour - 1) % 12 + 1}:{text[14:]} {half}"


def dotted(moment: np.datetime64) -> str:
    text = str(moment)
    return f"{int(text[8:10])}.{int(text[5:7])}.{text[2:4]} {text[11:]}"


def epoch(moment: np.datetime64) -> str:
    return str(int(moment.astype("datetime64[s]").astype(np.int64)))


dialects = st.builds(
    Dialect,
    delimiter=st.sampled_from([",", ";", "\t", "|", ", "]),
    comma=st.booleans(),
    stamp=st.sampled_from([iso, iso_space, dmy, mdy_ampm, dotted, epoch]),
    fahrenheit=st.booleans(),
    quote=st.booleans(),
    newline=st.sampled_from(["\n", "\r\n", "\r"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "mac_roman"]),
    newest_first=st.booleans(),
)


@st.composite
def tables(draw: st.DrawFn) -> ReadingTable:
    """Rows at whole minutes, values of one decimal that drift as air does (1.5 K a row at most).

    Leaps are the importer's to judge (spikes, faults, changes of unit) and tested by example.
    """
    count = draw(st.integers(3, 30))
    steps = draw(st.lists(st.integers(1, 300), min_size=count, max_size=count))
    drift = draw(st.lists(st.integers(-15, 15), min_size=count, max_size=count))
    air = (draw(st.integers(-50, 300)) + np.cumsum(drift)) / 10
    air[draw(st.lists(st.integers(0, count - 1), max_size=5))] = np.nan
    air[(air < -39) | (air > 45)] = np.nan
    humidity = draw(st.lists(st.integers(10, 1000), min_size=count, max_size=count))
    return ReadingTable(
        START_S + 60 * np.cumsum(steps),
        {"air_temp_c": air, "rh_pct": np.array(humidity) / 10},
        np.zeros(count, np.uint16),
    )


def write(table: ReadingTable, how: Dialect, folder: str) -> Path:
    moments = table.time_s.astype("datetime64[s]").astype("datetime64[m]")
    air = table.column("air_temp_c") * 1.8 + 32 if how.fahrenheit else table.column("air_temp_c")
    quote = how.quote or (how.comma and how.delimiter.startswith(","))
    rows = [
        [how.stamp(moment), _text(a, how.comma), _text(h, how.comma)]
        for moment, a, h in zip(moments, air, table.column("rh_pct"), strict=True)
    ]
    if how.newest_first:
        rows.reverse()
    lines = [["Time", "Temp °F" if how.fahrenheit else "Temp °C", "RH %"], *rows]
    if quote:
        lines = [[f'"{cell}"' for cell in line] for line in lines]
    path = Path(folder) / "log.csv"
    text = how.newline.join([*map(how.delimiter.join, lines), ""])
    path.write_bytes(text.encode(how.encoding))
    return path


def _text(value: float, comma: bool) -> str:
    text = "" if np.isnan(value) else f"{value:.2f}"
    return text.replace(".", ",") if comma else text


def sums_up(file: ImportedFile) -> None:
    report = file.report
    assert report.rows_read == report.rows_used + report.rows_dropped
    assert report.rows_dropped == len(report.dropped)
    assert all(row.line >= 1 and row.reason for row in report.dropped)
    assert (np.diff(file.table.time_s) > 0).all()


def read_or_refused(path: Path) -> None:
    told = ""
    try:
        sums_up(read_log(path, time_zone="UTC"))
    except InputError as error:
        told = str(error)
    assert "\n" not in told


@settings(max_examples=150, deadline=None)
@given(tables(), dialects)
def test_a_table_reads_back_from_any_dialect(table: ReadingTable, how: Dialect) -> None:
    order: Literal["dmy", "mdy"] = "mdy" if how.stamp is mdy_ampm else "dmy"
    with tempfile.TemporaryDirectory() as folder:
        file = read_log(write(table, how, folder), time_zone="UTC", date_order=order)
    sums_up(file)
    np.testing.assert_array_equal(file.table.time_s, table.time_s)
    # Two decimals are printed: half a hundredth °F is 0.0028 K; °C and % are exact.
    tolerance = 0.005 / 1.8 + 1e-9 if how.fahrenheit else 1e-9
    air = table.column("air_temp_c")
    np.testing.assert_allclose(file.table.column("air_temp_c"), air, atol=tolerance)
    np.testing.assert_allclose(file.table.column("rh_pct"), table.column("rh_pct"), atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(tables())
def test_canonical_csv_is_exact(table: ReadingTable) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        write_canonical(table, path)
        file = read_log(path)
    sums_up(file)
    np.testing.assert_array_equal(file.table.time_s, table.time_s)
    np.testing.assert_array_equal(file.table.column("rh_pct"), table.column("rh_pct"))


CELLS = (
    "2031-01-01 10:00|2031-01-01 10:15|2031-01-02T10:00Z|1970-01-01 00:00|Time|Temp|RH|12.5|12,5"
    '|-127|ERR||--|101|70|# note|"|x|24:00|1e9'
)
cells = st.sampled_from(CELLS.split("|"))
lines = st.lists(st.lists(cells, min_size=1, max_size=5).map(",".join), min_size=1, max_size=25)


@settings(max_examples=300, deadline=None)
@given(lines, st.booleans())
def test_rubbish_adds_up_or_is_refused_in_one_line(rows: list[str], header: bool) -> None:
    text = ("Time,Temp °C,RH %\n2031-01-01 09:00,10,50\n" if header else "") + "\n".join(rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_text(text, encoding="utf-8")
        read_or_refused(path)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(raw)
        read_or_refused(path)


numbers = st.from_regex(r"-?[0-9]{0,5}(\.[0-9]{0,4})?", fullmatch=True)


@given(st.lists(numbers, min_size=1, max_size=30))
def test_the_byte_reader_is_float_to_the_last_bit(texts: list[str]) -> None:
    columns = cut_text("\n".join(f"{text};0" for text in texts), ";", 2)
    assert columns is not None
    values, good = columns[0].floats(".")
    for text, value, is_good in zip(texts, values, good, strict=True):
        if is_good:
            assert value == float(text)
        else:
            assert len(text.lstrip("-")) > 8 or text in ("", "-", ".", "-.")
