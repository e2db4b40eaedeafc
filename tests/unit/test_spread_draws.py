"""Courses drawn from a forecast: where they start, how they widen, what they never do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.spread.draws import scenario_outdoor
from advisor.climate.spread.errors import Measured
from advisor.climate.spread.members import percentile_factor
from advisor.climate.spread.prior import prior

FloatArray = NDArray[np.float64]
HOUR_S = 3600
ISSUED_S = 1_780_272_000
HOURS = 121
AIR = 14.0 + 5.0 * np.sin(np.arange(HOURS) / 24.0 * 2.0 * np.pi)


def forecast(**changes: object) -> Forecast:
    """Five days in which air swings about 14 °C over a dew point of 9 °C."""
    columns = {
        "air_temp_c": AIR,
        "dew_point_c": np.full(HOURS, 9.0),
        "wind_m_s": np.full(HOURS, 1.0),
        "cloud_pct": np.full(HOURS, 40.0),
        "sun_w_m2": np.maximum(0.0, 100.0 * (AIR - 14.0)),
        "rain_mm": np.where(np.arange(HOURS) % 30 == 5, 1.0, 0.0),
        "pressure_hpa": np.full(HOURS, 1013.0),
    }
    hourly = Outdoor(ISSUED_S, HOUR_S, columns, frozenset({"sun_w_m2"}))
    made = Forecast(
        "metno", Place(50.0, 5.0), ISSUED_S + 900, ISSUED_S, hourly, np.ones(HOURS), "invented"
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def spread(outdoor: Outdoor, name: str = "air_temp_c") -> FloatArray:
    return np.asarray(outdoor.column(name).std(axis=0))


def test_grid_runs_from_the_step_before_now_to_the_end() -> None:
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S + 1000, count=20)
    assert (drawn.start_s, drawn.step_s) == (ISSUED_S + 900, 900)
    assert drawn.end_s == ISSUED_S + 120 * HOUR_S
    assert drawn.column("air_temp_c").shape == (20, 480)
    assert drawn.derived == {"sun_w_m2"}


def test_same_seed_same_courses_and_another_seed_others() -> None:
    first, again, other = (
        scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S, count=20, seed=seed)
        for seed in (3, 3, 4)
    )
    for name, values in first.columns.items():
        np.testing.assert_array_equal(values, again.columns[name])
    assert not np.array_equal(first.column("air_temp_c"), other.column("air_temp_c"))


def test_centre_and_spread_are_the_forecasts_and_the_priors() -> None:
    """Moment matched, so exact: 1.7 K at 24 h of lead in the prior's table."""
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S, step_s=HOUR_S)
    np.testing.assert_allclose(drawn.column("air_temp_c").mean(axis=0), AIR, atol=1e-9)
    assert spread(drawn)[24] == pytest.approx(1.7, abs=1e-9)


def test_spread_only_grows_with_lead() -> None:
    """Dew point is cut at the air, which may narrow it: only air is held to this."""
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S)
    assert np.diff(spread(drawn)).min() >= -1e-9


def test_an_old_forecast_is_doubted_more() -> None:
    fresh = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S)
    now_s = ISSUED_S + 48 * HOUR_S
    old = scenario_outdoor(forecast(), prior("metno"), now_s=now_s)
    assert spread(fresh)[0] == pytest.approx(1.0, abs=1e-9)
    assert spread(old)[0] == pytest.approx(2.1, abs=1e-9)  # the prior's figure for 48 h


def test_all_courses_pass_through_a_reading_and_part_from_there() -> None:
    seen = Measured(ISSUED_S, 16.5, 7.0)
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S, measured=seen)
    air = drawn.column("air_temp_c")
    np.testing.assert_allclose(air[:, 0], 16.5, atol=1e-9)
    np.testing.assert_allclose(drawn.column("dew_point_c")[:, 0], 7.0, atol=1e-9)
    away = np.abs(air.mean(axis=0) - np.interp(np.arange(481) / 4.0, np.arange(HOURS), AIR))
    assert away[0] == pytest.approx(2.5, abs=1e-9)
    assert away[8] > 1.0  # two hours on most of the miss still counts
    np.testing.assert_allclose(away[72 * 4 :], 0.0, atol=1e-9)  # three days on, none
    assert np.diff(spread(drawn)).min() >= -1e-9


