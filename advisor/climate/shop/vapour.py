"""Vapour pressure to dew point and back through a fine table of the one saturation curve.

A shop's scenarios need a hundred thousand conversions at a time; the table is read from
`physics.moist_air`, so there is still one curve. Straight lines in ln(pressure) every 0.05 K
err by less than 1e-5 K.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.physics import moist_air
from advisor.physics.constants import VAPOUR_J_KG_K, ZERO_C_K

FloatArray = NDArray[np.float64]
_LOW_C, _HIGH_C, _STEP_C = -90.0, 70.0, 0.05

#: 1 g/m³ of vapour at 15 °C, hPa: R_v T.
HPA_PER_G_M3 = VAPOUR_J_KG_K * (15.0 + ZERO_C_K) * 1e-5


@lru_cache(maxsize=1)
def _table() -> tuple[FloatArray, FloatArray]:
    temp_c = np.linspace(_LOW_C, _HIGH_C, round((_HIGH_C - _LOW_C) / _STEP_C) + 1)
    return temp_c, np.log(np.asarray(moist_air.saturation_hpa(temp_c), dtype=np.float64))


def pressure_hpa(dew_point_c: ArrayLike) -> FloatArray:
    """Return vapour pressure, hPa, of a dew point over water, °C; NaN passes."""
    temp_c, log_hpa = _table()
    return np.asarray(np.exp(np.interp(np.asarray(dew_point_c, np.float64), temp_c, log_hpa)))


def dew_c(vapour_hpa: ArrayLike) -> FloatArray:
    """Return dew point over water, °C, of a vapour pressure, hPa; NaN passes, floor −90 °C."""
    temp_c, log_hpa = _table()
    vapour = np.asarray(vapour_hpa, dtype=np.float64)
    lowest = np.exp(log_hpa[0])
    return np.asarray(np.interp(np.log(np.maximum(vapour, lowest)), log_hpa, temp_c))
