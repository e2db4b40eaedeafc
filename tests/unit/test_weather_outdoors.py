"""A weather file as the weather outdoors: sun and cloud, on the hours, onto this year.

Values expected of the real file are read off its own text by hand (pvlib wheel, data of NREL's
TMY3 set, US government). All other files are invented.
"""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.metadata import files
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.conditions_file import read_conditions
from advisor.climate.outdoor import Outdoor
from advisor.climate.place import Place
from advisor.climate.readings import COLUMNS, ImportedFile, ReadingTable
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.climate.sources.table import from_table, part_of
from advisor.planning.job import Area, Coat, Job
from advisor.work.this_year import AHEAD_S, BEHIND_S, MEASURED_BEHIND_S, weather_of_file
from advisor.work.workbench import Workbench

HOUR_S, DAY_S = 3600, 86400
NAN = float("nan")
PLACE = Place(36.1, -79.95, 273.0)
TMY3_HEAD = (
    '000000,"TIDE MILL",XX,{offset},50.000,-4.000,5\n'
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),TotCld (tenths),Dry-bulb (C),Dew-point (C)\n"
)
EPW_HEAD = (
    "LOCATION,Tide Mill,-,XXX,invented,000000,50.00,-4.00,0.0,5.0\n"
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,none\n"
    "DATA PERIODS,1,1,Data,Sunday, 5/ 1, 5/ 1\n"
)


