"""Readings in the database: kept once, merged by trust, read back as they were."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.store import Store
from advisor.climate.logs.canonical import write_canonical
from advisor.climate.logs.importer import read_log
from advisor.climate.reading_store import (
    TypedReading,
    import_key,
    known_import,
    latest,
    load,
    remove_import,
    save_import,
    save_table,
    save_typed,
)
from advisor.climate.readings import (
    COLUMNS,
    DroppedRow,
    Flag,
    ImportedFile,
    ImportReport,
    Origin,
    ReadingTable,
)

NOW = 1_700_000_000
NAN = float("nan")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "readings.db") as opened:
        yield opened


def table(
    times: list[int], origin: Origin = Origin.IMPORTED, **columns: list[float]
) -> ReadingTable:
    values = {name: np.array(column, dtype=np.float64) for name, column in columns.items()}
    flags = np.zeros(len(times), dtype=np.uint16)
    return ReadingTable(np.array(times, dtype=np.int64), values, flags, origin)


def a_file(given: ReadingTable, sha256: str = "a" * 64) -> ImportedFile:
    rows = len(given)
    dropped = (DroppedRow(3, "no date and hour"),)
    report = ImportReport(rows + 1, rows, 1, 0, 0, 0, {"format": "log"}, dropped, (), sha256)
    return ImportedFile(given, report)


def same(a: ReadingTable, b: ReadingTable) -> None:
    assert a.time_s.tolist() == b.time_s.tolist()
    assert a.flags.tolist() == b.flags.tolist()
    assert a.origin is b.origin
    for name in COLUMNS:
        np.testing.assert_array_equal(a.column(name), b.column(name))


def test_what_goes_in_comes_out(store: Store) -> None:
    rng = np.random.default_rng(1)
    given = table(list(range(0, 6000, 60)), **{name: rng.normal(size=100) for name in COLUMNS})
    given.columns["surface_temp_c"][::2] = NAN
    given.flags[7] = Flag.STUCK | Flag.SPIKE
    assert save_import(store, a_file(given), "shed.csv", NOW) == 100
    same(load(store, 0, 6000), given)


def test_the_same_file_again_adds_nothing_and_is_known(store: Store) -> None:
    imported = a_file(table([0, 60], air_temp_c=[1.0, 2.0]))
    assert save_import(store, imported, "shed.csv", NOW) == 2
    assert save_import(store, imported, "copy of shed.csv", NOW + 60) == 0
    known = known_import(store, import_key(imported))
    assert known is not None
    assert (known.file_name, known.imported_at_s, known.rows_used) == ("shed.csv", NOW, 2)
    with store.read() as db:
        assert db.execute("SELECT count(*) FROM import").fetchone() == (1,)


def test_the_same_file_for_another_area_is_refused(store: Store) -> None:
    imported = a_file(table([0], air_temp_c=[1.0]))
    save_import(store, imported, "shed.csv", NOW, "deck")
    with pytest.raises(InputError, match="already imported for deck"):
        save_import(store, imported, "shed.csv", NOW, "hull")


def test_a_file_without_a_hash_is_known_by_its_values(store: Store) -> None:
    imported = a_file(table([0], air_temp_c=[1.0]), sha256="")
    other = a_file(table([0], air_temp_c=[1.5]), sha256="")
    assert save_import(store, imported, "a", NOW) == 1
    assert save_import(store, imported, "a", NOW) == 0
    assert import_key(imported) != import_key(other)


def test_the_report_is_kept_with_the_import(store: Store) -> None:
    save_import(store, a_file(table([0], air_temp_c=[1.0])), "shed.csv", NOW)
    with store.read() as db:
        row = db.execute("SELECT rows_read, rows_used, rows_dropped, report_json FROM import")
        read, used, dropped, words = row.fetchone()
    assert (read, used, dropped) == (2, 1, 1)
    assert json.loads(words)["dropped"] == [{"line": 3, "reason": "no date and hour"}]


def test_a_second_file_over_the_same_hours_only_fills_blanks(store: Store) -> None:
    save_import(store, a_file(table([0, 60], air_temp_c=[1.0, NAN], rh_pct=[50.0, 51.0])), "a", NOW)
    second = table([0, 60, 120], air_temp_c=[9.0, 2.0, 3.0], surface_temp_c=[NAN, NAN, 4.0])
    # Row 0 brings nothing new, row 60 its air, row 120 is new.
    assert save_import(store, a_file(second, "b" * 64), "b", NOW) == 2
    found = load(store, 0, 120)
    assert found.column("air_temp_c").tolist() == [1.0, 2.0, 3.0]
    np.testing.assert_array_equal(found.column("rh_pct"), [50.0, 51.0, NAN])
    np.testing.assert_array_equal(found.column("surface_temp_c"), [NAN, NAN, 4.0])


def test_taking_an_import_back_lets_it_be_read_again(store: Store) -> None:
    imported = a_file(table([0, 60], air_temp_c=[1.0, 2.0]))
    save_import(store, imported, "a", NOW)
    known = known_import(store, import_key(imported))
    assert known is not None
    assert remove_import(store, known.import_id) == 2
    assert len(load(store, 0, 60)) == 0
    moved = replace(imported, table=replace(imported.table, time_s=imported.table.time_s + 3600))
    assert save_import(store, moved, "a", NOW) == 2
    assert load(store, 0, 9999).time_s.tolist() == [3600, 3660]


def test_load_is_closed_at_both_ends_and_keeps_areas_apart(store: Store) -> None:
    save_table(store, table([0, 60, 120, 180], air_temp_c=[1.0, 2.0, 3.0, 4.0]))
    save_table(store, table([60], air_temp_c=[9.0]), "hull")
    assert load(store, 60, 120).column("air_temp_c").tolist() == [2.0, 3.0]
    assert load(store, 0, 180, "hull").column("air_temp_c").tolist() == [9.0]
    assert len(load(store, 0, 180, "deck")) == 0


@pytest.mark.parametrize("reverse", [False, True])
def test_at_equal_time_the_more_trusted_origin_wins(store: Store, reverse: bool) -> None:
    origins = [Origin.MEASURED, Origin.IMPORTED, Origin.FORECAST]
    tables = [
        table([0, 60, 120, 180][i:], origin, air_temp_c=[float(i + 1)] * (4 - i))
        for i, origin in enumerate(origins)
    ]
    for one in reversed(tables) if reverse else tables:
        save_table(store, one)
    save_typed(store, TypedReading(180, air_temp_c=0.5))
    assert load(store, 0, 180).column("air_temp_c").tolist() == [1.0, 1.0, 1.0, 0.5]
    only = load(store, 0, 180, origins=[Origin.IMPORTED, Origin.FORECAST])
    assert only.time_s.tolist() == [60, 120, 180]
    assert only.column("air_temp_c").tolist() == [2.0, 2.0, 2.0]
    assert only.origin is Origin.IMPORTED  # nothing of the forecast is left in it


def test_values_of_several_origins_complete_each_other(store: Store) -> None:
    measured = table([0], Origin.MEASURED, air_temp_c=[12.0], rh_pct=[70.0])
    measured.flags[0] = Flag.STUCK
    save_table(store, measured)
    save_typed(store, TypedReading(0, surface_temp_c=10.5))
    found = load(store, 0, 0)
    assert found.column("air_temp_c").tolist() == [12.0]
    assert found.column("surface_temp_c").tolist() == [10.5]
    assert found.flags.tolist() == [Flag.STUCK]
    assert found.origin is Origin.MEASURED


def test_air_is_not_mixed_with_the_humidity_of_another_origin(store: Store) -> None:
    other = table([0, 60], air_temp_c=[22.0, 22.0], rh_pct=[90.0, 90.0], dew_point_c=[20.3, 20.3])
    save_table(store, other)
    save_typed(store, TypedReading(0, air_temp_c=15.0, rh_pct=60.0))
    # Air alone: the whole air of the other row is better than a mixture.
    save_typed(store, TypedReading(60, air_temp_c=15.0))
    found = load(store, 0, 60)
    assert found.column("air_temp_c").tolist() == [15.0, 22.0]
    assert found.column("rh_pct").tolist() == [60.0, 90.0]
    np.testing.assert_array_equal(found.column("dew_point_c"), [NAN, 20.3])


def test_a_newer_forecast_replaces_the_older(store: Store) -> None:
    save_table(store, table([0], Origin.FORECAST, air_temp_c=[5.0]))
    save_table(store, table([0], Origin.FORECAST, air_temp_c=[6.0]))
    assert load(store, 0, 0).column("air_temp_c").tolist() == [6.0]


def test_typed_again_the_new_value_counts_and_others_stay(store: Store) -> None:
    save_typed(store, TypedReading(0, air_temp_c=18.0, rh_pct=62.0, surface_hot_c=25.0))
    save_typed(store, TypedReading(0, air_temp_c=18.5))
    found = latest(store, 0)
    assert found["air_temp_c"].value == 18.5
    assert found["rh_pct"].value == 62.0
    assert found["surface_hot_c"].value == 25.0


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"rh_pct": 0.0}, "humidity: found 0; accepted: above 0, up to 100 %"),
        ({"rh_pct": 100.5}, "humidity: found 100.5; accepted: above 0, up to 100 %"),
        ({"air_temp_c": 65.0}, "air: found 65; accepted: -40 to 60 °C"),
        ({"air_temp_c": NAN}, "air: found nan; accepted: -40 to 60 °C"),
        ({"surface_hot_c": 81.0}, "hottest spot: found 81; accepted: -40 to 80 °C"),
        (
            {"air_temp_c": 10.0, "dew_point_c": 11.0},
            "dew point: found 11; accepted: not above the air, 10 °C",
        ),
    ],
)
def test_typed_values_that_cannot_be_true(
    store: Store, values: dict[str, float], words: str
) -> None:
    with pytest.raises(RangeError) as error:
        save_typed(store, TypedReading(0, **values))
    assert str(error.value).startswith(words)
    assert len(load(store, 0, 0)) == 0


def test_a_typed_reading_without_any_value(store: Store) -> None:
    with pytest.raises(InputError, match="found no value"):
        save_typed(store, TypedReading(0))


def test_latest_gives_each_quantity_its_own_age(store: Store) -> None:
    sensor = table([0, 60, 120], Origin.MEASURED, air_temp_c=[1.0, 2.0, 3.0], rh_pct=[50, 51, NAN])
    save_table(store, sensor)
    save_typed(store, TypedReading(30, surface_temp_c=0.5))
    save_table(store, table([90, 180], Origin.FORECAST, air_temp_c=[8.0, 9.0]))
    found = latest(store, 100)
    assert set(found) == {"air_temp_c", "rh_pct", "surface_temp_c"}
    assert (found["air_temp_c"].value, found["air_temp_c"].time_s) == (2.0, 60)
    assert (found["surface_temp_c"].time_s, found["surface_temp_c"].origin) == (30, Origin.TYPED)
    later = latest(store, 500, max_age_s=400)
    assert {name: value.time_s for name, value in later.items()} == {"air_temp_c": 120}
    assert latest(store, 500, max_age_s=100) == {}
    assert latest(store, 100, "hull") == {}


def test_latest_at_equal_time_prefers_what_was_typed(store: Store) -> None:
    save_table(store, table([0], Origin.MEASURED, air_temp_c=[1.0]))
    save_typed(store, TypedReading(0, air_temp_c=1.5))
    save_table(store, table([0], air_temp_c=[2.0]))
    assert latest(store, 0)["air_temp_c"].value == 1.5


def test_an_import_that_breaks_half_way_leaves_nothing(store: Store) -> None:
    broken = table([0, 60], air_temp_c=[1.0, 2.0])
    broken = replace(broken, columns={**broken.columns, "rh_pct": np.array([b"x", {}], object)})
    with pytest.raises(Exception, match="not supported"):
        save_import(store, a_file(broken), "a", NOW)
    assert len(load(store, 0, 60)) == 0
    assert known_import(store, "a" * 64) is None


# --- forecasts -------------------------------------------------------------------------------

MINUTE, HOUR = 60, 3600
#: A logger that writes at :07, :22, :37 and :52, for six hours.
LOGGED_S = [(7 + 15 * k) * MINUTE for k in range(24)]


def hourly(first: int, last: int, **columns: float) -> ReadingTable:
    times = [h * HOUR for h in range(first, last + 1)]
    return table(times, Origin.FORECAST, **{k: [v] * len(times) for k, v in columns.items()})


def test_a_new_forecast_replaces_old_ones_over_its_own_hours_only(store: Store) -> None:
    save_table(store, hourly(0, 6, air_temp_c=17.0))
    save_table(store, hourly(0, 6, air_temp_c=30.0), "hull")
    save_table(store, table([2 * HOUR + 60], Origin.MEASURED, pressure_hpa=[1000.0]))
    new = table([90 * MINUTE, 150 * MINUTE, 210 * MINUTE], Origin.FORECAST, air_temp_c=[9.0] * 3)
    assert save_table(store, new) == 3
    found = load(store, 0, 9 * HOUR, origins=[Origin.FORECAST])
    assert found.time_s.tolist() == [0, HOUR, *new.time_s.tolist(), *(h * HOUR for h in (4, 5, 6))]
    assert found.column("air_temp_c").tolist() == [17.0, 17.0, 9.0, 9.0, 9.0, 17.0, 17.0, 17.0]
    assert len(load(store, 0, 9 * HOUR, "hull")) == 7
    assert load(store, 0, 9 * HOUR).column("pressure_hpa").tolist().count(1000.0) == 1


def test_an_empty_forecast_takes_nothing_away(store: Store) -> None:
    save_table(store, hourly(0, 6, air_temp_c=17.0))
    assert save_table(store, table([], Origin.FORECAST, air_temp_c=[])) == 0
    assert len(load(store, 0, 9 * HOUR)) == 7


@pytest.mark.parametrize("old", [Origin.FORECAST, Origin.ESTIMATED])
@pytest.mark.parametrize("origin", [Origin.MEASURED, Origin.IMPORTED])
@pytest.mark.parametrize("name", COLUMNS)
def test_an_old_forecast_never_shows_between_logged_values(
    store: Store, name: str, origin: Origin, old: Origin
) -> None:
    save_table(store, replace(hourly(0, 12, **{name: 17.0}), origin=old))
    save_table(store, table(LOGGED_S, origin, **{name: [9.0] * 24}))
    found = load(store, 0, 12 * HOUR)
    # The last logged value is at 5:52, so forecasts to 7:22 are out.
    later = [h * HOUR for h in range(8, 13)]
    assert found.time_s.tolist() == [*LOGGED_S, *later]
    assert found.column(name).tolist() == [9.0] * 24 + [17.0] * 5


def test_ninety_minutes_are_near_and_a_second_more_is_not(store: Store) -> None:
    save_table(store, table([0], air_temp_c=[9.0]))
    save_table(store, table([90 * MINUTE, 90 * MINUTE + 1], Origin.FORECAST, air_temp_c=[17.0, 18]))
    assert load(store, 0, 6 * HOUR).column("air_temp_c").tolist() == [9.0, 18.0]


def test_what_the_log_does_not_have_still_comes_from_the_forecast(store: Store) -> None:
    save_table(store, hourly(0, 5, air_temp_c=17.0, wind_m_s=4.0))
    save_table(store, table(LOGGED_S, air_temp_c=[9.0] * 24))
    found = load(store, 0, 5 * HOUR)
    assert np.nanmax(found.column("air_temp_c")) == 9.0
    assert np.count_nonzero(found.column("wind_m_s") == 4.0) == 6


def test_logged_humidity_stands_for_the_dew_point_too(store: Store) -> None:
    save_table(store, hourly(0, 5, air_temp_c=17.0, dew_point_c=15.0))
    save_table(store, table(LOGGED_S, air_temp_c=[9.0] * 24, rh_pct=[60.0] * 24))
    found = load(store, 0, 5 * HOUR)
    assert np.isnan(found.column("dew_point_c")).all()
    assert found.origin is Origin.IMPORTED


def test_humidity_without_its_own_air_is_kept_as_a_dew_point(store: Store) -> None:
    save_table(store, hourly(0, 5, air_temp_c=20.0, rh_pct=50.0))
    save_table(store, table(LOGGED_S, air_temp_c=[9.0] * 24))
    found = load(store, 0, 5 * HOUR)
    assert np.isnan(found.column("rh_pct")).all()
    dew = found.column("dew_point_c")
    # 20 °C, 50 %: 9.3 °C by any dew-point table; 0.1 K for its rounding.
    assert dew[~np.isnan(dew)] == pytest.approx([9.3] * 6, abs=0.1)
    assert np.nanmax(found.column("air_temp_c")) == 9.0


def test_a_forecast_is_kept_where_its_loss_would_leave_a_hole(store: Store) -> None:
    save_table(store, table([0], air_temp_c=[9.0]))
    every_third = table([HOUR, 4 * HOUR, 7 * HOUR], Origin.FORECAST, air_temp_c=[17.0] * 3)
    save_table(store, every_third)
    # From 0:00 to 4:00 is more than the three hours a line may bridge.
    assert load(store, 0, 9 * HOUR).time_s.tolist() == [0, HOUR, 4 * HOUR, 7 * HOUR]


def test_the_hottest_spot_is_not_colder_than_the_coldest(store: Store) -> None:
    with pytest.raises(RangeError) as error:
        save_typed(store, TypedReading(0, surface_temp_c=16.0, surface_hot_c=15.5))
    assert str(error.value) == (
        "hottest spot: found it colder than the coldest spot; "
        "accepted: as warm or warmer; exchanged?"
    )
    assert len(load(store, 0, 0)) == 0
    save_typed(store, TypedReading(0, surface_temp_c=16.0, surface_hot_c=16.0))


def test_every_column_comes_back_from_its_own_export(store: Store, tmp_path: Path) -> None:
    given = table([NOW, NOW + 900], **{name: [20.0, 21.5] for name in COLUMNS})
    given.columns["pressure_hpa"] += 1000.0
    save_import(store, a_file(given), "shed.csv", NOW)
    path = tmp_path / "export.csv"
    write_canonical(load(store, NOW, NOW + 900), path)
    again = read_log(path).table
    assert list(again.columns) == list(COLUMNS)
    for name in COLUMNS:
        np.testing.assert_array_equal(again.column(name), given.column(name))