def test_a_reading_of_air_alone_leaves_the_dew_point() -> None:
    seen = Measured(ISSUED_S, 16.5, float("nan"))
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S, measured=seen)
    assert np.isfinite(drawn.column("dew_point_c")).all()
    assert spread(drawn, "dew_point_c")[0] > 0.5


def test_dew_point_never_above_air_and_nothing_below_nothing() -> None:
    damp = forecast()
    columns = dict(damp.hourly.columns) | {"dew_point_c": AIR - 0.1}
    damp = replace(damp, hourly=replace(damp.hourly, columns=columns))
    drawn = scenario_outdoor(damp, prior("metno"), now_s=ISSUED_S)
    assert (drawn.column("dew_point_c") <= drawn.column("air_temp_c")).all()
    for name in ("wind_m_s", "rain_mm", "sun_w_m2", "cloud_pct"):
        assert drawn.column(name).min() >= 0.0
    assert drawn.column("cloud_pct").max() <= 100.0


def test_holes_and_what_is_before_the_forecast_stay_unknown() -> None:
    made = forecast()
    air = AIR.copy()
    air[40:50] = np.nan
    hourly = replace(made.hourly, columns=dict(made.hourly.columns) | {"air_temp_c": air})
    now_s = ISSUED_S - 2 * HOUR_S
    drawn = scenario_outdoor(replace(made, hourly=hourly), prior("metno"), now_s=now_s, count=10)
    at = (drawn.time_s - ISSUED_S) / HOUR_S
    unknown = np.isnan(drawn.column("air_temp_c"))
    np.testing.assert_array_equal(unknown.any(axis=0), unknown.all(axis=0))
    np.testing.assert_array_equal(unknown[0], (at < 0.0) | ((at > 39.0) & (at < 50.0)))
    np.testing.assert_array_equal(np.isnan(drawn.column("dew_point_c"))[0], unknown[0])


def test_nothing_past_the_end() -> None:
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S + 500 * HOUR_S, count=5)
    assert drawn.column("air_temp_c").shape == (5, 0)


def test_sun_goes_with_cloud() -> None:
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S)
    noon = 6 * 4 + 96 * 2
    cloud, sun = drawn.column("cloud_pct")[:, noon], drawn.column("sun_w_m2")[:, noon]
    assert sun[np.argmax(cloud)] == sun.min()
    assert sun[np.argmin(cloud)] == sun.max()


def test_rain_comes_late_stays_out_or_falls_unforetold() -> None:
    drawn = scenario_outdoor(forecast(), prior("metno"), now_s=ISSUED_S)
    wet = drawn.column("rain_mm") > 0.0
    foretold = wet[:, 65 * 4 - 3 : 65 * 4 + 1].all(axis=1).mean()
    dry_day = wet[:, 80 * 4].mean()
    assert 0.0 < foretold < 0.9
    assert 0.0 < dry_day < 0.2


def ensemble(members: int, apart_k: float) -> Forecast:
    """Members that stand side by side, `apart_k` in standard deviation."""
    steps = np.linspace(-1.0, 1.0, members)
    shift = (steps / steps.std() * apart_k)[:, np.newaxis]
    given = {"air_temp_c": AIR + shift, "dew_point_c": np.full(HOURS, 3.0) + shift}
    return replace(forecast(), members=given)


def test_members_too_close_are_dressed_to_the_known_error() -> None:
    """Ten per cent: members and dressing are correlated by chance in 200 courses."""
    drawn = scenario_outdoor(ensemble(20, 0.5), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S)
    known = prior("openmeteo").air_sd_k[:HOURS]
    np.testing.assert_allclose(spread(drawn)[[24, 72]], known[[24, 72]], rtol=0.1)


def test_members_far_apart_are_kept_apart() -> None:
    drawn = scenario_outdoor(ensemble(20, 6.0), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S)
    assert spread(drawn)[24] > 6.0 * 0.95


