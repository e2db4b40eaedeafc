"""A log by the second: few rows are read, and the grid is what all rows give. Invented readings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.climate import reading_store, reading_thin
from advisor.climate.reading_store import TypedReading
from advisor.climate.readings import Flag, FloatArray, Origin, ReadingTable
from advisor.climate.series import GRID_S, Series, series_from_table
from advisor.work import zones

START_S = 1_779_840_000
DAY_S = 86400
LOGGED = (Origin.MEASURED, Origin.IMPORTED)


def keep(
    store: Store, at: NDArray[np.int64], origin: Origin = Origin.MEASURED, flags: int = 0,
    **columns: FloatArray,
) -> None:  # fmt: skip
    flagged = np.full(len(at), flags, dtype=np.uint16)
    reading_store.save_table(store, ReadingTable(at, columns, flagged, origin))


def by_the_second(store: Store, seconds: int = DAY_S // 2) -> None:
    at = START_S + np.arange(seconds, dtype=np.int64)
    rng = np.random.default_rng(3)
    keep(store, at, air_temp_c=12.0 + rng.normal(size=seconds), rh_pct=70.0 + rng.random(seconds),
         surface_temp_c=10.0 + rng.normal(size=seconds))  # fmt: skip


def both(store: Store, origins: tuple[Origin, ...] = reading_store.PRIORITY) -> list[ReadingTable]:
    span = (START_S, START_S + DAY_S)
    return [reading_store.load(store, *span, "", origins, for_grid=g) for g in (False, True)]


def same(first: Series, second: Series) -> None:
    assert first.start_s == second.start_s
    for name in ("air_temp_c", "dew_point_c", "surface_temp_c", "hot_c"):
        np.testing.assert_array_equal(getattr(first, name), getattr(second, name), name)


def grids(tables: list[ReadingTable]) -> list[Series]:
    span = {"first_s": START_S, "last_s": START_S + DAY_S}
    return [series_from_table(table, **span) for table in tables]


def test_of_a_log_by_the_second_two_rows_a_step_are_read(store: Store) -> None:
    by_the_second(store)
    whole, thin = both(store)
    assert len(whole) == DAY_S // 2
    assert len(thin) == 2 * (DAY_S // 2) // GRID_S
    same(*grids([whole, thin]))


def test_a_log_by_the_minute_is_read_whole(store: Store) -> None:
    at = START_S + 60 * np.arange(DAY_S // 60, dtype=np.int64)
    keep(store, at, air_temp_c=np.ones(len(at)))
    whole, thin = both(store)
    np.testing.assert_array_equal(thin.time_s, whole.time_s)


@pytest.mark.parametrize("second", [17, 150, 299])
def test_a_column_told_once_in_all_is_on_the_grid(store: Store, second: int) -> None:
    by_the_second(store)
    at = START_S + 6 * 3600 + np.array([second, 2 * GRID_S + second], dtype=np.int64)
    keep(store, at, surface_hot_c=np.array([31.0, 33.0]))
    found = grids(both(store))
    same(*found)
    assert np.isfinite(found[1].hot_c).any()


def test_quantities_told_by_turns_are_all_on_the_grid(store: Store) -> None:
    seconds = np.arange(DAY_S // 2, dtype=np.int64)
    air, dew = np.sin(seconds / 900.0), np.cos(seconds / 900.0)
    keep(store, START_S + seconds, air_temp_c=np.where(seconds % 7 < 3, air, np.nan),
         dew_point_c=np.where(seconds % 7 == 4, dew, np.nan),
         surface_temp_c=np.where(seconds % 200 == 71, air, np.nan))  # fmt: skip
    same(*grids(both(store)))


def test_typed_and_foretold_rows_are_all_kept(store: Store) -> None:
    by_the_second(store, DAY_S // 3)
    for second in (100, 101, 102):
        reading_store.save_typed(store, TypedReading(START_S + second, surface_temp_c=2.0))
    at = START_S + 3600 * np.arange(25, dtype=np.int64) + 100
    keep(store, at, Origin.FORECAST, air_temp_c=np.full(25, 5.0), rh_pct=np.full(25, 60.0))
    whole, thin = both(store)
    same(*grids([whole, thin]))
    assert set(range(START_S + 100, START_S + 103)) <= set(thin.time_s.tolist())


def test_beside_doubted_seconds_the_grid_takes_the_nearest_sure_ones(store: Store) -> None:
    at = START_S + np.arange(DAY_S // 2, dtype=np.int64)
    flags = np.where(at % GRID_S < 40, int(Flag.SPIKE), 0).astype(np.uint16)
    values = np.random.default_rng(5).normal(size=len(at))
    reading_store.save_table(
        store, ReadingTable(at, {"air_temp_c": values}, flags, Origin.MEASURED)
    )
    whole, _ = both(store, LOGGED)
    whole.columns["air_temp_c"][(whole.flags & int(Flag.SPIKE)) != 0] = np.nan
    thin = zones.load(store, (START_S, START_S + DAY_S), START_S + 2 * DAY_S, ("",), LOGGED)
    same(*grids([whole, thin]))


def test_a_hole_stays_a_hole(store: Store) -> None:
    by_the_second(store, DAY_S // 4)
    at = START_S + DAY_S // 2 + np.arange(20_000, dtype=np.int64)
    keep(store, at, surface_temp_c=np.zeros(len(at)))
    found = grids(both(store))
    same(*found)
    assert np.isnan(found[1].surface_temp_c[DAY_S // 3 // GRID_S])


def test_what_few_rows_means_is_not_passed_by_one(store: Store) -> None:
    by_the_second(store, reading_thin.DENSE_ROWS)
    assert len(both(store)[1]) == reading_thin.DENSE_ROWS
    by_the_second(store, reading_thin.DENSE_ROWS + 1)
    assert len(both(store)[1]) < 200
