"""Learning how wrong a source is: size, bias, daily course, what is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.shop.response import Spread, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.spread.draws import scenario_outdoor
from advisor.climate.spread.errors import (
    LEAD_H,
    ErrorModel,
    ErrorPairs,
    bend,
    features,
    pairs_of,
    unbend,
)
from advisor.climate.spread.learn import count_independent, learn
from advisor.climate.spread.local import never_falling
from advisor.climate.spread.prior import prior, wandering
from advisor.climate.spread.shop_residuals import residual_courses

HOUR_S, DAY_S = 3600, 86400
START_S = 1_780_272_000
N = len(LEAD_H)
REACH = 121


def pairs(k: int, size: float, bias_k: float = 0.0, every_s: int = DAY_S) -> ErrorPairs:
    """Forecasts of a steady 15/8 °C whose errors are `size` times the prior's spread."""
    rng = np.random.default_rng(k)
    air, dew = (size * sd * wandering(rng, k, N, 20.0) for sd in _sds())
    said = np.full((k, N), np.nan)
    said[:, :REACH] = 15.0
    issued = START_S + every_s * np.arange(k)
    return ErrorPairs("nws", issued, said, said - 7.0, said + air + bias_k, said - 7.0 + dew)


def _sds() -> tuple[np.ndarray, np.ndarray]:
    usual = prior("nws")
    return usual.air_sd_k, usual.dew_sd_k


def forecast(issued_s: int) -> Forecast:
    columns = {"air_temp_c": np.full(REACH, 15.0), "dew_point_c": np.full(REACH, 8.0)}
    hourly = Outdoor(issued_s, HOUR_S, columns)
    return Forecast("nws", Place(0.0, 0.0), issued_s, issued_s, hourly, np.ones(REACH), "")


def drawn(model: ErrorModel, issued_s: int = START_S + 400 * DAY_S) -> Outdoor:
    return scenario_outdoor(forecast(issued_s), model, now_s=issued_s, step_s=HOUR_S)


@pytest.mark.parametrize("k", [0, 1, 9])
def test_a_short_archive_leaves_the_prior(k: int) -> None:
    model = learn(pairs(k, 3.0))
    np.testing.assert_array_equal(model.air_sd_k, prior("nws").air_sd_k)
    assert (model.independent, model.weight, model.learned) == (k, 0.0, None)


def test_the_archive_has_half_the_say_at_thirty_and_all_from_fifty() -> None:
    assert [learn(pairs(k, 1.0)).weight for k in (30, 50, 80)] == [0.5, 1.0, 1.0]


@pytest.mark.parametrize("size", [0.5, 2.0])
def test_size_is_learned(size: float) -> None:
    """A fifth: 200 forecasts pin a spread to 1 / sqrt(400) = 5 % at one lead, and the fit of
    what a forecast shows takes some more; never falling adds a little at short leads."""
    got = drawn(learn(pairs(200, size))).column("air_temp_c").std(axis=0)
    want = size * prior("nws").air_sd_k
    np.testing.assert_allclose(got[[6, 24, 72, 120]], want[[6, 24, 72, 120]], rtol=0.2)


def test_few_forecasts_move_the_size_part_of_the_way() -> None:
    got = drawn(learn(pairs(15, 3.0))).column("air_temp_c").std(axis=0)[48]
    assert 1.3 * 2.1 < got < 3.0 * 2.1 * 1.1


def test_a_source_measured_by_its_own_word_keeps_the_place_in_doubt() -> None:
    """An archive without any error leaves the prior's 1.0 K at no lead; readings leave none."""
    some = pairs(200, 0.01)
    own = drawn(learn(replace(some, own_truth=True))).column("air_temp_c").std(axis=0)
    read = drawn(learn(some)).column("air_temp_c").std(axis=0)
    assert own[0] == pytest.approx(1.0, rel=0.02)
    assert read[0] < 0.05


def test_bias_is_taken_out() -> None:
    """Of 3 K bias 200 forecasts tell all but a ridge of 3 in 203; 0.5 K is three of their
    standard errors at 48 h (2.1 K / sqrt(200) = 0.15 K)."""
    mean = drawn(learn(pairs(200, 1.0, bias_k=3.0))).column("air_temp_c").mean(axis=0)
    assert mean[48] == pytest.approx(18.0, abs=0.5)


def test_bias_of_an_hour_of_the_day_is_that_hours() -> None:
    """Morning forecasts 4 K too cold, evening ones right: a morning forecast gets the 4 K."""
    some = pairs(240, 0.5, every_s=12 * HOUR_S)
    morning = (np.arange(240) % 2 == 0)[:, np.newaxis]
    some = replace(some, happened_air_c=some.happened_air_c + 4.0 * morning)
    model = learn(some)
    at = START_S + 400 * DAY_S
    got = [drawn(model, at + h * HOUR_S).column("air_temp_c").mean(axis=0)[24] for h in (0, 12)]
    assert got[0] == pytest.approx(19.0, abs=0.6)
    assert got[1] == pytest.approx(15.0, abs=0.6)


