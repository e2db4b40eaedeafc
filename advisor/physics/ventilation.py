"""Air change: how fast vapour and fumes thin out, and how much water air holds.

Well-mixed room throughout; `mixing` divides the air change where corners are left behind (1 is
perfect, 3 to 10 are used for poor mixing: common practice). Arrays or numbers broadcast.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.physics import moist_air
from advisor.physics.constants import AIR_WH_M3_K, VAPOUR_J_KG_K, ZERO_C_K

FloatArray = NDArray[np.float64]


def share_left(air_changes_per_h: ArrayLike, hours: ArrayLike, mixing: float = 1.0) -> FloatArray:
    """Return what is left of a concentration once its source has stopped, 0 to 1: e^(−N t / K).

    A film that still cures is a source: the count starts when it has stopped giving off.
    """
    _refuse_mixing(mixing)
    turns = np.asarray(air_changes_per_h, dtype=np.float64) * np.asarray(hours) / mixing
    return np.asarray(np.exp(-turns))


def hours_until(share: ArrayLike, air_changes_per_h: ArrayLike, mixing: float = 1.0) -> FloatArray:
    """Return hours until a share (0 to 1) is left; infinite where no air is changed."""
    _refuse_mixing(mixing)
    changes = np.asarray(air_changes_per_h, dtype=np.float64)
    turns = -np.log(_share(share)) * mixing
    never = np.where(turns > 0.0, np.inf, 0.0)
    return np.where(changes > 0.0, turns / np.where(changes > 0.0, changes, 1.0), never)


def air_changes_needed(share: ArrayLike, hours: ArrayLike, mixing: float = 1.0) -> FloatArray:
    """Return the air change, 1/h, that leaves a share (0 to 1) after so many hours."""
    _refuse_mixing(mixing)
    time_h = np.asarray(hours, dtype=np.float64)
    if not np.all(time_h > 0.0):
        raise RangeError("hours", f"{np.min(time_h):g}", "more than 0")
    return np.asarray(-np.log(_share(share)) * mixing / time_h)


def vapour_g_m3(air_temp_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Return water vapour in air, g/m³: e(dew point) / (R T), over water."""
    kelvin = np.asarray(air_temp_c, dtype=np.float64) + ZERO_C_K
    vapour_pa = 100.0 * np.asarray(moist_air.saturation_hpa(dew_point_c))
    return np.asarray(1000.0 * vapour_pa / (VAPOUR_J_KG_K * kelvin))


def saturated_g_m3(air_temp_c: ArrayLike) -> FloatArray:
    """Return the most water vapour air holds, g/m³."""
    return vapour_g_m3(air_temp_c, air_temp_c)


def vapour_after_g_m3(
    start_g_m3: ArrayLike,
    outside_g_m3: ArrayLike,
    given_off_g_m3_h: ArrayLike,
    air_changes_per_h: ArrayLike,
    hours: ArrayLike,
) -> FloatArray:
    """Return vapour in a room after `hours` of steady source and air change, g/m³.

    Limit ρ_out + S/N, reached as e^(−N t); with no air change it rises by S t. `given_off` is
    the source per room volume.
    """
    turns = np.asarray(air_changes_per_h, dtype=np.float64) * np.asarray(hours)
    start, source = np.asarray(start_g_m3, dtype=np.float64), np.asarray(given_off_g_m3_h)
    changed = -np.expm1(-turns)
    mean = np.where(turns > 0.0, changed / np.where(turns > 0.0, turns, 1.0), 1.0)
    return np.asarray(
        start + (np.asarray(outside_g_m3) - start) * changed + source * np.asarray(hours) * mean
    )


def heat_lost_w_per_k(air_changes_per_h: float, volume_m3: float) -> float:
    """Return the heat that leaves with changed air, W per kelvin between in and out."""
    return air_changes_per_h * volume_m3 * AIR_WH_M3_K


def _share(share: ArrayLike) -> FloatArray:
    found = np.asarray(share, dtype=np.float64)
    if not np.all((found > 0.0) & (found <= 1.0)):
        raise RangeError("share left", f"{found}", "above 0, up to 1")
    return found


def _refuse_mixing(mixing: float) -> None:
    if not mixing >= 1.0:
        raise RangeError("mixing", f"{mixing:g}", "1 or more")
