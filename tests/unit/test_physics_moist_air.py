"""Moist air: exact promises, refusals, and the traps of the libraries underneath."""

from __future__ import annotations

import subprocess
import sys

import metpy
import metpy.calc
import numpy as np
import pytest
from metpy.units import units

from advisor.base.errors import RangeError
from advisor.physics import moist_air

NAN = float("nan")


def test_saturated_air_has_its_own_temperature_as_dew_point_exactly() -> None:
    air = np.arange(-40.0, 60.25, 0.25)
    assert np.array_equal(moist_air.dew_point_c(air, np.full(air.shape, 100.0)), air)
    assert moist_air.rh_pct(17.3, 17.3) == 100.0


def test_numbers_give_floats_and_arrays_give_arrays() -> None:
    for found in (
        moist_air.dew_point_c(20, 60),
        moist_air.rh_pct(20, 12),
        moist_air.frost_point_c(-5, 60),
        moist_air.wet_point_c(20, -3),
        moist_air.saturation_hpa(20),
        moist_air.rh_from_wet_bulb(20, 15, 1013.25),
        moist_air.pressure_at_altitude_hpa(0),
    ):
        assert type(found) is float
    assert np.shape(moist_air.dew_point_c([20.0, 21.0], 60.0)) == (2,)
    assert np.shape(moist_air.dew_point_c(np.zeros((2, 3)), 60.0)) == (2, 3)
    assert np.shape(moist_air.dew_point_c([], [])) == (0,)


@pytest.mark.parametrize(
    ("air", "rh", "says"),
    [
        (20.0, 0.0, "rh_pct: found 0; accepted: above 0, up to 100 %"),
        (20.0, -5.0, "rh_pct: found -5;"),
        (20.0, 100.5, "rh_pct: found 100.5;"),
        (20.0, NAN, "rh_pct: found NaN;"),
        (-40.5, 50.0, "air_temp_c: found -40.5; accepted: -40 to 60 °C"),
        (60.5, 50.0, "air_temp_c: found 60.5;"),
        (NAN, 50.0, "air_temp_c: found NaN;"),
        (float("inf"), 50.0, "air_temp_c: found inf;"),
        ([10.0, 85.0], 50.0, "air_temp_c: found 85 at position 1;"),
    ],
)
@pytest.mark.parametrize("ask", [moist_air.dew_point_c, moist_air.frost_point_c])
def test_bad_air_is_refused_with_what_was_found_and_what_is_accepted(ask, air, rh, says) -> None:
    with pytest.raises(RangeError) as refused:
        ask(air, rh)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_dew_point_above_air_is_refused() -> None:
    # MetPy answers 135 % here without a word (notes, traps).
    with pytest.raises(RangeError, match="dew_point_c: found 25"):
        moist_air.rh_pct(20.0, 25.0)
    with pytest.raises(RangeError, match="dew_point_c: found NaN"):
        moist_air.rh_pct(20.0, NAN)
    with pytest.raises(RangeError, match="dew_point_c: found -999"):
        moist_air.rh_pct(20.0, -999.0)


def test_array_forms_let_holes_through() -> None:
    air = np.array([20.0, NAN, 20.0, 20.0, 20.0, 20.0])
    rh = np.array([60.0, 60.0, NAN, 0.0, 103.0, 140.0])
    dew = moist_air.dew_point_array(air, rh)
    assert np.array_equal(np.isnan(dew), [False, True, True, True, False, True])
    assert dew[4] == 20.0  # a logger's overshoot counts as saturated
    back = moist_air.rh_array(air, dew)
    assert back[0] == pytest.approx(60.0, abs=1e-6)
    assert np.isnan(back[1])
    wet = moist_air.wet_point_c(np.array([20.0, NAN, -5.0, -5.0]), np.array([5.0, 5.0, NAN, -6.0]))
    assert np.array_equal(np.isnan(wet), [False, True, True, False])
    assert np.isnan(moist_air.dew_point_array(np.full(3, NAN), 50.0)).all()


def test_wet_point_is_frost_below_freezing_and_dew_above() -> None:
    assert moist_air.wet_point_c(20.0, 12.0) == 12.0
    assert moist_air.wet_point_c(20.0, 0.01) == 0.01
    # Saturation over ice at the frost point is the vapour pressure: the definition.
    dew = moist_air.dew_point_c(-5.0, 60.0)
    frost = moist_air.wet_point_c(-5.0, dew)
    assert moist_air.saturation_hpa(frost, "ice") == pytest.approx(
        moist_air.saturation_hpa(dew), rel=1e-10
    )
    assert frost == moist_air.frost_point_c(-5.0, 60.0)
    # No step where dew turns to frost: both meet at the triple point.
    assert moist_air.wet_point_c(5.0, 0.0099) == pytest.approx(0.0099, abs=1e-4)


