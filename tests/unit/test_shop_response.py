"""The shop's response as a thing: usual figures, JSON, inputs, starts."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from advisor.base.errors import InputError, RangeError
from advisor.climate.outdoor import Outdoor
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.response import (
    Inputs,
    Response,
    ShopLog,
    State,
    simulate,
    usual_response,
)
from advisor.climate.shop.shop import KINDS, Shop
from advisor.climate.shop.thermal import Thermal, emitted
from advisor.climate.shop.vapour import dew_c, pressure_hpa
from advisor.physics import moist_air

N = 96 * 4
START_S = 1_700_006_400


def steady(air_c: float = 10.0, dew_point_c: float = 5.0, n: int = N) -> Outdoor:
    columns = {"air_temp_c": np.full(n, air_c), "dew_point_c": np.full(n, dew_point_c)}
    return Outdoor(START_S, 900, {**columns, "sun_w_m2": np.zeros(n)})


@pytest.mark.parametrize("kind", KINDS)
def test_json_round_trip(kind: str) -> None:
    usual = usual_response(Shop(kind), "no log")
    known = replace(
        usual, fitted=True, log_days=11.5, spread=replace(usual.spread, air_day_k=(0.3,))
    )
    for response in (usual, known):
        assert Response.from_json(response.to_json()) == response


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"thermal": 3}', "null", '{"thermal": {"a": 1}}']
)
def test_json_that_is_none(text: str) -> None:
    with pytest.raises(InputError, match="stored shop response"):
        Response.from_json(text)


@pytest.mark.parametrize(
    "spread",
    [
        {"lead_h": [], "air_sd_k": [], "dew_sd_k": []},
        {"air_sd_k": [0.1]},
        {"dew_sd_k": [-1.0] * 7},
        {"air_sd_k": [float("nan")] * 7},
        {"lead_h": [1.0, 6.0, 12.0, 24.0, 96.0, 48.0, 168.0]},
    ],
)
def test_a_stored_response_without_doubt_is_none(spread: dict[str, list[float]]) -> None:
    whole = json.loads(usual_response(Shop()).to_json())
    whole["spread"] |= spread
    with pytest.raises(InputError, match="stored shop response"):
        Response.from_json(json.dumps(whole))


def test_kinds_stand_in_the_right_order() -> None:
    """The more open and the lighter a shop, the more it loses and the sooner it follows."""
    loss = {kind: usual_response(Shop(kind)).loss_w_k for kind in KINDS}
    assert loss["open shelter"] > loss["tent"] > loss["metal shed"] > loss["timber shed"]
    assert loss["timber shed"] > loss["stone shed"] > loss["insulated"]
    swing = {kind: night_swing_k(kind) for kind in KINDS}
    assert swing["open shelter"] > swing["metal shed"] > swing["stone shed"] > swing["insulated"]


def night_swing_k(kind: str) -> float:
    hours = np.arange(N) / 4.0
    out = 10.0 + 5.0 * np.sin(hours * (2 * np.pi / 24.0))
    columns = {"air_temp_c": out, "dew_point_c": out - 5.0, "sun_w_m2": np.zeros(N)}
    found = simulate(
        usual_response(Shop(kind)), Outdoor(START_S, 900, columns), State.at_rest(0, 10.0, 5.0)
    )
    return float(np.ptp(found.air_temp_c[-96:]))


def test_heater_ends_at_watts_over_loss() -> None:
    """Steady heat Q warms by Q / loss in the long run (first law)."""
    response = usual_response(Shop("stone shed"))
    year = steady(n=96 * 60)
    found = simulate(response, year, State.at_rest(0, 10.0, 5.0), Inputs(heat_w=2000.0))
    # 60 days are over ten of its slowest lag.
    assert found.air_temp_c[-1] - 10.0 == pytest.approx(2000.0 / response.loss_w_k, rel=1e-3)


def test_water_added_ends_at_the_balance_of_the_air_change() -> None:
    """100 g/h into 200 m³ at one change an hour: 0.5 g/m³, 0.665 hPa over outdoors."""
    moisture = Moisture(1.0, 0.3, 0.06, 0.0)
    response = replace(usual_response(Shop()), moisture=moisture, volume_m3=200.0)
    found = simulate(
        response,
        steady(20.0, 5.0, 96 * 10),
        State.at_rest(0, 20.0, 5.0),
        Inputs(vapour_g_per_h=100.0),
    )
    over = pressure_hpa(found.dew_point_c[-1]) - pressure_hpa(5.0)
    assert over == pytest.approx(0.5 * 461.5 * 288.15 * 1e-5, rel=1e-3)


def test_inputs_hold_over_the_step_before_their_stamp() -> None:
    heat = np.zeros(N)
    heat[10] = 5000.0
    response, state = usual_response(Shop()), State.at_rest(0, 10.0, 5.0)
    bare = simulate(response, steady(), state)
    warm = simulate(response, steady(), state, Inputs(heat_w=heat))
    more = warm.air_temp_c - bare.air_temp_c
    assert np.abs(more[:10]).max() == 0.0
    assert more[10] == more.max() > 0.0


@pytest.mark.parametrize(
    ("inputs", "words"),
    [
        (Inputs(heat_w=np.zeros(3)), "heat_w"),
        (Inputs(vapour_g_per_h=float("nan")), "vapour_g_per_h"),
        (Inputs(air_change_factor=-1.0), "air_change_factor"),
    ],
)
def test_inputs_that_cannot_be(inputs: Inputs, words: str) -> None:
    with pytest.raises(RangeError, match=words):
        simulate(usual_response(Shop()), steady(), State.at_rest(0, 10.0, 5.0), inputs)


def test_a_log_must_fit_its_weather() -> None:
    with pytest.raises(RangeError, match="air_temp_c"):
        ShopLog(np.zeros(3), np.zeros(N), steady())


def test_no_sun_known_is_said() -> None:
    outdoor = steady()
    dark = Outdoor(START_S, 900, {k: v for k, v in outdoor.columns.items() if k != "sun_w_m2"})
    found = simulate(usual_response(Shop()), dark, State.at_rest(0, 10.0, 5.0))
    assert found.notes == ("sun not known: taken as none",)
    assert simulate(usual_response(Shop()), outdoor, State.at_rest(0, 10.0, 5.0)).notes == ()


@pytest.mark.parametrize("n", [1, 2, 3])
def test_the_shortest_weather(n: int) -> None:
    found = simulate(usual_response(Shop()), steady(n=n), State.at_rest(0, 15.0, 5.0))
    assert found.air_temp_c[0] == 15.0
    assert found.dew_point_c[0] == pytest.approx(5.0, abs=1e-4)
    assert len(found.air_temp_c) == n


def test_warm_fabric_gives_off_vapour() -> None:
    """Fabric at constant relative humidity: the dew point in shut air rises with the air."""
    shut = replace(usual_response(Shop()), moisture=Moisture(0.0, 5.0, 0.001, 0.0, 0.065))
    found = simulate(shut, steady(), State.at_rest(0, 10.0, 5.0), Inputs(heat_w=4000.0))
    rose_k = found.air_temp_c[-1] - 10.0
    rh = [
        moist_air.rh_array(a, d)
        for a, d in ((10.0, 5.0), (found.air_temp_c[40], found.dew_point_c[40]))
    ]
    assert rose_k > 2.0
    assert found.dew_point_c[40] > 6.0
    assert rh[1] == pytest.approx(rh[0], abs=8.0)  # straight line for a curve, over a few K


def test_heater_with_a_lag_gives_off_what_it_took() -> None:
    thermal = replace(usual_response(Shop()).thermal, heater_lag_h=2.0)
    heat = np.zeros(400)
    heat[1:9] = 1000.0
    mean, output = emitted(thermal, heat, 0.25, 0.0)
    assert mean.sum() == pytest.approx(heat.sum(), rel=1e-6)
    assert output.max() == output[8] < 1000.0
    assert np.array_equal(emitted(replace(thermal, heater_lag_h=0.0), heat, 0.25, 0.0)[0], heat)


def test_loss_is_what_the_rates_say() -> None:
    """Air 100 Wh/K, 0.5 and 2 per hour: 50 W/K direct; 200 in series with 1000 × 0.1 through."""
    thermal = Thermal(0.5, 2.0, 0.2, 0.1, 0.0, 0.0, 0.0, 100.0)
    assert thermal.fabric_wh_k == pytest.approx(1000.0)
    assert thermal.loss_w_k == pytest.approx(50.0 + 200.0 * 100.0 / 300.0)


def test_vapour_table_is_the_one_curve() -> None:
    temps = np.linspace(-60.0, 50.0, 777)
    assert np.abs(dew_c(pressure_hpa(temps)) - temps).max() < 1e-4
    assert pressure_hpa(temps) == pytest.approx(moist_air.saturation_hpa(temps), rel=1e-5)
    assert np.isnan(dew_c(np.array([np.nan]))).all()


def test_weather_unknown_at_the_start_is_not_drawn_backwards() -> None:
    """An hour of weather nobody knows, at the very start: the shop went where nobody knows."""
    whole = steady()
    columns = dict(whole.columns)
    columns["air_temp_c"] = columns["air_temp_c"].copy()
    columns["air_temp_c"][:4] = np.nan
    response, state = usual_response(Shop()), State.at_rest(0, 15.0, 5.0)
    found = simulate(response, replace(whole, columns=columns), state)
    assert np.isnan(found.air_temp_c).all()
    # The first stamp's sun is of the step before it and moves nothing.
    columns = dict(whole.columns)
    columns["sun_w_m2"] = columns["sun_w_m2"].copy()
    columns["sun_w_m2"][0] = np.nan
    found = simulate(response, replace(whole, columns=columns), state)
    assert np.array_equal(found.air_temp_c, simulate(response, whole, state).air_temp_c)
