"""Films already down: tonight's dew, how far short, what carries it, when the next coat bonds."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.climate.series import Series
from advisor.coatings.product import NextCoat, Product
from advisor.planning.job import Area, Coat, Job, Laid
from advisor.work.films import Film, film_tonight
from advisor.work.views import FilmTonight
from tests.helpers.products import (
    HOUR_S,
    MONDAY_S,
    NAN,
    UTC_WORDS,
    barrier,
    filler,
    gloss,
    product,
    series,
    steady,
)

NOW_H = 18.0


def tonight(
    of: Product,
    on: Series,
    *,
    laid_h: tuple[float, float] = (12.0, 14.0),
    now_h: float = NOW_H,
    following: Product | None = None,
    outdoors: bool = False,
    sanded: bool = False,
    reverse: bool = False,
    next_pace: float | None = None,
) -> FilmTonight:
    laid = Laid(*(MONDAY_S + h * HOUR_S for h in laid_h))
    coat = Coat("c1", "first gloss", "hull", of.id, 8.0, laid=laid)
    area = Area("hull", "hull", 16.0, outdoors=outdoors)
    above = () if next_pace is None else (Coat("c2", "second", "hull", "x", next_pace),)
    job = Job("j", "job", "shed", "UTC", (area,), (coat, *above))
    film = Film(coat, laid, of, following, sanded, reverse)
    return film_tonight(job, film, on, UTC_WORDS, MONDAY_S + now_h * HOUR_S)


def night(surface_c: float, from_h: float, to_h: float, dew: float = 10.0) -> Series:
    """A steady 20 °C with one cooler stretch."""
    surface = np.full(72 * 12 + 1, 20.0)
    surface[round(from_h * 12) : round(to_h * 12) + 1] = surface_c
    return series(20.0, dew, surface)


def hours(at_s: float | None) -> float | None:
    return None if at_s is None else (at_s - MONDAY_S) / HOUR_S


def test_a_mild_night_leaves_it_alone() -> None:
    found = tonight(gloss(), steady(72))
    # Laid off at 14:00: tack-free 4 h, tape-dry and so dew-proof 8 h later.
    assert hours(found.tack_free_s) == 18.0
    assert hours(found.dew_safe_s) == 22.0
    assert (found.wet_at_s, found.short_by_h, found.carry_k) == (None, None, None)
    assert not found.trouble
    assert found.headline == "Can take dew from 22:00"
    assert found.advice == "The night leaves it alone: nothing to do."


def test_dew_before_it_can_take_it() -> None:
    # Wet from 21:00; at 9.5 °C the film stands still under its lowest row, until 23:00.
    found = tonight(gloss(), night(9.5, 21.0, 23.0))
    assert found.trouble
    assert hours(found.wet_at_s) == 21.0
    # Point 20:55 runs, the step into the pause and out of it at half rate: 7 h by 21:00 less
    # half a step, the rest after 23:00.
    assert hours(found.dew_safe_s) == pytest.approx(24 + 5 / 60, abs=1e-6)
    assert found.short_by_h == pytest.approx(3 + 5 / 60, abs=1e-6)
    assert found.headline == "Wet at 21:00, 3 h 5 min before it can take dew"


def test_how_much_warmth_carries_it_and_until_when() -> None:
    found = tonight(gloss(), night(11.0, 20.0, 23.0))  # 1 K over the dew point, 2 K to hold
    assert found.wet_at_s is None
    assert found.carry_k == pytest.approx(1.0, abs=1e-9)
    assert hours(found.carry_until_s) == 23.0
    assert found.advice == (
        "Cover it clear of the film, or keep the surface 1.0 K warmer until 23:05."
    )


def test_the_cold_after_it_can_take_dew_does_not_matter() -> None:
    found = tonight(gloss(), night(5.0, 22.5, 40.0))
    assert hours(found.dew_safe_s) == 22.0
    assert (found.wet_at_s, found.carry_k, found.trouble) == (None, None, False)


def test_the_cold_before_now_is_past() -> None:
    found = tonight(gloss(), night(11.0, 14.5, 15.0), now_h=18.0)
    assert found.carry_k is None


def test_already_able_to_take_dew() -> None:
    found = tonight(gloss(), steady(72), now_h=23.0)
    assert found.headline == "Could take dew from 22:00"
    assert not found.trouble


@pytest.mark.parametrize("hole_h", [16.0, 20.0])
def test_a_hole_ahead_means_cannot_tell(hole_h: float) -> None:
    surface = np.full(72 * 12 + 1, 20.0)
    surface[round(hole_h * 12)] = NAN
    found = tonight(gloss(), series(20.0, 10.0, surface), now_h=15.0)
    assert found.dew_safe_s is None
    assert (found.tack_free_s is None) == (hole_h < 18.0)
    assert found.trouble
    assert found.headline.startswith("Can't tell")
    assert "leaves it alone" not in found.advice


def test_the_series_ends_too_early() -> None:
    found = tonight(gloss(), steady(20), now_h=15.0)
    assert found.dew_safe_s is None
    assert found.trouble


def test_a_film_from_before_the_series() -> None:
    found = tonight(gloss(), steady(72), laid_h=(-9.0, -8.0))
    assert (found.tack_free_s, found.dew_safe_s) == (None, None)
    assert found.trouble


def test_wet_while_it_is_not_known_when_it_can_take_dew() -> None:
    surface = np.full(72 * 12 + 1, 20.0)
    surface[19 * 12 : 20 * 12] = 8.0
    surface[21 * 12 :] = NAN
    found = tonight(gloss(), series(20.0, 10.0, surface))
    assert hours(found.wet_at_s) == 19.0
    assert found.short_by_h is None
    assert found.headline == "Wet at 19:00"
    assert found.carry_k == pytest.approx(4.0, abs=1e-9)


def test_a_filler_is_done_when_it_can_be_sanded() -> None:
    found = tonight(filler(), steady(72))
    assert hours(found.tack_free_s) == hours(found.dew_safe_s) == 20.0


def test_it_never_takes_dew_before_it_is_tack_free() -> None:
    odd = product({"tack_free_h": (8.0, 4.0, 2.0), "dew_safe_h": (2.0, 1.0, 0.5)})
    found = tonight(odd, steady(72))
    assert hours(found.tack_free_s) == hours(found.dew_safe_s) == 18.0


def test_a_gloss_without_tape_dry_cannot_tell() -> None:
    found = tonight(gloss(columns={"tack_free_h": (8.0, 4.0, 2.0)}), steady(72))
    assert hours(found.tack_free_s) == 18.0
    assert found.dew_safe_s is None
    assert found.trouble


# --- the next coat ---------------------------------------------------------------------------


def test_the_next_coat_from_the_last_patch_until_the_first() -> None:
    found = tonight(barrier(), steady(72), following=gloss())
    # Minimum 4 h after the last patch at 14:00; maximum 24 h after the first at 12:00.
    assert hours(found.next_from_s) == 18.0
    assert hours(found.next_until_s) == 36.0
    assert hours(found.next_likely_s) == 36.0
    assert found.next_text.startswith("Next coat since 18:00, bond sure until Tue 12:00")


def test_between_sure_and_likely() -> None:
    surface = np.full(72 * 12 + 1, 20.0)
    surface[15 * 12 : 16 * 12 + 1] = 30.0  # a sustained hour: 12 h are sure, more is likely
    found = tonight(barrier(), series(20.0, 10.0, surface), following=gloss())
    assert hours(found.next_until_s) == 24.0
    likely = hours(found.next_likely_s)
    # By the clock one extra hour's worth is gone: 24 h less 13 steps.
    assert likely == pytest.approx(36 - 13 / 12, abs=1e-9)
    assert "then sand first" in found.next_text


def test_the_bond_closed_already() -> None:
    found = tonight(barrier(), steady(72), now_h=40.0, following=gloss())
    assert found.next_text == "The bond closed at Tue 12:00: sand first."


def test_nothing_follows_or_the_sheet_is_silent() -> None:
    assert tonight(gloss(), steady(72)).next_text == "Last coat on this area."
    silent = tonight(filler(), steady(72), following=gloss())
    assert silent.next_from_s is None
    assert silent.next_text == "Next coat: can't tell from the data sheet and the outlook."


def test_a_forbidden_pair_says_so() -> None:
    alkyd = product({"tack_free_h": (8.0, 4.0, 2.0)}, product_class="alkyd")
    found = tonight(barrier(), steady(72), following=alkyd)
    assert found.next_from_s is None
    assert found.next_text == (
        "Next coat: these two do not go together: test patch and barrier coat."
    )


def test_no_minimum_on_the_sheet_is_never_ready() -> None:
    rows = (NextCoat("two-part-gloss", (), (48.0, 24.0, 12.0)),)
    found = tonight(barrier(next_coats=rows), steady(72), following=gloss())
    assert found.next_from_s is None


def test_without_a_maximum_the_bond_stays_open() -> None:
    rows = (NextCoat("two-part-gloss", (8.0, 4.0, 2.0)),)
    found = tonight(barrier(next_coats=rows), steady(72), following=gloss())
    assert (hours(found.next_from_s), found.next_until_s, found.next_likely_s) == (18.0, None, None)
    assert found.next_text == "Next coat since 18:00."


def test_sanding_since_leaves_no_maximum() -> None:
    found = tonight(barrier(), steady(72), now_h=40.0, following=gloss(), sanded=True)
    assert (hours(found.next_from_s), found.next_until_s, found.next_likely_s) == (18.0, None, None)
    assert found.next_text == "Next coat since 18:00."


def test_a_coat_in_reverse_must_begin_earlier() -> None:
    # The first patch, painted at 12:00, is reached 2 h after the start: 24 h less 2 h.
    found = tonight(barrier(), steady(72), following=gloss(), reverse=True)
    assert hours(found.next_from_s) == 18.0
    assert hours(found.next_until_s) == hours(found.next_likely_s) == 34.0


def test_a_slower_coat_must_begin_earlier() -> None:
    # 16 m² at 2 m²/h: the last patch, painted at 14:00, is reached 8 h after the start.
    found = tonight(barrier(), steady(72), following=gloss(), next_pace=2.0)
    assert hours(found.next_until_s) == 30.0
    slow_back = tonight(barrier(), steady(72), following=gloss(), next_pace=2.0, reverse=True)
    assert hours(slow_back.next_until_s) == 28.0


def test_a_film_older_than_the_series_whose_bond_surely_closed() -> None:
    # At most 48 h, the lowest row, from the first patch.
    old = {"laid_h": (-9.0, -8.0), "following": gloss()}
    found = tonight(barrier(), steady(72), now_h=39.0, **old)
    assert found.next_text == "The bond closed at Tue 15:00: sand first."
    assert "can't tell" in tonight(barrier(), steady(72), now_h=38.9, **old).next_text
    sanded = tonight(barrier(), steady(72), now_h=39.0, sanded=True, **old)
    assert "can't tell" in sanded.next_text


# --- what is not known, and rain --------------------------------------------------------------


def test_an_unknown_dew_point_is_no_dry_night() -> None:
    dew = np.full(72 * 12 + 1, 10.0)
    dew[19 * 12 : 20 * 12] = NAN
    found = tonight(gloss(), series(20.0, dew, 20.0))
    assert hours(found.dew_safe_s) == 22.0
    assert (found.wet_at_s, found.trouble) == (None, True)
    assert found.headline == "Can't tell whether it stays dry until 22:00, when it can take dew"
    assert found.advice == "Missing: dew point from 19:00."


@pytest.mark.parametrize(("first_h", "last_h"), [(15.0, 17.9), (22.1, 40.0)])
def test_a_dew_point_unknown_before_now_or_later_does_not_matter(
    first_h: float, last_h: float
) -> None:
    dew = np.full(72 * 12 + 1, 10.0)
    dew[round(first_h * 12) : round(last_h * 12) + 1] = NAN
    found = tonight(gloss(), series(20.0, dew, 20.0))
    assert not found.trouble
    assert found.advice == "The night leaves it alone: nothing to do."


def test_no_dew_point_at_all_is_unknown_from_now() -> None:
    found = tonight(gloss(), series(np.full(72 * 12 + 1, 20.0), NAN, 20.0))
    assert found.advice == "Missing: dew point from 18:00."


def test_what_is_wet_for_certain_is_told_though_more_is_missing() -> None:
    dew = np.full(72 * 12 + 1, 10.0)
    dew[19 * 12 : 20 * 12] = NAN
    dew[21 * 12] = 20.0
    found = tonight(gloss(), series(20.0, dew, 20.0))
    assert found.headline == "Wet at 21:00, 1 h before it can take dew"
    assert found.advice.startswith("Cover it clear of the film, or keep the surface 2.0 K warmer")
    assert found.advice.endswith(" Missing: dew point from 19:00.")


def test_a_hole_ahead_is_named() -> None:
    surface = np.full(72 * 12 + 1, 20.0)
    surface[20 * 12] = NAN
    found = tonight(gloss(), series(20.0, 10.0, surface))
    assert found.advice == "Missing: surface temperature from 20:00."


@pytest.mark.parametrize(
    ("of", "on", "laid_h", "missing"),
    [
        (gloss(), steady(20), (12.0, 14.0), "the outlook after 20:00"),
        (gloss(), steady(72), (-9.0, -8.0), "surface temperature since it was laid"),
        (
            gloss(columns={"tack_free_h": (8.0, 4.0, 2.0)}),
            steady(72),
            (12.0, 14.0),
            "when it can take dew, on the data sheet",
        ),
    ],
)
def test_why_it_cannot_be_told_when_it_can_take_dew(
    of: Product, on: Series, laid_h: tuple[float, float], missing: str
) -> None:
    assert tonight(of, on, laid_h=laid_h).advice == f"Missing: {missing}."


def rainy(mm: float, at_h: float) -> Series:
    rain = np.zeros(72 * 12 + 1)
    rain[round(at_h * 12)] = mm
    return series(np.full(len(rain), 20.0), 10.0, 20.0, rain=rain)


def test_rain_outdoors_is_wet() -> None:
    found = tonight(gloss(), rainy(0.2, 20.0), outdoors=True)
    assert hours(found.wet_at_s) == 20.0
    assert found.short_by_h == pytest.approx(2.0, abs=1e-9)
    assert found.trouble
    assert found.headline == "Rain at 20:00, 2 h before it can take dew"
    assert found.advice == "Cover it clear of the film before the rain at 20:00."


@pytest.mark.parametrize(("mm", "at_h"), [(0.05, 20.0), (5.0, 17.0), (5.0, 22.5)])
def test_a_trace_of_rain_or_rain_at_another_time_is_none(mm: float, at_h: float) -> None:
    found = tonight(gloss(), rainy(mm, at_h), outdoors=True)
    assert (found.wet_at_s, found.trouble) == (None, False)


def test_rain_on_the_roof_does_not_matter() -> None:
    assert not tonight(gloss(), rainy(5.0, 20.0)).trouble
    assert not tonight(gloss(), steady(72)).trouble


def test_rain_outdoors_that_nobody_knows_of_is_unknown() -> None:
    found = tonight(gloss(), steady(72), outdoors=True)
    assert found.headline.startswith("Can't tell")
    assert found.trouble
    assert found.advice == "Missing: rain from 18:00."
    some = tonight(gloss(), rainy(NAN, 21.0), outdoors=True)
    assert some.advice == "Missing: rain from 21:00."
