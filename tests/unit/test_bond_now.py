"""The bond with the coat below when only the hours since are known, not the surface."""

from __future__ import annotations

import pytest

from advisor.coatings.product import Limits, NextCoat, Product
from advisor.planning.case import Previous
from advisor.planning.explain import Reason
from advisor.planning.verdict import Verdict
from advisor.work.check_now import check_now
from advisor.work.coat_setup import CoatSetup
from advisor.work.views import Reading
from tests.helpers.products import HOUR_S, INF, MONDAY_S, NAN, UTC_WORDS, gloss, product

#: Lowest row where no shop gets to, so that this minimum never stands still.
ARCTIC = (-40.0, 20.0)
NO_MAXIMUM = (INF, INF)


def under(
    min_h: tuple[float, ...],
    max_h: tuple[float, ...],
    rows: tuple[float, ...] = ARCTIC,
    limits: Limits | None = None,
) -> Product:
    row = NextCoat("two-part-gloss", min_h, max_h)
    columns = {"tack_free_h": tuple(1.0 for _ in rows)}
    return product(columns, rows=rows, limits=limits, next_coats=(row,))


def told(
    below: Product, hours: float, *, sanded: bool = False, surface_c: float = 20.0
) -> tuple[Verdict, bool, Reason]:
    """Answer for a coat on a small patch some hours after the one below."""
    painted = MONDAY_S - hours * HOUR_S
    setup = CoatSetup(
        gloss(), previous=Previous(below, painted, painted, sanded=sanded), certain=True
    )
    answer = check_now(setup, Reading(MONDAY_S, 20.0, 50.0, surface_c), UTC_WORDS, now_s=MONDAY_S)
    reason = next(r for r in answer.reasons if r.rule == "previous_coat")
    return answer.verdict, answer.sand_first, reason


def test_a_minimum_that_cannot_stand_still_is_over_after_its_lowest_row() -> None:
    assert told(under((8.0, 4.0), NO_MAXIMUM), 8.0)[0] is Verdict.GO
    assert told(under((8.0, 4.0), NO_MAXIMUM), 7.9)[0] is Verdict.UNKNOWN
    assert told(under((8.0, 4.0), NO_MAXIMUM), 3.9)[0] is Verdict.WAIT


@pytest.mark.parametrize("hours", [8.0, 100.0, 10_000.0])
@pytest.mark.parametrize(
    "below",
    [
        under((8.0, 4.0), NO_MAXIMUM, rows=(10.0, 20.0)),  # stands still under 10 °C
        under((8.0, 4.0), NO_MAXIMUM, limits=Limits(cure_min_c=5.0)),  # and here under 5 °C
        under((8.0,), (INF,), rows=(20.0,)),  # one row: twice as long for every 10 K
    ],
)
def test_elsewhere_no_number_of_hours_proves_a_minimum(below: Product, hours: float) -> None:
    verdict, _, reason = told(below, hours)
    assert (verdict, reason.holds) == (Verdict.UNKNOWN, None)
    assert "the surface since the coat below is not known: give a log" in reason.text


def test_waiting_is_not_advised_where_the_bond_may_close() -> None:
    closing = under((8.0, 4.0), (200.0, 100.0), rows=(10.0, 20.0))
    assert told(closing, 10.0)[2].text.endswith("give a log")
    assert told(closing, 10.0, sanded=True)[2].text.endswith("give a log, or wait longer")


def test_a_bond_is_surely_open_only_while_no_heat_could_have_closed_it() -> None:
    # 64 h at the top row of 20 °C, halved per 10 K: 1 h at 80 °C.
    below = under((0.0, 0.0), (128.0, 64.0))
    assert told(below, 1.0)[0] is Verdict.GO
    assert told(below, 1.1)[0] is Verdict.UNKNOWN
    assert told(below, 128.0)[:2] == (Verdict.UNKNOWN, False)
    assert told(below, 128.1)[:2] == (Verdict.WAIT, True)
    assert told(below, 128.1, sanded=True)[0] is Verdict.GO


def test_a_single_row_runs_out_later_in_the_cold() -> None:
    below = under((8.0,), (48.0,), rows=(20.0,))
    # 48 h at 20 °C, twice as long per 10 K colder: 3072 h at -40 °C.
    assert told(below, 3000.0)[:2] == (Verdict.UNKNOWN, False)
    assert told(below, 3100.0)[:2] == (Verdict.WAIT, True)


def test_a_blank_maximum_is_never_sure() -> None:
    below = under((0.0, 0.0), (NAN, 64.0))
    assert told(below, 0.5)[0] is Verdict.UNKNOWN
    assert told(below, 10_000.0)[0] is Verdict.UNKNOWN
