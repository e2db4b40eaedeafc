"""Fits to logs that are good, bad and none; where the shop stands; whether it has changed."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from advisor.base.errors import InputError
from advisor.climate.outdoor import Outdoor
from advisor.climate.shop.drift import FALSE_ALARM, allowed_above, has_changed
from advisor.climate.shop.fit import Fit, _spread, fit_response, lag1
from advisor.climate.shop.habit import habit_of
from advisor.climate.shop.holes import filled_row
from advisor.climate.shop.observe import kalman_gain, state_at_end
from advisor.climate.shop.response import ShopLog, simulate, usual_response
from advisor.climate.shop.runs import Runs
from advisor.climate.shop.screen import screened
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.skill import Misses, Skill, skill_on
from tests.helpers.true_shop import PER_DAY, TrueShop, cut, jfk, measured, unlike_usual

SHOP = Shop("timber shed", 200.0)
DAYS = 26
FITTED = 14 * PER_DAY


@lru_cache(maxsize=1)
def true_log() -> tuple[TrueShop, ShopLog]:
    weather = jfk(DAYS, skip_days=10)
    true = unlike_usual(SHOP, weather, 7)
    air, dew = true.air_and_dew(weather, np.zeros(len(weather)))
    return true, measured(air, dew, weather, None, 7)


@lru_cache(maxsize=1)
def fitted() -> Fit:
    return fit_response(SHOP, cut(true_log()[1], 0, FITTED))


def test_a_good_log_is_fitted_and_says_how_well() -> None:
    fit = fitted()
    assert fit.response.fitted
    assert fit.response.reason == ""
    assert fit.response.log_days == pytest.approx(14.0)
    assert fit.skill is not None
    # The readings carry 0.05 K and 0.08 K of noise; a perfect model misses by just that.
    assert fit.skill.air_rmse_k < 0.15
    assert fit.skill.dew_rmse_k < 0.2
    spread = fit.response.spread
    assert len(spread.lead_h) == len(spread.air_sd_k) == len(spread.dew_sd_k)
    assert 10 <= len(spread.air_day_k) <= 15
    assert type(fit.response).from_json(fit.response.to_json()) == fit.response


def missed_by(air_k: np.ndarray, lead_h: np.ndarray) -> Misses:
    return Misses(np.arange(len(air_k)), lead_h, *[air_k] * 8)


@pytest.mark.parametrize("dew_k", [0.2, np.nan])
def test_past_the_judged_hours_the_usual_doubt_returns(dew_k: float) -> None:
    """Three days of log judge 18 h; a week ahead no less is doubted than of a usual shop."""
    lead_h = np.arange(0.25, 18.1, 0.25)
    own = np.where(np.arange(40) % 2, 0.3, -0.3)[:, None] + np.zeros(len(lead_h))
    missed = replace(missed_by(own, lead_h), dew_k=own / 0.3 * dew_k)
    usual = usual_response(SHOP).spread
    spread = _spread(missed, usual, bool(np.isnan(dew_k)))
    assert spread.lead_h == (1.0, 3.0, 6.0, 12.0, 18.0, 24.0, 48.0, 96.0, 168.0)
    np.testing.assert_allclose(spread.air_sd_k[:5], 0.3)
    assert spread.air_sd_k[5:] == usual.air_sd_k[3:]
    if np.isnan(dew_k):
        at_usual = [spread.dew_sd_k[spread.lead_h.index(lead)] for lead in usual.lead_h]
        assert at_usual == pytest.approx(usual.dew_sd_k)
    else:
        np.testing.assert_allclose(spread.dew_sd_k[:5], 0.2)
        assert spread.dew_sd_k[5:] == usual.dew_sd_k[3:]


def test_a_shop_missed_more_than_usual_stays_doubted_more() -> None:
    lead_h = np.arange(0.25, 18.1, 0.25)
    missed = missed_by(np.full((4, len(lead_h)), 5.0), lead_h)
    spread = _spread(missed, usual_response(SHOP).spread, False)
    np.testing.assert_allclose([*spread.air_sd_k, *spread.dew_sd_k], 5.0)


def test_skill_on_days_it_never_saw() -> None:
    _, log = true_log()
    from_s = float(log.outdoor.time_s[FITTED])
    found = skill_on(fitted().response, log, from_s=from_s)
    assert found.runs > 30
    assert found.air_rmse_k < 0.1 * found.air_same_as_now_k
    usual = skill_on(usual_response(SHOP), log, from_s=from_s)
    assert usual.runs == found.runs
    assert found.air_rmse_k < usual.air_rmse_k


def test_skill_of_nothing_is_nothing() -> None:
    _, log = true_log()
    assert skill_on(fitted().response, cut(log, 0, 50)).runs == 0


def with_hole(log: ShopLog, first: int, after: int, what: str) -> ShopLog:
    if what == "weather":
        out = log.outdoor.columns["air_temp_c"].copy()
        out[first:after] = np.nan
        columns = {**log.outdoor.columns, "air_temp_c": out}
        return replace(log, outdoor=replace(log.outdoor, columns=columns))
    air = log.air_temp_c.copy()
    air[first:after] = np.nan
    return replace(log, air_temp_c=air)


@pytest.mark.parametrize("what", ["weather", "shop"])
def test_gaps_are_lived_with(what: str) -> None:
    log = with_hole(cut(true_log()[1], 0, FITTED), 500, 600, what)
    fit = fit_response(SHOP, log)
    assert fit.response.fitted
    assert fit.skill is not None
    assert fit.skill.air_rmse_k < 0.2


def test_no_line_is_drawn_over_more_than_three_hours() -> None:
    nan = np.nan
    filled, hole = filled_row(np.array([1.0, nan, nan, 4.0, nan, nan, nan, 8.0, nan]), 3600)
    assert filled[:4].tolist() == [1.0, 2.0, 3.0, 4.0]
    assert hole.tolist() == [False] * 4 + [True] * 3 + [False, True]


def changed_log(**columns: object) -> ShopLog:
    log = cut(true_log()[1], 0, FITTED)
    inside = {k: v for k, v in columns.items() if k in ("air_temp_c", "dew_point_c")}
    outside = {k[4:]: v for k, v in columns.items() if k.startswith("out_")}
    outdoor = replace(log.outdoor, columns={**log.outdoor.columns, **outside})
    return replace(log, outdoor=outdoor, **inside)


NONE, FLAT = np.full(FITTED, np.nan), np.full(FITTED, 12.0)
#: Goes where it likes whatever the weather: nothing foretells it better than "same as now".
WALK = 15.0 + np.cumsum(np.random.default_rng(4).normal(0.0, 0.25, FITTED))


#: Above any air of that spring, and never still.
DAMP = 35.0 + np.random.default_rng(5).normal(0.0, 1.0, FITTED)


@pytest.mark.parametrize(
    ("log", "words"),
    [
        (lambda: cut(true_log()[1], 0, 2 * PER_DAY), "2.0 days of log with outdoor air; 3 are"),
        (lambda: changed_log(air_temp_c=NONE), "no shop air"),
        (lambda: changed_log(out_air_temp_c=NONE), "no outdoor air"),
        (lambda: changed_log(out_air_temp_c=FLAT), "outdoor air does not move"),
        (lambda: changed_log(air_temp_c=WALK), "a fit misses air by"),
        (lambda: changed_log(air_temp_c=FLAT), "no shop air"),
        (lambda: changed_log(air_temp_c=NONE, out_air_temp_c=NONE), "no shop air"),
        (lambda: changed_log(air_temp_c=np.full(FITTED, np.inf)), "no shop air"),
    ],
)
def test_bad_logs_give_the_usual_response_and_a_reason(log, words: str) -> None:
    response = fit_response(SHOP, log()).response
    assert not response.fitted
    assert words in response.reason
    assert response == usual_response(SHOP, response.reason)


def test_an_empty_log() -> None:
    empty = np.array([])
    outdoor = Outdoor(0, 900, {"air_temp_c": empty, "dew_point_c": empty})
    assert (
        fit_response(SHOP, ShopLog(empty, empty, outdoor)).response.reason
        == "no shop air in the log"
    )


def test_scattered_readings_are_not_fitted() -> None:
    """An hour here and there over two weeks: three days of readings, never one to run on."""
    air = cut(true_log()[1], 0, FITTED).air_temp_c.copy()
    air[np.arange(FITTED) % 60 >= 16] = np.nan
    response = fit_response(SHOP, changed_log(air_temp_c=air)).response
    assert not response.fitted
    assert response.reason


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"dew_point_c": NONE}, "no dew point in the log"),
        ({"dew_point_c": WALK - 20.0}, "dew point"),
        ({"dew_point_c": DAMP}, "dew point stands above the air"),
        ({"out_dew_point_c": FLAT - 9.0}, "outdoor dew point does not move"),
    ],
)
def test_heat_is_kept_where_only_moisture_cannot_be_fitted(columns, words: str) -> None:
    response = fit_response(SHOP, changed_log(**columns)).response
    assert response.fitted
    assert response.reason.startswith("moisture as usual")
    assert words in response.reason
    assert response.moisture == usual_response(SHOP).moisture
    assert response.thermal != usual_response(SHOP).thermal


def noise(per_step: float) -> np.ndarray:
    """A course of sd 1.5 K that keeps a share of itself from step to step, and knows no weather."""
    draw = np.random.default_rng(21).normal(0.0, 1.5, FITTED)
    for k in range(1, FITTED):
        draw[k] = per_step * draw[k - 1] + (1.0 - per_step**2) ** 0.5 * draw[k]
    return draw


DAILY = 3.0 * np.sin(np.arange(FITTED) * (2.0 * np.pi / PER_DAY))


@pytest.mark.parametrize(("per_step", "daily"), [(0.0, False), (0.9, True), (0.99, False)])
def test_a_fit_to_pure_noise_is_refused(per_step: float, daily: bool) -> None:
    """White or slow, with a day's rhythm of its own or none: habit foretells it as well."""
    air = 15.0 + noise(per_step) + (DAILY if daily else 0.0)
    fit = fit_response(SHOP, changed_log(air_temp_c=air))
    assert not fit.response.fitted
    assert "a fit misses air by" in fit.response.reason
    if per_step <= 0.9:  # slow noise and a fit of its rhythm lose to "same as now" already
        assert "“as usual at that hour”" in fit.response.reason
    # Without habit to judge it by, quick noise would pass: its fit beats "same as now".
    assert fit.skill is not None
    if per_step <= 0.9 and not daily:
        assert fit.skill.air_rmse_k < fit.skill.air_same_as_now_k


