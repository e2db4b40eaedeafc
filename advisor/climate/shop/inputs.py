"""From a change (heater, dehumidifier, doors, damp floor, tent) to heat, vapour and air change.

Machines that feed on the air they change (a dehumidifier, a wet floor) need to know that air:
`Machines` walks one well-mixed volume beside a course already reckoned, so that two passes
through the shop's response agree within a few per cent. All arrays [n] on the outdoor time axis.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.shop.shop import Change
from advisor.climate.shop.thermal import AIR_WH_M3_K
from advisor.climate.shop.vapour import HPA_PER_G_M3, dew_c, pressure_hpa

FloatArray = NDArray[np.float64]

# Burning makes water and CO2 by weight of the fuel; molar masses C 12.011, H 1.008, O 15.999.
_WATER, _CO2 = 18.015, 44.009
#: Propane C3H8: lower heating value 46.35 MJ/kg (from memory).
PROPANE_KWH_PER_KG = 46.35 / 3.6
PROPANE_WATER_KG_PER_KWH = 4 * _WATER / 44.097 / PROPANE_KWH_PER_KG
PROPANE_CO2_KG_PER_KWH = 3 * _CO2 / 44.097 / PROPANE_KWH_PER_KG
#: Paraffin taken as C12H26: lower heating value 43.1 MJ/kg (from memory).
PARAFFIN_KWH_PER_KG = 43.1 / 3.6
PARAFFIN_WATER_KG_PER_KWH = 13 * _WATER / 170.34 / PARAFFIN_KWH_PER_KG
PARAFFIN_CO2_KG_PER_KWH = 12 * _CO2 / 170.34 / PARAFFIN_KWH_PER_KG
#: Share of the fuel's heat a flued heater leaves in the shop (from memory).
VENTED_SHARE = 0.85
#: Density of CO2 at 20 °C, kg/m³ (from memory).
_CO2_KG_PER_M3 = 1.84

#: Heat of vaporisation near 15 °C, W h per g (2.47 kJ/g).
LATENT_WH_PER_G = 2470.0 / 3600.0
#: A dehumidifier gives its rated litres at 30 °C and 80 % (makers' usual rating point); it falls
#: in a straight line to nothing at 3 °C, where its coil ices, and at 40 %, where its hygrostat
#: rests it. A fit by eye to makers' curves (from memory).
RATED_C, ICED_C = 30.0, 3.0
RATED_RH_PCT, FLOOR_RH_PCT = 80.0, 40.0
#: Electric power while running, W per rated litre a day (from memory: 20 l/day draws 360 W).
DEHUMIDIFIER_W_PER_L_DAY = 18.0
#: Of the heat that dries a floor, this share comes out of the air, the rest out of the floor
#: (assumption).
FLOOR_SHARE_FROM_AIR = 0.5

#: A sheet hung round the work: heat through it, W/(m² K), two inside films in a row (ISO 6946:
#: 0.13 each), and its own air change with the shop, per hour (assumption: open at the floor).
SHEET_W_PER_M2_K = 1.0 / 0.26
TENT_AIR_CHANGES = 2.0
#: Air and what is hung in it, kJ/(m³ K): a few times the air alone (assumption).
TENT_KJ_PER_M3_K = 6.0

LIMITS: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "heater_kw": (0.0, 100.0, "0 to 100 kW"),
        "dehumidifier_l_per_day": (0.0, 500.0, "0 to 500 litres a day"),
        "air_changes": (0.1, 20.0, "0.1 to 20 times the shop's own"),
        "damp_litres": (0.0, 1000.0, "0 to 1000 litres"),
        "damp_m2": (0.0, 10000.0, "0 to 10 000 m²"),
        "tent_m3": (0.0, 10000.0, "0 to 10 000 m³"),
    }
)


def check(change: Change) -> Change:
    """Return the change, or raise RangeError naming what cannot be."""
    for name, (low, high, accepted) in LIMITS.items():
        value = getattr(change, name)
        if not low <= value <= high:  # NaN fails too
            raise RangeError(name, f"{value:g}", accepted)
    if change.heater_kind not in ("electric", "vented", "unvented"):
        raise RangeError("heater kind", repr(change.heater_kind), "electric, vented or unvented")
    if change.damp_litres > 0 and change.damp_m2 <= 0:
        raise RangeError("damp_m2", "0", "the floor area the water is spread over")
    since, until = change.from_s, change.until_s
    if since is not None and until is not None and until <= since:
        raise RangeError("until", "a time not after the start", "a time after it")
    return change


def active(change: Change, time_s: NDArray[np.int64], now_s: float) -> FloatArray:
    """Return the share of the step before each stamp the change is on, [n]; none before now.

    `time_s` is an even grid; the first stamp has no step before it and gets 0.
    """
    since = now_s if change.from_s is None else max(now_s, change.from_s)
    until = np.inf if change.until_s is None else change.until_s
    begin, end = time_s[:-1].astype(float), time_s[1:].astype(float)
    overlap = np.minimum(end, until) - np.maximum(begin, since)
    return np.concatenate(([0.0], np.clip(overlap / (end - begin), 0.0, 1.0)))


def fuel_kw(change: Change) -> float:
    """Return what the heater draws: electric power, or the heat in the fuel it burns."""
    return change.heater_kw / VENTED_SHARE if change.heater_kind == "vented" else change.heater_kw


def heater_vapour_g_per_h(change: Change) -> float:
    """Return the water an unvented heater gives off, as of propane (paraffin: a tenth less)."""
    burns_indoors = change.heater_kind == "unvented"
    return 1000.0 * PROPANE_WATER_KG_PER_KWH * change.heater_kw if burns_indoors else 0.0


def co2_rise_ppm(heater_kw: float, fresh_air_m3_per_h: float) -> float:
    """Return how far an unvented heater lifts CO2 over outdoor air in the long run, ppm."""
    per_h = heater_kw * PROPANE_CO2_KG_PER_KWH / _CO2_KG_PER_M3
    return 1e6 * per_h / fresh_air_m3_per_h


def dehumidifier_l_per_day(
    rated_l_per_day: float, air_temp_c: FloatArray | float, rh_pct: FloatArray | float
) -> FloatArray:
    """Return litres a day at an air temperature and humidity; 0 when iced or under its floor."""
    warm = np.clip((np.asarray(air_temp_c) - ICED_C) / (RATED_C - ICED_C), 0.0, 1.0)
    damp = (np.asarray(rh_pct) - FLOOR_RH_PCT) / (RATED_RH_PCT - FLOOR_RH_PCT)
    return np.asarray(rated_l_per_day * warm * np.clip(damp, 0.0, 1.25), float)


def vapour_g_per_m3(dew_point_c: FloatArray) -> FloatArray:
    """Return water vapour in air, g/m³, at a dew point, °C, as the shop's response reckons it."""
    return pressure_hpa(dew_point_c) / HPA_PER_G_M3


