"""Water leaving a damp floor, and what it does to the air of a room.

Uno (1998): true rates lie within ±40 % (Hover 2020). °C, %, m/s, kg/(m² h).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.physics.ventilation import rh_of_vapour_pct, saturated_g_m3

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_KM_H_PER_M_S = 3.6
#: Surfaces and air the formula is taken for, °C. Fahrenheit fed by mistake mostly falls outside.
_RANGE_C = (-18.0, 60.0)


def uno_kg_m2_h(
    surface_temp_c: ArrayLike, air_temp_c: ArrayLike, rh_pct: ArrayLike, wind_m_s: ArrayLike = 0.0
) -> FloatArray:
    """Return water leaving a wet surface, kg/(m² h), never under 0 (Uno 1998, ACI 95-M34).

    E = 5 ([Ts+18]^2.5 − r [Ta+18]^2.5)(V+4) 1e-6 with °C and km/h: wind is converted here. The
    constants are not those of the Fahrenheit and mph form, which reads 20 times too high in it.
    A cold floor under moist air gives a negative E, condensation: held at 0 on purpose, since a
    floor that takes up water is not a source. NaN passes; `RangeError` outside −18 to 60 °C.
    """
    source, taken = _uno_terms(surface_temp_c, air_temp_c, wind_m_s)
    return np.asarray(np.maximum(source - taken * np.asarray(rh_pct) / 100.0, 0.0))


def _uno_terms(
    surface_temp_c: ArrayLike, air_temp_c: ArrayLike, wind_m_s: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return E in dry air and its fall with RH (as a fraction), kg/(m² h): E is their line."""
    surface, air = _checked("surface_temp_c", surface_temp_c), _checked("air_temp_c", air_temp_c)
    wind_km_h = np.asarray(wind_m_s, dtype=np.float64) * _KM_H_PER_M_S
    if np.any(wind_km_h < 0.0):
        raise RangeError("wind_m_s", f"{np.nanmin(wind_km_h) / _KM_H_PER_M_S:g}", "0 or more")
    factor = 5e-6 * (wind_km_h + 4.0)
    return (surface + 18.0) ** 2.5 * factor, (air + 18.0) ** 2.5 * factor


def _checked(name: str, values: ArrayLike) -> FloatArray:
    found = np.asarray(values, dtype=np.float64)
    low, high = _RANGE_C
    wrong = (found < low) | (found > high)
    if np.any(wrong):
        raise RangeError(name, f"{np.extract(wrong, found)[0]:g}", f"{low:g} to {high:g} °C")
    return found


