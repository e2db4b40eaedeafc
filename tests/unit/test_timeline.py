"""From mixing to "can take dew": defaults by class, snapping, and what a hole leaves known."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.coatings.product import CLASSES, Limits
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning.case import dew_safe_assumption, dew_safe_table
from advisor.planning.timeline import Phase, Timeline, timeline
from advisor.planning.verdict import Verdict, judge
from tests.helpers.products import NAN, ROWS, case, filler, gloss, product, series, steady

TACK, TAPE, DEW = (8.0, 4.0, 2.0), (20.0, 10.0, 5.0), (40.0, 30.0, 20.0)
TAPE_DRY = {"two-part-gloss", "two-part-clear", "waterborne-two-part", "non-skid"}
TWICE = {"one-part-polyurethane", "alkyd"}


@pytest.mark.parametrize("product_class", sorted(CLASSES))
def test_when_a_film_can_take_dew_by_class(product_class: str) -> None:
    columns = {"tack_free_h": TACK, "tape_dry_h": TAPE}
    of = product(columns, product_class=product_class)
    table = dew_safe_table(of)
    assert table is not None
    expected, said = (TAPE[1], "tape-dry") if product_class in TAPE_DRY else (TACK[1], "tack-free")
    if product_class in TWICE:
        expected, said = 2 * TACK[1], "twice tack-free"
    assert table.at_one(20.0) == pytest.approx(expected)
    assert dew_safe_assumption(of) == f"assumed: {said}"
    given = product({**columns, "dew_safe_h": DEW}, product_class=product_class)
    found = dew_safe_table(given)
    assert found is not None
    assert found.at_one(20.0) == pytest.approx(DEW[1])
    assert dew_safe_assumption(given) == ""


@pytest.mark.parametrize("product_class", sorted(TAPE_DRY))
def test_a_two_part_gloss_without_tape_dry_cannot_be_told(product_class: str) -> None:
    of = product({"tack_free_h": TACK}, product_class=product_class)
    assert dew_safe_table(of) is None
    line = timeline(case(of), steady(48), np.array([0]))
    assert np.isnan(line.dew_safe[0])
    assert not line.spans[Phase.TO_DEW_SAFE].complete[0]
    assert judge(case(of), steady(48), np.array([0])).verdict(0) is Verdict.UNKNOWN


def test_twice_tack_free_holds_the_film_for_as_long_again() -> None:
    of = product({"tack_free_h": TACK}, product_class="alkyd")
    line = timeline(case(of, 1.0), steady(48), np.array([0]))
    assert (line.tack_free[0], line.dew_safe[0]) == (60.0, 108.0)
    hold = line.spans[Phase.HOLD]
    assert (hold.low[0], hold.high[0], hold.complete[0]) == (60, 108, True)


def test_a_filler_has_nothing_to_hold() -> None:
    line = timeline(case(filler(), 1.0), steady(48), np.array([0]))
    hold = line.spans[Phase.HOLD]
    assert hold.high[0] < hold.low[0]
    assert hold.complete[0]
    assert line.dew_safe[0] == line.tack_free[0] == 84.0


def test_the_end_of_application_is_snapped_onto_the_grid() -> None:
    # 0.7 h are 8.4 steps and stay; 1 h give or take 1e-9 h is 12 steps; 1e-6 h short is not.
    ends = [timeline(case(filler(), h), steady(48), np.array([5])).application_end[0]
            for h in (0.7, 1.0 - 1e-9, 1.0 + 1e-9, 1.0 - 1e-6)]  # fmt: skip
    assert ends[0] == pytest.approx(13.4, abs=1e-12)
    assert ends[1] == ends[2] == 17.0
    assert ends[3] < 17.0


def with_hole(at: int) -> Timeline:
    surface = np.full(300, 20.0)
    surface[at] = NAN
    # Sandable 6 h after half an hour of work: point 78 of a start at 0.
    return timeline(case(filler(), 0.5), series(20.0, 10.0, surface), np.array([0]))


def test_an_event_on_the_last_point_before_a_hole_is_known_and_no_later_one() -> None:
    assert with_hole(79).tack_free[0] == 78.0
    for at in (78, 77, 40, 6, 5, 0):
        line = with_hole(at)
        assert np.isnan(line.tack_free[0])
        assert not line.spans[Phase.TO_TACK_FREE].complete[0]
    assert with_hole(40).spans[Phase.TO_TACK_FREE].high[0] == 39
    assert with_hole(0).spans[Phase.TO_TACK_FREE].high[0] == 0


def test_an_event_between_the_last_point_and_a_hole_is_not_known() -> None:
    # 0.525 h of work: sandable at 78.3, between two points, of which the later one is a hole.
    surface = np.full(300, 20.0)
    surface[79] = NAN
    over = case(filler(), 0.525)
    assert np.isnan(timeline(over, series(20.0, 10.0, surface), np.array([0])).tack_free[0])
    surface[79], surface[80] = 20.0, NAN
    line = timeline(over, series(20.0, 10.0, surface), np.array([0]))
    assert line.tack_free[0] == pytest.approx(78.3, abs=1e-9)
    assert line.spans[Phase.TO_TACK_FREE].high[0] == 78


def test_an_application_past_the_end_is_not_complete() -> None:
    line = timeline(case(filler(), 1.0), steady(1.0), np.array([0, 1]))
    apply = line.spans[Phase.APPLICATION]
    assert apply.complete.tolist() == [True, False]
    assert apply.high.tolist() == [12, 12]


def test_a_blank_induction_leaves_only_the_start() -> None:
    blank = gloss(columns={"induction_h": (NAN,) * len(ROWS), "tack_free_h": TACK})
    line = timeline(case(blank, 1.0), steady(48), np.array([7]))
    apply = line.spans[Phase.APPLICATION]
    assert (apply.low[0], apply.high[0], apply.complete[0]) == (7, 7, False)


def test_a_close_call_below_the_99th_percentile_of_the_spread() -> None:
    # 0.99 quantile of the normal distribution: 2.3263 (tables of the standard normal).
    of = filler(limits=Limits(margin_k=0.0))
    sd = float(margin_sd_k([20.0], steady(1).rh_pct[:1], case(of).spread)[0])
    for standard_errors, verdict in ((2.3262, Verdict.BORDERLINE), (2.3264, Verdict.GO)):
        on = steady(24, surface=10.0 + standard_errors * sd)
        assert judge(case(of, certain=False), on, np.array([0])).verdict(0) is verdict
        assert judge(case(of, certain=True), on, np.array([0])).verdict(0) is Verdict.GO
