"""Moist air over its whole range: inverse, monotone, never above the air."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from advisor.physics import moist_air

AIR = st.floats(-40.0, 60.0)
RH = st.floats(0.0, 100.0, exclude_min=True)
# MetPy's first import takes most of a second: no deadline, and the seed is fixed so that a
# failure can be run again.
exact = settings(deadline=None, derandomize=True, max_examples=200)
#: Newton stops at 1e-12 of pressure: about 1e-11 K.
NOISE_K = 1e-9


@exact
@given(AIR, RH)
def test_rh_of_the_dew_point_is_the_rh(air: float, rh: float) -> None:
    assert abs(moist_air.rh_pct(air, moist_air.dew_point_c(air, rh)) - rh) <= 1e-6


@exact
@given(AIR, st.floats(0.0, 60.0))
def test_dew_point_of_the_rh_is_the_dew_point(air: float, below_k: float) -> None:
    dew = air - below_k
    # Above −100 °C: lower, one part in 1e-12 of pressure is still far under a millikelvin.
    assert abs(moist_air.dew_point_c(air, moist_air.rh_pct(air, dew)) - dew) <= 1e-6


@exact
@given(AIR, RH)
def test_dew_point_is_never_above_air_nor_above_the_frost_point(air: float, rh: float) -> None:
    dew = moist_air.dew_point_c(air, rh)
    assert dew <= air
    assert moist_air.frost_point_c(air, rh) >= dew
    assert moist_air.wet_point_c(air, dew) == moist_air.frost_point_c(air, rh)


@exact
@given(AIR, RH, RH)
def test_damper_air_has_a_higher_dew_and_frost_point(air: float, one: float, two: float) -> None:
    dry, damp = sorted((one, two))
    assert moist_air.dew_point_c(air, dry) <= moist_air.dew_point_c(air, damp) + NOISE_K
    assert moist_air.frost_point_c(air, dry) <= moist_air.frost_point_c(air, damp) + NOISE_K


@exact
@given(AIR, AIR, RH)
def test_warmer_air_at_one_rh_has_a_higher_dew_point(one: float, two: float, rh: float) -> None:
    cold, warm = sorted((one, two))
    assert moist_air.dew_point_c(cold, rh) <= moist_air.dew_point_c(warm, rh) + NOISE_K


@exact
@given(AIR, AIR, st.floats(-60.0, 40.0))
def test_warming_air_at_one_dew_point_lowers_its_rh(one: float, two: float, dew: float) -> None:
    cold, warm = sorted((max(one, dew), max(two, dew)))
    assert moist_air.rh_pct(cold, dew) >= moist_air.rh_pct(warm, dew) - 1e-9


@exact
@given(st.floats(-5.0, 60.0), st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_a_drier_wick_means_drier_air(air: float, one: float, two: float) -> None:
    # Depressions small enough to be possible at any of these temperatures over water.
    less, more = sorted((0.2 * one, 0.2 * two))
    damp = moist_air.rh_from_wet_bulb(air, max(air - less, -40.0), 1013.25)
    dry = moist_air.rh_from_wet_bulb(air, max(air - more, -40.0), 1013.25)
    if (air - less < 0.0) == (air - more < 0.0):  # the wick freezes at 0 °C: another coefficient
        assert dry <= damp + 1e-9


HOLEY = st.floats(-40.0, 60.0) | st.just(float("nan"))


@exact
@given(
    hnp.arrays(np.float64, st.integers(0, 8), elements=HOLEY),
    st.floats(0.5, 100.0),
)
def test_arrays_agree_with_single_values_and_keep_their_holes(air: np.ndarray, rh: float) -> None:
    dew = moist_air.dew_point_array(air, rh)
    wet = np.asarray(moist_air.wet_point_c(air, dew))
    assert np.array_equal(np.isnan(dew), np.isnan(air))
    assert np.array_equal(np.isnan(wet), np.isnan(air))
    for each, found in zip(air, dew, strict=True):
        if not np.isnan(each):
            assert abs(moist_air.dew_point_c(float(each), rh) - found) <= NOISE_K
