"""The coat below: minimum, maximum sure and likely, both patches, holes and blanks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.climate.series import Series
from advisor.coatings.product import Limits, NextCoat, Product
from advisor.planning.case import Case, Previous
from advisor.planning.previous import (
    Overcoating,
    bond,
    hottest_hour_c,
    lowest_in_hour_c,
    patches,
    previous_coat,
)
from advisor.planning.timeline import timeline
from advisor.planning.verdict import judge
from tests.helpers.products import (
    HOUR_S,
    INF,
    MONDAY_S,
    NAN,
    barrier,
    case,
    gloss,
    one_row,
    product,
    series,
    steady,
)

PLAIN = {"tack_free_h": (8.0, 4.0, 2.0)}


def below(
    min_h: tuple[float, ...] = (8.0, 4.0, 2.0),
    max_h: tuple[float, ...] = (48.0, 24.0, 12.0),
    **changes: object,
) -> Product:
    """A coat with one row for everything of its own class."""
    return product(PLAIN, next_coats=(NextCoat("same", min_h, max_h),), **changes)  # type: ignore[arg-type]


def at(hours: float) -> np.ndarray:
    return np.array([hours * 12.0])


def found(
    of: Product, on: Series, reached_h: float, painted_h: float = 0.0, **changes: object
) -> tuple[bool, bool, bool, bool]:
    """Early, closed, doubtful, unknown of one patch."""
    when = MONDAY_S + painted_h * HOUR_S
    previous = Previous(of, when, when, **changes)  # type: ignore[arg-type]
    one = bond(Overcoating.of(previous, of.next_coats[0], on), painted_h * 12, at(reached_h))
    return bool(one.early[0]), bool(one.closed[0]), bool(one.doubtful[0]), bool(one.unknown[0])


HOLDS = (False, False, False, False)
EARLY = (True, False, False, False)
CLOSED = (False, True, False, False)
DOUBTFUL = (False, False, True, False)
UNKNOWN = (False, False, False, True)


@pytest.mark.parametrize(
    ("reached_h", "expected"),
    [(3.99, EARLY), (4.0, HOLDS), (4.01, HOLDS), (24.0, HOLDS), (24.01, CLOSED)],
)
def test_minimum_and_maximum_at_a_steady_20(reached_h: float, expected: tuple[bool, ...]) -> None:
    assert found(below(), steady(30), reached_h) == expected


def test_a_patch_painted_later_counts_from_then() -> None:
    assert found(below(), steady(40), 6.9, painted_h=3.0) == EARLY
    assert found(below(), steady(40), 7.0, painted_h=3.0) == HOLDS
    assert found(below(), steady(40), 27.0, painted_h=3.0) == HOLDS
    assert found(below(), steady(40), 27.1, painted_h=3.0) == CLOSED


def test_before_it_was_painted_is_too_early() -> None:
    assert found(below(), steady(40), 2.0, painted_h=3.0) == EARLY


def test_an_hour_of_heat_closes_the_sure_bond_but_not_the_likely() -> None:
    # Six hours at 20 °C, a closed hour at 30, back to 20: by the hottest hour 12 h in all, by
    # the clock about 24 h less the extra hour's worth.
    surface = np.full(40 * 12 + 1, 20.0)
    surface[72:85] = 30.0
    hot = series(20.0, 10.0, surface)
    assert found(below(), hot, 12.0) == HOLDS
    assert found(below(), hot, 12.1) == DOUBTFUL
    # Clock: 12 whole steps and two at the mean rate run twice as fast, 13 steps gained in all.
    likely = 24.0 - 13 / 12
    assert found(below(), hot, likely - 0.01) == DOUBTFUL
    assert found(below(), hot, likely + 0.01) == CLOSED


def test_less_than_an_hour_of_heat_does_not_count_as_sustained() -> None:
    surface = np.full(40 * 12 + 1, 20.0)
    surface[72:84] = 30.0  # 12 points: 55 minutes
    assert found(below(), series(20.0, 10.0, surface), 13.0) == HOLDS


def test_the_hot_spot_decides_the_maximum_and_the_cold_spot_the_minimum() -> None:
    both = series(20.0, 5.0, np.full(361, 10.0), hot=30.0)
    assert found(below(), both, 7.9) == EARLY  # 8 h at 10 °C
    assert found(below(), both, 8.0) == HOLDS
    assert found(below(), both, 12.1) == CLOSED  # 12 h at 30 °C


def test_the_minimum_pauses_in_the_cold_and_the_maximum_does_not() -> None:
    surface = np.full(60 * 12 + 1, 20.0)
    surface[24:] = 5.0
    cold = series(20.0, 0.0, surface)
    assert found(below(), cold, 23.0) == EARLY
    assert found(below(), cold, 55.0)[0]
    wet = below(max_h=(24.0, 24.0, 24.0))
    assert found(wet, cold, 24.1) == (True, True, False, False)


def test_the_previous_sheet_says_where_its_own_minimum_pauses() -> None:
    cool = replace(below(), limits=Limits(cure_min_c=18.0))
    assert found(cool, steady(30, surface=17.0), 20.0) == EARLY
    assert found(cool, steady(30, surface=18.0), 20.0) == HOLDS


def test_a_single_row_has_no_lowest_row_to_pause_at() -> None:
    one = one_row(next_coats=(NextCoat("same", (4.0,), (24.0,)),), limits=Limits())
    cold = steady(60, surface=3.0)
    assert found(one, cold, 15.9) == EARLY  # doubled twice
    assert found(one, cold, 16.0) == HOLDS
    hot = steady(60, surface=33.0)
    assert found(one, hot, 12.0) == HOLDS  # halved
    assert found(one, hot, 12.1) == CLOSED


@pytest.mark.parametrize(
    ("min_h", "max_h", "expected"),
    [
        ((NAN, NAN, NAN), (48.0, 24.0, 12.0), EARLY),  # never reached: refuses
        ((), (48.0, 24.0, 12.0), UNKNOWN),  # the sheet gives none
        ((8.0, 4.0, 2.0), (NAN, NAN, NAN), UNKNOWN),
        ((8.0, 4.0, 2.0), (), HOLDS),  # no maximum on the sheet
        ((8.0, 4.0, 2.0), (INF, INF, INF), HOLDS),
        ((0.0, 0.0, 0.0), (48.0, 24.0, 12.0), HOLDS),
        ((INF, INF, INF), (48.0, 24.0, 12.0), EARLY),
        ((8.0, 4.0, 2.0), (0.0, 0.0, 0.0), CLOSED),
    ],
)
def test_blank_missing_unlimited_and_zero_cells(
    min_h: tuple[float, ...], max_h: tuple[float, ...], expected: tuple[bool, ...]
) -> None:
    assert found(below(min_h, max_h), steady(30), 10.0) == expected


def test_a_blank_met_on_the_way_makes_the_maximum_unknown() -> None:
    surface = np.full(361, 15.0)
    surface[30] = 25.0  # one point in the blank, not a sustained hour
    sheet = below((8.0, 4.0, 2.0), (48.0, 24.0, NAN))
    assert found(sheet, series(20.0, 5.0, surface), 10.0) == UNKNOWN
    assert found(sheet, steady(30, surface=15.0), 10.0) == HOLDS


def test_a_hole_in_the_surface_makes_it_unknown() -> None:
    surface = np.full(361, 20.0)
    surface[60] = NAN
    holed = series(20.0, 10.0, surface)
    assert found(below(), holed, 10.0) == UNKNOWN
    assert found(below(), holed, 59 / 12) == HOLDS
    assert found(below(), holed, 3.0) == EARLY
    assert found(below(), holed, 10.0, painted_h=5.5) == HOLDS


def test_outside_the_series_is_unknown() -> None:
    assert found(below(), steady(30), 31.0) == UNKNOWN
    assert found(below(), steady(30), 10.0, painted_h=-1.0) == UNKNOWN
    assert found(below(), steady(30), 10.0, painted_h=31.0) == EARLY
    assert found(below(), steady(30), NAN) == UNKNOWN


def test_sanding_since_leaves_no_maximum_to_miss() -> None:
    assert found(below(), steady(60), 50.0) == CLOSED
    assert found(below(), steady(60), 50.0, sanded=True) == HOLDS
    assert found(below(), steady(60), 3.0, sanded=True) == EARLY


def test_patches_in_the_same_and_in_the_reverse_order() -> None:
    on = steady(40)
    line = timeline(case(below(), 2.0), on, np.array([120]))
    previous = Previous(below(), MONDAY_S, MONDAY_S + 3 * HOUR_S)
    first, last = patches(previous, on, line)
    assert (first[0], first[1].tolist()) == (0.0, [120.0])
    assert (last[0], last[1].tolist()) == (36.0, [144.0])
    first, last = patches(replace(previous, reverse=True), on, line)
    assert (first[0], first[1].tolist()) == (0.0, [144.0])
    assert (last[0], last[1].tolist()) == (36.0, [120.0])


def joined(over: Case, on: Series, start_h: float) -> tuple[bool, bool, bool, bool]:
    line = timeline(over, on, np.array([round(start_h * 12)]))
    one = previous_coat(over, on, line)
    assert one.past_maximum is not None
    return (bool(one.broken[0]), bool(one.unknown[0]), bool(one.caution[0]),
            bool(one.past_maximum[0]))  # fmt: skip


def test_both_patches_must_do() -> None:
    sheet = below()
    previous = Previous(sheet, MONDAY_S, MONDAY_S + 5 * HOUR_S)
    same = case(sheet, 5.0, previous=previous)
    # Same order and pace: each patch is as old as the first. 4 h after the first patch.
    assert joined(same, steady(60), 4.0) == (False, False, False, False)
    back = case(sheet, 5.0, previous=replace(previous, reverse=True))
    # Reverse: the last patch, painted at 5 h, is met first and must be 4 h old at 9 h.
    assert joined(back, steady(60), 8.9)[0]
    assert not joined(back, steady(60), 9.0)[0]
    # The first patch is met last: started at 19 h it is reached at 24 h, its maximum.
    assert joined(back, steady(60), 19.0) == (False, False, False, False)
    assert joined(back, steady(60), 19.1) == (True, False, False, True)
    assert joined(same, steady(60), 19.1) == (False, False, False, False)


def test_gloss_at_47_5_hours_takes_5_in_the_reverse_order() -> None:
    """Case of the notes: maximum 48 h, started at 47.5 h, five hours, reverse order."""
    coat = gloss()
    laid = Previous(coat, MONDAY_S, MONDAY_S, reverse=True)
    over = case(coat, 5.0, previous=laid)
    judged = judge(over, steady(100), np.array([round(47.5 * 12)]))
    assert judged.sand_first(0)
    assert judged.broken(0) == ["previous_coat"]
    # Both patches were painted at once, so in either order one is reached at 52.5 h; painted
    # over five hours in the same order, none is.
    same = replace(over, previous=Previous(coat, MONDAY_S, MONDAY_S + 5 * HOUR_S))
    judged = judge(same, steady(100), np.array([round(47.5 * 12)]))
    assert judged.broken(0) == []


def test_no_row_is_unknown_and_a_forbidden_pair_never_goes() -> None:
    alkyd = product(PLAIN, product_class="alkyd")
    laid = Previous(barrier(), MONDAY_S, MONDAY_S)
    over = case(alkyd, previous=laid)
    line = timeline(over, steady(60), np.array([120]))
    assert previous_coat(over, steady(60), line).broken.tolist() == [True]
    stranger = product(PLAIN, product_class="gelcoat")
    over = case(stranger, previous=laid)
    one = previous_coat(over, steady(60), line)
    assert (one.broken.tolist(), one.unknown.tolist()) == ([False], [True])
    assert judge(over, steady(60), np.array([120])).verdict(0).json == "unknown"


def test_lowest_in_hour_against_a_plain_loop() -> None:
    values = np.random.default_rng(2).normal(20, 3, 60)
    plain = [min(values[k : k + 13]) for k in range(60 - 12)]
    assert lowest_in_hour_c(values).tolist() == plain
    assert lowest_in_hour_c(values[:12]).tolist() == []
    assert lowest_in_hour_c(values[:13]).tolist() == [min(values[:13])]


@pytest.mark.parametrize("painted", [0.0, 4.3, 20.0])
def test_hottest_hour_against_a_plain_loop(painted: float) -> None:
    surface = np.random.default_rng(4).normal(20, 3, 80)
    on = series(20.0, 5.0, surface)
    over = Overcoating.of(Previous(below(), 0, 0), below().next_coats[0], on)
    low = int(np.ceil(painted))
    for reached in (painted, low + 0.5, low + 3.0, low + 11.9, low + 12.0, low + 30.2, 79.0):
        inside = surface[low : int(np.floor(reached)) + 1]
        if len(inside) == 0:
            plain = surface[int(painted)]
        elif len(inside) < 13:
            plain = inside.max()
        else:
            plain = max(min(inside[k : k + 13]) for k in range(len(inside) - 12))
        assert hottest_hour_c(over, painted, np.array([reached]))[0] == plain
