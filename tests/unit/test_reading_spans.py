"""The span of readings against the rows themselves: laid out at once, bit by bit, and again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.base.migrations import MIGRATIONS
from advisor.base.store import Store
from advisor.climate import reading_spans
from advisor.climate.reading_pages import StoredRow, Wanted, stored_pages
from advisor.climate.reading_spans import ALWAYS, STEPS_S, refresh, wet_point
from advisor.climate.reading_store import (
    TypedReading,
    import_key,
    known_import,
    remove_import,
    save_import,
    save_table,
    save_typed,
)
from advisor.climate.reading_strands import Strand, reach, strands
from advisor.climate.readings import Flag, ImportedFile, ImportReport, Origin, ReadingTable
from advisor.physics import moist_air

START_S = 1_779_840_000
#: Blobs keep float32: six parts in a hundred million of 60 °C.
FLOAT32 = 4e-6


def log(
    rows: int, step_s: int = 60, start_s: int = START_S, origin: Origin = Origin.IMPORTED
) -> ReadingTable:
    """Make an invented log with a hole, blanks and doubtful rows in it."""
    rng = np.random.default_rng(rows + step_s)
    time_s = start_s + step_s * np.arange(rows, dtype=np.int64)
    time_s[rows // 2 :] += 40 * step_s * 7
    air = 12 + np.cumsum(rng.normal(0, 0.1, rows))
    surface = air - 1 + rng.normal(0, 0.2, rows)
    surface[rng.random(rows) < 0.05] = np.nan
    flags = np.where(rng.random(rows) < 0.001, Flag.SPIKE, 0) | np.where(
        rng.random(rows) < 0.01, Flag.CLAMPED, 0
    )
    columns = {
        "air_temp_c": np.clip(air, -30, 50),
        "rh_pct": np.clip(70 + np.cumsum(rng.normal(0, 0.2, rows)), 5, 100),
        "surface_temp_c": np.clip(surface, -30, 50),
    }
    return ReadingTable(time_s, columns, flags.astype(np.uint16), origin)


def imported(table: ReadingTable) -> ImportedFile:
    return ImportedFile(table, ImportReport(len(table), len(table), 0, 0, None, None))


def content(store: Store) -> dict[tuple[object, ...], bytes]:
    """Return every blob there is that holds anything."""
    with store.read() as db:
        rows = db.execute("SELECT area, level, chunk, quantity, low_high FROM reading_span")
        found = {tuple(row[:4]): row[4] for row in rows}
    return {
        key: blob
        for key, blob in found.items()
        if not blob or np.nansum(np.abs(np.frombuffer(blob, np.float32))) > 0
    }


def same(first: Store, second: Store) -> None:
    a, b = content(first), content(second)
    assert a.keys() == b.keys()
    for key, blob in a.items():
        x, y = np.frombuffer(blob, np.float32), np.frombuffer(b[key], np.float32)
        if str(key[3]).endswith("rows"):
            x, y = np.nan_to_num(x), np.nan_to_num(y)
        np.testing.assert_array_equal(x, y, err_msg=str(key))


def by_hand(table: ReadingTable, step_s: int) -> dict[int, tuple[float, float, int, int]]:
    """Lowest and highest surface, rows and doubtful rows of each step, in a plain loop."""
    found: dict[int, tuple[float, float, int, int]] = {}
    for t, value, flags in zip(
        table.time_s.tolist(), table.column("surface_temp_c").tolist(), table.flags.tolist(),
        strict=True,
    ):  # fmt: skip
        low, high, rows, odd = found.get(t // step_s, (np.nan, np.nan, 0, 0))
        doubt = int(bool(flags & ~Flag.CLAMPED))
        found[t // step_s] = (
            float(np.fmin(low, value)), float(np.fmax(high, value)), rows + 1, odd + doubt,
        )  # fmt: skip
    return found


@pytest.mark.parametrize(("step_s", "level"), [(1, 0), (1, 3), (60, 3), (60, 4), (60, 6), (600, 7)])
def test_steps_are_those_of_a_plain_loop(store: Store, step_s: int, level: int) -> None:
    table = log(30_000, step_s)
    save_table(store, table)
    assert refresh(store, ("",)) == 0  # a large log into an empty stretch is laid out at once
    step = STEPS_S[level]
    wanted = by_hand(table, step)
    first, last = min(wanted), max(wanted)
    with store.read() as db:
        surface = reading_spans.blobs(db, "", "imported:surface_temp_c", level, first, last)
        rows = reading_spans.blobs(db, "", "imported:rows", level, first, last)
    for at, (low, high, count, odd) in wanted.items():
        np.testing.assert_allclose(surface[:, at - first], (low, high), atol=FLOAT32)
        assert rows[:, at - first].tolist() == [count, odd]
    empty = [k for k in range(last - first + 1) if k + first not in wanted]
    assert np.isnan(surface[:, empty]).all()


def test_bit_by_bit_comes_to_the_same(store: Store, tmp_path: Path) -> None:
    table = log(30_000)
    with Store(tmp_path / "other.sqlite3") as other:
        save_table(other, table)
        for part in np.array_split(np.arange(len(table)), 7):
            columns = {name: column[part] for name, column in table.columns.items()}
            save_table(store, ReadingTable(table.time_s[part], columns, table.flags[part]))
        assert refresh(store, ("",)) >= len(table)
        assert refresh(store, ("",)) == 0
        same(store, other)


def test_a_log_taken_back_leaves_nothing(store: Store) -> None:
    file = imported(log(30_000))
    save_import(store, file, "log.csv", START_S)
    assert content(store)
    known = known_import(store, import_key(file))
    assert known is not None
    remove_import(store, known.import_id)
    refresh(store, ("",))
    assert content(store) == {}
    assert strands(store, "", START_S, START_S + 86400 * 30, 1000) == ()


def test_a_log_taken_back_leaves_the_other(store: Store, tmp_path: Path) -> None:
    with Store(tmp_path / "other.sqlite3") as other:
        first, second = log(30_000), log(400, 77, START_S + 30)
        save_table(other, first)
        save_table(store, first)
        file = imported(second)
        save_import(store, file, "log.csv", START_S)
        refresh(store, ("",))
        known = known_import(store, import_key(file))
        assert known is not None
        remove_import(store, known.import_id)
        refresh(store, ("",))
        # Blanks that the second log filled in rows of the first stay: none is at the same second
        # but those 77 and 60 seconds share, so the stretches differ by a few rows at most.
        with store.read() as db:
            rows = db.execute("SELECT count(*) FROM reading").fetchone()[0]
        assert rows == len(first)


def test_a_typed_value_typed_again_counts(store: Store) -> None:
    save_typed(store, TypedReading(START_S, air_temp_c=15.0, rh_pct=60.0, surface_temp_c=30.0))
    refresh(store, ("",))
    save_typed(store, TypedReading(START_S, air_temp_c=15.0, rh_pct=60.0, surface_temp_c=13.0))
    refresh(store, ("",))
    with store.read() as db:
        at = START_S // STEPS_S[ALWAYS]
        found = reading_spans.blobs(db, "", "typed:surface_temp_c", ALWAYS, at, at)
    assert found.ravel().tolist() == [13.0, 13.0]


def test_forecasts_are_not_drawn_as_read(store: Store) -> None:
    save_table(store, log(100, origin=Origin.FORECAST))
    refresh(store, ("",))
    assert content(store) == {}


def test_an_older_file_is_laid_out_when_looked_at(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite3"
    table = log(30_000)
    with Store(path, migrations=MIGRATIONS[:3]) as old, old.write() as db:
        db.executemany(
            "INSERT INTO reading (time_s, area, origin, air_temp_c) VALUES (?, '', 'imported', ?)",
            zip(table.time_s.tolist(), table.columns["air_temp_c"].tolist(), strict=True),
        )
    with Store(path) as opened:
        assert refresh(opened, ("",)) == len(table)
        found = strands(opened, "", float(table.time_s[0]), float(table.time_s[-1]), 800)
    assert found[0].rows.sum() == len(table)


def test_a_half_written_log_leaves_no_span(store: Store) -> None:
    def broken() -> None:
        with store.write() as db:
            reading_spans.written(db, log(30_000), "")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken()
    assert content(store) == {}


def test_wet_point_is_that_of_moist_air() -> None:
    air, rh = np.meshgrid(np.arange(-35.0, 50.0, 0.37), np.arange(3.0, 104.0, 0.9))
    air, rh = air.ravel(), rh.ravel()
    wanted = moist_air.wet_point_array(moist_air.dew_point_array(air, rh))
    # Straight lines between quarter degrees; most beside the kink where ice melts, at 0.01 °C.
    np.testing.assert_allclose(wet_point(air, rh, np.full(len(air), np.nan)), wanted, atol=2e-3)


def test_wet_point_of_nothing_is_not_known() -> None:
    nan = np.nan
    found = wet_point(np.array([10.0, nan, 10.0]), np.array([nan, 50.0, 0.0]), np.full(3, nan))
    assert np.isnan(found).all()
    assert wet_point(np.array([10.0]), np.array([90.0]), np.array([4.0])).tolist() == [4.0]


# --- strands ------------------------------------------------------------------------------


def _one(found: tuple[Strand, ...], origin: Origin) -> Strand:
    return next(strand for strand in found if strand.origin is origin)


def test_close_by_the_rows_themselves_are_drawn(store: Store) -> None:
    table = log(30_000)
    save_table(store, table)
    found = strands(store, "", START_S, START_S + 3600 * 10, 1000)
    strand = _one(found, Origin.IMPORTED)
    assert strand.step_s == 0
    assert strand.time_s.tolist() == table.time_s[:601].tolist()
    np.testing.assert_array_equal(
        strand.lines["surface_temp_c"][0], table.columns["surface_temp_c"][:601]
    )
    assert strand.hole_s == 300.0  # five of its own minutes
    assert strand.doubtful.sum() == ((table.flags[:601] & Flag.SPIKE) != 0).sum()


def test_far_off_few_points_keep_every_extreme(store: Store) -> None:
    table = log(200_000)
    table.columns["surface_temp_c"][123_456] = -39.9
    save_table(store, table)
    end_s = float(table.time_s[-1])
    strand = _one(strands(store, "", START_S, end_s, 900), Origin.IMPORTED)
    assert 900 / 4 <= len(strand) <= 900
    assert strand.rows.sum() == len(table)
    assert np.nanmin(strand.lines["surface_temp_c"]) == pytest.approx(-39.9, abs=FLOAT32)


def test_a_few_rows_for_each_point_are_gathered(store: Store) -> None:
    table = log(9000)
    save_table(store, table)
    refresh(store, ("",))
    end_s = float(table.time_s[-1])
    strand = _one(strands(store, "", START_S, end_s, 1000), Origin.IMPORTED)
    assert strand.rows.sum() == len(table)
    assert len(strand) <= 1001
    surface = table.columns["surface_temp_c"]
    low, high = strand.lines["surface_temp_c"]
    assert (np.nanmin(low), np.nanmax(high)) == (np.nanmin(surface), np.nanmax(surface))
    assert strand.doubtful.sum() == ((table.flags & Flag.SPIKE) != 0).sum()


def test_a_thin_stretch_between_dense_ones_is_not_lost(store: Store) -> None:
    dense = log(40_000, 1)
    thin = log(300, 600, START_S + 86400)
    save_table(store, dense)
    save_table(store, thin)
    refresh(store, ("",))
    end_s = float(thin.time_s[-1])
    strand = _one(strands(store, "", START_S, end_s, 6000), Origin.IMPORTED)
    assert strand.step_s == 256
    assert strand.rows.sum() == len(dense) + len(thin)
    assert (np.diff(strand.time_s) > 0).all()


def test_strands_tell_their_origins_apart(store: Store) -> None:
    save_table(store, log(100))
    save_table(store, log(100, origin=Origin.MEASURED))
    save_typed(store, TypedReading(START_S + 7, air_temp_c=15.0, rh_pct=60.0))
    save_table(store, log(100, start_s=START_S - 10**6), "shed")
    refresh(store, ("", "shed"))
    found = strands(store, "", START_S - 10**7, START_S + 10**7, 100)
    assert {s.origin for s in found} == {Origin.IMPORTED, Origin.MEASURED, Origin.TYPED}
    assert reach(store, "shed") == (START_S - 10**6, float(log(100).time_s[-1]) - 10**6)
    assert reach(store, "nowhere") is None


# --- pages --------------------------------------------------------------------------------


def plain(store: Store, wanted: Wanted) -> list[tuple[object, ...]]:
    """All rows wanted, newest first, in one query and a plain filter."""
    with store.read() as db:
        rows = db.execute(
            "SELECT time_s, area, origin, flags FROM reading "
            "ORDER BY time_s DESC, area DESC, origin DESC"
        ).fetchall()
    first = -np.inf if wanted.first_s is None else wanted.first_s
    last = np.inf if wanted.last_s is None else wanted.last_s
    return [
        row
        for row in rows
        if row[1] in wanted.areas
        and Origin(row[2]) in wanted.origins
        and first <= row[0] <= last
        and (not wanted.only_doubtful or row[3] & ~Flag.CLAMPED)
    ]


def short(rows: tuple[StoredRow, ...]) -> list[tuple[object, ...]]:
    return [(row.time_s, row.area, row.origin.value, row.flags) for row in rows]


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Store:
    made = Store(tmp_path_factory.mktemp("many") / "shop.sqlite3")
    save_table(made, log(25_000))
    save_table(made, log(3000, 600, START_S + 500_000, Origin.MEASURED), "shed")
    for k in range(20):
        typed = TypedReading(START_S + 86_400 * k, air_temp_c=15.0, rh_pct=60.0)
        save_typed(made, typed)
    refresh(made, ("", "shed"))
    return made


AREAS = st.sampled_from([("",), ("shed",), ("", "shed")])
ORIGINS = st.sets(st.sampled_from([Origin.TYPED, Origin.MEASURED, Origin.IMPORTED]), min_size=1)
MOMENTS = st.none() | st.integers(START_S - 10**5, START_S + 3 * 10**6)


@settings(max_examples=40)
@given(
    areas=AREAS, origins=ORIGINS, first=MOMENTS, last=MOMENTS, doubt=st.booleans(),
    place=st.integers(0, 27_000), count=st.integers(1, 400),
)  # fmt: skip
def test_a_page_is_what_a_plain_filter_gives(
    many: Store, areas, origins, first, last, doubt, place, count
) -> None:
    wanted = Wanted(areas, tuple(sorted(origins)), first, last, doubt)
    pages, rows = stored_pages(many, wanted), plain(many, wanted)
    assert pages.rows == len(rows)
    assert short(pages.page(place, count)) == rows[place : place + count]


def test_a_row_that_comes_later_shifts_nothing(store: Store) -> None:
    save_table(store, log(100, origin=Origin.MEASURED))
    refresh(store, ("",))
    pages = stored_pages(store, Wanted(("",)))
    before = pages.page(0, 10)
    last_s = before[0].time_s
    save_table(store, log(3, 1, last_s + 1, Origin.MEASURED))
    assert pages.page(0, 10) == before
    refresh(store, ("",))
    assert stored_pages(store, Wanted(("",))).rows == 103


def test_no_rows_are_no_pages(store: Store) -> None:
    pages = stored_pages(store, Wanted(("",)))
    assert (pages.rows, pages.page(0, 10)) == (0, ())