@dataclass(frozen=True)
class DampRoom:
    """A room with a floor wetted on purpose: m³, m², litres on it, air changes per hour.

    `wind_m_s` is the draught over the floor.
    """

    volume_m3: float
    damp_m2: float
    litres: float
    air_changes_per_h: float
    wind_m_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a room that cannot be."""
        for name, low in (("volume_m3", 1e-3), ("damp_m2", 0.0), ("litres", 0.0),
                          ("air_changes_per_h", 0.0), ("wind_m_s", 0.0)):  # fmt: skip
            value = getattr(self, name)
            if not low <= value < math.inf:
                raise RangeError(name, f"{value:g}", f"{low:g} or more")


@dataclass(frozen=True, eq=False)
class DampCourse:
    """How a damp floor dries: RH %, vapour g/m³ and litres left at the grid points, [n] or [s, n].

    `given_off_g_h` is what left the floor over the step before each point (0 at the first), as a
    rate: what a moisture balance takes in.
    """

    rh_pct: FloatArray
    vapour_g_m3: FloatArray
    litres_left: FloatArray
    given_off_g_h: FloatArray


def dry_out(
    room: DampRoom,
    air_temp_c: ArrayLike,
    outside_g_m3: ArrayLike,
    step_h: float,
    *,
    start_g_m3: ArrayLike | None = None,
    floor_temp_c: ArrayLike | None = None,
) -> DampCourse:
    """Return the drying of a damp floor and the air of its room, [n] or [s, n].

    Evaporation falls as RH rises, so the room settles below saturation, and stops when the
    water is gone. `air_temp_c` of the room and `outside_g_m3`, the vapour of the air that comes
    in, are taken as steady within each step, which is then exact; the floor is at air
    temperature and the room at `outside_g_m3` to begin with where not told. What air cannot
    hold settles on the coldest surfaces and is not followed. Nothing is known after a NaN.
    """
    air = np.atleast_1d(np.asarray(air_temp_c, dtype=np.float64))
    floor = air if floor_temp_c is None else np.asarray(floor_temp_c, dtype=np.float64)
    outside = np.asarray(outside_g_m3, dtype=np.float64)
    air, floor, outside = np.broadcast_arrays(air, floor, outside)
    if not 0.0 < step_h < math.inf:
        raise RangeError("step_h", f"{step_h:g}", "more than 0")
    vapour, water = np.empty(air.shape), np.empty(air.shape)
    vapour[..., 0] = outside[..., 0] if start_g_m3 is None else start_g_m3
    water[..., 0] = room.litres * 1000.0 / room.volume_m3
    most = saturated_g_m3(air)
    terms = _uno_terms(floor, air, room.wind_m_s)
    dry, taken = (term * (1000.0 * room.damp_m2 / room.volume_m3) for term in terms)
    drying = _Drying.of(dry, taken / most, room.air_changes_per_h, outside, step_h)
    for k in range(1, air.shape[-1]):
        after, water[..., k] = drying.step(k, vapour[..., k - 1], water[..., k - 1])
        vapour[..., k] = np.minimum(after, most[..., k])
    lost = -np.diff(water, axis=-1, prepend=water[..., :1]) * room.volume_m3
    litres = water * room.volume_m3 / 1000.0
    return DampCourse(rh_of_vapour_pct(air, vapour), vapour, litres, lost / step_h)


@dataclass(frozen=True, eq=False)
class _Drying:
    """Rates per room volume at every point: ρ' = S − F ρ + N (ρ_out − ρ) while wet.

    `source` S g/(m³ h) in dry air, `fall` F and `changes` N in 1/h, `outside` ρ_out g/m³. The
    solution, limit + (ρ − limit) e^(−rate t), is prepared for whole steps.
    """

    source: FloatArray
    fall: FloatArray
    changes: float
    outside: FloatArray
    step_h: float
    limit: FloatArray
    rate: FloatArray
    keep: FloatArray

    @staticmethod
    def of(
        source: FloatArray, fall: FloatArray, changes: float, outside: FloatArray, step_h: float
    ) -> _Drying:
        rate = np.asarray(changes + fall)
        limit = (source + changes * outside) / np.where(rate > 0.0, rate, 1.0)
        keep = np.exp(-rate * step_h)
        return _Drying(source, fall, changes, outside, step_h, limit, rate, keep)

    def step(self, k: int, vapour: FloatArray, water: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return vapour and water left, both g/m³, at the end of the step before point k.

        A floor that would take water up at the step's start gives none in it.
        """
        gives = (self.source[..., k] > self.fall[..., k] * vapour) & (water > 0.0)
        if not np.any(gives):
            return self._aired(k, vapour, self.step_h), water
        given = self._given_off(k, vapour, self.step_h)
        if np.all(gives) and np.all(given <= water):
            limit = self.limit[..., k]
            return limit + (vapour - limit) * self.keep[..., k], np.minimum(water - given, water)
        return self._part_wet(k, vapour, water, gives)

    def _part_wet(
        self, k: int, vapour: FloatArray, water: FloatArray, gives: BoolArray
    ) -> tuple[FloatArray, FloatArray]:
        """Take a step in which some floors give nothing or run dry, no water being made."""
        whole = np.full(np.shape(vapour), self.step_h)
        runs_out = gives & (self._given_off(k, vapour, whole) > water)
        lasts_h = self._lasting_h(k, vapour, water)
        wet_h = np.where(gives, np.where(runs_out, lasts_h, whole), 0.0)
        limit = self.limit[..., k]
        wet = limit + (vapour - limit) * np.exp(-self.rate[..., k] * wet_h)
        given = np.clip(self._given_off(k, vapour, wet_h), 0.0, water)
        return self._aired(k, wet, self.step_h - wet_h), np.where(runs_out, 0.0, water - given)

    def _aired(self, k: int, vapour: FloatArray, hours: float | FloatArray) -> FloatArray:
        """Return vapour after so many hours of air change alone."""
        outside = self.outside[..., k]
        return np.asarray(outside + (vapour - outside) * np.exp(-self.changes * hours))

    def _lasting_h(self, k: int, vapour: FloatArray, water: FloatArray) -> FloatArray:
        """Return how much of the step the water lasts, h, by halving to rounding."""
        low, high = np.zeros(np.shape(vapour)), np.full(np.shape(vapour), self.step_h)
        for _ in range(50):
            middle = (low + high) / 2.0
            lasts = self._given_off(k, vapour, middle) <= water
            low, high = np.where(lasts, middle, low), np.where(lasts, high, middle)
        return low

    def _given_off(self, k: int, vapour: FloatArray, hours: float | FloatArray) -> FloatArray:
        """Return the water given off in so many wet hours, g/m³: ∫ S − F ρ."""
        rate, limit, fall = self.rate[..., k], self.limit[..., k], self.fall[..., k]
        turns_h = -np.expm1(-rate * hours) / np.where(rate > 0.0, rate, 1.0)
        steady = (self.source[..., k] - fall * limit) * hours
        return np.asarray(steady - fall * (vapour - limit) * turns_h)


def hours_over(rh_pct: ArrayLike, limit_pct: float, step_h: float) -> FloatArray:
    """Return the hours a course [n] or [s, n] spends over a limit of RH, counted by points."""
    over = np.asarray(rh_pct, dtype=np.float64) > limit_pct
    return np.asarray(over.sum(axis=-1) * step_h)


def hours_until_dry_enough(rh_pct: ArrayLike, limit_pct: float, step_h: float) -> FloatArray:
    """Return hours from the first point until RH is at the limit or under it for good.

    0 where it never was over, infinite where it still is at the end (or is unknown there).
    """
    rh = np.asarray(rh_pct, dtype=np.float64)
    over = ~(rh <= limit_pct)
    last = rh.shape[-1] - 1 - np.argmax(over[..., ::-1], axis=-1)
    until = np.where(over.any(axis=-1), (last + 1) * step_h, 0.0)
    return np.where(over[..., -1], np.inf, until)