def test_a_course_is_one_member_in_all_columns() -> None:
    drawn = scenario_outdoor(ensemble(20, 6.0), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S)
    air, dew = drawn.column("air_temp_c")[:, 30], drawn.column("dew_point_c")[:, 30]
    assert np.corrcoef(air, dew)[0, 1] > 0.8


def test_members_that_end_early_or_have_holes_leave_no_hole() -> None:
    """What the forecast itself knows to its end is known in every course."""
    known = np.arange(HOURS) < 60
    many = dict(ensemble(20, 1.0).members)
    for name, value in (("wind_m_s", 4.0), ("cloud_pct", 90.0), ("rain_mm", 0.0)):
        many[name] = np.where(known, np.full((20, HOURS), value), np.nan)
    for name in ("air_temp_c", "dew_point_c"):
        many[name] = np.where(known, many[name], np.nan)
    many["wind_m_s"][3, 20:30] = np.nan
    drawn = scenario_outdoor(
        forecast(members=many), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S
    )
    for name, values in drawn.columns.items():
        assert np.isfinite(values[:, :HOURS]).all(), name
    wind = drawn.column("wind_m_s")
    assert (wind[:, 10] == 4.0).all()
    assert wind[:, 80].mean() == pytest.approx(1.0, abs=0.3)  # the forecast's own


def test_sun_is_that_of_the_members_own_cloud() -> None:
    """Kasten & Czeplak: 0.25 of a clear sky's is left under full cloud; the forecast's was 40 %."""
    many = dict(ensemble(20, 1.0).members)
    clouds = np.where(np.arange(20) % 2, 100.0, 0.0)
    many["cloud_pct"] = np.broadcast_to(clouds[:, None], (20, HOURS))
    drawn = scenario_outdoor(
        forecast(members=many), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S
    )
    noon = 54
    cloud, sun = drawn.column("cloud_pct")[:, noon], drawn.column("sun_w_m2")[:, noon]
    clear = sun[cloud == 0.0]
    assert np.ptp(clear) < 1e-9
    np.testing.assert_allclose(sun[cloud == 100.0], 0.25 * clear[0])
    many["sun_w_m2"] = np.full((20, HOURS), 123.0)
    drawn = scenario_outdoor(
        forecast(members=many), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S
    )
    assert (drawn.column("sun_w_m2")[:, 2:-2] == 123.0).all()


def test_too_few_members_count_as_none() -> None:
    drawn = scenario_outdoor(ensemble(3, 6.0), prior("openmeteo"), now_s=ISSUED_S, step_s=HOUR_S)
    assert spread(drawn)[24] == pytest.approx(prior("openmeteo").air_sd_k[24], abs=1e-9)


def test_percentiles_scale_the_prior_inside_bounds_and_fade() -> None:
    half = np.full(HOURS, np.nan)
    half[:60] = 2.563 * prior("metno").air_sd_k[:60] * 0.75
    made = replace(
        forecast(),
        low10={"air_temp_c": AIR - half},
        high90={"air_temp_c": AIR + half},
    )
    factor = percentile_factor(made, prior("metno").air_sd_k)
    np.testing.assert_allclose(factor[:60], 1.5)
    np.testing.assert_allclose(factor[84:], 1.0)
    drawn = scenario_outdoor(made, prior("metno"), now_s=ISSUED_S, step_s=HOUR_S)
    assert spread(drawn)[24] == pytest.approx(1.5 * 1.7, rel=1e-6)
    assert np.diff(spread(drawn)).min() >= -1e-9


def test_coarse_steps_of_a_source_widen() -> None:
    """0.6 K, in squares, on the 1.7 K at 24 h."""
    made = forecast(step_h=np.full(HOURS, 6.0))
    drawn = scenario_outdoor(made, prior("metno"), now_s=ISSUED_S, step_s=HOUR_S)
    assert spread(drawn)[24] == pytest.approx(np.hypot(1.7, 0.6), abs=1e-6)


def test_a_source_nobody_knows_is_doubted_more() -> None:
    assert (prior("nobody").air_sd_k > prior("nws").air_sd_k).all()
    assert (np.diff(prior("nws").dew_sd_k) > 0.0).all()
