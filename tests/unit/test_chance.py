"""Chances of a start by the outlook: what they count, what they do to a verdict, how it is told."""

from __future__ import annotations

import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.coatings.product import Limits, Product, Times
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning.case import Case, Site
from advisor.planning.chance import chances, chances_of_all, weakest
from advisor.planning.courses import lay
from advisor.planning.explain import reasons
from advisor.planning.limits import Share
from advisor.planning.verdict import Verdict, judge
from advisor.planning.windows import closes_because, windows
from advisor.planning.words import Words
from advisor.work.coat_setup import CoatSetup
from advisor.work.windows import find_windows

N = 288
AHEAD = 72  # courses from hour 6 to 24, every quarter of an hour
START_S = 6 * 3600
STARTS = START_S + 900 * np.arange(AHEAD)
WORDS = Words("metric", ZoneInfo("UTC"))


def product(margin_k: float = 3.0) -> Product:
    """Half an hour to tack-free and to taking dew, at any temperature."""
    times = Times((20.0,), {"tack_free_h": (0.5,)})
    limits = Limits(margin_k=margin_k, hold_margin_k=min(margin_k, 2.0))
    return Product("p", "p", "epoxy-barrier", "from data sheet", limits, times)


def central(margin: float = 8.0, **more: object) -> Series:
    """A day at 20 °C."""
    air = np.full(N, 20.0)
    return Series(0, air, air - margin, air, **more)  # type: ignore[arg-type]


def outlook(good: int, of: int = 200, bad_k: float = 2.5, good_k: float = 8.0) -> Scenarios:
    """Courses at 20 °C: so many with a good margin all along, the others with a bad one."""
    air = np.full((of, AHEAD), 20.0)
    margin = np.where(np.arange(of) < good, good_k, bad_k)[:, np.newaxis]
    return Scenarios(START_S, 900, air, air - margin, air)


CASE = Case(product(), 0.25)


@pytest.mark.parametrize(
    ("good", "verdict"),
    [(200, Verdict.GO), (180, Verdict.GO), (179, Verdict.BORDERLINE), (0, Verdict.BORDERLINE)],
)
def test_nine_in_ten_is_enough_for_a_go_and_less_is_a_close_call(good, verdict):
    judged = judge(CASE, central(), np.array([100]), outlook(good))
    assert judged.verdict(0) is verdict
    assert judged.chance(0) == good / 200


def test_dry_is_the_mean_of_the_normal_chance_over_the_courses():
    scenarios = outlook(100, bad_k=0.5, good_k=1.5)
    found = chances(replace(CASE, product=product(0.0)), lay(scenarios, central()), STARTS[:1])
    one = [
        0.5 * (1 + math.erf(m / _sd(m) / math.sqrt(2)))
        for m in (scenarios.surface_temp_c - scenarios.dew_point_c)[[0, 199], 0]
    ]
    # exact but for rounding: two values, a hundred courses each
    assert found.dry[0] == pytest.approx(sum(one) / 2, abs=1e-12)
    assert found.holds[0] == 1.0


def _sd(margin: float) -> float:
    one = central(margin)
    return float(margin_sd_k(one.air_temp_c[:1], one.rh_pct[:1], CASE.spread)[0])


def test_a_go_needs_ninety_nine_in_a_hundred_to_stay_dry_with_the_sensors_error():
    case, at = replace(CASE, product=product(0.0)), np.array([100])
    wet = judge(case, central(), at, outlook(198, bad_k=0.0))  # at zero half the sensors say wet
    wetter = judge(case, central(), at, outlook(195, bad_k=0.0))
    assert wet.verdict(0) is Verdict.GO
    assert wetter.verdict(0) is Verdict.BORDERLINE
    assert wetter.cautions(0) == ["margin"]


