"""Weather years: header, stamps, missing codes and the laying into one year.

Values expected from the real files are read off the files' own text by hand (pvlib wheel,
data of NREL's TMY3 set, US government).
"""

from __future__ import annotations

import calendar
import hashlib
from datetime import UTC, datetime
from importlib.metadata import files
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError
from advisor.climate.quality import flag_table
from advisor.climate.readings import Flag, ImportedFile, Origin
from advisor.climate.weather_files import is_epw, is_tmy3, read_epw, read_tmy3

DATA = Path(__file__).parents[1] / "data" / "weather"
TMY3_NAMES = (
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),Dry-bulb source,Dew-point (C),"
    "RHum (%),Pressure (mbar),Wspd (m/s),Lprecip depth (mm)"
)
EPW_HEAD = (
    "LOCATION,Tide Mill,-,XXX,invented,000000,50.00,-4.00,{offset},5.0\n"
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,none\n"
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n"
)


def utc(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp())


def pvlib_file(name: str) -> Path:
    """Find the file without importing pvlib, which would pull in pandas and SciPy."""
    [found] = [item for item in files("pvlib") or [] if item.name == name]
    return Path(str(found.locate()))


def tmy3(path: Path, rows: list[str], offset: str = "-5.0", names: str = TMY3_NAMES) -> Path:
    head = f'000000,"TIDE MILL",XX,{offset},50.000,-4.000,5'
    path.write_text("\n".join([head, names, *rows]) + "\n", encoding="utf-8")
    return path


def tmy3_row(date: str, time: str, values: str = "10.0,A,6.1,77,993,6.2,0") -> str:
    return f"{date},{time},0,{values}"


def epw_row(stamp: str, values: dict[int, str] | None = None) -> str:
    """Return an EPW row of 35 fields; `stamp` is year,month,day,hour,minute."""
    fields = [*stamp.split(","), "?9", "10.0", "6.1", "77", "99300", *["0"] * 25]
    fields[21] = "6.2"
    for place, value in (values or {}).items():
        fields[place] = value
    return ",".join(fields)