def test_a_forecast_that_swings_too_far_is_drawn_back() -> None:
    """Truth swings half as far as foretold: half of the swing is taken back (ridge: a bit less)."""
    rng = np.random.default_rng(1)
    swing = np.linspace(0.0, 1.0, N) * rng.normal(0.0, 6.0, (200, 1))
    some = pairs(200, 0.3)
    some = replace(
        some,
        foretold_air_c=some.foretold_air_c + swing,
        happened_air_c=some.happened_air_c + 0.5 * swing,
    )
    made = forecast(START_S + 400 * DAY_S)
    columns = dict(made.hourly.columns) | {"air_temp_c": 15.0 + np.linspace(0.0, 8.0, REACH)}
    made = replace(made, hourly=replace(made.hourly, columns=columns))
    got = scenario_outdoor(made, learn(some), now_s=made.fetched_s, step_s=HOUR_S)
    own = float(np.mean(columns["air_temp_c"][:48]))
    want = 23.0 - 0.5 * (23.0 - own)
    assert got.column("air_temp_c").mean(axis=0)[-1] == pytest.approx(want, abs=1.0)


def test_heavy_tails_and_joint_errors_are_kept() -> None:
    """One forecast in ten 10 K out in both: the courses show as much."""
    some = pairs(200, 0.5)
    bust = 10.0 * (np.arange(200) % 10 == 0)[:, np.newaxis]
    some = replace(
        some,
        happened_air_c=some.happened_air_c + bust,
        happened_dew_c=some.happened_dew_c + bust,
    )
    out = drawn(learn(some))
    air, dew = out.column("air_temp_c")[:, 24], out.column("dew_point_c")[:, 24]
    far = air - np.median(air) > 6.0
    assert 0.05 < far.mean() < 0.15
    assert (dew - np.median(dew) > 5.0)[far].mean() > 0.8


def test_independent_forecasts_are_a_day_apart() -> None:
    assert count_independent(START_S + 6 * HOUR_S * np.arange(41)) == 11
    assert learn(pairs(36, 1.0, every_s=6 * HOUR_S)).learned is None


def test_forecasts_not_yet_verified_do_not_count() -> None:
    some = pairs(40, 1.0)
    happened = some.happened_air_c.copy()
    happened[35:, 48:] = np.nan
    assert learn(replace(some, happened_air_c=happened)).independent == 35


def test_holes_in_the_archive_do_no_harm() -> None:
    some = pairs(100, 1.0)
    happened = some.happened_air_c.copy()
    happened[:, 30:40] = np.nan
    out = drawn(learn(replace(some, happened_air_c=happened))).column("air_temp_c")
    assert np.isfinite(out).all()
    assert out.std(axis=0)[35] == pytest.approx(prior("nws").air_sd_k[35], rel=0.3)


def test_learning_twice_gives_the_same() -> None:
    first, again = (drawn(learn(pairs(60, 1.0))).column("air_temp_c") for _ in range(2))
    np.testing.assert_array_equal(first, again)


def test_pairs_lie_at_whole_hours_of_lead() -> None:
    made = [forecast(START_S), forecast(START_S + 6 * HOUR_S)]
    truth = {"air_temp_c": np.arange(48.0), "dew_point_c": np.zeros(48)}
    found = pairs_of(made, Outdoor(START_S, HOUR_S, truth))
    assert found.source == "nws"
    assert found.air_k.shape == (2, N)
    np.testing.assert_allclose(found.air_k[1, :3], [6.0 - 15.0, 7.0 - 15.0, 8.0 - 15.0])
    assert np.isnan(found.air_k[1, 42:]).all()  # the truth ends at hour 47
    assert len(pairs_of([], Outdoor(START_S, HOUR_S, truth))) == 0


def test_what_a_forecast_shows_adds_up_to_it() -> None:
    air = np.sin(np.arange(N) / 3.0) + np.arange(N) / 50.0
    shown = features(air, air * 0.0)
    own = air[:48].mean()
    np.testing.assert_allclose(own + shown[:, 1:4].sum(axis=-1), air, atol=1e-9)
    np.testing.assert_allclose(shown[:, 4:7], 0.0, atol=1e-12)


def test_what_is_bent_comes_back_and_never_below_nothing() -> None:
    below = np.array([0.0, 0.5, 3.0, 25.0])
    np.testing.assert_allclose(unbend(bend(below)), below, atol=1e-12)
    np.testing.assert_array_equal(unbend(bend(below) - 9.0), 0.0)


