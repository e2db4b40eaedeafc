"""Moist air: saturation, dew point, frost point, wet bulb; everything goes through MetPy.

Numbers or arrays in °C, percent (over water, also below 0 °C: WMO-No. 8) and hPa. A number
gives a float, an array an array. `…_c`, `…_pct` functions refuse bad input with `RangeError`;
`…_array` functions let NaN pass element by element.

MetPy 1.7 inverts Bolton (1980) in `dewpoint` but computes saturation by Ambaum (2020), so its
dew point is up to 0.2 K low: we take it as a first guess and polish it to a true inverse.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.physics.constants import VAPOUR_J_KG_K, ZERO_C_K

FloatArray = NDArray[np.float64]
Phase = Literal["water", "ice"]

#: Air, surface and wet-bulb temperatures accepted, °C.
AIR_RANGE_C = (-40.0, 60.0)
#: Dew points are reported no lower: there RH is under 1e-6 points at any accepted temperature.
DEW_FLOOR_C = -140.0
#: Water and ice saturate alike here; above it there is no frost.
TRIPLE_POINT_C = 0.01

_TRIPLE_K = 273.16
# Latent heat at the triple point (J/kg) and its fall with temperature (J/(kg K)); they set
# only how fast Newton converges, never where to: that is MetPy's saturation pressure.
_LATENT = MappingProxyType({"liquid": (2.50084e6, 2359.3), "solid": (2.83454e6, 229.9)})
_NEWTON_STEPS = 8
_CONVERGED = 1e-12  # relative, of the vapour pressure

# Aspirated psychrometer: WMO-No. 8 coefficient for a wet bulb; for an iced bulb 5.75e-4.
_PSYCHROMETER_WATER = 6.53e-4
_PSYCHROMETER_WATER_SLOPE = 9.44e-4
_PSYCHROMETER_ICE = 5.75e-4
_PRESSURE_RANGE_HPA = (500.0, 1100.0)
_ALTITUDE_RANGE_M = (-500.0, 5500.0)


@lru_cache(maxsize=1)
def _metpy() -> tuple[Any, Callable[..., Any]]:
    """Import MetPy on first use: it takes most of a second, so never with the window."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from metpy import calc
        from metpy.units import units
    return calc, units.Quantity


def _saturation(temp_k: FloatArray, phase: str) -> FloatArray:
    """Return MetPy's saturation pressure in hPa for kelvins; one MetPy call."""
    calc, quantity = _metpy()
    found = calc.saturation_vapor_pressure(quantity(temp_k, "kelvin"), phase=phase)
    return np.asarray(found.m_as("hPa"), dtype=np.float64)


def _invert_saturation(pressure_hpa: FloatArray, guess_k: FloatArray, phase: str) -> FloatArray:
    """Return the kelvins at which MetPy's saturation pressure is `pressure_hpa`.

    Newton on ln(pressure) over 1/T, which Clausius–Clapeyron makes almost straight.
    """
    wanted = np.log(pressure_hpa)
    floor_k = DEW_FLOOR_C + ZERO_C_K
    latent, fall = _LATENT[phase]
    temp_k = np.maximum(guess_k, floor_k)
    for _ in range(_NEWTON_STEPS):
        miss = wanted - np.log(_saturation(temp_k, phase))
        slope = (latent - fall * (temp_k - _TRIPLE_K)) / VAPOUR_J_KG_K
        temp_k = np.maximum(1.0 / (1.0 / temp_k - miss / slope), floor_k)
        if not np.any(np.abs(miss) > _CONVERGED):
            break
    return temp_k


# --- arrays: NaN passes ---------------------------------------------------------------