def epw(path: Path, rows: list[str], offset: str = "0.0") -> Path:
    path.write_text(EPW_HEAD.format(offset=offset) + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def year_rows(years: dict[int, int]) -> list[str]:
    """Return 8760 TMY3 rows whose month m comes from years[m]; air is the month's number."""
    rows = []
    for month, year in years.items():
        days = calendar.monthrange(2023, month)[1]
        for day in range(1, days + 1):
            for hour in range(1, 25):
                date = f"{month:02d}/{day:02d}/{year}"
                rows.append(tmy3_row(date, f"{hour:02d}:00", f"{month},A,0,50,1000,1,0"))
    return rows


def at(imported: ImportedFile, time_s: int, name: str) -> float:
    [place] = np.flatnonzero(imported.table.time_s == time_s)
    return float(imported.table.column(name)[place])


def test_tmy3_values_and_the_fixed_offset_of_the_header(tmp_path: Path) -> None:
    read = read_tmy3(tmy3(tmp_path / "a.csv", [tmy3_row("07/01/1997", "01:00")]))
    # 01:00 at UTC-5 all year round: 06:00Z, in July too.
    assert read.table.time_s.tolist() == [utc(1997, 7, 1, 6)]
    found = {name: column[0] for name, column in read.table.columns.items()}
    assert found == {
        "air_temp_c": 10.0,
        "dew_point_c": 6.1,
        "rh_pct": 77.0,
        "pressure_hpa": 993.0,
        "wind_m_s": 6.2,
        "rain_mm": 0.0,
    }
    assert read.table.origin is Origin.IMPORTED
    assert read.table.flags.tolist() == [0]
    assert read.report.mapping["time"].endswith("(UTC-05:00, from the header)")
    assert read.report.mapping["air_temp_c"] == "column 'Dry-bulb (C)'"


def test_half_hour_offset(tmp_path: Path) -> None:
    read = read_tmy3(tmy3(tmp_path / "a.csv", [tmy3_row("01/02/1997", "06:00")], "5.5"))
    assert read.table.time_s.tolist() == [utc(1997, 1, 2, 0, 30)]


def test_hour_24_is_midnight_of_the_next_day_and_year(tmp_path: Path) -> None:
    rows = [tmy3_row("12/31/1997", "23:00"), tmy3_row("12/31/1997", "24:00")]
    read = read_tmy3(tmy3(tmp_path / "a.csv", rows, "0"))
    assert read.table.time_s.tolist() == [utc(1997, 12, 31, 23), utc(1998, 1, 1)]


@pytest.mark.parametrize("code", ["-9900", "9999", "-9999", ""])
def test_tmy3_missing_codes_are_blanks_not_values(tmp_path: Path, code: str) -> None:
    rows = [tmy3_row("01/01/1997", "01:00", f"{code},A,6.1,{code},{code},{code},{code}")]
    table = read_tmy3(tmy3(tmp_path / "a.csv", rows)).table
    assert table.column("dew_point_c")[0] == 6.1
    for name in ("air_temp_c", "rh_pct", "pressure_hpa", "wind_m_s", "rain_mm"):
        assert np.isnan(table.column(name)[0]), name


def test_months_of_several_years_are_laid_into_the_first_year(tmp_path: Path) -> None:
    years = dict(zip(range(1, 13), [1997, 1991, 2004, 1999, 1995] + [2001] * 7, strict=True))
    read = read_tmy3(tmy3(tmp_path / "a.csv", year_rows(years), "0"))
    assert len(read.table) == 8760
    assert np.all(np.diff(read.table.time_s) == 3600)
    assert read.report.first_s == utc(1997, 1, 1, 1)
    assert read.report.last_s == utc(1998, 1, 1)
    assert at(read, utc(1997, 3, 1, 1), "air_temp_c") == 3.0
    assert at(read, utc(1997, 3, 1), "air_temp_c") == 2.0  # 28 February, 24:00
    assert read.report.mapping["year"] == "all rows laid into 1997"
    assert any("all are laid into 1997" in note for note in read.report.notes)


def test_a_leap_first_year_moves_on_to_the_next_common_year(tmp_path: Path) -> None:
    years = {month: 1988 if month == 1 else 1990 for month in range(1, 13)}
    read = read_tmy3(tmy3(tmp_path / "a.csv", year_rows(years), "0"))
    assert read.report.first_s == utc(1989, 1, 1, 1)
    assert len(read.table) == 8760


def test_a_real_leap_year_keeps_its_dates(tmp_path: Path) -> None:
    rows = [tmy3_row(f"02/{day:02d}/2024", f"{h:02d}:00") for day in (28, 29) for h in range(1, 25)]
    read = read_tmy3(tmy3(tmp_path / "a.csv", rows, "0"))
    assert read.report.last_s == utc(2024, 3, 1)
    assert read.report.mapping["year"] == "as written"
    assert read.report.dropped == ()


def test_29_february_has_no_place_in_a_typical_year_and_is_reported(tmp_path: Path) -> None:
    rows = [
        tmy3_row("02/29/1996", "01:00"),
        tmy3_row("03/01/1990", "01:00"),
        tmy3_row("03/01/1990", "02:00"),
    ]
    read = read_tmy3(tmy3(tmp_path / "a.csv", rows, "0"))
    assert [drop.line for drop in read.report.dropped] == [3]
    assert "29 February" in read.report.dropped[0].reason
    assert read.table.time_s.tolist() == [utc(1997, 3, 1, 1), utc(1997, 3, 1, 2)]


def test_bad_rows_are_reported_with_line_and_reason(tmp_path: Path) -> None:
    rows = [
        tmy3_row("01/01/1997", "01:00"),
        tmy3_row("13/01/1997", "02:00"),
        tmy3_row("01/01/1997", "25:00"),
        tmy3_row("01/01/1997", "02:00", "warm,A,6.1,77,993,6.2,0"),
        tmy3_row("01/01/1997", "03:00", "-9900,A,-9900,-9900,-9900,-9900,-9900"),
        "cut off",
        tmy3_row("01/01/1997", "01:00", "11.0,A,6.1,77,993,6.2,0"),
        tmy3_row("01/01/1997", "02:00"),
    ]
    report = read_tmy3(tmy3(tmp_path / "a.csv", rows)).report
    assert (report.rows_read, report.rows_used, report.rows_dropped) == (8, 2, 6)
    assert [drop.line for drop in report.dropped] == [4, 5, 6, 7, 8, 9]
    reasons = [drop.reason for drop in report.dropped]
    assert "'warm'" in reasons[2]
    assert reasons[3].startswith("no value")
    assert reasons[5] == "same hour as line 3"


@pytest.mark.parametrize(
    ("names", "offset", "found"),
    [
        (TMY3_NAMES.replace("Dry-bulb (C),", "Other,"), "-5.0", "no Dry-bulb"),
        (TMY3_NAMES, "west", "'west'"),
        (TMY3_NAMES, "-25", "'-25'"),
        (TMY3_NAMES, "nan", "'nan'"),
    ],
)
def test_a_tmy3_header_that_cannot_be_used(
    tmp_path: Path, names: str, offset: str, found: str
) -> None:
    path = tmy3(tmp_path / "a.csv", [tmy3_row("01/01/1997", "01:00")], offset, names)
    with pytest.raises(FileFormatError, match=found) as error:
        read_tmy3(path)
    assert str(error.value).startswith("a.csv: line ")
    assert "\n" not in str(error.value)


def test_a_file_without_a_usable_row_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="no rows"):
        read_tmy3(tmy3(tmp_path / "a.csv", []))
    with pytest.raises(FileFormatError, match="no date and hour"):
        read_epw(epw(tmp_path / "a.epw", ["x,y,z"]))