def test_below_freezing_rh_is_over_water() -> None:
    # −5 °C, "60 %": three conventions 1.3 K apart; computed with Ambaum 2020, notes 1.5.
    # Tolerance 0.02 K: Ambaum against Hyland–Wexler.
    assert moist_air.dew_point_c(-5.0, 60.0) == pytest.approx(-11.57, abs=0.02)
    assert moist_air.frost_point_c(-5.0, 60.0) == pytest.approx(-10.29, abs=0.02)
    assert abs(moist_air.frost_point_c(-5.0, 60.0) - -10.84) > 0.5  # RH over ice, not ours


def test_nearly_saturated_freezing_air_frosts_above_its_own_temperature() -> None:
    assert moist_air.frost_point_c(-10.0, 100.0) > -10.0
    assert moist_air.dew_point_c(-10.0, 100.0) == -10.0


def test_ice_saturation_is_not_extrapolated_above_melting() -> None:
    # MetPy's phase="solid" answers 28.28 hPa at 20 °C without a word.
    with pytest.raises(RangeError, match="over ice"):
        moist_air.saturation_hpa(20.0, "ice")
    with pytest.raises(RangeError, match="water"):
        moist_air.saturation_hpa(20.0, "solid")  # type: ignore[call-overload]


@pytest.mark.skipif(not metpy.__version__.startswith("1.7"), reason="a fault of MetPy 1.7")
@pytest.mark.parametrize(("air", "low_by"), [(0, 0.01001), (20, 0.01519), (40, 0.10278)])
def test_metpy_dew_point_alone_is_low_and_ours_is_not(air: float, low_by: float) -> None:
    # Computed with MetPy 1.7.1; printed to 5 decimals.
    raw = metpy.calc.dewpoint_from_relative_humidity(
        units.Quantity(float(air), "degC"), units.Quantity(100.0, "percent")
    )
    assert air - raw.m_as("degC") == pytest.approx(low_by, abs=6e-6)
    assert moist_air.dew_point_c(float(air), 100.0) == air


def test_bone_dry_air_is_refused_and_nearly_dry_air_is_cold() -> None:
    # A trap of the libraries: RH 0 gives NaN (MetPy), −123.75 °C (CoolProp), an error
    # (PsychroLib). It is a dead sensor: refused.
    with pytest.raises(RangeError):
        moist_air.dew_point_c(20.0, 0.0)
    # PsychroLib 2.5.0 computes a frost point of −70.75 °C at 0.01 % (0.15 K: Ambaum's ice is
    # 1 % low against Hyland–Wexler so far down, notes: −60 °C).
    assert moist_air.frost_point_c(20.0, 0.01) == pytest.approx(-70.75, abs=0.15)


def test_percent_is_percent_not_a_fraction() -> None:
    # MetPy takes a bare 0.5 as 50 %: 9.26 °C. Half a percent at 20 °C is bone dry.
    assert moist_air.dew_point_c(20.0, 0.5) < -40.0


def test_wet_bulb_needs_possible_readings() -> None:
    with pytest.raises(RangeError, match="wet_bulb_c: found 21"):
        moist_air.rh_from_wet_bulb(20.0, 21.0, 1013.25)
    with pytest.raises(RangeError, match="leaves some vapour"):
        moist_air.rh_from_wet_bulb(40.0, 5.0, 1013.25)
    with pytest.raises(RangeError, match=r"pressure_hpa: found 29\.9"):
        moist_air.rh_from_wet_bulb(20.0, 15.0, 29.9)  # inches of mercury
    assert moist_air.rh_from_wet_bulb(20.0, 20.0, 1013.25) == 100.0


def test_altitude_outside_the_inhabited_is_refused() -> None:
    with pytest.raises(RangeError, match="altitude_m: found 9000"):
        moist_air.pressure_at_altitude_hpa(9000.0)


def test_importing_the_module_does_not_import_metpy() -> None:
    ask = "import sys, advisor.physics.moist_air; sys.exit('metpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", ask], check=False).returncode == 0


def test_wet_point_of_a_series_takes_few_metpy_calls(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []
    real = moist_air._saturation

    def counted(temp_k, phase):
        calls.append(phase)
        return real(temp_k, phase)

    monkeypatch.setattr(moist_air, "_saturation", counted)
    moist_air.wet_point_c(np.full(2000, 20.0), np.linspace(-30.0, 15.0, 2000))
    assert len(calls) <= 5  # one over water, Newton's few over ice; not one per point
