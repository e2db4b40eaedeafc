"""What holds of any sky: colder than air when clear, warmer with cloud and damp, never unset."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from advisor.physics import sky
from advisor.physics.outside_surface import balance

air = st.floats(-40.0, 60.0)
depression = st.floats(0.0, 80.0)
cloud = st.floats(0.0, 100.0)


@given(air, depression)
def test_a_clear_sky_is_colder_than_air(air_temp_c: float, drier_k: float) -> None:
    # Berdahl and Martin's own parabola passes 1 above 35 °C of dew point: held on purpose.
    for found in sky.sky_band_c(air_temp_c, air_temp_c - drier_k):
        assert float(found) < air_temp_c


def test_the_formula_itself_does_break_it() -> None:
    # So the clamp is not idle: 0.711 + 0.56 x + 0.73 x² at 40 °C is 1.05.
    assert 0.711 + 0.56 * 0.4 + 0.73 * 0.16 > 1.0
    assert float(sky.sky_temp_c(40.0, sky.berdahl_martin(40.0))) < 40.0


@given(air, depression, cloud, cloud)
def test_cloud_warms_the_sky_and_never_above_air(
    air_temp_c: float, drier_k: float, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    dew = air_temp_c - drier_k
    for low, high in zip(
        sky.sky_band_c(air_temp_c, dew, less), sky.sky_band_c(air_temp_c, dew, more), strict=True
    ):
        assert float(low) <= float(high) + 1e-9
        assert float(high) <= air_temp_c + 1e-9


@given(st.floats(-140.0, 60.0), st.floats(-140.0, 60.0))
def test_damp_air_has_a_warmer_sky(one: float, other: float) -> None:
    low, high = sorted((one, other))
    for model in (sky.berdahl_martin, sky.clark_allen):
        assert float(model(low)) <= float(model(high)) + 1e-12
        assert 0.5 < float(model(low)) <= sky.HIGHEST_CLEAR


@given(air, depression, cloud)
def test_the_band_is_in_order(air_temp_c: float, drier_k: float, cover: float) -> None:
    cold, warm = sky.sky_band_c(air_temp_c, air_temp_c - drier_k, cover)
    assert float(cold) <= float(warm)


@given(air, depression, cloud, st.floats(1.0, 60.0), st.floats(0.0, 1000.0))
def test_a_plate_settles_where_heat_in_is_heat_out(
    air_temp_c: float, drier_k: float, cover: float, h_w_m2_k: float, gained: float
) -> None:
    # Put back into the balance: 0.05 W/m² left is 0.01 K at the smallest coefficient.
    cold, _ = sky.sky_band_c(air_temp_c, air_temp_c - drier_k, cover)
    plate, whole_h = balance(air_temp_c, cold, h_w_m2_k, gained)
    air_k, sky_k, plate_k = (float(x) + 273.15 for x in (air_temp_c, cold, plate))
    left = (
        gained
        + h_w_m2_k * (air_k - plate_k)
        + 0.9 * sky.SIGMA * (math.pow(sky_k, 4) - math.pow(plate_k, 4))
    )
    assert abs(left) < 0.05
    assert float(whole_h) > h_w_m2_k


@given(air, depression, cloud, st.floats(1.0, 60.0))
def test_without_sun_a_plate_lies_between_sky_and_air(
    air_temp_c: float, drier_k: float, cover: float, h_w_m2_k: float
) -> None:
    cold, _ = sky.sky_band_c(air_temp_c, air_temp_c - drier_k, cover)
    plate, _ = balance(air_temp_c, cold, h_w_m2_k)
    assert float(cold) - 1e-3 <= float(plate) <= air_temp_c + 1e-3


def test_unknown_stays_unknown() -> None:
    for found in sky.sky_band_c([np.nan, 10.0, 10.0], [5.0, np.nan, 5.0], [0.0, 0.0, np.nan]):
        assert np.isnan(found).all()
