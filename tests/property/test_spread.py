"""What must be so of the courses for any forecast, source, age and seed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.spread.draws import scenario_outdoor
from advisor.climate.spread.errors import ErrorModel, Measured
from advisor.climate.spread.prior import prior

HOUR_S = 3600
ISSUED_S = 1_780_272_000
COUNT = 60

temperatures = st.floats(-30.0, 40.0)
depressions = st.floats(0.0, 20.0)
seeds = st.integers(0, 2**32 - 1)
sources = st.sampled_from(("nws", "metno", "brightsky", "openmeteo", "typed", "file", "other"))


@st.composite
def forecasts(draw: st.DrawFn) -> Forecast:
    """A day to three of made-up hours, with a hole now and then, issued before or long before."""
    hours = draw(st.integers(24, 72))
    rng = np.random.default_rng(draw(seeds))
    air = draw(temperatures) + rng.normal(0.0, 3.0, hours)
    columns = {
        "air_temp_c": np.where(rng.random(hours) < draw(st.sampled_from((0.0, 0.1))), np.nan, air),
        "dew_point_c": air - draw(depressions) * rng.random(hours),
        "wind_m_s": rng.exponential(3.0, hours),
        "rain_mm": np.where(rng.random(hours) < 0.2, rng.exponential(1.0, hours), 0.0),
        "cloud_pct": rng.uniform(0.0, 100.0, hours),
    }
    start_s = ISSUED_S + HOUR_S * draw(st.integers(0, 120))
    hourly = Outdoor(start_s, HOUR_S, columns)
    told = draw(st.booleans())
    return Forecast(
        "any", Place(0.0, 0.0), ISSUED_S, ISSUED_S if told else None, hourly, np.ones(hours), ""
    )


def drawn(
    forecast: Forecast, model: ErrorModel, seed: int, measured: Measured | None = None
) -> Outdoor:
    now_s = forecast.hourly.start_s
    return scenario_outdoor(forecast, model, now_s=now_s, count=COUNT, seed=seed, measured=measured)


@settings(max_examples=20, deadline=None)
@given(forecasts(), sources, seeds)
def test_physical_and_known_only_where_foretold(forecast: Forecast, source: str, seed: int) -> None:
    out = drawn(forecast, prior(source), seed)
    air, dew = out.column("air_temp_c"), out.column("dew_point_c")
    known = np.isfinite(air) & np.isfinite(dew)
    assert (dew[known] <= air[known]).all()
    assert (out.column("wind_m_s") >= 0.0).all()
    assert (out.column("rain_mm") >= 0.0).all()
    assert (np.abs(out.column("cloud_pct") - 50.0) <= 50.0).all()
    np.testing.assert_array_equal(np.isnan(air).any(axis=0), np.isnan(air).all(axis=0))
    on_hours = np.isnan(forecast.hourly.column("air_temp_c"))
    held = np.isnan(air[0, ::4])
    assert not (held & ~on_hours).any()  # a hole may be bridged, never be made


@settings(max_examples=12, deadline=None)
@given(forecasts(), sources, seeds)
def test_seeds_come_again(forecast: Forecast, source: str, seed: int) -> None:
    first, again = (drawn(forecast, prior(source), seed) for _ in range(2))
    for name, values in first.columns.items():
        np.testing.assert_array_equal(values, again.columns[name])


@settings(max_examples=12, deadline=None)
@given(forecasts(), sources, seeds, temperatures, depressions)
def test_spread_never_shrinks_and_starts_at_the_reading(
    forecast: Forecast, source: str, seed: int, air_c: float, below_k: float
) -> None:
    """1e-6 K: sums of a few hundred numbers of size 40 in double precision."""
    at_s = forecast.hourly.start_s
    for measured in (None, Measured(at_s, air_c, air_c - below_k)):
        air = drawn(forecast, prior(source), seed, measured).column("air_temp_c")
        spread = air.std(axis=0)
        spread = spread[np.isfinite(spread)]
        assert (np.diff(spread) >= -1e-6).all()
    if np.isfinite(air[0, 0]):
        np.testing.assert_allclose(air[:, 0], air_c, atol=1e-6)


@settings(max_examples=12, deadline=None)
@given(forecasts(), sources, seeds, st.floats(1.0, 4.0), st.floats(0.1, 8.0))
def test_wider_spread_draws_a_chance_towards_a_half(
    forecast: Forecast, source: str, seed: int, wider: float, inside_k: float
) -> None:
    """Of air staying over a limit that the forecast itself keeps: never likelier when wider."""
    usual = prior(source)
    twin = replace(usual, air_sd_k=wider * usual.air_sd_k, dew_sd_k=wider * usual.dew_sd_k)
    narrow, wide = (drawn(forecast, m, seed).column("air_temp_c") for m in (usual, twin))
    known = np.isfinite(narrow[0])
    limit = narrow[:, known].mean(axis=0) - inside_k
    chance, wider_chance = ((a[:, known] >= limit).mean(axis=0) for a in (narrow, wide))
    assert (wider_chance <= chance).all()
