"""Sensor spread: half-widths, slopes against differences of the full formula, holes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.physics import moist_air
from advisor.physics.uncertainty import (
    SensorSpread,
    margin_sd_k,
    wet_point_sd_k,
    wet_point_slopes,
)


def test_half_widths_become_standard_uncertainties() -> None:
    # JCGM 100:2008, 4.3.7: a rectangle of half-width a has u = a/√3.
    spread = SensorSpread.from_half_widths(air_k=0.5, rh_pct=3.0, surface_k=1.0)
    root = math.sqrt(3.0)
    assert (spread.air_k, spread.rh_pct, spread.surface_k) == (0.5 / root, 3.0 / root, 1.0 / root)
    assert not spread.defaults


def test_defaults_are_the_common_half_widths_and_marked() -> None:
    usual = SensorSpread.from_half_widths(air_k=0.5, rh_pct=3.0, surface_k=1.0)
    given = SensorSpread()
    assert given.defaults
    # The defaults are rounded: 0.29 K, 1.7 %, 0.58 K.
    assert given.air_k == pytest.approx(usual.air_k, abs=0.005)
    assert given.rh_pct == pytest.approx(usual.rh_pct, abs=0.05)
    assert given.surface_k == pytest.approx(usual.surface_k, abs=0.005)


def test_a_missing_half_width_keeps_its_default_and_the_mark() -> None:
    spread = SensorSpread.from_half_widths(air_k=0.2)
    assert spread.rh_pct == 1.7
    assert spread.defaults


@pytest.mark.parametrize("wrong", [-0.1, float("nan"), float("inf")])
def test_impossible_spread_is_refused(wrong: float) -> None:
    with pytest.raises(RangeError, match="uncertainty air_k"):
        SensorSpread(air_k=wrong)


def test_untaped_infrared_counts_three_kelvin() -> None:
    assert SensorSpread().with_untaped_infrared().surface_k == 3.0
    assert SensorSpread(surface_k=4.0).with_untaped_infrared().surface_k == 4.0


@pytest.mark.parametrize("air", [-20.0, -5.0, 2.0, 10.0, 20.0, 35.0])
@pytest.mark.parametrize("rh", [30.0, 60.0, 85.0, 97.0])
def test_slopes_match_differences_of_the_full_formula(air: float, rh: float) -> None:
    # 0.8 %: Magnus against Ambaum. Cells that straddle freezing have no one slope: none here.
    per_rh, per_k = wet_point_slopes(air, rh)
    rise = moist_air.frost_point_c(air, rh + 0.05) - moist_air.frost_point_c(air, rh - 0.05)
    warm = moist_air.frost_point_c(air + 0.05, rh) - moist_air.frost_point_c(air - 0.05, rh)
    assert per_rh == pytest.approx(rise / 0.1, rel=0.008)
    assert per_k == pytest.approx(warm / 0.1, rel=0.008)


def test_parts_add_as_squares() -> None:
    alone = wet_point_sd_k(20.0, 85.0, SensorSpread())
    with_surface = margin_sd_k(20.0, 85.0, SensorSpread())
    assert with_surface**2 == pytest.approx(alone**2 + 0.58**2, rel=1e-12)


def test_holes_and_impossible_humidity_give_nan_without_a_warning() -> None:
    air = np.array([20.0, np.nan, 20.0, 20.0, 20.0, 20.0])
    rh = np.array([85.0, 85.0, np.nan, 0.0, -3.0, 120.0])
    found = margin_sd_k(air, rh, SensorSpread())
    assert np.array_equal(np.isnan(found), [False, True, True, True, True, True])


def test_wider_instruments_never_narrow_the_margin() -> None:
    narrow = SensorSpread(air_k=0.1, rh_pct=1.0, surface_k=0.2)
    for wide in (
        SensorSpread(air_k=0.3, rh_pct=1.0, surface_k=0.2),
        SensorSpread(air_k=0.1, rh_pct=3.0, surface_k=0.2),
        SensorSpread(air_k=0.1, rh_pct=1.0, surface_k=1.0),
    ):
        assert margin_sd_k(15.0, 75.0, wide) > margin_sd_k(15.0, 75.0, narrow)