def test_moisture_fitted_to_pure_noise_is_refused() -> None:
    fit = fit_response(SHOP, changed_log(dew_point_c=2.0 + noise(0.0)))
    assert fit.response.fitted
    assert "a fit misses dew point by" in fit.response.reason
    assert "“as usual at that hour”" in fit.response.reason
    assert fit.response.moisture == usual_response(SHOP).moisture


def test_habit_of_a_known_rhythm() -> None:
    """A day's rhythm is learned whole; of noise that keeps 0.9 a step, 0.9 ** steps stays."""
    time_s = 1_700_006_400 + 3600 * np.arange(24 * 400)
    rhythm = np.cos((time_s % 86400) / 3600.0)
    course = np.random.default_rng(2).normal(0.0, 1.0, len(time_s))
    for k in range(1, len(course)):
        course[k] += 0.9 * course[k - 1]
    known = np.ones(len(time_s), bool)
    found = habit_of(time_s, 12.0 + rhythm + course, known, np.array([1, 6]))
    # 9600 steps of which every twentieth or so is independent: standard error 0.04 to 0.1.
    assert found.stays == pytest.approx([0.9, 0.9**6], abs=0.06)
    assert found.by_hour == pytest.approx(12.0 + np.cos(np.arange(24)), abs=0.5)
    ahead = found.ahead(time_s, 12.0 + rhythm, Runs(np.array([5]), np.array([1, 6])))
    assert ahead[0] == pytest.approx(12.0 + rhythm[[6, 11]], abs=0.5)
    none = habit_of(time_s, course, ~known, np.array([1]))
    assert none.by_hour.tolist() == [0.0] * 24
    assert none.stays.tolist() == [0.0]


