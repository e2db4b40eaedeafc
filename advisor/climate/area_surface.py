"""The surface of an area: how it follows shop air indoors, and sun, sky and wind outdoors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.climate.outdoor import OUTDOOR_COLUMNS, Outdoor
from advisor.climate.place import Place
from advisor.climate.skin import USUAL_THICKNESS_MM, Skin
from advisor.physics import outside_surface, sky, sun
from advisor.physics.slab import Back, Slab, changing_coefficient_c, steady_coefficient_c

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Indoor surface coefficient, W/(m² K), still air and radiation to the walls: 1/0.13 of ISO 6946
#: for walls.
INDOOR_H_W_M2_K = 7.7
#: Wind at a boat on its cradle over wind at 10 m: two metres up, among sheds (common practice).
WIND_NEAR = 0.6
#: The four sides a patch may face where no heading was said, compass degrees.
FOUR_SIDES = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True)
class Material:
    """What a substrate is made of, and what stands behind it in a shop."""

    density_kg_m3: float
    heat_capacity_j_kg_k: float
    conductivity_w_m_k: float
    back: Back
    source: str


_TABLE = "EN ISO 10456 / SIA 381-1, as quoted in a public table"
_MEMORY = "from memory, common values"
MATERIALS = MappingProxyType(
    {
        "timber": Material(450.0, 1700.0, 0.13, "same air", f"{_TABLE} (spruce)"),
        "plywood": Material(700.0, 1600.0, 0.17, "same air", _MEMORY),
        "steel": Material(7850.0, 460.0, 50.0, "same air", f"{_TABLE} (structural steel)"),
        "aluminium": Material(2700.0, 900.0, 230.0, "same air", _TABLE),
        "grp": Material(1600.0, 1100.0, 0.25, "same air", f"{_MEMORY} (hand lay-up)"),
        "concrete": Material(2300.0, 880.0, 1.65, "closed", _TABLE),
        # Laminate and light filler taken as one; cabin linings close the back.
        "filled hull": Material(1200.0, 1200.0, 0.2, "closed", _MEMORY),
    }
)


def material(skin: Skin) -> Material:
    """Return what the skin's substrate is made of; `RangeError` where it is none we know."""
    found = MATERIALS.get(skin.substrate)
    if found is None:
        raise RangeError("substrate", repr(skin.substrate), ", ".join(MATERIALS))
    return found


def slab_of(skin: Skin) -> Slab:
    """Return the skin as a slab; the usual thickness where none was said."""
    made = material(skin)
    told = skin.thickness_mm
    thickness_mm = USUAL_THICKNESS_MM[skin.substrate] if told is None else told
    if not 0.1 <= thickness_mm <= 2000.0:
        raise RangeError("thickness_mm", f"{thickness_mm:g}", "0.1 to 2000")
    # Outdoors the back sees neither wind nor sky: closed for every substrate.
    back: Back = "closed" if skin.outdoors else made.back
    return Slab(
        made.density_kg_m3,
        made.heat_capacity_j_kg_k,
        made.conductivity_w_m_k,
        thickness_mm / 1000.0,
        back,
    )


def indoor_surface_c(
    skin: Skin, air_temp_c: ArrayLike, step_h: float, start_c: ArrayLike | None = None
) -> FloatArray:
    """Return the surface, °C, that follows shop air [n] or [s, n] on a grid of `step_h` hours.

    `start_c`, a number or [s], is the surface at the first point; air where not told. NaN in
    air is NaN in the answer.
    """
    return steady_coefficient_c(slab_of(skin), air_temp_c, step_h, INDOOR_H_W_M2_K, start_c)


# --- outdoors -------------------------------------------------------------------------


def with_sun(outdoor: Outdoor, place: Place) -> Outdoor:
    """Return the weather with `sun_w_m2` filled from cloud where the source gives none.

    The mean of the step before each stamp, as a source would say it: clear sky (Ineichen)
    times the cloud factor (Kasten & Czeplak) of the mean cloud of the step. Marked derived.
    At night it is 0 whatever the cloud; by day unknown cloud leaves it unknown.
    """
    told, cloud = outdoor.column("sun_w_m2"), outdoor.column("cloud_pct")
    missing = np.isnan(told)
    if not missing.any() or len(outdoor) == 0:
        return outdoor
    before = np.concatenate([cloud[..., :1], cloud[..., :-1]], axis=-1)
    mean_cloud = (np.where(np.isnan(before), cloud, before) + cloud) / 2.0
    clear = _overhead(outdoor, place).clear_mean
    derived = np.where(clear > 0.0, clear * sun.cloud_factor(mean_cloud), 0.0)
    filled = np.where(missing, derived, told)
    columns: Mapping[str, FloatArray] = {**outdoor.columns, "sun_w_m2": filled}
    return Outdoor(outdoor.start_s, outdoor.step_s, columns, outdoor.derived | {"sun_w_m2"})


