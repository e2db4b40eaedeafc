"""Rows at the work, read on from look to look: the same as read all at once. Invented readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.base.store import Store
from advisor.work.at_work import FULL_S, LATE_S, Rows, RowsAtWork
from advisor.work.workbench import Workbench
from tests.helpers.live_bench import MIN, NOW, bench_with_job, sensor, typed


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return bench_with_job(store, root, tmp_path)


def same(one: Rows, other: Rows) -> bool:
    pairs = zip(vars(one).values(), vars(other).values(), strict=True)
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in pairs)


def test_read_on_is_read_anew(bench: Workbench) -> None:
    """A sensor every 20 s, looked at every 50 s, values falling over the time."""
    looking = RowsAtWork(bench, 0.0)
    for k in range(40):
        first = NOW + k * 60.0
        falling = 20.0 - k / 10.0
        sensor(bench, [first, first + 20, first + 40], surface_temp_c=falling, rh_pct=50.0 + k)
        now = first + 50.0
        assert same(looking.of("side", NOW, now, 1), RowsAtWork(bench).of("side", NOW, now, 1))


gaps = st.lists(st.integers(1, 400), min_size=1, max_size=25)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(gaps=gaps)
def test_read_on_at_any_rhythm(bench: Workbench, gaps: list[int]) -> None:
    """Whatever the steps of sensor and looks, as long as rows come no later than LATE_S."""
    with bench.store.write() as db:
        db.execute("DELETE FROM reading")
    looking, at_s = RowsAtWork(bench, 0.0), NOW
    for gap in gaps:
        at_s += gap
        sensor(bench, [at_s], air_temp_c=15.0 + gap / 50.0)
        fresh = RowsAtWork(bench).of("side", NOW, at_s, 1)
        assert same(looking.of("side", NOW, at_s, 1), fresh)


def test_what_comes_late_is_seen(bench: Workbench) -> None:
    looking = RowsAtWork(bench)
    sensor(bench, [NOW, NOW + 600])
    looking.of("side", NOW, NOW + 600, 1)
    sensor(bench, [NOW + 600 - LATE_S + 70])
    assert len(looking.of("side", NOW, NOW + 604, 1).time_s) == 2  # looked at just now
    assert len(looking.of("side", NOW, NOW + 605, 1).time_s) == 3
    sensor(bench, [NOW + 100])  # later than is looked for: seen at the next full look
    assert len(looking.of("side", NOW, NOW + 615, 1).time_s) == 3
    assert len(looking.of("side", NOW, NOW + 601 + FULL_S, 1).time_s) == 4


def test_what_is_typed_is_seen_at_once(bench: Workbench) -> None:
    looking = RowsAtWork(bench)
    sensor(bench, [NOW, NOW + 600])
    looking.of("side", NOW, NOW + 600, 1)
    typed(bench, NOW + 120)
    assert len(looking.of("side", NOW, NOW + 600, 2).time_s) == 3


def test_a_clock_set_back_is_read_anew(bench: Workbench) -> None:
    looking = RowsAtWork(bench)
    sensor(bench, [NOW, NOW + 600])
    looking.of("side", NOW, NOW + 600, 1)
    assert len(looking.of("side", NOW, NOW + 10, 1).time_s) == 1


def test_each_column_keeps_its_newest_value_of_the_minute(bench: Workbench) -> None:
    """One instrument reads the air, another the surface: a minute has both."""
    sensor(bench, [NOW + 5], surface_temp_c=None)
    sensor(bench, [NOW + 35], air_temp_c=None, rh_pct=None, surface_temp_c=12.0)
    rows = RowsAtWork(bench).of("side", NOW, NOW + MIN, 1)
    assert list(rows.time_s) == [NOW + 35]
    assert (rows.air_temp_c[0], rows.surface_temp_c[0]) == (20.0, 12.0)
    assert list(rows.whole_s) == [NOW + 35]
