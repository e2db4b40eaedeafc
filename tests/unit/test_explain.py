"""Reasons in sentences, milestones, the latest start, and what would turn a verdict."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.climate.series import Series
from advisor.coatings.product import Limits, NextCoat
from advisor.planning import explain
from advisor.planning.case import Case, Previous, Site
from advisor.planning.explain import Reason
from advisor.planning.verdict import Judged, Verdict, judge
from tests.helpers.products import (
    HOUR_S,
    INF,
    MONDAY_S,
    NAN,
    UTC_WORDS,
    barrier,
    case,
    filler,
    gloss,
    product,
    series,
    steady,
)

NOON = np.array([144])


def at_noon(over: Case, on: Series) -> Judged:
    return judge(over, on, NOON)


def reason(judged: Judged, rule: str, j: int = 0) -> Reason:
    return next(r for r in explain.reasons(judged, j, UTC_WORDS) if r.rule == rule)


def turn(judged: Judged, j: int = 0) -> str:
    return explain.what_would_turn(judged, j, UTC_WORDS)


def dip(at: int, to: float, n: int = 600, base: float = 20.0) -> np.ndarray:
    """A steady surface with one cold point."""
    surface = np.full(n, base)
    surface[at] = to
    return surface


# --- reasons ---------------------------------------------------------------------------------


def test_a_go_holds_every_reason_with_its_figures() -> None:
    judged = at_noon(case(gloss()), steady(48))
    assert judged.verdict(0) is Verdict.GO
    told = explain.reasons(judged, 0, UTC_WORDS)
    assert {r.holds for r in told} == {True}
    margin = reason(judged, "margin")
    assert (margin.measured, margin.limit, margin.unit) == (pytest.approx(10.0), 3.0, "K")
    assert margin.whose == "common practice"
    assert margin.phase == "to_tack_free"
    assert margin.text == "above dew point 10.0 K at 12:00, needs 3.0 K (common practice)"


def test_a_broken_reason_comes_first_and_names_the_moment() -> None:
    judged = at_noon(case(gloss()), series(20.0, 11.0, dip(160, 13.5)))
    told = explain.reasons(judged, 0, UTC_WORDS)
    assert (told[0].rule, told[0].holds) == ("margin", False)
    assert told[0].measured == pytest.approx(2.5, abs=1e-9)
    assert told[0].at_s == MONDAY_S + 160 * 300
    assert told[0].text == "above dew point 2.5 K at 13:20, needs 3.0 K (common practice)"


def test_unknown_comes_before_what_holds_and_says_so() -> None:
    judged = at_noon(case(gloss()), series(20.0, 10.0, dip(170, NAN)))
    assert judged.verdict(0) is Verdict.UNKNOWN
    told = explain.reasons(judged, 0, UTC_WORDS)
    order = [r.holds for r in told]
    assert order == sorted(order, key=[False, None, True].index)
    margin = reason(judged, "margin")
    assert margin.holds is None
    assert margin.text.endswith("; not known all the way until tack-free")


def test_nothing_measured_at_all() -> None:
    judged = at_noon(case(gloss()), series(20.0, 10.0, np.full(600, NAN)))
    margin = reason(judged, "margin")
    assert (margin.holds, margin.measured, margin.at_s) == (None, None, None)
    assert margin.text == "the surface or the dew point is not known until tack-free"


def test_a_value_on_the_limit_holds() -> None:
    judged = at_noon(case(gloss()), steady(48, surface=13.0))
    assert reason(judged, "margin").holds is True
    judged = at_noon(case(gloss()), steady(48, surface=13.0 - 1e-6))
    assert reason(judged, "margin").holds is False


def test_blank_cells_are_named() -> None:
    blank = gloss(columns={"pot_life_h": (6.0, NAN, 1.5), "tack_free_h": (8.0, 4.0, 2.0),
                           "tape_dry_h": (16.0, 8.0, 4.0)})  # fmt: skip
    told = explain.reasons(at_noon(case(blank), steady(48)), 0, UTC_WORDS)
    found = next(r for r in told if r.holds is False)
    assert found.rule == "table"
    assert found.text == "pot life is blank in the data sheet for the temperature at 12:00"


def test_outside_the_hours() -> None:
    mask = np.ones(577, dtype=bool)
    mask[150:] = False
    judged = at_noon(case(gloss(), hours_mask=mask), steady(48))
    assert judged.broken(0) == ["hours"]
    assert reason(judged, "hours").text == "outside your hours at 12:30"
    free = at_noon(case(gloss(), hours_mask=np.ones(577, dtype=bool)), steady(48))
    assert reason(free, "hours").text == "inside your hours"


def test_induction_that_eats_the_pot_life() -> None:
    slow = barrier(columns={"induction_h": (2.0, 2.0, 2.0), "pot_life_h": (4.0, 2.0, 1.0),
                            "tack_free_h": (8.0, 4.0, 2.0)})  # fmt: skip
    judged = at_noon(case(slow), steady(48))
    assert judged.broken(0) == ["pot_life"]
    assert reason(judged, "pot_life").text == "induction uses 100% of the pot life at 12:00"
    fine = barrier(columns={"induction_h": (2.0, 1.99, 2.0), "pot_life_h": (4.0, 2.0, 1.0),
                            "tack_free_h": (8.0, 4.0, 2.0)})  # fmt: skip
    assert at_noon(case(fine), steady(48)).broken(0) == []


def test_a_template_is_a_close_call_with_its_reason() -> None:
    judged = at_noon(case(gloss(template=True)), steady(48))
    assert judged.verdict(0) is Verdict.BORDERLINE
    assert judged.cautions(0) == ["data"]
    assert reason(judged, "data").holds is False


# --- the bond --------------------------------------------------------------------------------


def over_barrier(start_h: float, **changes: object) -> Judged:
    laid = Previous(barrier(), MONDAY_S, MONDAY_S)
    over = case(gloss(), 0.0, previous=laid, **changes)
    return judge(over, steady(120), np.array([round(start_h * 12)]))


@pytest.mark.parametrize(
    ("start_h", "verdict", "text"),
    [
        (3.9, Verdict.WAIT, "the coat below has not reached its minimum yet: ready about 04:00"),
        (4.0, Verdict.GO, "ready and bond still open"),
        (24.1, Verdict.WAIT, "the bond has closed: sand"),
    ],
)
def test_bond_sentences(start_h: float, verdict: Verdict, text: str) -> None:
    judged = over_barrier(start_h)
    assert judged.verdict(0) is verdict
    assert reason(judged, "previous_coat").text == text
    assert judged.sand_first(0) == text.endswith("sand")


def test_a_forbidden_pair_and_no_row() -> None:
    laid = Previous(barrier(), MONDAY_S, MONDAY_S)
    alkyd = product({"tack_free_h": (8.0, 4.0, 2.0)}, product_class="alkyd")
    judged = at_noon(case(alkyd, previous=laid), steady(72))
    assert judged.verdict(0) is Verdict.WAIT
    assert reason(judged, "previous_coat").text == (
        "these two do not go together: test patch and barrier coat"
    )
    judged = at_noon(case(filler(), previous=laid), steady(72))
    assert judged.verdict(0) is Verdict.UNKNOWN
    assert "ask the maker" in reason(judged, "previous_coat").text


def doubtful_without_minimum() -> Judged:
    """No minimum on the sheet (unknown) while the maximum is between sure and likely."""
    rows = (NextCoat("two-part-gloss", (), (48.0, 24.0, 12.0)),)
    laid = Previous(barrier(next_coats=rows), MONDAY_S, MONDAY_S)
    surface = np.full(1200, 20.0)
    surface[24:40] = 30.0
    over = case(gloss(), 0.0, previous=laid)
    return judge(over, series(20.0, 10.0, surface), np.array([13 * 12]))


def test_unknown_and_doubtful_at_once_is_told_as_unknown() -> None:
    judged = doubtful_without_minimum()
    assert judged.verdict(0) is Verdict.UNKNOWN
    assert reason(judged, "previous_coat").holds is None
    assert turn(judged).startswith("Find out: ")


# --- milestones ------------------------------------------------------------------------------


def test_milestones_of_a_gloss() -> None:
    found = dict(explain.milestones(at_noon(case(gloss(), 1.5), steady(48)), 0))
    hours = {name: None if at is None else (at - MONDAY_S) / HOUR_S for name, at in found.items()}
    # Applied 12:00-13:30; tack-free 4 h later, tape-dry (so: can take dew) 8 h later.
    assert hours == {
        "mix": 12.0, "first_patch": 12.0, "last_patch": 13.5, "tack_free": 17.5, "dew_safe": 21.5,
    }  # fmt: skip


def test_milestones_of_a_barrier_start_with_its_induction() -> None:
    found = dict(explain.milestones(at_noon(case(barrier(), 1.0), steady(48)), 0))
    hours = [None if at is None else (at - MONDAY_S) / HOUR_S for at in found.values()]
    assert hours == [12.0, 12.25, 13.25, 17.25, 17.25]  # neither gloss nor filler: tack-free


def test_a_filler_is_sandable_instead_of_tack_free() -> None:
    found = explain.milestones(at_noon(case(filler(), 1.0), steady(48)), 0)
    assert [name for name, _ in found] == [
        "mix",
        "first_patch",
        "last_patch",
        "sandable",
        "dew_safe",
    ]
    assert found[3][1] == MONDAY_S + 19 * HOUR_S == found[4][1]


def test_milestones_past_a_hole_are_not_known() -> None:
    judged = at_noon(case(gloss(), 1.0), series(20.0, 10.0, dip(220, NAN)))
    found = dict(explain.milestones(judged, 0))
    assert found["tack_free"] == MONDAY_S + 17 * HOUR_S
    assert found["dew_safe"] is None


# --- the latest start ------------------------------------------------------------------------


def falling() -> Judged:
    """Gloss that may start until the surface comes too near the dew point at 20:00."""
    surface = np.full(600, 20.0)
    surface[240:288] = 12.5  # 2.5 K: over the hold limit, under the margin
    return judge(case(gloss(), 1.0), series(20.0, 10.0, surface), np.arange(144, 300))


def test_latest_start_and_why_not_later() -> None:
    judged = falling()
    # Tack-free comes 1 + 4 h after the start: the point at 19:55 is the last dry one, and
    # tack-free may fall no later than just before 20:00.
    latest = explain.latest_start(judged, 0)
    assert latest == MONDAY_S + 14 * HOUR_S + 55 * 60
    assert judged.verdicts[(14 * 12 + 11) - 144] == Verdict.GO
    assert judged.verdicts[(14 * 12 + 12) - 144] == Verdict.WAIT
    why = explain.why_not_later(judged, 0, UTC_WORDS)
    assert "above dew point 2.5 K at 20:00" in why


def test_no_latest_start_where_there_is_no_end_or_no_start() -> None:
    open_end = judge(case(filler(), 0.0), steady(48), np.arange(0, 100))
    assert explain.latest_start(open_end, 0) is None
    assert explain.why_not_later(open_end, 0, UTC_WORDS) == ""
    judged = falling()
    bad = int(np.flatnonzero(judged.verdicts > Verdict.BORDERLINE)[0])
    assert explain.latest_start(judged, bad) is None
    assert explain.why_not_later(judged, bad, UTC_WORDS) == ""


def test_next_better_start() -> None:
    judged = falling()
    bad = int(np.flatnonzero(judged.verdicts > Verdict.BORDERLINE)[0])
    good = explain.next_better(judged, bad)
    assert good == MONDAY_S + 24 * HOUR_S
    assert explain.next_better(judge(case(gloss()), steady(1)), 0) is None


# --- what would turn it ----------------------------------------------------------------------


def test_a_wait_is_turned_by_the_missing_kelvins_or_a_later_start() -> None:
    on = series(20.0, 11.0, dip(160, 13.5))
    judged = judge(case(gloss(), 1.0), on, np.arange(144, 300))
    assert turn(judged) == "0.5 K more above dew point at 13:20; or start 13:25."


def test_the_change_named_turns_the_verdict() -> None:
    surface = dip(160, 13.5)
    assert judge(case(gloss()), series(20.0, 11.0, surface), NOON).verdict(0) is Verdict.WAIT
    surface[160] += 0.5
    assert judge(case(gloss()), series(20.0, 11.0, surface), NOON).verdict(0) is Verdict.GO


def test_a_wait_with_the_spread_on_names_the_hard_limit() -> None:
    # Ice on the wall: both the limit and the standard errors are missed, the errors by more.
    judged = at_noon(case(gloss(), certain=False), series(20.0, 15.0, dip(160, 11.0)))
    assert judged.verdict(0) is Verdict.WAIT
    assert turn(judged) == "7.0 K more above dew point at 13:20."


def test_a_template_that_waits_names_the_limit_all_the_same() -> None:
    judged = at_noon(case(gloss(template=True)), series(20.0, 11.0, dip(160, 13.5)))
    assert turn(judged) == "0.5 K more above dew point at 13:20."


def test_a_limit_of_zero_is_a_limit() -> None:
    winter = gloss(limits=Limits(surface_temp_c=(0.0, 30.0)), rows=(-10.0, 20.0, 30.0))
    judged = at_noon(case(winter, 1.0), series(5.0, -20.0, dip(150, -1.5, n=2000, base=5.0)))
    assert judged.broken(0) == ["surface_temp"]
    assert turn(judged) == "1.5 K warmer at 12:30."


def test_too_hot_and_too_damp() -> None:
    hot = at_noon(case(gloss()), series(20.0, 10.0, np.full(600, 20.0), hot=dip(146, 34.0)))
    assert turn(hot) == "2.0 K cooler at 12:10."
    damp = at_noon(case(gloss(limits=Limits(rh_pct=(0.0, 50.0)))), steady(48))
    assert "less humidity at 12:00" in turn(damp)
    dry = at_noon(case(gloss(limits=Limits(rh_pct=(60.0, 100.0)))), steady(48))
    assert "more humidity at 12:00" in turn(dry)


def test_two_broken_rules_name_only_the_next_start() -> None:
    mask = np.ones(577, dtype=bool)
    mask[144] = False
    on = series(20.0, 11.0, dip(150, 13.5, n=577))
    judged = judge(case(gloss(), 0.5, hours_mask=mask), on, np.arange(144, 200))
    assert set(judged.broken(0)) == {"hours", "margin"}
    assert turn(judged) == "Start 12:35."
    judged = judge(case(gloss(), 0.5, hours_mask=mask), on, NOON)
    assert turn(judged) == "Nothing in this outlook."


def test_a_go_is_turned_by_a_colder_spot_or_a_later_start() -> None:
    assert turn(falling()).startswith("The coldest spot ")
    assert turn(falling()).endswith(", or a start after 14:55.")
    alone = at_noon(case(gloss()), steady(48, surface=14.5))
    assert turn(alone) == "The coldest spot 1.5 K colder at 12:00."


@pytest.mark.parametrize("asked", ["rising", "falling"])
def test_a_trend_is_no_room_above_the_dew_point(asked: str) -> None:
    site = Site(trend=asked)  # type: ignore[arg-type]
    judged = at_noon(case(gloss(), site=site), steady(48, surface=14.5))
    assert judged.verdict(0) is Verdict.GO
    assert turn(judged) == "The coldest spot 1.5 K colder at 12:00."


def test_an_unknown_asks_for_what_is_missing() -> None:
    judged = at_noon(case(gloss()), series(20.0, 10.0, np.full(600, NAN)))
    assert turn(judged).endswith("not known until the last patch: measure it, or import it.")


def test_hours_not_known_all_the_way_are_not_called_outside() -> None:
    mask = np.ones(150, dtype=bool)
    judged = at_noon(case(gloss(), 1.0, hours_mask=mask), steady(149 / 12))
    found = reason(judged, "hours")
    assert found.holds is None
    assert "outside" not in found.text


def test_a_blank_is_not_claimed_where_it_was_not_met() -> None:
    sheet = gloss(columns={"tack_free_h": (8.0, 4.0, NAN), "tape_dry_h": (16.0, 8.0, 4.0)})
    judged = at_noon(case(sheet, 1.0), steady(149 / 12, surface=20.0))
    found = next(
        r
        for r in explain.reasons(judged, 0, UTC_WORDS)
        if "tack-free" in r.text and r.rule == "table"
    )
    assert found.holds is None
    assert "blank" not in found.text


def test_tests_named() -> None:
    judged = at_noon(case(gloss()), steady(48))
    assert [t.rule for t in explain.tests_named(judged, "margin")] == ["margin"]
    assert explain.tests_named(judged, "nothing") == []


def test_no_word_of_safety_is_promised() -> None:
    for judged in (falling(), doubtful_without_minimum(), over_barrier(24.1)):
        text = " ".join(r.text + r.title for r in explain.reasons(judged, 0, UTC_WORDS))
        assert "safe" not in text.lower()


def test_an_unlimited_bond_is_still_open() -> None:
    rows = (NextCoat("two-part-gloss", (8.0, 4.0, 2.0), (INF, INF, INF), prepare="clean and dry"),)
    laid = Previous(barrier(next_coats=rows), MONDAY_S, MONDAY_S)
    judged = judge(case(gloss(), 0.0, previous=laid), steady(800), np.array([700 * 12]))
    assert reason(judged, "previous_coat").text == "ready and bond still open; clean and dry"
