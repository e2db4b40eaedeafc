"""Items 2 and 4: delimiters, quotes, preambles, units rows, repeated and missing headers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError
from advisor.climate.logs.importer import read_log

ROWS = [
    ("2031-05-04 06:00", "12.5", "71.2"),
    ("2031-05-04 06:15", "12.7", "70.9"),
    ("2031-05-04 06:30", "12.9", "70.1"),
]
AIR, RH = [12.5, 12.7, 12.9], [71.2, 70.9, 70.1]


def build(mark: str, *, comma: bool = False, quote: bool = False, tail: str = "") -> str:
    lines = [("Time", "Temp °C", "RH %"), *ROWS]
    if comma:
        lines = [tuple(c.replace(".", ",") for c in line) for line in lines]
    if quote:
        lines = [tuple(f'"{c}"' for c in line) for line in lines]
    return "".join(f"{mark.join(line)}{tail}\n" for line in lines)


def check(tmp_path: Path, text: str, words: str = "") -> dict[str, str]:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    file = read_log(path, time_zone="UTC")
    np.testing.assert_array_equal(file.table.column("air_temp_c"), AIR)
    np.testing.assert_array_equal(file.table.column("rh_pct"), RH)
    assert words in file.report.mapping["delimiter"]
    assert file.report.rows_read == file.report.rows_used + file.report.rows_dropped
    return file.report.mapping


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (build(","), "comma"),
        (build(", "), "comma"),
        (build(";"), "semicolon"),
        (build(" ; "), "semicolon"),
        (build("\t"), "tab"),
        (build("|"), "pipe"),
        (build("   "), "two or more spaces"),
        (build(";", comma=True), "semicolon"),
        (build("\t", comma=True), "tab"),
        (build(",", comma=True, quote=True), "comma"),
        (build(",", quote=True), "comma"),
        (build(";", quote=True), "semicolon"),
        (build(",", tail=","), "comma"),
        (build(";", comma=True, tail=";"), "semicolon"),
        ("sep=;\n" + build(";"), "told by the line"),
        ('"sep=;"\n' + build(";", comma=True), "told by the line"),
        ("\n\n" + build(",") + "\n\n", "comma"),
        (build(",").replace("12.7", '"12.7"'), "comma"),
        (build(",").replace("\n", "\n\n"), "comma"),
    ],
)
def test_delimiters(tmp_path: Path, text: str, words: str) -> None:
    check(tmp_path, text, words)


def test_runs_of_single_spaces(tmp_path: Path) -> None:
    text = "Date Time Temp RH\n" + "".join(f"{' '.join(row)}\n" for row in ROWS)
    check(tmp_path, text, "runs of spaces")


def test_newline_inside_a_quoted_comment_keeps_line_numbers(tmp_path: Path) -> None:
    text = (
        'Time,Temp °C,RH %,Comment\n2031-05-04 06:00,12.5,71.2,"door\nopen"\n'
        "2031-05-04 06:15,12.7,70.9,\nrubbish,1,2,\n2031-05-04 06:30,12.9,70.1,\n"
    )
    path = tmp_path / "log.csv"
    path.write_text(text)
    file = read_log(path, time_zone="UTC")
    assert file.report.dropped[0].line == 5
    assert "rubbish" in file.report.dropped[0].reason
    np.testing.assert_array_equal(file.table.column("air_temp_c"), AIR)


PREAMBLE = "".join(f"Key {number}: value {number}\n" for number in range(58))


@pytest.mark.parametrize(
    "before",
    [
        "Serial number: 12345\nFirmware: 1.2\n\n",
        "Logger,12345\nAlarm high,30.0\nAlarm low,5.0\nCalibrated,2030-01-02\n",
        PREAMBLE,
        "# made by a logger\n# at 2 m\n",
        "// made by a logger\n",
        "; made by a logger\n",
        "Maximum,21.4,88.0\nMinimum,3.1,40.2\nAverage,12.0,60.0\n\n",
        "Channel,T,RH\nMax,21.4,88.0\n",
    ],
)
def test_lines_before_the_header(tmp_path: Path, before: str) -> None:
    check(tmp_path, before + build(","))


@pytest.mark.parametrize(
    "header",
    [
        "Time,Temp,RH\nyyyy-mm-dd hh:mm,°C,%\n",
        "Time,Temp,RH\n,°C,%\n",
        "# Time,Temp,RH\n",
        "#Time,Temp,RH\n",
        "1:Time,2:Temp,3:RH\n",
        "time,air_temp_c,rh_pct\n",
        "",
    ],
)
def test_forms_of_header(tmp_path: Path, header: str) -> None:
    mapping = check(tmp_path, header + build(",").split("\n", 1)[1])
    assert mapping["header"].startswith("line 1" if header else "none")


def test_a_units_row_may_say_fahrenheit(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time,Temp,RH\n-,°F,%\n2031-05-04 06:00,50,71\n2031-05-04 07:00,59,72\n")
    file = read_log(path, time_zone="UTC")
    np.testing.assert_allclose(file.table.column("air_temp_c"), [10, 15], atol=1e-12)


def dropped_of(tmp_path: Path, text: str) -> list[tuple[int, str]]:
    path = tmp_path / "log.csv"
    path.write_text(text)
    file = read_log(path, time_zone="UTC")
    report = file.report
    assert report.rows_read == report.rows_used + report.rows_dropped == 3 + len(report.dropped)
    np.testing.assert_array_equal(file.table.column("air_temp_c"), AIR)
    return [(row.line, row.reason) for row in report.dropped]


@pytest.mark.parametrize(
    ("extra", "reason"),
    [
        ("Time,Temp °C,RH %\n", "repeated header"),
        ("# a note\n", "comment line"),
        ("// a note\n", "comment line"),
        ("Average,12.0,60.0\n", "'Average' is no time"),
        ("2031-05-04 06:20,12.6,70.5,9,9\n", "5 cells where 3 are expected"),
        ("2031-05-04 06:20,,\n", "no value in the row"),
        ("2031-05-04 06:20,ERR,--\n", "no usable value: ERR, --"),
        ("2031-13-04 06:20,12,60\n", "'2031-13-04 06:20' is no time"),
        ("2031-02-29 06:20,12,60\n", "'2031-02-29 06:20' is no time"),
        (",12,60\n", "no time"),
        ("1970-01-01 00:00,12,60\n", "clock was not set"),
    ],
)
def test_lines_in_the_middle_are_dropped_with_line_and_reason(
    tmp_path: Path, extra: str, reason: str
) -> None:
    lines = build(",").splitlines(keepends=True)
    text = "".join([*lines[:3], extra, *lines[3:]])
    dropped = dropped_of(tmp_path, text)
    assert dropped[0][0] == 4
    assert reason in dropped[0][1]
    assert len(dropped) == 1


def test_statistics_after_the_data(tmp_path: Path) -> None:
    dropped = dropped_of(tmp_path, build(",") + "\nMaximum,12.9,71.2\nMinimum,12.5,70.1\n")
    assert [line for line, _ in dropped] == [6, 7]


def test_a_file_put_together_with_another_unit(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        "Time,Temp (°C),RH\n2031-05-04 06:00,10,71\n2031-05-04 06:15,10,71\n"
        "Time,Temp (°F),RH\n2031-05-04 06:30,50,72\n2031-05-04 06:45,59,72\n"
    )
    file = read_log(path, time_zone="UTC")
    np.testing.assert_allclose(file.table.column("air_temp_c"), [10, 10, 10, 15], atol=1e-12)
    assert "unit changes to °F at line 4" in " ".join(file.report.notes)


def test_a_file_put_together_with_other_columns_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        "Time,Temp,RH\n2031-05-04 06:00,10,71\n2031-05-04 06:15,10,71\n"
        "Time,RH,Temp\n2031-05-04 06:30,72,10\n"
    )
    with pytest.raises(FileFormatError, match="line 4: found another header"):
        read_log(path, time_zone="UTC")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Name,Colour\nboat,red\n", "no rows"),
        ("Time,Light\n2031-05-04 06:00,5\n2031-05-04 06:15,6\n", "no temperature"),
        ("Temp,RH\n20.1,50\n20.2,51\n", "no time"),
    ],
)
def test_files_that_are_no_log(tmp_path: Path, text: str, found: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(FileFormatError, match=found):
        read_log(path, time_zone="UTC")