def outdoor_surface_c(skin: Skin, outdoor: Outdoor, place: Place) -> tuple[FloatArray, FloatArray]:
    """Return the coldest and the hottest spot of a patch in the open, °C, [n] or [s, n].

    Coldest: in shade, under the colder of the sky models. Hottest: in the sun by its heading
    (the hottest of the four sides at each moment where none was said), under the warmer one.
    The back is taken as insulated. Air, dew point, wind or cloud unknown: unknown.
    """
    outside_surface.check_absorptance(skin.absorptance)
    outdoor = _one_shape(outdoor)
    weather = _Weather.of(outdoor, light_of(outdoor, place))
    cold = weather.settle(skin, sun.in_shade_w_m2(weather.light, skin.tilt_deg), weather.cold_sky)
    hot = weather.settle(skin, _sunlit_w_m2(skin, weather.light), weather.warm_sky)
    hottest = hot.max(axis=0)
    return cold, np.maximum(cold, hottest)


def _one_shape(outdoor: Outdoor) -> Outdoor:
    """Return the weather with every column, the missing ones too, in one shape."""
    every = {n: outdoor.column(n) for n in OUTDOOR_COLUMNS}
    shape = np.broadcast_shapes(*(values.shape for values in every.values()))
    columns = {n: np.broadcast_to(values, shape) for n, values in every.items()}
    return Outdoor(outdoor.start_s, outdoor.step_s, columns, outdoor.derived)


def sunlit_patch(skin: Skin, outdoor: Outdoor, place: Place) -> BoolArray:
    """Tell when the sun shines on the patch, [n] or [s, n]; indoors never.

    On any of the four sides where no heading was said; where sun and cloud are unknown, when
    it would on a clear day.
    """
    if not skin.outdoors:
        return np.zeros(outdoor.column("air_temp_c").shape, dtype=np.bool_)
    light = light_of(outdoor, place)
    sides = [sun.shines_on(light, skin.tilt_deg, heading) for heading in _headings(skin)]
    return np.asarray(np.any(sides, axis=0))


def light_of(outdoor: Outdoor, place: Place) -> sun.Light:
    """Return the sunlight at the stamps, from the means of the steps before them."""
    lit = with_sun(outdoor, place)
    overhead = _overhead(outdoor, place)
    level = sun.at_stamps(lit.column("sun_w_m2"), overhead.clear_mean, overhead.clear)
    return sun.split(overhead.position, level)


@dataclass(frozen=True, eq=False)
class _Overhead:
    """Sun and clear sky over a place, [n]: at the stamps, and the mean of the step before."""

    position: sun.SunPosition
    clear: FloatArray
    clear_mean: FloatArray


def _overhead(outdoor: Outdoor, place: Place) -> _Overhead:
    return _overhead_at(outdoor.start_s, outdoor.step_s, len(outdoor), place)


@lru_cache(maxsize=4)
def _overhead_at(start_s: int, step_s: int, count: int, place: Place) -> _Overhead:
    """Work out the heavens once for all areas and scenarios: they depend on nothing else."""
    time_s = start_s + step_s * np.arange(count, dtype=np.int64)
    where = place.lat_deg, place.lon_deg, place.altitude_m
    position = sun.sun_position(time_s, *where)
    clear = sun.clear_sky_w_m2(position, place.altitude_m)
    clear_mean = sun.clear_step_means(time_s, step_s, *where)
    for shared in (clear, clear_mean, position.apparent_zenith_deg, position.zenith_deg):
        shared.flags.writeable = False
    return _Overhead(position, clear, clear_mean)


def _headings(skin: Skin) -> tuple[float, ...]:
    if skin.heading_deg is not None:
        return (skin.heading_deg,)
    return FOUR_SIDES if skin.tilt_deg > 0.0 else FOUR_SIDES[:1]


