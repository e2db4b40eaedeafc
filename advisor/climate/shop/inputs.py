"""From a change (heater, dehumidifier, doors, damp floor, tent) to heat, vapour and air change.

What a dehumidifier takes and a wet floor gives hangs on the air they change: `machines` walks
them beside the shop's air. All arrays [n] on the outdoor time axis.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.shop.response import Inputs
from advisor.climate.shop.shop import Change

FloatArray = NDArray[np.float64]

# Burning makes water and CO2 by weight of the fuel; molar masses C 12.011, H 1.008, O 15.999.
_WATER, _CO2 = 18.015, 44.009
#: Propane C3H8: lower heating value 46.35 MJ/kg (from memory).
PROPANE_KWH_PER_KG = 46.35 / 3.6
PROPANE_WATER_KG_PER_KWH = 4 * _WATER / 44.097 / PROPANE_KWH_PER_KG
PROPANE_CO2_KG_PER_KWH = 3 * _CO2 / 44.097 / PROPANE_KWH_PER_KG
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
    return np.asarray(rated_l_per_day * warm * np.maximum(damp, 0.0), float)


def known_inputs(change: Change, on: FloatArray) -> Inputs:
    """Return what does not hang on the air: a heater's heat and water, doors and fans."""
    factor = 1.0 + (change.air_changes - 1.0) * on
    return Inputs(
        1000.0 * change.heater_kw * on, heater_vapour_g_per_h(change) * on,
        1.0 if change.air_changes == 1.0 else factor,
    )  # fmt: skip


def feeds_on_air(change: Change) -> bool:
    """Whether a machine of the change gives or takes by the air it stands in."""
    return change.dehumidifier_l_per_day > 0 or change.damp_litres > 0