def dew_point_array(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> FloatArray:
    """Return dew point over water, °C, shape of the broadcast inputs.

    NaN gives NaN, and so does RH at or below 0 or above 105 %; 100 to 105 % counts as 100 %
    (a logger's overshoot). Never above the air temperature.
    """
    air, rh = np.broadcast_arrays(_floats(air_temp_c), _floats(rh_pct))
    dew = np.full(air.shape, np.nan)
    usable = np.isfinite(air) & (rh > 0.0) & (rh <= 105.0)
    if not usable.any():
        return dew
    some_air, some_rh = air[usable], np.minimum(rh[usable], 100.0)
    polished = _polished_dew_point(some_air, some_rh)
    dew[usable] = np.where(some_rh >= 100.0, some_air, np.minimum(polished, some_air))
    return dew


def _polished_dew_point(air_temp_c: FloatArray, rh_pct: FloatArray) -> FloatArray:
    """Polish MetPy's dew point (°C) to invert its saturation pressure; finite inputs."""
    calc, quantity = _metpy()
    vapour_hpa = rh_pct / 100.0 * _saturation(air_temp_c + ZERO_C_K, "liquid")
    vapour_hpa = np.maximum(vapour_hpa, 1e-12)  # keeps the logarithm finite; below the floor
    guess_k = np.asarray(calc.dewpoint(quantity(vapour_hpa, "hPa")).m_as("kelvin"))
    return _invert_saturation(vapour_hpa, guess_k, "liquid") - ZERO_C_K


def rh_array(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Return RH over water, %, from air and dew point in °C; NaN passes.

    Above 100 where the dew point is above the air: the caller decides what that means.
    """
    air, dew = np.broadcast_arrays(_floats(air_temp_c), _floats(dew_point_c))
    air_k, dew_k = air + ZERO_C_K, dew + ZERO_C_K
    vapour_hpa, full_hpa = _saturation(np.stack((dew_k, air_k)), "liquid")  # one slow call
    ratio = 100.0 * vapour_hpa / full_hpa
    return np.asarray(np.where(air == dew, 100.0, ratio))


def wet_point_array(dew_point_c: ArrayLike) -> FloatArray:
    """Return the higher of dew point and frost point, °C; NaN passes.

    Frost point: saturation over ice equals the vapour pressure. At or below 0.01 °C it is
    the higher one, above it there is only dew.
    """
    dew = _floats(dew_point_c)
    wet = np.array(dew)
    icy = dew < TRIPLE_POINT_C
    if icy.any():
        dew_k = np.maximum(dew[icy], DEW_FLOOR_C) + ZERO_C_K
        vapour_hpa = _saturation(dew_k, "liquid")
        frost = _invert_saturation(vapour_hpa, dew_k, "solid") - ZERO_C_K
        wet[icy] = np.minimum(np.maximum(frost, dew[icy]), TRIPLE_POINT_C)
    return wet


# --- numbers or arrays ----------------------------------------------------------------


@overload
def saturation_hpa(temp_c: float, over: Phase = "water") -> float: ...
@overload
def saturation_hpa(temp_c: ArrayLike, over: Phase = "water") -> float | FloatArray: ...
def saturation_hpa(temp_c: ArrayLike, over: Phase = "water") -> float | FloatArray:
    """Return saturation pressure of water vapour, hPa, over water or ice (Ambaum 2020).

    NaN passes. Over ice only up to 0.01 °C: MetPy would silently extrapolate.
    """
    temp = _floats(temp_c)
    if over not in ("water", "ice"):
        raise RangeError("over", repr(over), '"water" or "ice"')
    _refuse("temp_c", temp, temp < DEW_FLOOR_C, f"{DEW_FLOOR_C:g} °C and warmer")
    if over == "ice":
        _refuse("temp_c over ice", temp, temp > TRIPLE_POINT_C, f"up to {TRIPLE_POINT_C:g} °C")
    return _as_given(_saturation(temp + ZERO_C_K, "liquid" if over == "water" else "solid"))


@overload
def dew_point_c(air_temp_c: float, rh_pct: float) -> float: ...
@overload
def dew_point_c(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> float | FloatArray: ...
def dew_point_c(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> float | FloatArray:
    """Return dew point over water, °C, from air (°C) and RH over water (%).

    True inverse of `rh_pct` within 1e-6 points, at 100 % exactly the air temperature, never
    above it. `RangeError` on RH outside 0–100, RH 0, air outside −40…60 °C, NaN.
    """
    air, rh = _checked_air("air_temp_c", air_temp_c), _checked_rh(rh_pct)
    return _as_given(dew_point_array(air, rh))


@overload
def rh_pct(air_temp_c: float, dew_point_c: float) -> float: ...
@overload
def rh_pct(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> float | FloatArray: ...
def rh_pct(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> float | FloatArray:
    """Return RH over water, %, from air and dew point in °C.

    `RangeError` on air outside −40…60 °C, dew point above air or below −140 °C, NaN.
    """
    air = _checked_air("air_temp_c", air_temp_c)
    dew = _floats(dew_point_c)
    _refuse("dew_point_c", dew, ~(dew >= DEW_FLOOR_C), f"{DEW_FLOOR_C:g} °C to air temperature")
    _refuse("dew_point_c", dew, dew > air, "at or below the air temperature")
    return _as_given(rh_array(air, dew))


@overload
def frost_point_c(air_temp_c: float, rh_pct: float) -> float: ...
@overload
def frost_point_c(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> float | FloatArray: ...
def frost_point_c(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> float | FloatArray:
    """Return frost point, °C, from air (°C) and RH over water (%); above 0.01 °C the dew point.

    May lie above freezing air that is nearly saturated over water: frost then grows in the
    air. Errors as `dew_point_c`.
    """
    air, rh = _checked_air("air_temp_c", air_temp_c), _checked_rh(rh_pct)
    return _as_given(wet_point_array(dew_point_array(air, rh)))


@overload
def wet_point_c(air_temp_c: float, dew_point_c: float) -> float: ...
@overload
def wet_point_c(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> float | FloatArray: ...
def wet_point_c(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> float | FloatArray:
    """Return the temperature at which a surface gets wet or iced, °C: dew or frost point.

    NaN in either input gives NaN there. No range is checked: for series already screened.
    """
    air, dew = np.broadcast_arrays(_floats(air_temp_c), _floats(dew_point_c))
    return _as_given(wet_point_array(np.where(np.isnan(air), np.nan, dew)))


@overload
def rh_from_wet_bulb(air_temp_c: float, wet_bulb_c: float, pressure_hpa: float) -> float: ...
@overload
def rh_from_wet_bulb(
    air_temp_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_hpa: ArrayLike
) -> float | FloatArray: ...
def rh_from_wet_bulb(
    air_temp_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_hpa: ArrayLike
) -> float | FloatArray:
    """Return RH over water, %, from an aspirated (whirled) psychrometer, °C, °C, hPa.

    WMO-No. 8: e = es(wet) − A p (air − wet). A bulb below 0 °C is taken as iced. `RangeError`
    on temperatures outside −40…60 °C, wet above dry, a depression no air can give, NaN.
    """
    air, wet = _checked_air("air_temp_c", air_temp_c), _checked_air("wet_bulb_c", wet_bulb_c)
    pressure = _checked_between("pressure_hpa", pressure_hpa, _PRESSURE_RANGE_HPA, "hPa")
    _refuse("wet_bulb_c", wet, wet > air, "at or below the air temperature")
    air, wet, pressure = np.broadcast_arrays(air, wet, pressure)
    vapour_hpa = _psychrometer_vapour_hpa(air, wet, pressure)
    _refuse("wet_bulb_c", wet, vapour_hpa <= 0.0, "a wet bulb that leaves some vapour in the air")
    rh = 100.0 * vapour_hpa / _saturation(air + ZERO_C_K, "liquid")
    return _as_given(np.minimum(rh, 100.0))


def _psychrometer_vapour_hpa(
    air_temp_c: FloatArray, wet_bulb_c: FloatArray, pressure_hpa: FloatArray
) -> FloatArray:
    """Return vapour pressure, hPa; ice under the bulb below 0 °C."""
    wet_k = wet_bulb_c + ZERO_C_K
    icy = wet_bulb_c < 0.0
    over_ice = _saturation(np.minimum(wet_k, _TRIPLE_K), "solid")
    saturated = np.where(icy, over_ice, _saturation(wet_k, "liquid"))
    water = _PSYCHROMETER_WATER * (1.0 + _PSYCHROMETER_WATER_SLOPE * wet_bulb_c)
    coefficient = np.where(icy, _PSYCHROMETER_ICE, water)
    return np.asarray(saturated - coefficient * pressure_hpa * (air_temp_c - wet_bulb_c))


@overload
def pressure_at_altitude_hpa(altitude_m: float) -> float: ...
@overload
def pressure_at_altitude_hpa(altitude_m: ArrayLike) -> float | FloatArray: ...
def pressure_at_altitude_hpa(altitude_m: ArrayLike) -> float | FloatArray:
    """Return the standard atmosphere's pressure, hPa, at metres above sea level."""
    height = _checked_between("altitude_m", altitude_m, _ALTITUDE_RANGE_M, "m")
    calc, quantity = _metpy()
    found = calc.height_to_pressure_std(quantity(height, "meter"))
    return _as_given(np.asarray(found.m_as("hPa"), dtype=np.float64))


# --- input ----------------------------------------------------------------------------


def _floats(values: ArrayLike) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _as_given(values: FloatArray) -> float | FloatArray:
    """Return a float for a number, the array otherwise."""
    return float(values) if values.ndim == 0 else values


def _checked_air(name: str, values: ArrayLike) -> FloatArray:
    return _checked_between(name, values, AIR_RANGE_C, "°C")


def _checked_between(
    name: str, values: ArrayLike, limits: tuple[float, float], unit: str
) -> FloatArray:
    found = _floats(values)
    low, high = limits
    _refuse(name, found, ~((found >= low) & (found <= high)), f"{low:g} to {high:g} {unit}")
    return found


def _checked_rh(values: ArrayLike) -> FloatArray:
    found = _floats(values)
    _refuse("rh_pct", found, ~((found > 0.0) & (found <= 100.0)), "above 0, up to 100 %")
    return found


def _refuse(name: str, values: FloatArray, bad: NDArray[np.bool_], accepted: str) -> None:
    """Raise `RangeError` naming the first bad value, and its place in an array."""
    wrong = np.asarray(bad)
    if not wrong.any():
        return
    where = int(np.flatnonzero(wrong)[0])
    value = float(np.broadcast_to(values, wrong.shape).reshape(-1)[where])
    place = f" at position {where}" if wrong.ndim else ""
    raise RangeError(name, ("NaN" if np.isnan(value) else f"{value:g}") + place, accepted)
