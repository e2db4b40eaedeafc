"""Pot life as a clock on the temperature of the mix.

Checked against the clock every running-out time uses (`coatings.clocks`, equivalent age as in
ASTM C1074) and by hand on round figures. No numbers from outside.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.coatings.clocks import maximum_clock
from advisor.coatings.product import Product, Times
from advisor.planning.case import column_table
from advisor.record.countdowns import AirSince, Countdown, Mixed, countdown
from tests.helpers.products import HOUR_S, NAN, product

#: 8, 4 and 2 h of pot life at 10, 20 and 30 °C; half an hour of induction.
PAINT = product({"pot_life_h": (8.0, 4.0, 2.0), "induction_h": (0.5, 0.5, 0.5)})
T0 = 1_780_308_000.0
#: A hundredth of a second: sums of rounded minutes.
EXACT_S = 0.01


def air(*rows: tuple[float, float]) -> AirSince:
    return AirSince(np.array([T0 + h * HOUR_S for h, _ in rows]), np.array([t for _, t in rows]))


NO_AIR = air()


def hours(at_s: float | None) -> float:
    assert at_s is not None
    return (at_s - T0) / HOUR_S


def run(mix_c: float | None, since: AirSince = NO_AIR, now_h: float = 0.0,
        paint: Product = PAINT) -> Countdown:  # fmt: skip
    entered = () if mix_c is None else ((T0, mix_c),)
    return countdown(paint, Mixed(T0, entered), since, T0 + now_h * HOUR_S)


@pytest.mark.parametrize(("mix_c", "life_h"), [(10.0, 8.0), (20.0, 4.0), (30.0, 2.0), (40.0, 1.0)])
def test_on_a_steady_temperature_the_row_of_the_table(mix_c: float, life_h: float) -> None:
    found = run(mix_c)
    assert hours(found.usable_until_s) == pytest.approx(life_h, abs=EXACT_S / HOUR_S)
    assert hours(found.induction_until_s) == 0.5


def test_the_comfortable_part_is_a_share_of_what_induction_leaves() -> None:
    """4 h less 0.5 h of induction: 0.6 of 3.5 h after it is 2.6 h (common practice)."""
    assert hours(run(20.0).comfortable_until_s) == pytest.approx(2.6, abs=EXACT_S / HOUR_S)


def test_warmer_shop_air_shortens_it() -> None:
    """Two hours at 20 °C use half; the air is at 30 °C from then on: half of 2 h are left."""
    found = run(20.0, air((0.0, 20.0), (2.0, 20.0), (2.0001, 30.0)), 2.0001)
    # The clock steps by minutes with the mean rate: half a minute of either at the jump.
    assert hours(found.usable_until_s) == pytest.approx(3.0, abs=1.0 / 60)
    assert found.used_share == pytest.approx(0.5, abs=0.003)
    assert found.temp_c == 30.0


def test_cooler_air_never_makes_it_longer() -> None:
    found = run(20.0, air((0.0, 5.0), (1.0, 5.0)), 1.0)
    assert hours(found.usable_until_s) == pytest.approx(4.0, abs=EXACT_S / HOUR_S)


def test_a_cooler_mix_told_later_never_makes_it_longer() -> None:
    mixed = Mixed(T0, ((T0, 20.0), (T0 + HOUR_S, 10.0)))
    found = countdown(PAINT, mixed, NO_AIR, T0 + 2 * HOUR_S)
    assert hours(found.usable_until_s) == pytest.approx(4.0, abs=EXACT_S / HOUR_S)


def test_a_warmer_mix_told_later_shortens_it() -> None:
    """An hour at 20 °C uses a quarter; three quarters of 2 h are left."""
    mixed = Mixed(T0, ((T0, 20.0), (T0 + HOUR_S, 30.0)))
    found = countdown(PAINT, mixed, NO_AIR, T0 + HOUR_S)
    assert hours(found.usable_until_s) == pytest.approx(2.5, abs=1.0 / 60)


def test_nothing_entered_is_a_room_or_the_warmer_air() -> None:
    assert hours(run(None).usable_until_s) == pytest.approx(4.0, abs=EXACT_S / HOUR_S)
    warm = run(None, air((0.0, 30.0)))
    assert hours(warm.usable_until_s) == pytest.approx(2.0, abs=EXACT_S / HOUR_S)
    assert any("20 °C" in note for note in warm.assumptions)


def test_colder_than_the_table_keeps_its_lowest_row() -> None:
    """Mixed at 9 °C with a table from 10 °C: it ends, at the lowest row (notes, cases)."""
    assert hours(run(9.0).usable_until_s) == pytest.approx(8.0, abs=EXACT_S / HOUR_S)


def test_warmer_than_the_table_is_marked() -> None:
    assert any("top row" in note for note in run(40.0).assumptions)


def test_one_can_has_no_end() -> None:
    found = run(20.0, paint=product({"tack_free_h": (8.0, 4.0, 2.0)}))
    assert found.usable_until_s is found.comfortable_until_s is found.used_share is None


def test_a_blank_cell_is_not_known_and_said() -> None:
    paint = product({"pot_life_h": (NAN, 4.0, 2.0)})
    found = run(15.0, paint=paint)
    assert found.usable_until_s is None
    assert any("blank" in note for note in found.assumptions)


def test_a_pot_life_of_nothing_is_over_at_once() -> None:
    found = run(30.0, paint=product({"pot_life_h": (8.0, 4.0, 0.0)}))
    assert hours(found.usable_until_s) == pytest.approx(0.0, abs=1.0 / 60)
    assert found.used_share == 1.0


def test_a_batch_past_use_stays_so_however_long_ago() -> None:
    found = run(20.0, now_h=1000.0)
    assert found.used_share == 1.0
    assert hours(found.usable_until_s) == pytest.approx(4.0, abs=EXACT_S / HOUR_S)


def test_a_gap_in_the_readings_counts_as_its_warmer_end() -> None:
    """Five hours without a reading between 20 and 30 °C: all of it at 30 °C, 2 h of life."""
    found = run(20.0, air((0.0, 20.0), (5.0, 30.0)), 5.0)
    assert hours(found.usable_until_s) == pytest.approx(2.0, abs=1.0 / 60)


temps = st.lists(st.floats(8.0, 38.0), min_size=2, max_size=40)


@given(mix_c=st.floats(8.0, 35.0), steps=temps)
def test_it_is_the_clock_of_every_time_that_runs_out(mix_c: float, steps: list[float]) -> None:
    """Air every ten minutes, then as it is: the same event as `coatings.clocks` on one grid."""
    since = air(*((k / 6.0, temp) for k, temp in enumerate(steps)))
    now_h = (len(steps) - 1) / 6.0
    found = run(mix_c, since, now_h)
    table = column_table(PAINT, "pot_life_h")
    assert table is not None
    grid_h = np.arange(0, 9 * 60) / 60.0
    course = np.fmax(mix_c, np.interp(grid_h, np.arange(len(steps)) / 6.0, steps))
    event = float(maximum_clock(table, course, 1.0 / 60).when(np.zeros(1))[0]) / 60.0
    assert hours(found.usable_until_s) == pytest.approx(event, abs=EXACT_S / HOUR_S)


@given(mix_c=st.floats(8.0, 35.0), steps=temps, later=st.floats(0.0, 6.0))
def test_never_longer_than_the_mix_allows(mix_c: float, steps: list[float], later: float) -> None:
    alone = hours(run(mix_c).usable_until_s)
    since = air(*((k / 6.0, temp) for k, temp in enumerate(steps)))
    assert hours(run(mix_c, since, later).usable_until_s) <= alone + EXACT_S / HOUR_S


def test_thinner_is_not_asked() -> None:
    """Nothing of the mix but its temperature goes in: a product's thinner changes no time."""
    more = replace(PAINT, mix=replace(PAINT.mix, thinner_max_pct=30.0))
    assert run(20.0, paint=more) == run(20.0)


def test_a_single_row_is_said() -> None:
    paint = replace(PAINT, times=Times((20.0,), {"pot_life_h": (4.0,)}))
    found = run(30.0, paint=paint)
    assert hours(found.usable_until_s) == pytest.approx(2.0, abs=EXACT_S / HOUR_S)
    assert any("single row" in note for note in found.assumptions)