def test_where_courses_tell_the_central_standard_errors_are_left_aside():
    case, at = replace(CASE, product=product(0.0)), np.array([100])
    assert judge(case, central(1.0), at).verdict(0) is Verdict.BORDERLINE
    judged = judge(case, central(1.0), at, outlook(200))
    assert judged.verdict(0) is Verdict.GO
    assert not [r for r in reasons(judged, 0, WORDS) if "standard errors" in r.text]


def test_what_cannot_be_told_in_a_course_does_not_hold_there():
    whole = outlook(200)
    holes = np.where(np.arange(200)[:, np.newaxis] < 30, np.nan, whole.surface_temp_c)
    found = chances(CASE, lay(replace(whole, surface_temp_c=holes), central()), STARTS)
    assert found.holds[0] == found.dry[0] == pytest.approx(0.85)  # 170 of 200, by rounding
    assert found.holds[-1] == 0.0  # the outlook ends before the film is dry


def test_a_start_between_two_points_has_the_worse_chance_of_both():
    scenarios = outlook(200)
    scenarios.dew_point_c[:50, 30] = 18.0  # one damp point in a quarter of the courses
    courses = lay(scenarios, central())
    times = STARTS[0] + 300 * np.arange(3 * AHEAD - 2)
    found, on_grid = chances(CASE, courses, times), chances(CASE, courses, STARTS)
    assert on_grid.holds[30] == on_grid.holds[27] == 0.75
    assert on_grid.holds[31] == on_grid.holds[26] == 1.0
    for i, share in enumerate(found.holds):
        assert share == min(on_grid.holds[i // 3], on_grid.holds[-(-i // 3)])


def test_before_the_first_course_there_is_no_chance_but_the_instruments():
    at = np.array([START_S // 300 - 3, START_S // 300 - 2])  # 15 and 10 minutes before
    judged = judge(CASE, central(), at, outlook(100))
    assert judged.chance(0) is None
    assert judged.verdict(0) is Verdict.GO
    assert judged.chance(1) == 0.5


def test_certain_leaves_the_courses_aside():
    judged = judge(replace(CASE, certain=True), central(), np.array([100]), outlook(0))
    assert judged.verdict(0) is Verdict.GO
    assert judged.chance(0) is None
    assert judged.chances is None


def test_without_scenarios_nothing_is_added():
    judged = judge(CASE, central(), np.array([100]))
    assert judged.chance(0) is None
    assert not [test for test in judged.tests if isinstance(test, Share)]


def test_a_close_call_by_chance_says_so_in_plain_words():
    judged = judge(CASE, central(), np.array([100]), outlook(165))
    said = next(r for r in reasons(judged, 0, WORDS) if "courses; 90" in r.text)
    assert said.text == (
        "holds in 82 of 100 of the outlook's courses; 90 asked; "
        "most often it fails on the dew point before it is tack-free"
    )
    assert (said.rule, said.holds, said.measured, said.limit) == ("margin", False, 0.825, 0.9)
    assert judged.cautions(0) == ["margin"]


def test_a_miss_by_a_hair_is_not_rounded_up_to_what_is_asked():
    judged = judge(CASE, central(), np.array([100]), outlook(179))
    assert any("holds in 89 of 100" in r.text for r in reasons(judged, 0, WORDS))


def test_the_weakest_rule_is_the_one_that_fails_most_often():
    scenarios = outlook(190)  # the margin fails in 10
    air = np.where(np.arange(200)[:, np.newaxis] >= 150, 36.0, scenarios.air_temp_c)  # in 50
    limits = replace(product().limits, air_temp_c=(5.0, 35.0))
    case = replace(CASE, product=replace(product(), limits=limits))
    courses = lay(replace(scenarios, air_temp_c=air), central())
    assert weakest(case, courses, STARTS[:2]) == ["air_temp", "air_temp"]
    assert weakest(CASE, lay(scenarios, central()), STARTS[:1]) == ["margin"]


def test_a_window_tells_its_lowest_chance_and_what_ends_it():
    scenarios = outlook(200)
    scenarios.dew_point_c[:60, 30:] = 17.5  # from 13:30 on every third course or so is damp
    setup = CoatSetup(product(), 0.25)
    found = find_windows(setup, central(), START_S, 0.5, lay(scenarios, central()))
    first, second = found.windows[:2]
    assert (first.verdict, first.chance, first.closes_because) == (Verdict.GO, 1.0, "margin")
    assert (second.verdict, second.chance) == (Verdict.BORDERLINE, 0.7)
    runs = windows(found.judged)
    assert closes_because(found.judged, runs[0]) == "margin"


def test_hours_and_wind_of_the_central_series_hold_in_every_course():
    day = central(wind_m_s=np.where(np.arange(N) < 150, 2.0, 9.0), rain_mm=np.zeros(N))
    case = Case(product(), 0.25, site=Site(outdoors=True, wind_limit_m_s=8.0),
                hours_mask=np.arange(N) >= 96)  # fmt: skip
    found = chances(case, lay(outlook(200), day), STARTS)
    at = {hour: found.holds[int((hour - 6) * 4)] for hour in (7.75, 8.0, 11.5, 12.0)}
    assert at == {7.75: 0.0, 8.0: 1.0, 11.5: 1.0, 12.0: 0.0}


def test_several_coats_side_by_side_get_the_same_chances():
    scenarios = outlook(150)
    others = [CASE, replace(CASE, apply_h=2.0), replace(CASE, product=product(2.0))]
    together = chances_of_all(others, lay(scenarios, central()), STARTS)
    for case, found in zip(others, together, strict=True):
        alone = chances(case, lay(scenarios, central()), STARTS)
        assert found.holds.tolist() == alone.holds.tolist()
        assert found.dry.tolist() == alone.dry.tolist()


@pytest.mark.parametrize(("start_s", "step_s"), [(START_S + 100, 900), (START_S, 700), (0, 1000)])
def test_grids_that_do_not_fit_are_our_bug(start_s, step_s):
    with pytest.raises(ValueError, match="scenario"):
        lay(replace(outlook(1), start_s=start_s, step_s=step_s), central())


# --- sun on the patch --------------------------------------------------------------------

NOON = (np.abs(np.arange(N) - 144) <= 24).astype(float)  # 10:00 to 14:00


def in_sun(series: Series, asked: bool | None = None, *, outdoors: bool = True) -> list[str]:
    """Verdicts on the hour from 8 to 15 for a coat that takes a quarter of an hour."""
    site = Site(outdoors=outdoors, keep_out_of_sun=asked)
    judged = judge(Case(product(), 0.25, site=site, certain=True), series, 12 * np.arange(8, 16))
    return [judged.verdict(j).json for j in range(8)]


def test_no_coat_goes_on_in_direct_sun_outdoors():
    day = central(rain_mm=np.zeros(N), sun_on_patch=NOON)
    waits = ["go", "go", *["wait"] * 5, "go"]
    assert in_sun(day) == in_sun(day, asked=True) == waits
    assert in_sun(day, asked=False) == in_sun(day, outdoors=False) == ["go"] * 8


def test_sun_that_nobody_can_tell_is_asked_for_only_where_shade_was_asked_for():
    day = central(rain_mm=np.zeros(N))
    assert in_sun(day) == in_sun(day, asked=False) == ["go"] * 8
    assert in_sun(day, asked=True) == ["unknown"] * 8
    hole = np.where(np.arange(N) < 120, np.nan, 0.0)
    assert in_sun(replace(day, sun_on_patch=hole)) == ["unknown"] * 2 + ["go"] * 6


def test_sun_is_told_in_words():
    day = central(rain_mm=np.zeros(N), sun_on_patch=NOON)
    judged = judge(Case(product(), 0.25, site=Site(outdoors=True)), day, np.array([117, 160]))
    told = [r for j in (0, 1) for r in reasons(judged, j, WORDS) if r.rule == "sun"]
    assert [r.holds for r in told] == [False, False]
    assert "sun on the patch at" in told[0].text
    assert told[0].title == "Out of the sun"
