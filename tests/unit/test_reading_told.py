"""What logs told where: few rows are looked at, and the answer is what all rows give."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.store import Store
from advisor.climate import reading_store, reading_thin, reading_told
from advisor.climate.reading_store import PRIORITY, STORED, TypedReading
from advisor.climate.readings import Flag, Origin, ReadingTable

UNIT_S = reading_told.UNIT_S
ROW = st.tuples(
    st.sampled_from([-3 * UNIT_S, -UNIT_S - 1, -UNIT_S, -2, -1, 0, 1]),
    st.sampled_from(["", "hull"]),
    st.sampled_from(PRIORITY),
    st.sampled_from(["air_temp_c", "rh_pct", "wind_m_s"]),
    st.sampled_from([0, int(Flag.SPIKE)]),
)


def keep(store: Store, at: int, area: str, origin: Origin, flags: int, **values: float) -> None:
    columns = {name: np.array([value]) for name, value in values.items()}
    table = ReadingTable(np.array([at]), columns, np.array([flags], dtype=np.uint16), origin)
    reading_store.save_table(store, table, area)


def test_origins_counted_first_come_last_in_the_alphabet() -> None:
    """`newest_rows` takes that order from the database."""
    assert sorted(PRIORITY, reverse=True) == list(PRIORITY)


@given(rows=st.lists(ROW, max_size=12), doubtful=st.booleans())
def test_the_newest_value_is_that_of_all_rows(
    rows: list[tuple[int, str, Origin, str, int]], doubtful: bool
) -> None:
    """Against a plain look at every row; the value tells which row it is."""
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder, "told.sqlite3")) as store:
        for n, (at, area, origin, name, flags) in enumerate(rows):
            keep(store, at, area, origin, flags, **{name: float(n)})
        with store.read() as db:
            table = db.execute(
                f"SELECT time_s, origin, flags, {', '.join(STORED)} FROM reading WHERE area = ''"
            ).fetchall()
        without = Flag.SPIKE if doubtful else Flag.NONE
        found = reading_store.latest(
            store, 0, max_age_s=3 * UNIT_S, origins=PRIORITY, without=without
        )
    for k, name in enumerate(STORED):
        told = [
            (time_s, -PRIORITY.index(Origin(origin)), row[k])
            for time_s, origin, flags, *row in table
            if row[k] is not None and -3 * UNIT_S <= time_s <= 0 and not flags & without
        ]
        assert (found[name].value if name in found else None) == max(told, default=(0, 0, None))[2]


def test_a_correction_of_a_log_is_noted_where_it_fills_a_blank(store: Store) -> None:
    keep(store, 10, "", Origin.IMPORTED, 0, air_temp_c=12.0)
    keep(store, 10, "", Origin.IMPORTED, 0, wind_m_s=2.0)
    assert reading_store.latest(store, 20)["wind_m_s"].value == 2.0


def test_what_is_typed_leaves_no_note_and_is_found(store: Store) -> None:
    reading_store.save_typed(store, TypedReading(10, surface_temp_c=9.0))
    with store.read() as db:
        assert db.execute("SELECT count(*) FROM reading_told").fetchone() == (0,)
        assert reading_told.anything(db, (0, 20, ""))
        assert not reading_told.anything(db, (11, 20, ""))
        assert not reading_told.anything(db, (0, 20, "hull"))
    assert reading_store.latest(store, 20)["surface_temp_c"].value == 9.0


def work_done(store: Store, span: reading_told.Span) -> int:
    """Return how many of its own steps SQLite takes to choose the rows the grid needs."""
    counted = 0

    def hundred() -> int:
        nonlocal counted
        counted += 100
        return 0

    with store.read() as db:
        db.set_progress_handler(hundred, 100)
        try:
            reading_thin.grid_times(db, span, PRIORITY)
        finally:
            db.set_progress_handler(None, 0)
    return counted


def test_a_log_by_the_second_is_not_read_through_for_what_it_lacks(store: Store) -> None:
    """Twice the seconds cost less than one step of SQLite for each; reading a row takes several."""
    seconds, noon = np.arange(86400), 43200
    values = {"air_temp_c": np.sin(seconds / 900.0), "rh_pct": 60.0 + np.cos(seconds / 900.0)}
    flags = np.zeros(len(seconds), dtype=np.uint16)
    reading_store.save_table(store, ReadingTable(seconds, values, flags))
    reading_store.save_typed(store, TypedReading(noon, surface_temp_c=9.0))
    more = work_done(store, (0, 86399, "")) - work_done(store, (0, noon - 1, ""))
    assert more < 86400 - noon
    assert work_done(store, (0, 86399, "hull")) < 1000  # nothing was read there