def at(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


def tmy3(path: Path, rows: list[str], offset: str = "0") -> Path:
    path.write_text(TMY3_HEAD.format(offset=offset) + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def epw(path: Path, sky: list[tuple[str, str]]) -> Path:
    """Write one hour a pair of (global horizontal radiation, total sky cover)."""
    rows = []
    for hour, (sun, cloud) in enumerate(sky, start=1):
        fields = ["2022", "5", "1", f"{hour}", "60", "?9", "10.0", "6.1", "77", "99300"]
        fields += ["7"] * 25  # in every field beside, so that reading a wrong one shows
        fields[13], fields[22] = sun, cloud
        rows.append(",".join(fields))
    path.write_text(EPW_HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def outdoors(path: Path) -> ImportedFile:
    return read_conditions(path, outdoors=True)


@pytest.fixture(scope="module")
def real_year() -> Path:
    """A typical year, found without importing pvlib, which would pull in pandas and SciPy."""
    [found] = [item for item in files("pvlib") or [] if item.name == "723170TYA.CSV"]
    return Path(str(found.locate()))


# --- the files -------------------------------------------------------------------------------


def test_tmy3_brings_sun_and_cloud(tmp_path: Path) -> None:
    read = outdoors(tmy3(tmp_path / "a.csv", ["05/01/2022,12:00,640,3,10.0,6.1"]))
    assert read.table.column("sun_w_m2").tolist() == [640.0]
    assert read.table.column("cloud_pct").tolist() == [30.0]
    assert read.report.mapping["sun_w_m2"] == "column 'GHI (W/m^2)'"


def test_epw_brings_sun_and_cloud(tmp_path: Path) -> None:
    read = outdoors(epw(tmp_path / "a.epw", [("0", "10"), ("412", "0")]))
    assert read.table.column("sun_w_m2").tolist() == [0.0, 412.0]
    assert read.table.column("cloud_pct").tolist() == [100.0, 0.0]
    assert read.report.mapping["cloud_pct"] == "field 23"


@pytest.mark.parametrize(
    ("sun", "cloud"), [("9999", "99"), ("-9900", "-9900"), ("", ""), ("1501", "11"), ("-1", "-1")]
)
def test_fillers_and_the_impossible_are_no_sun_and_no_cloud(
    tmp_path: Path, sun: str, cloud: str
) -> None:
    """99 is an ordinary sun but no tenths of a sky; 0 and 10 tenths are the ends."""
    for read in (
        outdoors(epw(tmp_path / "a.epw", [(sun, cloud), ("99", "9")])),
        outdoors(
            tmy3(
                tmp_path / "a.csv",
                [f"05/01/2022,01:00,{sun},{cloud},10.0,6.1", "05/01/2022,02:00,99,9,10.0,6.1"],
            )
        ),
    ):
        assert np.array_equal(read.table.column("sun_w_m2"), [NAN, 99.0], equal_nan=True)
        assert np.array_equal(read.table.column("cloud_pct"), [NAN, 90.0], equal_nan=True)
        assert read.table.column("air_temp_c").tolist() == [10.0, 10.0]
        assert any(note.startswith("sun_w_m2: no value in 1 of 2") for note in read.report.notes)


def test_an_import_of_shop_conditions_is_as_it_was(tmp_path: Path, store: Store) -> None:
    """Nothing but the columns of a reading is read, reported or stored."""
    path = tmy3(tmp_path / "a.csv", ["05/01/2022,12:00,9999,99,10.0,6.1"])
    plain = read_conditions(path)
    assert set(plain.table.columns) <= set(COLUMNS)
    assert not {"sun_w_m2", "cloud_pct"} & set(plain.report.mapping)
    assert not any("sun" in note or "cloud" in note for note in plain.report.notes)
    # Even a table that has them is stored without.
    assert reading_store.save_import(store, outdoors(path), "a.csv", 0) == 1
    kept = reading_store.load(store, 0, at("2030-01-01"))
    assert set(kept.columns) == {"air_temp_c", "dew_point_c"}


# --- on the hours ----------------------------------------------------------------------------


def table(minutes: list[int], **columns: list[float]) -> ReadingTable:
    time_s = at("2031-05-04T00:00") + 60 * np.array(minutes, dtype=np.int64)
    air = {"air_temp_c": np.full(len(minutes), 10.0), "dew_point_c": np.full(len(minutes), 5.0)}
    given = {name: np.array(values, dtype=np.float64) for name, values in columns.items()}
    return ReadingTable(time_s, air | given, np.zeros(len(minutes), dtype=np.uint16))


def laid(given: ReadingTable) -> Outdoor:
    return from_table(given, PLACE, 0).hourly


def test_hourly_sun_and_cloud_come_through_unchanged() -> None:
    found = laid(table([0, 60, 120], sun_w_m2=[0, 100, 300], cloud_pct=[0, 50, 100]))
    assert found.column("sun_w_m2") == pytest.approx([0, 100, 300], abs=1e-9)  # float sums
    assert found.column("cloud_pct").tolist() == [0, 50, 100]


def test_half_hour_stamps_share_the_sun_and_join_the_cloud() -> None:
    """Stamped on the half hour (UTC+5:30): an hour is half of one row and half of the next."""
    found = laid(table([-30, 30, 90, 150], sun_w_m2=[0, 100, 300, 200], cloud_pct=[0, 10, 30, 50]))
    assert found.start_s == at("2031-05-04T00:00")
    assert found.column("sun_w_m2") == pytest.approx([50, 200, 250], abs=1e-9)
    assert found.column("cloud_pct") == pytest.approx([5, 20, 40])


def test_quarter_hours_of_sun_are_averaged_not_summed() -> None:
    found = laid(table(list(range(0, 61, 15)), sun_w_m2=[0, 100, 200, 300, 400]))
    assert found.column("sun_w_m2")[1] == pytest.approx(250.0)


def test_an_hour_of_unknown_sun_is_unknown_and_no_other() -> None:
    found = laid(table([0, 60, 120, 180], sun_w_m2=[0, NAN, 300, 200], cloud_pct=[0, NAN, 1, 2]))
    assert np.isnan(found.column("sun_w_m2")).tolist() == [False, True, False, False]
    # An instant on either side of the hole is not bridged: the hole is a value the file lacks.
    assert np.isnan(found.column("cloud_pct")).tolist() == [False, True, False, False]


def test_a_file_without_sun_has_no_such_column() -> None:
    assert not {"sun_w_m2", "cloud_pct"} & set(laid(table([0, 60])).columns)


def test_part_of_a_table_is_both_ends_included() -> None:
    given = table([0, 60, 120, 180], wind_m_s=[1, 2, 3, 4])
    first = int(given.time_s[0])
    found = part_of(given, first + HOUR_S, first + 2 * HOUR_S)
    assert found.time_s.tolist() == [first + HOUR_S, first + 2 * HOUR_S]
    assert found.column("wind_m_s").tolist() == [2.0, 3.0]
    assert len(found.flags) == 2
    with pytest.raises(RangeError, match="rows from 2031-05-04T00:00Z to 2031-05-04T03:00Z"):
        part_of(given, first + DAY_S, first + 2 * DAY_S)


# --- a past year as this year's weather ------------------------------------------------------


def test_a_past_year_keeps_its_sun_and_only_the_days_looked_at(real_year: Path) -> None:
    now = at("2026-07-02T12:00")
    found = weather_of_file(real_year, "", PLACE, now)
    hourly = found.hourly
    assert hourly.start_s == now - BEHIND_S
    assert hourly.end_s == now + AHEAD_S
    assert "A past year laid onto this one, not a forecast." in found.notes
    # Doubted as a forecast of ten days ago would be.
    assert found.issued_s == now - 10 * DAY_S
    # The row of 07/02, 12:00 says GHI 447, TotCld 10; its clock is UTC-5 all year.
    k = (at("2026-07-02T17:00") - hourly.start_s) // HOUR_S
    assert hourly.column("sun_w_m2")[k] == pytest.approx(447.0)
    assert hourly.column("cloud_pct")[k] == pytest.approx(100.0)


def test_the_turn_of_the_year_is_no_hole(real_year: Path) -> None:
    found = weather_of_file(real_year, "", PLACE, at("2026-12-30T12:00")).hourly
    assert len(found) == 31 * 24 + 1
    for name in ("air_temp_c", "sun_w_m2", "cloud_pct"):
        assert np.isfinite(found.column(name)).all(), name


def write_log(path: Path, first_s: int, last_s: int) -> Path:
    times = range(first_s, last_s + 1, HOUR_S)
    rows = [f"{datetime.fromtimestamp(t, UTC):%Y-%m-%dT%H:%MZ},12.0,7.0" for t in times]
    path.write_text("time,air_temp_c,dew_point_c\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_measured_weather_is_kept_as_far_back_as_a_fit_looks(tmp_path: Path) -> None:
    now = at("2026-07-02T12:00")
    path = write_log(tmp_path / "yard.csv", now - 80 * DAY_S, now + 2 * DAY_S)
    found = weather_of_file(path, "", PLACE, now).hourly
    assert (found.start_s, found.end_s) == (now - MEASURED_BEHIND_S, now + 2 * DAY_S)


def test_a_file_of_another_time_is_refused_with_its_span(tmp_path: Path) -> None:
    now = at("2026-07-02T12:00")
    path = write_log(tmp_path / "yard.csv", now - 80 * DAY_S, now - 70 * DAY_S)
    with pytest.raises(RangeError, match="rows from 2026-04-13T12:00Z to 2026-04-23T12:00Z"):
        weather_of_file(path, "", PLACE, now)


def test_rows_that_could_not_be_used_are_told(tmp_path: Path) -> None:
    rows = [f"05/01/2022,{hour:02d}:00,0,3,10.0,6.1" for hour in (1, 2, 3)]
    path = tmy3(tmp_path / "a.csv", [*rows, "05/01/2022,04:00,bright,3,10.0,6.1"])
    found = weather_of_file(path, "", PLACE, at("2022-05-01T02:00"))
    assert "1 row of the file could not be used, the first in line 6." in found.notes


# --- on the bench ----------------------------------------------------------------------------


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    found = Workbench(store, root / "resources")
    areas = (Area("deck", "deck", 8.0, outdoors=True),)
    coats = (Coat("c1", "enamel", "deck", "typical-alkyd", 8.0),)
    found.save_job(Job("j", "job", "yard", "UTC", areas, coats, shop=Shop(place=PLACE)))
    return found


def test_an_outdoor_deck_is_known_by_a_weather_year(bench: Workbench, real_year: Path) -> None:
    """At noon in July a deck of middling colour is warmer than the air; unknown without sun."""
    now = at("2026-07-02T05:00")
    bench.use_weather_file(real_year, now)
    air = bench.airs(now, 3).of("deck")
    series = air.series
    noon = int(series.index_of(at("2026-07-02T17:00")))
    assert series.surface_hot_c is not None
    assert series.surface_hot_c[noon] > series.air_temp_c[noon] + 3.0
    ahead = slice(int(series.index_of(now)), int(series.index_of(now + 3 * DAY_S)))
    assert np.isfinite(series.surface_temp_c[ahead]).all()
    assert air.scenarios is not None
    assert np.isfinite(air.scenarios.surface_temp_c).all()


def test_only_the_days_looked_at_are_kept(bench: Workbench, real_year: Path) -> None:
    now = at("2026-07-02T05:00")
    bench.keep_weather(real_year, now)
    kept = archive.latest(bench.store, "file", PLACE)
    assert kept is not None
    assert len(kept.hourly) == 31 * 24 + 1
    assert {"sun_w_m2", "cloud_pct"} <= set(kept.hourly.columns)


def test_courses_rain_as_much_as_the_central_weather(bench: Workbench, tmp_path: Path) -> None:
    """An hour's 4 mm is 1 mm a quarter in the mean course, not 4 mm a quarter."""
    now = at("2022-05-01T02:00")
    head = TMY3_HEAD.format(offset="0").rstrip("\n") + ",Lprecip depth (mm)\n"
    rows = [f"05/01/2022,{h:02d}:00,0,10,10.0,6.1,{4 if h == 6 else 0}" for h in range(1, 13)]
    (tmp_path / "a.csv").write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    bench.use_weather_file(tmp_path / "a.csv", now)
    basis = bench.airs(now, 1).basis
    assert basis is not None
    assert basis.weather.courses is not None
    rain = basis.weather.courses.column("rain_mm")
    # Courses differ in rain; over 200 of them the mean keeps within a tenth or two of the 4 mm.
    assert np.nansum(rain, axis=1).mean() == pytest.approx(4.0, rel=0.3)


def test_a_past_year_is_not_called_a_forecast_of_some_days_ago(
    bench: Workbench, real_year: Path
) -> None:
    now = at("2026-07-02T12:00")
    bench.use_weather_file(real_year, now)
    used = bench.source_in_use(now)
    assert used is not None
    assert used.text.startswith("a past year laid onto this one, reaches to ")