def _sunlit_w_m2(skin: Skin, light: sun.Light) -> FloatArray:
    """Return irradiance on each side that counts, [sides, …]."""
    return np.stack([sun.on_patch_w_m2(light, skin.tilt_deg, x) for x in _headings(skin)])


@dataclass(frozen=True, eq=False)
class _Weather:
    """What a plate in the open settles with, at the stamps: °C, W/(m² K)."""

    step_h: float
    light: sun.Light
    air: FloatArray
    cold_sky: FloatArray
    warm_sky: FloatArray
    h_convective: FloatArray

    @staticmethod
    def of(outdoor: Outdoor, light: sun.Light) -> _Weather:
        air, dew, cloud, wind = (
            outdoor.column(name) for name in ("air_temp_c", "dew_point_c", "cloud_pct", "wind_m_s")
        )
        cold_sky, warm_sky = sky.sky_band_c(air, dew, cloud)
        h = outside_surface.wind_coefficient(WIND_NEAR * wind)
        return _Weather(outdoor.step_s / 3600.0, light, air, cold_sky, warm_sky, h)

    def settle(self, skin: Skin, sun_w_m2: FloatArray, sky_c: FloatArray) -> FloatArray:
        """Return the surface under this light and sky, shape of `sun_w_m2`."""
        share = outside_surface.sky_share(skin.tilt_deg)
        gained = skin.absorptance * sun_w_m2
        drive, h = outside_surface.balance(
            self.air, sky_c, self.h_convective, gained, share_of_sky=share
        )
        return changing_coefficient_c(slab_of(skin), drive, self.step_h, h)


# --- measured spots -------------------------------------------------------------------


def pull_to_measured(
    model_c: ArrayLike,
    time_s: ArrayLike,
    measured_s: ArrayLike,
    measured_c: ArrayLike,
    half_h: float = 6.0,
) -> FloatArray:
    """Return the modelled surface, [n] or [s, n] at `time_s` [n], pulled to what was measured.

    At a reading the answer is the reading; the difference halves every `half_h` hours away from
    it, and between two readings is shared by nearness. `measured_s` [m] rises. NaN readings,
    those in a hole of the model and those over `half_h` outside its time pull nothing.
    """
    if not half_h > 0.0:
        raise RangeError("half_h", f"{half_h:g}", "more than 0")
    model, times = np.asarray(model_c, dtype=np.float64), np.asarray(time_s, dtype=np.float64)
    at, was = (np.asarray(x, dtype=np.float64).reshape(-1) for x in (measured_s, measured_c))
    if np.any(np.diff(at) <= 0.0):
        raise RangeError("measured_s", "times that do not rise", "rising times")
    if len(times) == 0 or len(at) == 0:
        return model.copy()
    missed = _at_times(model, times, at) - was
    known = np.isfinite(missed).reshape(-1, len(at)).all(axis=0)
    far_s = half_h * 3600.0
    near = known & (at >= times[0] - far_s) & (at <= times[-1] + far_s)
    if not near.any():
        return model.copy()
    return np.asarray(model - _faded(missed[..., near], times, at[near], half_h))


def _at_times(model: FloatArray, times: FloatArray, at: FloatArray) -> FloatArray:
    """Return the model at other times, [m] or [s, m]; straight between points, level beyond."""
    place = np.interp(at, times, np.arange(len(times), dtype=np.float64))
    low = np.minimum(place.astype(np.int64), len(times) - 1)
    high = np.minimum(low + 1, len(times) - 1)
    share = place - low
    between = model[..., low] * (1.0 - share) + model[..., high] * share
    return np.where(share == 0.0, model[..., low], between)


def _faded(missed: FloatArray, times: FloatArray, at: FloatArray, half_h: float) -> FloatArray:
    """Return what is left at `times` of the differences at the readings `at`."""
    after = np.searchsorted(at, times, side="right")
    last, following = np.maximum(after - 1, 0), np.minimum(after, len(at) - 1)
    gap = at[following] - at[last]
    share = np.where(gap > 0.0, (times - at[last]) / np.where(gap > 0.0, gap, 1.0), 0.0)
    half_s = half_h * 3600.0
    from_last = missed[..., last] * 0.5 ** (np.abs(times - at[last]) / half_s)
    from_next = missed[..., following] * 0.5 ** (np.abs(at[following] - times) / half_s)
    return np.asarray((1.0 - share) * from_last + share * from_next)