def dew_of_vapour_c(vapour_g_per_m3: FloatArray) -> FloatArray:
    """Return the dew point, °C, of vapour in g/m³."""
    return dew_c(vapour_g_per_m3 * HPA_PER_G_M3)


def wet_floor_g_per_m2_h(temp_c: FloatArray, rh_pct: FloatArray | float) -> FloatArray:
    """Return evaporation from a wet floor at air temperature in still air, never negative.

    Uno (1998), ACI Materials Journal 95-M34, with surface at air temperature and no wind.
    """
    warm = np.maximum(np.asarray(temp_c) + 18.0, 0.0) ** 2.5
    return np.asarray(1000.0 * 5e-6 * 4.0 * warm * (1.0 - np.asarray(rh_pct) / 100.0), float)


@dataclass(frozen=True, eq=False)
class Walked:
    """What the machines did, [n]: vapour to the air and water condensed, g/h.

    `rise_g_per_m3` is the walked vapour less the course it was walked beside. `dry_at` is the
    step in which the last of a wet floor dried.
    """

    vapour_g_per_h: FloatArray
    condensed_g_per_h: FloatArray
    evaporated_g_per_h: FloatArray
    rise_g_per_m3: FloatArray
    dry_at: int | None


@dataclass(frozen=True, eq=False)
class Volume:
    """A well-mixed volume: size, air change [n] and exchange with a store, per hour."""

    volume_m3: float
    air_change_per_h: FloatArray
    step_h: float
    air_store_per_h: float = 0.0
    store_air_per_h: float = 0.0


def walk(
    change: Change,
    volume: Volume,
    on: FloatArray,
    beside: tuple[FloatArray, FloatArray],
    known_g_per_h: FloatArray,
) -> Walked:
    """Walk a volume with its machines, beside a course reckoned with `known_g_per_h`.

    `beside` is air temperature, °C, and vapour, g/m³, [n]. Both machines give and take in
    proportion to the vapour itself, so each step is solved at its end (stable at any size).
    """
    temp, rho0 = beside
    full = vapour_g_per_m3(temp)
    take = dehumidifier_l_per_day(change.dehumidifier_l_per_day, temp, RATED_RH_PCT) * 1000.0 / 24
    slope = take * on / (RATED_RH_PCT - FLOOR_RH_PCT) * 100.0 / full
    wet = change.damp_m2 * wet_floor_g_per_m2_h(temp, 0.0) / full
    burnt = heater_vapour_g_per_h(change) * on
    columns = (slope, FLOOR_RH_PCT / 100.0 * full, wet, full, rho0, burnt - known_g_per_h, on)
    *found, dry_at = _walk(volume, columns, change.damp_litres * 1000.0)
    # Past a hole nothing is known of the air; the machines count for nothing there.
    took, gave, rise = (np.nan_to_num(values) for values in found)
    return Walked(burnt + gave - took, took, gave, rise, dry_at)


