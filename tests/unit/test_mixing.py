"""Before mixing a batch: verdict, scope, reasons first told, milestones, batch, chance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from advisor.climate.series import Series
from advisor.coatings.product import Hazards, Limits, NextCoat, Prepare, Product
from advisor.physics import moist_air
from advisor.planning.case import Case, Previous, Site
from advisor.planning.job import Area, Coat
from advisor.planning.verdict import Verdict, judge
from advisor.planning.wetness import last_wet_s
from advisor.work.check import moment_only
from advisor.work.check_now import check_now
from advisor.work.milestones import chance_dry, milestones
from advisor.work.mixing import Bench, batch_plan, before_mixing
from advisor.work.views import BeforeMixing, Reading
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

NOON_S = MONDAY_S + 12 * HOUR_S
AT = 144
AREA = Area("hull", "hull", 8.0)
COAT = Coat("c1", "first gloss", "hull", "my-two-part-gloss", 8.0)


def ask(of: Product, on: Series, over: Case | None = None, **changes: object) -> BeforeMixing:
    bench = Bench(over or case(of), COAT, AREA, on, UTC_WORDS, NOON_S)
    return before_mixing(replace(bench, **changes))  # type: ignore[arg-type]


def only_now(
    hours_back: float = 12.0, surface: float = 20.0, air: float = 20.0, dew: float = 10.0
) -> Series:
    """Logged up to noon, nothing known after."""
    values = np.full(600, NAN)
    values[AT - round(hours_back * 12) : AT + 1] = 1.0
    return series(air * values, dew * values, surface * values)


def hours(at_s: float | None) -> float | None:
    return None if at_s is None else (at_s - MONDAY_S) / HOUR_S


def test_a_go_with_an_outlook() -> None:
    found = ask(gloss(), steady(48))
    assert (found.verdict, found.scope, found.sand_first) == (Verdict.GO, "through_dew_safe", False)
    assert found.headline == "every limit holds until it can take dew, 21:00"
    assert found.margin_k == pytest.approx(10.0, abs=1e-9)
    assert found.dew_point_c == 10.0
    assert found.frost_point_c is None
    assert [(m.name, hours(m.at_s)) for m in found.milestones] == [
        ("mix", 12.0), ("first_patch", 12.0), ("last_patch", 13.0), ("batch_dead", 15.0),
        ("tack_free", 17.0), ("dew_safe", 21.0),
    ]  # fmt: skip
    assert next(m.note for m in found.milestones if m.name == "dew_safe") == "assumed: tape-dry"


def test_a_wait_tells_the_limit_first() -> None:
    found = ask(gloss(), steady(48, surface=12.0))
    assert found.verdict is Verdict.WAIT
    assert found.headline == "above dew point 2.0 K at 12:00, needs 3.0 K (common practice)"
    assert found.latest_start_s is None
    assert found.latest_because == ""


def test_frost_point_below_freezing() -> None:
    found = ask(gloss(), steady(48, dew=-5.0))
    assert found.frost_point_c is not None
    assert -4.6 < found.frost_point_c < -4.3  # from memory: dew −5 °C is frost about −4.4 °C


def test_latest_start_and_why() -> None:
    surface = np.full(600, 20.0)
    surface[240:288] = 12.5
    found = ask(gloss(), series(20.0, 10.0, surface))
    assert hours(found.latest_start_s) == pytest.approx(14 + 55 / 60)
    assert "above dew point 2.5 K at 20:00" in found.latest_because


# --- now alone -------------------------------------------------------------------------------


def test_without_an_outlook_only_now_is_judged() -> None:
    found = ask(gloss(), only_now())
    assert (found.scope, found.chance, found.latest_start_s) == ("now", None, None)
    hold = next(r for r in found.reasons if r.rule == "hold_margin")
    assert hold.holds is None
    assert "not tested" in hold.text


def test_a_short_outlook_counts_as_none() -> None:
    values = np.full(600, 20.0)
    values[AT + 12 :] = NAN
    assert ask(gloss(), series(20.0, 10.0, values)).scope == "through_dew_safe"
    values[AT + 11 :] = NAN
    assert ask(gloss(), series(20.0, 10.0, values)).scope == "now"


def test_no_surface_now_is_unknown() -> None:
    on = only_now()
    on.surface_temp_c[AT] = NAN
    found = ask(gloss(), on)
    assert found.verdict is Verdict.UNKNOWN
    assert found.margin_k is None


@pytest.mark.parametrize("missing", ["air_temp_c", "dew_point_c", "surface_temp_c"])
def test_anything_missing_now_is_never_go(missing: str) -> None:
    on = only_now()
    getattr(on, missing)[AT] = NAN
    assert ask(gloss(), on).verdict > Verdict.BORDERLINE


def test_now_alone_still_tests_the_coat_below_by_what_was_logged() -> None:
    """A log without an outlook: minimum 4 h, maximum 24 h at 20 °C."""

    def laid(hours_before: float, on: Series) -> BeforeMixing:
        when = NOON_S - hours_before * HOUR_S
        over = case(gloss(), 0.0, previous=Previous(barrier(), when, when))
        return ask(gloss(), on, over)

    assert laid(3.0, only_now()).verdict is Verdict.WAIT
    alone = laid(4.0, only_now())
    assert alone.verdict is Verdict.BORDERLINE  # nothing known of the coming hours
    assert alone.headline.startswith("for this moment only")
    assert laid(6.0, only_now(hours_back=5.0)).verdict is Verdict.UNKNOWN  # not logged since
    late = np.full(600, 20.0)
    late[500:] = NAN
    on = replace(series(20.0, 10.0, late), start_s=NOON_S - 499 * 300)
    found = laid(30.0, on)
    assert (found.verdict, found.sand_first) == (Verdict.WAIT, True)


def test_outdoors_without_wind_and_rain_is_unknown() -> None:
    over = case(gloss(), site=Site(outdoors=True, wind_limit_m_s=8.0))
    assert ask(gloss(), only_now(), over).verdict is Verdict.UNKNOWN
    assert ask(gloss(), steady(48), over).verdict is Verdict.UNKNOWN
    assert ask(gloss(), steady(48, wind=2.0, rain=0.0), over).verdict is Verdict.GO


# --- told first ------------------------------------------------------------------------------


def test_a_surface_wet_this_morning_waits_until_it_is_dried() -> None:
    surface = np.full(600, 20.0)
    surface[60:80] = 9.0
    on = series(20.0, 10.0, surface)
    found = ask(gloss(), on)
    assert found.verdict is Verdict.WAIT
    assert found.headline == "it was wet at 06:35: dry and wipe first"
    assert found.would_turn == "It was wet at 06:35: dry and wipe first."
    assert ask(gloss(), on, dried_s=MONDAY_S + 7 * HOUR_S).verdict is Verdict.GO
    steel = replace(AREA, substrate="steel")
    assert "prepare it again" in ask(gloss(), on, area=steel).headline


def test_dew_before_the_coat_below_was_painted_is_past() -> None:
    surface = np.full(600, 20.0)
    surface[60:70] = 9.0
    when = MONDAY_S + 7 * HOUR_S
    over = case(gloss(), previous=Previous(barrier(), when, when))
    assert ask(gloss(), series(20.0, 10.0, surface), over).verdict is Verdict.GO


@pytest.mark.parametrize("tins_c", [12.9, 8.0])
def test_cold_tins_wait_as_on_the_command_line(tins_c: float) -> None:
    """The dew point is 10 °C and the sheet asks for 3 K: 13 °C."""
    of = replace(gloss(), prepare=Prepare(tins_above_dew_point_k=3.0))
    found = ask(of, steady(48), case(of, mix_temp_c=tins_c))
    assert found.verdict is Verdict.WAIT
    assert "warm them to 13.0 °C first" in found.headline
    assert found.would_turn.startswith("Tins ")
    assert ask(of, steady(48), case(of, mix_temp_c=13.0)).verdict is Verdict.GO


@example(air=20, rh=50, surface=20)
@given(air=st.integers(0, 38), rh=st.integers(20, 99), surface=st.integers(0, 38))
def test_one_reading_is_judged_alike_by_both_fronts(air: int, rh: int, surface: int) -> None:
    """All but go: that of one moment is a close call before mixing, in the same words."""
    dew = moist_air.dew_point_c(float(air), float(rh))
    on = only_now(air=float(air), dew=float(dew), surface=float(surface))
    bench = Bench(case(gloss()), COAT, AREA, on, UTC_WORDS, NOON_S, dried_s=NOON_S)
    reading = Reading(NOON_S, float(air), float(rh), float(surface))
    told = check_now(bench.setup, reading, UTC_WORDS, now_s=NOON_S)
    found = before_mixing(bench)
    assert found.verdict is max(told.verdict, Verdict.BORDERLINE)
    if told.verdict is Verdict.GO:
        assert found.headline == moment_only(told.must_last_until_s, UTC_WORDS)


def test_the_coat_below_is_not_on_yet() -> None:
    found = ask(gloss(), steady(48), below_to_do="undercoat")
    assert found.verdict is Verdict.WAIT
    assert found.headline == "undercoat comes first: it is not on yet"


@pytest.mark.parametrize("on", [steady(48), only_now()])
def test_stale_readings_are_never_go(on: Series) -> None:
    found = ask(gloss(), on, stale="the reading is over 60 min old: read again")
    assert found.verdict is Verdict.UNKNOWN
    assert found.would_turn == "The reading is over 60 min old: read again."


def test_stale_readings_do_not_better_a_wait() -> None:
    assert ask(gloss(), steady(48, surface=12.0), stale="old").verdict is Verdict.WAIT


# --- wetness ---------------------------------------------------------------------------------


def test_last_wet() -> None:
    surface = np.full(600, 20.0)
    surface[[20, 50]] = 10.0  # a margin of 0 is wet
    rain = np.zeros(600)
    rain[100] = 0.06
    on = series(20.0, 10.0, surface, rain=rain)
    assert hours(last_wet_s(on, NOON_S)) == 50 / 12
    assert hours(last_wet_s(on, NOON_S, outdoors=True)) == 100 / 12
    assert last_wet_s(on, NOON_S, MONDAY_S + 51 * 300) is None
    assert hours(last_wet_s(on, MONDAY_S + 49 * 300)) == 20 / 12
    # A day and a night back, no further.
    assert hours(last_wet_s(on, MONDAY_S + (50 + 288) * 300)) == 50 / 12
    assert last_wet_s(on, MONDAY_S + (51 + 288) * 300) is None
    assert last_wet_s(on, MONDAY_S - 300) is None
    assert last_wet_s(series([NAN] * 60, 10.0, 20.0), NOON_S) is None


# --- batch, steps, chance --------------------------------------------------------------------


def test_batch_of_the_pot_life_at_the_mix() -> None:
    plan = batch_plan(gloss(), COAT, AREA, 20.0, steady(48), AT)
    # 50 µm dry at 50 % solids is 100 µm wet: 8 m² take 0.8 L.
    assert plan.litres == pytest.approx(0.8)
    assert plan.usable_h == pytest.approx(0.6 * 3.0)  # common practice


def test_a_surface_not_read_is_not_blamed_on_the_maker() -> None:
    """The times are in the file; what lacks is the reading they go by."""
    on = series(np.full(600, 20.0), np.full(600, 10.0), np.full(600, NAN))
    plain = gloss().times
    hours_open = dict.fromkeys(("open_time_h", "tray_life_h"), (0.5,) * len(plain.temp_c))
    of = replace(gloss(), times=replace(plain, columns={**plain.columns, **hours_open}))
    plan = batch_plan(of, COAT, AREA, 20.0, on, AT)
    about = [m for m in plan.missing if "surface" in m or "maker" in m or "tray" in m]
    assert about == ["The surface was not read: panels and tray time go by it and can't be told."]


def test_the_mix_is_as_warm_as_a_room_unless_entered() -> None:
    cold = ask(gloss(), steady(60, air=12.0, surface=12.0, dew=0.0))
    dead = next(m for m in cold.milestones if m.name == "batch_dead")
    assert hours(dead.at_s) == pytest.approx(15.0)  # 3 h at 20 °C, not 5.2 h at 12
    assert any("at least 20 °C" in text for text in cold.assumptions)
    told = ask(gloss(), steady(60), case(gloss(), mix_temp_c=30.0))
    assert hours(next(m for m in told.milestones if m.name == "batch_dead").at_s) == 13.5
    assert not any("mix temperature" in text for text in told.assumptions)


def test_a_blank_or_unlimited_pot_life_names_no_end() -> None:
    for cell in (NAN, INF):
        sheet = product({"pot_life_h": (cell,) * 3, "tack_free_h": (8.0, 4.0, 2.0)})
        found = milestones(judge(case(sheet), steady(48), np.array([AT])), 0, 20.0)
        assert "batch_dead" not in [m.name for m in found]


def test_a_filler_shows_no_dew_milestone() -> None:
    found = milestones(judge(case(filler()), steady(48), np.array([AT])), 0)
    assert [m.name for m in found] == ["mix", "first_patch", "last_patch", "sandable"]


def test_unknown_milestones_come_last() -> None:
    on = steady(16)
    found = milestones(judge(case(gloss()), on, np.array([AT])), 0, 20.0)
    assert [m.name for m in found if m.at_s is None] == ["tack_free", "dew_safe"]
    assert [m.name for m in found][-2:] == ["tack_free", "dew_safe"]


def test_required_steps() -> None:
    rows = (NextCoat("two-part-gloss", (8.0, 4.0, 2.0), prepare="sand with 320"),)
    asked = Prepare(bare_steel_within_h=4.0, sanded_within_h=24.0, wipe_flash_off_h=0.25)
    top = replace(gloss(), prepare=asked)
    when = NOON_S - 5 * HOUR_S
    over = case(top, previous=Previous(barrier(next_coats=rows), when, when))
    steel = replace(AREA, substrate="steel")
    assert ask(top, steady(48), over, area=steel).required_steps == (
        "over the coat below: sand with 320",
        "coat bare steel within 4 h of preparing it",
        "coat within 24 h of sanding",
        "let the wipe flash off for 15 min",
    )
    # NOON is 12 h into the series, so the night before is not known: look first.
    (look,) = ask(gloss(), steady(48)).required_steps
    assert look.startswith("whether it was wet in the day before is not known")


def test_cautions_of_the_hazards_are_handed_on() -> None:
    hard = replace(gloss(), hazards=Hazards(isocyanate=True))
    assert ask(hard, steady(48)).cautions != ask(gloss(), steady(48)).cautions


def test_chance_of_staying_dry() -> None:
    on = steady(48, surface=11.5)
    judged = judge(case(filler(limits=Limits(margin_k=0.0)), certain=False), on, np.array([AT]))
    chance = chance_dry(judged, 0)
    answer = ask(gloss(), on)
    assert chance is not None
    assert answer.margin_sd_k is not None
    # The normal distribution at margin over standard error.
    expected = 0.5 * (1 + math.erf(1.5 / answer.margin_sd_k / math.sqrt(2)))
    assert chance == pytest.approx(expected, abs=1e-12)
    assert 0.9 < chance < 0.99


def test_no_chance_where_the_end_is_not_known() -> None:
    judged = judge(case(gloss()), steady(16), np.array([AT]))
    assert chance_dry(judged, 0) is None