def test_errors_are_larger_where_the_forecast_changes_fast() -> None:
    """Days' courses foretold too early or late: errors are the slope's, and a steady forecast has
    next to none. Its share of the spread at the steepest hour is under a half; the floor on how
    small an error may be taken to be is a quarter."""
    rng = np.random.default_rng(3)
    hours = np.arange(N) * 2.0 * np.pi / 24.0
    swing, late = rng.uniform(0.0, 8.0, (150, 1)), rng.normal(0.0, 2.0, (150, 1))
    some = pairs(150, 0.1)
    some = replace(
        some,
        foretold_air_c=some.foretold_air_c + swing * np.sin(hours + late * 2.0 * np.pi / 24.0),
        happened_air_c=some.happened_air_c + swing * np.sin(hours),
    )
    model, at_s = learn(some), START_S + 400 * DAY_S
    spreads = []
    for size in (0.0, 8.0):
        made = forecast(at_s)
        columns = dict(made.hourly.columns)
        columns["air_temp_c"] = 15.0 + size * np.sin(hours[:REACH])
        made = replace(made, hourly=replace(made.hourly, columns=columns))
        out = scenario_outdoor(made, model, now_s=at_s, step_s=HOUR_S)
        spreads.append(out.column("air_temp_c").std(axis=0)[48])
    assert spreads[0] < 0.5 * spreads[1]


def test_saturated_air_foretold_is_drier_on_the_whole() -> None:
    """Truth 2 K above its dew point in the mean, never under 0; foretold with 1.5 K of error and
    cut at 0. Where 0 was foretold the courses are as dry as the truth was there, some 0.9 K;
    0.25 K is for the ridge and for a curve fitted to what is not quite one."""
    rng = np.random.default_rng(4)
    below = rng.exponential(2.0, (200, 1)) * np.ones(N)
    said = np.maximum(0.0, below + rng.normal(0.0, 1.5, (200, 1)))
    some = pairs(200, 0.1)
    some = replace(
        some,
        foretold_dew_c=some.foretold_air_c - said,
        happened_dew_c=some.happened_air_c - below,
    )
    made = forecast(START_S + 400 * DAY_S)
    columns = {name: np.full(REACH, 15.0) for name in ("air_temp_c", "dew_point_c")}
    made = replace(made, hourly=replace(made.hourly, columns=columns))
    out = scenario_outdoor(made, learn(some), now_s=made.fetched_s, step_s=HOUR_S)
    got = (out.column("air_temp_c") - out.column("dew_point_c"))[:, 24:96]
    assert (got >= 0.0).all()
    assert got.mean() == pytest.approx(below[said[:, 0] == 0.0].mean(), abs=0.25)


def test_never_falling_is_the_nearest_rise() -> None:
    """Pool adjacent violators by hand: 3, 1 become 2, 2; then 2, 2, 5, 4 become 2, 2, 4.5, 4.5."""
    np.testing.assert_allclose(never_falling(np.array([3.0, 1.0, 5.0, 4.0])), [2, 2, 4.5, 4.5])


def response_with(air_sd_k: tuple[float, ...]) -> object:
    spread = Spread((1.0, 24.0, 48.0), air_sd_k, (0.2, 0.4, 0.4), 0.9, 0.8)
    return replace(usual_response(Shop()), spread=spread)


def test_shop_misses_start_at_nothing_and_grow_to_what_was_seen() -> None:
    """A tenth: 2000 courses pin a spread to 1.6 %, the bound is three of these and more."""
    air, dew = residual_courses(response_with((0.3, 0.6, 0.5)), 193, 900, 2000, 5)  # type: ignore[arg-type]
    assert air.shape == dew.shape == (2000, 193)
    np.testing.assert_array_equal(air[:, 0], 0.0)
    assert air.std(axis=0)[4] == pytest.approx(0.3, rel=0.1)
    assert air.std(axis=0)[-1] == pytest.approx(0.55, rel=0.1)  # 0.6, 0.5 pooled
    assert abs(np.corrcoef(air[:, 100], dew[:, 100])[0, 1]) < 0.1
    lag1 = np.corrcoef(air[:, 100], air[:, 104])[0, 1]
    assert lag1 == pytest.approx(0.9, abs=0.03)


def test_shop_misses_come_again_with_the_seed() -> None:
    first, again, other = (
        residual_courses(usual_response(Shop()), 50, 900, 10, s) for s in (1, 1, 2)
    )
    np.testing.assert_array_equal(first[0], again[0])
    assert not np.array_equal(first[0], other[0])


def test_shop_misses_are_of_the_spread_at_every_step_and_never_narrower() -> None:
    """A stone shed's usual doubt for a week: exact, since the sample's own sd is taken out."""
    usual = usual_response(Shop("stone shed"))
    courses = residual_courses(usual, 4 * 24 * 7 + 1, 900, 200, 3)
    ahead_h = np.arange(4 * 24 * 7 + 1) / 4.0
    for found, sd_k in zip(courses, (usual.spread.air_sd_k, usual.spread.dew_sd_k), strict=True):
        expected = np.interp(ahead_h, (0.0, *usual.spread.lead_h), (0.0, *sd_k))
        np.testing.assert_allclose(found.std(axis=0), expected, atol=1e-9)
        assert (np.diff(found.std(axis=0)) >= -1e-9).all()
        np.testing.assert_allclose(found.mean(axis=0), 0.0, atol=1e-9)
