"""What if: the same week under a change, its hours, its kWh, its cautions; the wet floor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.shop.shop import Change
from advisor.coatings.product import Limits
from advisor.planning.verdict import Verdict
from advisor.work.cheapest import cheapest, may_suggest
from advisor.work.damp_floor import damp_floor
from advisor.work.what_if import Setting, go_hours, what_if
from tests.helpers.products import HOUR_S
from tests.helpers.shop_week import NOW_S, keen_gloss, outdoor, setting


def later(hours: float) -> float:
    return NOW_S + hours * HOUR_S


@pytest.fixture(scope="module")
def shed() -> Setting:
    """Cold for the coat at night: 12 °C ± 4 K outdoors."""
    return setting()


@pytest.fixture(scope="module")
def cold() -> Setting:
    """Never warm enough: 3 °C ± 2 K outdoors."""
    return setting(outdoor(3.0, 2.0, 0.0))


# --- the same chain -------------------------------------------------------------------------


def test_nothing_changed_is_the_week_as_it_is(shed: Setting) -> None:
    found = what_if(shed, Change())
    for lane, now in zip(found.week.lanes, shed.now.lanes, strict=True):
        assert (lane.judged.verdicts == now.judged.verdicts).all()
    assert (found.go_h, found.kwh, found.notes) == (found.go_h_now, 0.0, ())
    assert found.gained_h == (("coat-0", 0.0), ("coat-1", 0.0))
    assert found.text == "nothing changed: as many hours to start in, no energy"


def test_hours_are_the_verdicts_counted(shed: Setting) -> None:
    lane = shed.now.lanes[0]
    good = sum(lane.judged.verdict(j) in (Verdict.GO, Verdict.BORDERLINE)
               for j in range(len(lane.judged.verdicts)))  # fmt: skip
    assert 0 < good < len(lane.judged.verdicts)
    assert go_hours(lane) == pytest.approx(good / 12)


def test_heat_opens_a_cold_week(cold: Setting) -> None:
    found = what_if(cold, Change(heater_kw=4.0))
    assert found.go_h_now == 0.0
    assert found.go_h > 20.0
    assert sum(hours for _, hours in found.gained_h) == pytest.approx(found.go_h)
    # A week of 4 kW, less the first step of the grid at most.
    assert found.kwh == pytest.approx(4.0 * 7 * 24, abs=1.1)
    assert "kWh of electricity" in found.text


def test_the_surface_follows_the_air_it_is_in(shed: Setting) -> None:
    found = what_if(shed, Change(heater_kw=3.0))
    was, now = shed.now.series, found.week.series
    air, surface = now.air_temp_c - was.air_temp_c, now.surface_temp_c - was.surface_temp_c
    assert (surface[12:] < air[12:] + 0.5).all()
    assert surface[0] == 0.0
    assert surface[48:].min() > 1.0


def test_energy_counts_the_minutes_it_runs(shed: Setting) -> None:
    change = Change(heater_kw=2.0, from_s=later(3.1), until_s=later(5.35))
    assert what_if(shed, change).kwh == pytest.approx(4.5)
    flued = replace(change, heater_kind="vented")
    found = what_if(shed, flued)
    assert found.kwh == pytest.approx(4.5 / 0.85)
    assert "kWh of fuel" in found.text


def test_a_dehumidifier_draws_only_what_it_runs() -> None:
    damp, dry = setting(outdoor(20.0, 2.0, 17.0)), setting(outdoor(20.0, 2.0, 2.0))
    change = Change(dehumidifier_l_per_day=20.0)
    assert what_if(damp, change).kwh == pytest.approx(0.36 * 168, rel=0.02)
    assert what_if(dry, change).kwh < 1.0


def test_work_in_the_open_stays_as_it_is() -> None:
    found = what_if(setting(outdoors=True), Change(heater_kw=9.0))
    assert found.go_h == found.go_h_now


def test_a_change_that_makes_it_worse_says_so() -> None:
    at = setting(outdoor(14.0, 3.0, 9.0))
    found = what_if(at, Change(damp_litres=100.0, damp_m2=50.0))
    assert found.go_h < found.go_h_now
    assert "fewer to start in" in found.text


def test_us_readers_get_their_own_units(shed: Setting) -> None:
    """Gallon 3.785412 L, foot 0.3048 m, pound 0.45359237 kg: exact by definition."""
    words = replace(shed.week.words, units="us")
    setting = replace(shed, week=replace(shed.week, words=words))
    change = Change(1.0, "unvented", 20.0, 1.0, 8.0, 20.0, 30.0)
    found = what_if(setting, change)
    # 20 L/day = 5.3 gal/day, 8 L = 2.11 US gal, 20 m² = 215 ft², 30 m³ = 1059 ft³.
    assert found.text.startswith(
        "unvented heater 1 kW + dehumidifier 5.3 gal/day + 2.11 US gal on 215 ft² of floor + "
        "tent of 1059 ft³ round the work: "
    )
    told = " ".join(found.notes)
    # A kilowatt of propane makes 0.13 kg of water an hour: 0.28 lb.
    assert "0.28 lb of water an hour" in told
    assert "kg" not in told
    assert " m³" not in found.text


def test_what_cannot_be_is_refused(shed: Setting) -> None:
    with pytest.raises(RangeError, match="heater_kw"):
        what_if(shed, Change(heater_kw=1e6))


# --- cautions -------------------------------------------------------------------------------


def test_an_unvented_heater_is_shown_with_what_it_brings(shed: Setting) -> None:
    notes = " ".join(what_if(shed, Change(heater_kw=4.0, heater_kind="unvented")).notes)
    told = ("0.51 kg of water an hour", "ppm", "amine blush", "Carbon monoxide",
            "No flame near solvent vapour", "maker's data sheet and local codes")  # fmt: skip
    assert [words for words in told if words not in notes] == []


def test_a_flame_with_a_flue_is_still_a_flame(shed: Setting) -> None:
    notes = " ".join(what_if(shed, Change(heater_kw=4.0, heater_kind="vented")).notes)
    assert "No flame near solvent vapour" in notes
    assert "amine blush" not in notes


def test_less_fresh_air_is_shown_with_its_caution(shed: Setting) -> None:
    notes = " ".join(what_if(shed, Change(air_changes=0.5)).notes)
    assert "Never with less fresh air while solvent is wet" in notes


def test_a_dehumidifier_wants_what_wet_solvent_does_not(shed: Setting) -> None:
    notes = " ".join(what_if(shed, Change(dehumidifier_l_per_day=20.0)).notes)
    assert "closed doors" in notes
    assert "fresh air" in notes


# --- the cheapest change ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "may"),
    [
        (Change(heater_kw=1.0), True),
        (Change(heater_kw=1.0, heater_kind="vented"), False),
        (Change(heater_kw=1.0, heater_kind="unvented"), False),
        (Change(air_changes=0.9), False),
        (Change(air_changes=3.0), True),
    ],
)
def test_what_may_be_suggested(change: Change, may: bool) -> None:
    assert may_suggest(change) is may


def test_nothing_is_suggested_where_a_window_is_open(shed: Setting) -> None:
    first = int(np.argmax(shed.now.lanes[0].judged.verdicts <= Verdict.BORDERLINE))
    at_s = shed.now.series.time_at(first)
    assert cheapest(shed, "coat-0", (at_s - HOUR_S, at_s + HOUR_S)) == ()


def test_a_suggestion_opens_what_it_says_for_what_it_says(cold: Setting) -> None:
    wanted = (later(26), later(34))
    found = cheapest(cold, "coat-0", wanted)
    assert found
    assert [s.kwh for s in found] == sorted(s.kwh for s in found)
    for each in found:
        again = what_if(cold, each.change)
        assert again.kwh == pytest.approx(each.kwh)
        judged = again.week.lanes[0].judged
        times = judged.series.time_s[judged.timeline.starts]
        inside = (times >= wanted[0]) & (times <= wanted[1])
        good = np.count_nonzero((judged.verdicts <= Verdict.BORDERLINE) & inside) / 12
        assert good >= each.gained_h - 1e-9 > 0
        assert "opens" in each.text


def test_less_heat_does_not_open_it(cold: Setting) -> None:
    wanted = (later(26), later(34))
    heater = next(s for s in cheapest(cold, "coat-0", wanted) if s.change.heater_kw > 0)
    weaker = replace(heater.change, heater_kw=heater.change.heater_kw / 2)
    judged = what_if(cold, weaker).week.lanes[0].judged
    times = judged.series.time_s[judged.timeline.starts]
    inside = (times >= wanted[0]) & (times <= wanted[1])
    good = np.count_nonzero((judged.verdicts <= Verdict.BORDERLINE) & inside)
    assert good < heater.gained_h * 12


def test_a_warm_damp_shop_opens_its_doors_for_nothing() -> None:
    # A tight shop at 85 % and dry air outdoors: the doors cost nothing and win.
    at = setting(outdoor(20.0, 2.0, 8.0), kind="insulated", first_dew_c=17.5)
    found = cheapest(at, "coat-0", (later(0), later(0.6)))
    assert found[0].kwh == 0.0
    assert found[0].change.air_changes > 1.0


def test_a_tent_holds_the_film_off_the_dew_once_it_is_tack_free() -> None:
    # Dry to tack-free in the warm day, dew in the small hours: the cover goes up between.
    limits = Limits(air_temp_c=(5.0, 35.0), surface_temp_c=(5.0, 35.0), rh_pct=(0.0, 85.0),
                    hold_margin_k=3.0)  # fmt: skip
    slow = keen_gloss(limits, tape_dry=(40.0, 20.0, 10.0))
    at = setting(outdoor(17.0, 5.0, 11.0), product=slow, kind="metal shed")
    wanted = (later(1), later(6))
    tents = [s for s in cheapest(at, "coat-0", wanted) if s.change.tent_m3 > 0]
    assert tents
    week = what_if(at, tents[0].change).week
    judged = week.lanes[0].judged
    begin = judged.series.index_of(tents[0].change.from_s)
    good = np.flatnonzero(judged.verdicts <= Verdict.BORDERLINE)
    assert (judged.timeline.tack_free[good] <= begin).any()
    assert "tack-free" in tents[0].text


def test_a_coat_that_is_not_to_do_is_refused(shed: Setting) -> None:
    with pytest.raises(KeyError):
        cheapest(shed, "no-such-coat", (later(1), later(2)))


# --- wet floor against dust -------------------------------------------------------------------


def test_wetting_the_floor_tells_how_long() -> None:
    at = setting(outdoor(18.0, 3.0, 12.0))
    found = damp_floor(at, "coat-0", 5.0, 40.0, later(2))
    assert 5.0 < found.rise_pct < 40.0
    assert 0.5 < found.raised_h < 24.0
    assert found.floor_dry_s is not None
    assert found.dry_enough_s is not None
    assert found.text.startswith(
        "wetting the floor with 5.00 L over 40.0 m² raises humidity by up to"
    )


def test_more_water_lasts_longer() -> None:
    at = setting(outdoor(18.0, 3.0, 12.0))
    few, many = (damp_floor(at, "coat-0", litres, 40.0) for litres in (5.0, 20.0))
    assert few.floor_dry_s is not None
    assert many.floor_dry_s is not None
    assert many.floor_dry_s > few.floor_dry_s
    assert many.raised_h > few.raised_h


def test_dry_enough_again_is_when_the_limits_hold_again() -> None:
    limits = Limits(air_temp_c=(5.0, 35.0), surface_temp_c=(5.0, 35.0), rh_pct=(0.0, 75.0))
    at = setting(outdoor(18.0, 1.0, 12.0), product=keen_gloss(limits), kind="metal shed")
    found = damp_floor(at, "coat-0", 10.0, 60.0, later(1))
    assert found.peak_pct > 75.0
    assert found.dry_enough_s is not None
    wet = what_if(at, Change(damp_litres=10.0, damp_m2=60.0, from_s=later(1))).week.series
    k = round(wet.index_of(found.dry_enough_s))
    assert wet.rh_pct[k - 1] > 75.0
    assert wet.rh_pct[k] <= 75.0
    assert "dry enough again at" in found.text


def test_a_little_water_breaks_no_limit() -> None:
    found = damp_floor(setting(outdoor(22.0, 2.0, 8.0)), "coat-0", 1.0, 10.0)
    assert found.dry_enough_s == found.at_s
    assert "no limit of the coat is broken" in found.text


def test_air_that_was_outside_the_limits_is_not_blamed_on_the_water() -> None:
    limits = Limits(air_temp_c=(5.0, 35.0), surface_temp_c=(5.0, 35.0), rh_pct=(0.0, 40.0))
    at = setting(outdoor(16.0, 0.5, 15.0), product=keen_gloss(limits))
    found = damp_floor(at, "coat-0", 20.0, 60.0)
    assert "outside the coat's limits all that time as it is" in found.text
