"""What must hold of a simulated shop whatever the weather, the shop and what is done to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from advisor.climate.outdoor import Outdoor
from advisor.climate.shop.response import Indoor, Inputs, Response, State, simulate, usual_response
from advisor.climate.shop.shop import KINDS, Shop

N = 60
STEP_S = 3600
START_S = 1_700_000_000 // STEP_S * STEP_S

shops = st.builds(Shop, st.sampled_from(KINDS), st.sampled_from([1.0, 30.0, 200.0, 50_000.0]))
temps = arrays(float, N, elements=st.floats(-40.0, 45.0))
suns = arrays(float, N, elements=st.floats(0.0, 1200.0))
factors = arrays(float, N, elements=st.sampled_from([0.0, 0.5, 1.0, 4.0]))
quick = settings(max_examples=60, deadline=None)


def weather(air: object, dew_below_k: float, sun: object) -> Outdoor:
    out = np.asarray(air, float)
    columns = {"air_temp_c": out, "dew_point_c": out - dew_below_k, "sun_w_m2": np.asarray(sun)}
    return Outdoor(START_S, STEP_S, columns)


@quick
@given(shops, temps, suns, st.floats(0.0, 15.0), factors, st.floats(-20.0, 40.0))
def test_never_nan_and_dew_never_above_air(shop, air, sun, below, factor, at_c) -> None:
    state = State.at_rest(START_S, at_c, at_c - 3.0)
    done = Inputs(heat_w=2000.0, vapour_g_per_h=-500.0, air_change_factor=factor)
    found = simulate(usual_response(shop), weather(air, below, sun), state, done)
    assert np.isfinite([found.air_temp_c, found.dew_point_c, found.fabric_c]).all()
    assert (found.dew_point_c <= found.air_temp_c).all()


@quick
@given(shops, temps, temps, suns)
def test_air_is_linear_in_weather_and_state(shop, one, other, sun) -> None:
    response = without_gain(usual_response(shop))

    def air(out: object, sun_w: object, at_c: float) -> object:
        state = State.at_rest(START_S, at_c, -20.0)
        return simulate(response, weather(out, 5.0, sun_w), state).air_temp_c

    both = air(one + other, sun, 15.0)
    apart = air(one, sun, 10.0) + air(other, 0.0 * sun, 5.0)
    # Rounding only: sums of up to 60 terms of size 100.
    assert np.abs(both - apart).max() < 1e-8


def without_gain(response: Response) -> Response:
    return replace(response, thermal=replace(response.thermal, gain_air_k_h=0.0))


@quick
@given(shops, st.floats(-20.0, 35.0), st.floats(-20.0, 40.0))
def test_steady_weather_is_where_a_shop_ends(shop, out_c, at_c) -> None:
    """Stable: without sun and gain any start ends at outdoor air."""
    year = np.full(4000, out_c)
    response = without_gain(usual_response(shop))
    found = simulate(
        response, weather(year, 4.0, 0.0 * year), State.at_rest(START_S, at_c, at_c - 2)
    )
    assert abs(found.air_temp_c[-1] - out_c) < 0.01  # 4000 h are over ten of the slowest lags
    assert np.ptp(found.air_temp_c) <= abs(at_c - out_c) + 0.01


@quick
@given(
    st.sampled_from(["timber shed", "stone shed", "insulated"]),
    st.floats(5.0, 25.0),
    st.floats(3.0, 10.0),
    st.floats(1.2, 5.0),
)
def test_more_air_brings_dew_point_toward_outdoors(kind, out_c, below_k, factor) -> None:
    """A shop damper than outdoors dries sooner with its doors open; no start is overshot."""
    flat = np.full(N, out_c)
    outside = weather(flat, below_k, 0.0 * flat)
    response = without_gain(usual_response(Shop(kind)))
    response = replace(response, moisture=replace(response.moisture, source_hpa_h=0.0))
    state = State.at_rest(START_S, out_c, out_c - 1.0)
    shut = simulate(response, outside, state)
    opened = simulate(response, outside, state, Inputs(air_change_factor=factor))
    gap = opened.dew_point_c - (out_c - below_k)
    assert (opened.dew_point_c[1:] <= shut.dew_point_c[1:] + 1e-6).all()
    assert opened.dew_point_c[5] < shut.dew_point_c[5]
    assert (gap >= -1e-4).all()  # the table of saturation is good to 1e-5 K


@quick
@given(shops, temps, suns, st.integers(0, N - 1), st.integers(1, N))
def test_holes_stay_holes(shop, air, sun, first, length) -> None:
    """Hourly holes of over three hours, and all after them; shorter ones inside are bridged."""
    holed = air.copy()
    holed[first : first + length] = np.nan
    state = State.at_rest(START_S, 10.0, 8.0)
    found = simulate(usual_response(shop), weather(holed, 2.0, sun), state).air_temp_c
    last = min(first + length, N)
    bridged = first > 0 and last < N and last - first + 1 <= 3
    assert np.isfinite(found[:first]).all()
    assert np.isnan(found[first:]).all() != bridged
    assert np.isfinite(found[first:]).all() == bridged


@quick
@given(shops, temps, suns, factors)
def test_scenarios_are_each_what_one_course_is(shop, air, sun, factor) -> None:
    response, state = usual_response(shop), State.at_rest(START_S, 12.0, 9.0)
    done = Inputs(heat_w=800.0, air_change_factor=factor)
    stacked = np.stack([air, air + 1.0, air - 2.0])
    many = simulate(response, weather(stacked, 3.0, np.stack([sun] * 3)), state, done)
    for row in range(3):
        one: Indoor = simulate(response, weather(stacked[row], 3.0, sun), state, done)
        assert np.allclose(many.air_temp_c[row], one.air_temp_c, atol=1e-9)
        assert np.allclose(many.dew_point_c[row], one.dew_point_c, atol=1e-7)


@quick
@given(shops, temps, suns)
def test_a_coarser_step_of_even_weather_changes_nothing(shop, air, sun) -> None:
    """Exact stepping: hours cut into quarters, with straight lines between, end the same."""
    quarters = np.arange(0, (N - 1) * 4 + 1) / 4.0
    fine_sun = np.concatenate([sun[:1], np.repeat(sun[1:], 4)])
    fine_air = np.interp(quarters, np.arange(N), air)
    fine = {"air_temp_c": fine_air, "dew_point_c": fine_air - 3.0, "sun_w_m2": fine_sun}
    response, state = usual_response(shop), State.at_rest(START_S, 12.0, 9.0)
    hourly = simulate(response, weather(air, 3.0, sun), state).air_temp_c
    found = simulate(response, Outdoor(START_S, 900, fine), state).air_temp_c
    assert np.allclose(found[::4], hourly, atol=1e-8)