def test_a_skill_kept_before_habit_was_judged_can_be_read() -> None:
    old = Skill(48.0, 9, 0.5, 2.0, 3.0, 0.6, 2.0, 1.0)
    assert old.best_guess("air") == ("same as now", 2.0)
    assert old.best_guess("dew") == ("same as outdoors", 1.0)
    assert old.air_beats_all
    assert not replace(old, air_habit_k=0.52).air_beats_all


def test_stuck_and_impossible_readings_are_left_out_and_said() -> None:
    air = cut(true_log()[1], 0, FITTED).air_temp_c.copy()
    air[200:300] = 17.0
    air[400] = 85.0
    clean = screened(changed_log(air_temp_c=air))
    assert np.isnan(clean.log.air_temp_c[200:300]).all()
    assert np.isnan(clean.log.air_temp_c[400])
    assert np.isfinite(clean.log.air_temp_c).sum() == FITTED - 101
    assert [note.split(",")[0] for note in clean.notes] == [
        "shop air: 1 values outside -40 to 60 °C left out",
        "shop air stuck for 25 h",
    ]


def test_the_state_starts_at_the_reading() -> None:
    _, log = true_log()
    end = 18 * PER_DAY
    state = state_at_end(fitted().response, cut(log, end - 5 * PER_DAY, end + 1))
    assert state.time_s == log.outdoor.time_s[end]
    assert state.air_temp_c == log.air_temp_c[end]
    found = simulate(fitted().response, cut(log, end, end + 8).outdoor, state)
    # Two hours on, a good fit has hardly left the readings (noise 0.05 and 0.08 K, three sd).
    assert found.air_temp_c[0] == log.air_temp_c[end]
    assert np.abs(found.air_temp_c - log.air_temp_c[end : end + 8]).max() < 0.25
    assert np.abs(found.dew_point_c - log.dew_point_c[end : end + 8]).max() < 0.4


