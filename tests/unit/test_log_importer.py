"""Whole files: the sample layouts, a real weather year, quality flags, pieces, canonical CSV."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import InputError, StoreError
from advisor.climate.logs import decode, importer
from advisor.climate.logs.canonical import write_canonical
from advisor.climate.logs.importer import read_log
from advisor.climate.readings import Flag, ReadingTable

LOGS = Path(__file__).parent.parent / "data" / "logs"


def test_numbered_header_with_spaces() -> None:
    file = read_log(LOGS / "numbered_spaces.txt", time_zone="Europe/Madrid")
    assert file.report.rows_used == 60
    assert file.table.column("air_temp_c")[0] == 19.3187
    assert file.table.column("rh_pct")[0] == 41.7033
    assert "'Temperature_Comedor_Sensor'" in file.report.mapping["air_temp_c"]
    assert str(file.table.time_s[:1].astype("datetime64[s]")[0]) == "2031-03-13T10:45:00"


def test_the_zero_a_weather_station_starts_with_is_a_fault() -> None:
    told = {"air_temp_c": "Weather_Temperature"}
    file = read_log(LOGS / "numbered_spaces.txt", time_zone="Europe/Madrid", columns=told)
    assert np.isnan(file.table.column("air_temp_c")[0])
    assert file.table.flags[0] & Flag.FAULT
    assert file.table.column("air_temp_c")[1] == 18.2426
    assert "'Humedad_Exterior_Sensor'" in file.report.mapping["rh_pct"]


def test_airports() -> None:
    with pytest.raises(InputError, match="AAA, BBB, CCC"):
        read_log(LOGS / "airports.csv")
    file = read_log(LOGS / "airports.csv", station="BBB")
    assert (file.report.rows_read, file.report.rows_used) == (90, 30)
    # 1e-9 K: only the rounding of the two conversions.
    np.testing.assert_allclose(file.table.column("air_temp_c")[0], (26.61 - 32) / 1.8, atol=1e-9)
    np.testing.assert_allclose(file.table.column("wind_m_s")[0], 3.45234 * 0.44704, atol=1e-9)
    np.testing.assert_allclose(file.table.column("rain_mm").sum(), 0.254, atol=1e-9)
    assert np.isnan(file.table.column("wind_m_s")[7])  # 1048 mph
    assert file.table.flags[7] & Flag.FAULT
    assert np.isnan(file.table.column("pressure_hpa")[4])
    assert not file.table.flags[4]  # NA is missing, not broken


def test_german_log_with_statistics() -> None:
    file = read_log(LOGS / "preamble_cp1252.csv", time_zone="Europe/Berlin")
    assert file.report.rows_used == 24
    assert file.table.column("air_temp_c")[:2].tolist() == [8.0, 8.8]
    assert [row.line for row in file.report.dropped] == [31]


def test_two_probes_newest_first() -> None:
    file = read_log(LOGS / "two_probes.tsv", time_zone="UTC")
    assert file.table.column("air_temp_c")[:2].tolist() == [15.0, 15.1]
    assert file.table.column("rh_pct")[10] == 100.0
    assert file.table.flags[10] == Flag.CLAMPED
    assert np.isnan(file.table.column("air_temp_c")[8])
    assert file.report.flagged == 1


def test_long_file_with_a_unit_column() -> None:
    file = read_log(LOGS / "long.csv")
    assert len(file.table) == 12
    np.testing.assert_allclose(file.table.column("air_temp_c")[0], 15.0, atol=1e-9)
    np.testing.assert_allclose(file.table.column("surface_temp_c")[0], 10.0, atol=1e-9)
    assert "unit in the header" in file.report.mapping["air_temp_c"]


def test_a_real_weather_year() -> None:
    """Greensboro TMY3 as shipped by pvlib: 24:00 stamps, months of several years, 71 columns."""
    path = Path(str(files("pvlib") / "data" / "723170TYA.CSV"))
    file = read_log(path, time_zone="-05:00")
    assert file.report.rows_used == len(file.table) == 8760
    first = path.read_text().splitlines()[2].split(",")
    row = int(np.flatnonzero(file.table.time_s == _utc("1988-01-01T06:00"))[0])
    assert file.table.column("air_temp_c")[row] == float(first[31])
    assert file.table.column("dew_point_c")[row] == float(first[34])
    assert file.table.column("rh_pct")[row] == float(first[37])


def _utc(text: str) -> int:
    return int(np.datetime64(text, "s").astype(np.int64))


def test_dew_point_above_air_is_flagged(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        "time,air_temp_c,dew_point_c\n2031-01-01T00:00Z,10,5\n2031-01-01T01:00Z,10,10.4\n"
        "2031-01-01T02:00Z,10,12\n"
    )
    table = read_log(path).table
    np.testing.assert_array_equal(table.column("dew_point_c"), [5, 10, np.nan])
    assert table.flags.tolist() == [0, Flag.DEW_ABOVE_AIR, Flag.DEW_ABOVE_AIR]


def test_swapped_columns_are_flagged_and_told(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = "".join(f"2031-01-01T0{i}:00Z,5{i},18\n" for i in range(5))
    path.write_text("time,Temp °C,RH\n" + rows, encoding="utf-8")
    file = read_log(path)
    assert all(flag & Flag.SWAPPED for flag in file.table.flags)
    assert "look exchanged" in " ".join(file.report.notes)
    told = read_log(path, columns={"air_temp_c": "RH", "rh_pct": "Temp °C"})
    assert told.table.column("air_temp_c").tolist() == [18] * 5
    assert told.report.flagged == 0


def test_a_row_is_dropped_only_when_nothing_usable_is_left(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        "time,air_temp_c,rh_pct\n2031-01-01T00:00Z,-127,50\n2031-01-01T01:00Z,-127,0\n"
        "2031-01-01T02:00Z,10,50\n"
    )
    file = read_log(path)
    assert [(row.line, row.reason) for row in file.report.dropped] == [
        (3, "no usable value: -127, 0")
    ]
    assert file.table.flags.tolist() == [Flag.FAULT, 0]


def test_the_hash_is_that_of_the_file() -> None:
    path = LOGS / "two_probes.tsv"
    one, other = read_log(path, time_zone="UTC"), read_log(path, time_zone="UTC", limit=3)
    assert len(one.report.file_sha256) == 64
    assert one.report.file_sha256 == other.report.file_sha256


def test_spreadsheet_damage_is_told(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time,Temp °C,RH\n2031-01-01T00:00Z,Mar 21,50\n2031-01-01T01:00Z,='21.4,51\n")
    file = read_log(path)
    np.testing.assert_array_equal(file.table.column("air_temp_c"), [np.nan, 21.4])
    assert "line 2: 'Mar 21' is no number (a number a spreadsheet made a date?)" in " ".join(
        file.report.notes
    )


@pytest.fixture
def in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Small blocks, so that a small file takes the way of a huge one."""
    monkeypatch.setattr(decode, "HEAD_BYTES", 400)
    monkeypatch.setattr(decode, "BLOCK_BYTES", 1000)
    monkeypatch.setattr(decode._pieces, "__defaults__", (1000,))
    monkeypatch.setattr(importer, "BLOCK_BYTES", 1000)