def _walk(
    volume: Volume, columns: tuple[FloatArray, ...], water_g: float
) -> tuple[FloatArray, FloatArray, FloatArray, int | None]:
    """Step rise' = (given - taken - known) / V - change rise + exchange with the store.

    Backward Euler: all on the right is taken at the step's end, and solved for the rise.
    """
    n = len(columns[0])
    took, gave, rises = np.zeros(n), np.zeros(n), np.zeros(n)
    dt = volume.step_h
    per_g, keep = dt / volume.volume_m3, 1.0 / (1.0 + dt * volume.store_air_per_h)
    lose = 1.0 + dt * (volume.air_change_per_h + volume.air_store_per_h * keep)
    rise, store, left, started, dry_at = 0.0, 0.0, water_g, False, None
    rows = zip(*(column.tolist() for column in (*columns, lose)), strict=True)
    for k, (slope, floor, wet, full, rho0, given, on, loss) in enumerate(rows):
        # The floor is wetted once, when the change begins, and stays so until it has dried.
        started = started or on > 0.0
        wetted = wet if started and left > 0.0 else 0.0
        before = rise + dt * volume.air_store_per_h * keep * store
        source = given + slope * (floor - rho0) + wetted * (full - rho0)
        rise = (before + per_g * source) / (loss + per_g * (slope + wetted))
        takes, gives = slope * (rho0 + rise - floor), wetted * (full - rho0 - rise)
        if takes < 0.0 or gives < 0.0 or gives * dt > left:
            takes, gives = max(takes, 0.0), min(max(gives, 0.0), left / dt)
            rise = (before + per_g * (given - takes + gives)) / loss
        if wetted > 0.0:
            left -= gives * dt
            if left <= 1e-6 * water_g:
                left, dry_at = 0.0, k
        store = keep * store + (1.0 - keep) * rise
        took[k], gave[k], rises[k] = takes, gives, rise
    return took, gave, rises, dry_at


def machine_heat_w(change: Change, on: FloatArray, walked: Walked) -> FloatArray:
    """Return heat to the air, W [n]: heater, dehumidifier with its water's heat, wet floor."""
    electric = dehumidifier_w(change, on, walked)
    latent = walked.condensed_g_per_h - FLOOR_SHARE_FROM_AIR * walked.evaporated_g_per_h
    return 1000.0 * change.heater_kw * on + electric + LATENT_WH_PER_G * latent


def dehumidifier_w(change: Change, on: FloatArray, walked: Walked) -> FloatArray:
    """Return what a dehumidifier draws, W [n]; nothing while it rests."""
    running = on * (walked.condensed_g_per_h > 0.0)
    return DEHUMIDIFIER_W_PER_L_DAY * change.dehumidifier_l_per_day * running


@dataclass(frozen=True)
class Tent:
    """A sheet hung round the work inside the shop: a small volume beside the shop's air."""

    volume_m3: float

    @property
    def sheet_m2(self) -> float:
        """Walls and roof of a cube that stands on the floor."""
        return 5.0 * float(self.volume_m3 ** (2.0 / 3.0))

    @property
    def loss_w_per_k(self) -> float:
        """Heat lost to the shop through the sheet and with its air."""
        return SHEET_W_PER_M2_K * self.sheet_m2 + (AIR_WH_M3_K * TENT_AIR_CHANGES * self.volume_m3)

    def warmer_k(self, heat_w: FloatArray, hung: FloatArray, step_h: float) -> FloatArray:
        """Return how much warmer than the shop it is inside, K [n]; 0 while not hung."""
        lag_h = TENT_KJ_PER_M3_K * self.volume_m3 / 3.6 / self.loss_w_per_k
        keep = float(np.exp(-step_h / lag_h))
        out, now = np.zeros(len(heat_w)), 0.0
        steady = (heat_w / self.loss_w_per_k).tolist()
        for k, (goal, is_hung) in enumerate(zip(steady, hung.tolist(), strict=True)):
            now = (goal + keep * (now - goal)) if is_hung > 0.0 else 0.0
            out[k] = now
        return out