def test_the_state_of_logs_with_little_in_them() -> None:
    response = usual_response(SHOP)
    last = FITTED - 1
    bare = state_at_end(response, changed_log(air_temp_c=NONE, dew_point_c=NONE))
    assert np.isfinite([bare.air_temp_c, bare.fabric_c, bare.vapour_hpa, bare.store_hpa]).all()
    indoors = state_at_end(response, changed_log(out_air_temp_c=NONE, out_dew_point_c=NONE))
    assert indoors.air_temp_c == true_log()[1].air_temp_c[last]
    with pytest.raises(InputError, match="neither shop air nor outdoor air"):
        state_at_end(response, changed_log(air_temp_c=NONE, out_air_temp_c=NONE))


def test_kalman_gain_of_a_random_walk() -> None:
    """One state that wanders: the textbook gain for q = r is (√5 − 1) / 2."""
    gain = kalman_gain(np.eye(1), (1.0, 1.0), 1.0)  # type: ignore[arg-type]
    assert gain[0] == pytest.approx((5**0.5 - 1) / 2, rel=1e-9)


def test_lag1_of_known_noise() -> None:
    rng = np.random.default_rng(0)
    course = np.zeros((400, 48))
    for k in range(1, 48):
        course[:, k] = 0.8 * course[:, k - 1] + rng.normal(0.0, 1.0, 400)
    # 19 000 pairs: standard error under 0.005.
    assert lag1(course[:, 10:]) == pytest.approx(0.8, abs=0.02)


# --- has the shop changed -------------------------------------------------------------------


def days_after(air_changes: float = 1.0, gain_k_h: float = 0.0, noise_seed: int = 9) -> ShopLog:
    """The days after the fit, the shop altered in the last four of them."""
    true, log = true_log()
    weather = log.outdoor
    air, dew = (log.air_temp_c, log.dew_point_c)
    altered = TrueShop(
        replace(
            true.thermal.with_more_air((air_changes - 1.0) * true.moisture.air_change_per_h, 200.0),
            gain_air_k_h=true.thermal.gain_air_k_h + gain_k_h,
        ),
        true.moisture.with_air_changes(air_changes),
    )
    other = measured(
        *altered.air_and_dew(weather, np.zeros(len(weather))), weather, None, noise_seed
    )
    turn = len(weather) - 4 * PER_DAY - 32
    joined = replace(
        log,
        air_temp_c=np.concatenate([air[:turn], other.air_temp_c[turn:]]),
        dew_point_c=np.concatenate([dew[:turn], other.dew_point_c[turn:]]),
    )
    return cut(joined, FITTED, len(weather))


def test_the_same_shop_has_not_changed() -> None:
    found = has_changed(fitted().response, days_after())
    assert not found
    assert found.text == ""
    assert 0.5 < found.air_ratio < 1.5


def test_doors_left_open_are_noticed() -> None:
    found = has_changed(fitted().response, days_after(air_changes=4.0))
    assert found
    assert found.dew
    assert "doors" in found.text


def test_a_heater_is_noticed() -> None:
    found = has_changed(fitted().response, days_after(gain_k_h=2.0))
    assert found.air
    assert "warmer" in found.text


def test_nothing_is_said_of_a_usual_response() -> None:
    found = has_changed(usual_response(SHOP), days_after(gain_k_h=2.0))
    assert not found
    assert np.isnan(found.air_ratio)


def test_false_alarms_are_as_rare_as_said() -> None:
    """Days alike, of any shape: 20 000 draws from a heavy-tailed law, rank test alone."""
    rng = np.random.default_rng(11)
    for days in (9, 14, 30):
        allowed = allowed_above(days)
        drawn = rng.pareto(1.5, (20_000, days + 3))
        usual, recent = drawn[:, 3:], drawn[:, :3]
        called = (usual >= recent.min(axis=1)[:, None]).sum(axis=1) <= allowed
        # Four standard errors of a share of 0.005 in 20 000 are 0.002.
        assert called.mean() <= FALSE_ALARM + 0.002


def test_too_few_days_never_cry_change() -> None:
    assert allowed_above(7) == -1
    assert allowed_above(9) == 0
    assert allowed_above(30) > 0
