"""Where the sun stands and how much of it falls on a patch.

Times are UTC seconds [n]; irradiance W/m² is [n] or [s, n]. Position by NREL's algorithm (SPA,
Reda & Andreas 2004), clear sky by Ineichen & Perez (2002), splitting by Erbs (1982), diffuse
light by Hay & Davies (1980), all through pvlib, which is imported inside functions: it brings
pandas and takes most of a second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Light thrown back by the ground: grass, shingle, concrete (common practice).
GROUND_REFLECTS = 0.2
#: Haze of a clear day at middle latitudes, Linke turbidity (common practice).
LINKE_TURBIDITY = 3.0
#: Direct beam above which the sun counts as shining (WMO-No. 8, sunshine duration), W/m².
SUNSHINE_W_M2 = 120.0
#: TT − UT, s: it drifts by a second in years, and a second moves the sun by 1e-5 degrees.
DELTA_T_S = 69.0
_DAY_S = 86400
_REFRACTION_DEG = 0.5667


@lru_cache(maxsize=1)
def _pvlib() -> Any:
    """Import pvlib on first use, never with the window."""
    import pvlib

    return pvlib


@dataclass(frozen=True, eq=False)
class SunPosition:
    """Degrees [n]. `apparent_zenith_deg` has refraction in it and is where the sun is seen
    (the "zenith" that NREL publishes); `zenith_deg` is geometric, for air outside the earth's.
    """

    time_s: IntArray
    apparent_zenith_deg: FloatArray
    zenith_deg: FloatArray
    azimuth_deg: FloatArray

    @property
    def extraterrestrial_w_m2(self) -> FloatArray:
        """Sunlight outside the atmosphere, on a plane facing it, W/m² [n]."""
        found = _pvlib().irradiance.get_extra_radiation(self.day_of_year)
        return np.asarray(found, dtype=np.float64)

    @property
    def day_of_year(self) -> IntArray:
        """Day of the UTC year, 1 to 366, [n]."""
        days = self.time_s.astype("datetime64[s]").astype("datetime64[D]")
        return np.asarray((days - days.astype("datetime64[Y]")).astype(np.int64) + 1)


def sun_position(
    time_s: ArrayLike,
    lat_deg: float,
    lon_deg: float,
    altitude_m: float = 0.0,
    *,
    pressure_hpa: float | None = None,
    air_temp_c: float = 12.0,
    delta_t_s: float = DELTA_T_S,
) -> SunPosition:
    """Return where the sun stands at UTC seconds [n].

    Pressure (standard for the height where not told) and air only bend the light.
    """
    times = np.asarray(time_s, dtype=np.int64).reshape(-1)
    pvlib = _pvlib()
    if pressure_hpa is None:
        pressure_hpa = float(pvlib.atmosphere.alt2pres(altitude_m)) / 100.0
    rows = pvlib.spa.solar_position(
        times.astype(np.float64), lat_deg, lon_deg, altitude_m, pressure_hpa, air_temp_c,
        delta_t_s, _REFRACTION_DEG,
    )  # fmt: skip
    return SunPosition(times, *(np.asarray(rows[row], dtype=np.float64) for row in (0, 1, 4)))


def clear_sky_w_m2(sun: SunPosition, altitude_m: float = 0.0) -> FloatArray:
    """Return global horizontal irradiance of a clear sky, [n] (Ineichen & Perez 2002)."""
    pvlib = _pvlib()
    clear = np.zeros(len(sun.time_s))
    up = sun.apparent_zenith_deg < 90.0  # below the horizon the formula divides by zero
    seen = sun.apparent_zenith_deg[up]
    airmass = pvlib.atmosphere.get_absolute_airmass(
        pvlib.atmosphere.get_relative_airmass(seen), pvlib.atmosphere.alt2pres(altitude_m)
    )
    outside = sun.extraterrestrial_w_m2[up]
    clear[up] = pvlib.clearsky.ineichen(seen, airmass, LINKE_TURBIDITY, altitude_m, outside)["ghi"]
    return clear


def cloud_factor(cloud_pct: ArrayLike) -> FloatArray:
    """Return the share of clear-sky sun under cloud: 1 − 0.75 (N/8)^3.4 (Kasten & Czeplak 1980).

    0.25 of it is left under full cloud.
    """
    cover = np.clip(np.asarray(cloud_pct, dtype=np.float64) / 100.0, 0.0, 1.0)
    return np.asarray(1.0 - 0.75 * cover**3.4)


def clear_step_means(
    time_s: IntArray,
    step_s: int,
    lat_deg: float,
    lon_deg: float,
    altitude_m: float = 0.0,
) -> FloatArray:
    """Return the clear-sky mean of the step before each stamp, W/m² [n].

    A moment in every quarter hour, so that sunrise inside an hour counts for what it is.
    """
    parts = max(1, step_s // 900)
    ages = (np.arange(parts) + 0.5) * step_s / parts
    moments = (time_s[:, None] - ages[None, :]).astype(np.int64)
    sun = sun_position(moments.reshape(-1), lat_deg, lon_deg, altitude_m)
    return np.asarray(clear_sky_w_m2(sun, altitude_m).reshape(moments.shape).mean(axis=1))


def at_stamps(step_mean_w_m2: FloatArray, clear_mean: FloatArray, clear: FloatArray) -> FloatArray:
    """Return irradiance at the stamps, [n] or [s, n], from means of the steps before them.

    The clearness of the two steps that meet at a stamp times the clear sky there: a plain
    shift by half a step would put the sun half an hour late. The last stamp has one step.
    """
    ahead = np.concatenate([step_mean_w_m2[..., 1:], step_mean_w_m2[..., -1:]], axis=-1)
    ahead = np.where(np.isnan(ahead), step_mean_w_m2, ahead)
    most = clear_mean + np.concatenate([clear_mean[1:], clear_mean[-1:]])
    ratio = (step_mean_w_m2 + ahead) / np.maximum(most, 1.0)
    return np.asarray(np.clip(ratio, 0.0, 1.5) * clear)


@dataclass(frozen=True, eq=False)
class Light:
    """Sunlight at a place, W/m², [n] or [s, n]: whole on the level, straight beam, diffuse."""

    sun: SunPosition
    global_w_m2: FloatArray
    beam_w_m2: FloatArray
    diffuse_w_m2: FloatArray


def split(sun: SunPosition, global_w_m2: ArrayLike) -> Light:
    """Split global horizontal irradiance into beam and diffuse (Erbs, Klein & Duffie 1982).

    Erbs takes the geometric zenith, unlike everything that asks where the sun is seen.
    """
    whole = np.asarray(global_w_m2, dtype=np.float64)
    beam, diffuse = np.zeros_like(whole), whole.copy()
    day = sun.zenith_deg < 90.0  # at night there is nothing to split, half the work
    if day.any():
        parts = _pvlib().irradiance.erbs(whole[..., day], sun.zenith_deg[day], sun.day_of_year[day])
        beam[..., day], diffuse[..., day] = parts["dni"], parts["dhi"]
    return Light(sun, whole, beam, diffuse)


def facing(sun: SunPosition, tilt_deg: float, heading_deg: ArrayLike) -> FloatArray:
    """Return the cosine of the angle between sun and the patch's normal; under 0 is behind.

    `heading_deg`, the compass bearing the patch faces, may be [k, 1]: the answer is [k, n].
    """
    found = _pvlib().irradiance.aoi_projection(
        tilt_deg, heading_deg, sun.apparent_zenith_deg, sun.azimuth_deg
    )
    return np.asarray(found, dtype=np.float64)


def on_patch_w_m2(light: Light, tilt_deg: float, heading_deg: float) -> FloatArray:
    """Return irradiance on a sunlit patch, W/m², shape of the light's arrays.

    Beam, sky with its bright ring about the sun (Hay & Davies 1980), and ground.
    """
    sun = light.sun
    straight = np.maximum(facing(sun, tilt_deg, heading_deg), 0.0)
    sky = _pvlib().irradiance.haydavies(
        tilt_deg, heading_deg, light.diffuse_w_m2, light.beam_w_m2, sun.extraterrestrial_w_m2,
        sun.apparent_zenith_deg, sun.azimuth_deg,
    )  # fmt: skip
    below = (1.0 - math.cos(math.radians(tilt_deg))) / 2.0
    return np.asarray(
        light.beam_w_m2 * straight + sky + GROUND_REFLECTS * below * light.global_w_m2
    )


def in_shade_w_m2(light: Light, tilt_deg: float) -> FloatArray:
    """Return irradiance in the shade of something: diffuse sky light alone, W/m²."""
    above = (1.0 + math.cos(math.radians(tilt_deg))) / 2.0
    return light.diffuse_w_m2 * above


def shines_on(light: Light, tilt_deg: float, heading_deg: float) -> NDArray[np.bool_]:
    """Tell when the sun shines on the patch: beam of 120 W/m² and more, from before it.

    Where the irradiance is unknown (NaN) the sun is taken to shine.
    """
    before = (facing(light.sun, tilt_deg, heading_deg) > 0.0) & (
        light.sun.apparent_zenith_deg < 90.0
    )
    return np.asarray(before & ~(light.beam_w_m2 < SUNSHINE_W_M2))