@pytest.mark.parametrize("reader", [read_tmy3, read_epw])
def test_the_wrong_kind_and_a_missing_file_are_refused(reader, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time,air_temp_c\n2025-01-01T00:00Z,3\n")
    with pytest.raises(FileFormatError, match="weather file"):
        reader(path)
    with pytest.raises(FileFormatError, match="no such file"):
        reader(tmp_path / "none.csv")


def test_epw_values_in_house_units(tmp_path: Path) -> None:
    path = epw(tmp_path / "a.epw", [epw_row("2023,1,1,1,60", {33: "1.2"})], "1.0")
    read = read_epw(path)
    assert read.table.time_s.tolist() == [utc(2023, 1, 1)]  # 01:00 at UTC+1
    found = {name: round(float(column[0]), 9) for name, column in read.table.columns.items()}
    assert found == {
        "air_temp_c": 10.0,
        "dew_point_c": 6.1,
        "rh_pct": 77.0,
        "pressure_hpa": 993.0,  # written in Pa
        "wind_m_s": 6.2,
        "rain_mm": 1.2,
    }
    assert read.report.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_epw_missing_codes(tmp_path: Path) -> None:
    """Codes of the EnergyPlus weather file data dictionary."""
    codes = {6: "99.9", 7: "99.9", 8: "999", 9: "999999", 21: "999", 33: "999"}
    rows = [epw_row("2023,1,1,1,60"), epw_row("2023,1,1,2,60", codes | {6: "4.0"})]
    rows.append(epw_row("2023,1,1,3,60", {6: "99.9"}))
    table = read_epw(epw(tmp_path / "a.epw", rows)).table
    assert table.column("air_temp_c")[1] == 4.0
    assert np.isnan(table.column("air_temp_c")[2])
    for name in ("dew_point_c", "rh_pct", "pressure_hpa", "wind_m_s", "rain_mm"):
        assert np.isnan(table.column(name)[1]), name


def test_epw_pressure_of_99999_pa_is_a_pressure(tmp_path: Path) -> None:
    table = read_epw(epw(tmp_path / "a.epw", [epw_row("2023,1,1,1,60", {9: "99999"})])).table
    assert table.column("pressure_hpa")[0] == pytest.approx(999.99, abs=1e-9)


@pytest.mark.parametrize(
    ("minutes", "first"),
    [
        (["60", "60"], [60, 120]),  # one row an hour, end of the hour
        (["0", "0"], [60, 120]),  # the same with 0
        (["30", "60"], [30, 60]),  # two an hour, end of each
        (["0", "30"], [0, 30]),  # two an hour, beginning of each
    ],
)
def test_epw_minutes(tmp_path: Path, minutes: list[str], first: list[int]) -> None:
    hours = ["1", "2"] if minutes[0] == minutes[1] else ["1", "1"]
    rows = [epw_row(f"2023,1,1,{h},{m}") for h, m in zip(hours, minutes, strict=True)]
    table = read_epw(epw(tmp_path / "a.epw", rows)).table
    assert ((table.time_s - utc(2023, 1, 1)) // 60).tolist() == first


def test_epw_without_data_periods(tmp_path: Path) -> None:
    path = tmp_path / "a.epw"
    path.write_text(EPW_HEAD.format(offset="0").splitlines()[0] + "\n" + epw_row("2023,1,1,1,60"))
    with pytest.raises(FileFormatError, match="DATA PERIODS"):
        read_epw(path)


def test_recognising() -> None:
    tmy3_head = f"1,A,B,0,1,2,3\n{TMY3_NAMES}\n"
    assert is_tmy3(tmy3_head)
    assert is_tmy3("\ufeff" + tmy3_head.replace("\n", "\r\n"))
    assert is_epw(EPW_HEAD)
    assert is_epw("\ufeff" + EPW_HEAD.replace("\n", "\r\n"))
    for other in ("", "time,air_temp_c\n", "Location,Time,Temp\n1,2,3\n", TMY3_NAMES):
        assert not is_tmy3(other)
        assert not is_epw(other)
    assert not is_tmy3(EPW_HEAD)
    assert not is_epw(tmy3_head)


def test_padding_and_windows_text_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    text = f'1,"MÜHLE",X,0,1,2,3\r\n{TMY3_NAMES}\r\n{tmy3_row("01/01/1997", "01:00")}\r\n\r\n'
    path.write_bytes(text.encode("cp1252") + b"\x1a\x00\x00")
    read = read_tmy3(path)
    assert read.report.rows_read == 1
    assert "MÜHLE" in read.report.mapping["station"]


def test_small_files_kept_in_the_tree() -> None:
    """Both invented days are the same air, once in each format."""
    a, b = read_tmy3(DATA / "invented-day-tmy3.csv"), read_epw(DATA / "invented-day.epw")
    assert a.table.time_s.tolist() == b.table.time_s.tolist()
    for name in ("air_temp_c", "dew_point_c", "rh_pct", "wind_m_s"):
        np.testing.assert_array_equal(a.table.column(name), b.table.column(name))
    # One decimal of hPa in both files; the division of Pa by 100 rounds once.
    np.testing.assert_allclose(
        a.table.column("pressure_hpa"), b.table.column("pressure_hpa"), rtol=0, atol=1e-9
    )


def test_real_year_greensboro() -> None:
    read = read_tmy3(pvlib_file("723170TYA.CSV"))
    report = read.report
    assert (report.rows_read, report.rows_used, report.rows_dropped) == (8760, 8760, 0)
    # The first row is of 1988, a leap year, so everything lies in 1989.
    assert report.first_s == utc(1989, 1, 1, 6)
    assert report.last_s == utc(1990, 1, 1, 5)
    assert np.all(np.diff(read.table.time_s) == 3600)
    # Line 3: 01/01/1988,01:00 ... 10.0 air, 6.1 dew point, 77 %, 993 mbar, 6.2 m/s.
    assert at(read, utc(1989, 1, 1, 6), "air_temp_c") == 10.0
    assert at(read, utc(1989, 1, 1, 6), "dew_point_c") == 6.1
    assert at(read, utc(1989, 1, 1, 6), "rh_pct") == 77.0
    assert at(read, utc(1989, 1, 1, 6), "pressure_hpa") == 993.0
    assert at(read, utc(1989, 1, 1, 6), "wind_m_s") == 6.2


def test_real_year_sand_point_with_missing_rain_and_filler_pressure() -> None:
    read = read_tmy3(pvlib_file("703165TY.csv"))
    assert read.report.rows_used == 8760
    assert read.report.first_s == utc(1997, 1, 1, 10)
    assert np.isnan(read.table.column("rain_mm")[0])
    assert not np.isnan(read.table.column("air_temp_c")).any()
    assert any(note.startswith("pressure_hpa: 1012 in every row") for note in read.report.notes)
    assert any(note.startswith("rain_mm: no value in ") for note in read.report.notes)


def test_depths_no_hour_can_have_are_flagged_in_the_real_year() -> None:
    """703165TY.csv has two hours with 508 and 753 mm (the world record is near 305 mm)."""
    given = read_tmy3(pvlib_file("703165TY.csv")).table
    found = flag_table(given)
    at_fault = np.flatnonzero(found.flags & np.uint16(Flag.FAULT))
    assert given.column("rain_mm")[at_fault].tolist() == [508.0, 753.0]
    assert np.isnan(found.column("rain_mm")[at_fault]).all()
    assert not np.isnan(found.column("dew_point_c")).any()