def second_log(rows: int, encoding: str = "utf-8") -> bytes:
    lines = [f"2031-01-01T00:{i // 60:02d}:{i % 60:02d}Z,{10 + i // 60},50" for i in range(rows)]
    lines[100] = "rubbish,,"
    return "\r\n".join(["time,air_temp_c,rh_pct", *lines, ""]).encode(encoding)


@pytest.mark.usefixtures("in_pieces")
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_reading_a_second_is_averaged_in_pieces(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(second_log(300, encoding))
    file = read_log(path)
    assert (file.report.rows_read, file.report.rows_used) == (300, 299)
    assert file.report.dropped[0].line == 102
    assert file.table.column("air_temp_c").tolist() == [10, 11, 12, 13, 14]
    assert np.diff(file.table.time_s).tolist() == [60] * 4
    assert "averaged" in " ".join(file.report.notes)


def test_a_small_log_of_seconds_is_kept_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(second_log(300))
    assert len(read_log(path).table) == 299


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", ["", "END"])
@pytest.mark.parametrize("quote", ["", '"'])
def test_clean_and_unclean_files_read_alike(
    tmp_path: Path, ends: str, last: str, quote: str
) -> None:
    path = tmp_path / "log.csv"
    rows = [f"2031-01-01T00:{i:02d}Z,{10 + i / 7:.2f},{quote}{30 + i}{quote}" for i in range(60)]
    tail = ends if last else ""
    path.write_bytes((ends.join(["time,air_temp_c,rh_pct", *rows]) + tail).encode())
    file = read_log(path)
    assert file.report.rows_used == 60
    expected = [float(f"{10 + i / 7:.2f}") for i in range(60)]
    assert file.table.column("air_temp_c").tolist() == expected
    assert file.table.column("rh_pct").tolist() == [30.0 + i for i in range(60)]
    assert read_log(path, limit=7).report.rows_read == 7


def test_a_dirty_cell_in_a_clean_file_costs_only_itself(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    cells = ["10.0", "", "ERR", "50 F", "1e1", " 10.5 ", "123456789.5", "10.1"]
    rows = [f"2031-01-01T00:{i:02d}Z,{cell},50" for i, cell in enumerate(cells)]
    path.write_text("\n".join(["time,air_temp_c,rh_pct", *rows, ""]))
    file = read_log(path)
    nan = np.nan
    np.testing.assert_allclose(
        file.table.column("air_temp_c"), [10, nan, nan, 10, 10, 10.5, nan, 10.1], atol=1e-9
    )
    assert (file.table.flags & Flag.FAULT).astype(bool).tolist() == [
        cell in ("ERR", "123456789.5") for cell in cells
    ]


def test_canonical_csv_reads_back_the_same(tmp_path: Path) -> None:
    table = ReadingTable(
        np.array([0, 60, 86_400 * 20_000]),
        {"air_temp_c": np.array([1 / 3, np.nan, -0.1]), "rh_pct": np.array([50.0, 99.9, 1e-5])},
        np.zeros(3, np.uint16),
    )
    path = tmp_path / "out.csv"
    write_canonical(table, path)
    assert path.read_text().splitlines()[0] == "time,air_temp_c,rh_pct"
    assert path.read_text().splitlines()[2] == "1970-01-01T00:01:00Z,,99.9"
    again = read_log(path)
    # The two rows of 1970 are what an unset clock writes; all else is bit for bit the same.
    assert again.report.rows_dropped == 2
    np.testing.assert_array_equal(again.table.column("air_temp_c"), [-0.1])


def test_canonical_csv_to_nowhere_is_told(tmp_path: Path) -> None:
    table = ReadingTable(np.array([0]), {"rh_pct": np.array([50.0])}, np.zeros(1, np.uint16))
    with pytest.raises(StoreError, match="cannot be written"):
        write_canonical(table, tmp_path / "none" / "out.csv")
