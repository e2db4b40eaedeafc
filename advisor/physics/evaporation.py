"""Water leaving a damp floor.

Uno (1998): true rates lie within ±40 % (Hover 2020). °C, %, m/s, kg/(m² h). What the water does
to a room's air, and the air to the floor, is walked in `climate/shop/machines`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError

FloatArray = NDArray[np.float64]

#: Uno's figures: E = UNO_KG_M2_H (V + UNO_STILL_KM_H) (t + UNO_ZERO_K)^UNO_POWER in dry air.
UNO_KG_M2_H, UNO_STILL_KM_H, UNO_ZERO_K, UNO_POWER = 5e-6, 4.0, 18.0, 2.5
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
    surface, air = _checked("surface_temp_c", surface_temp_c), _checked("air_temp_c", air_temp_c)
    wind_km_h = np.asarray(wind_m_s, dtype=np.float64) * _KM_H_PER_M_S
    if np.any(wind_km_h < 0.0):
        raise RangeError("wind_m_s", f"{np.nanmin(wind_km_h) / _KM_H_PER_M_S:g}", "0 or more")
    source, taken = (np.power(t + UNO_ZERO_K, UNO_POWER) for t in (surface, air))
    dried = UNO_KG_M2_H * (wind_km_h + UNO_STILL_KM_H)
    return np.asarray(np.maximum(dried * (source - taken * np.asarray(rh_pct) / 100.0), 0.0))


def _checked(name: str, values: ArrayLike) -> FloatArray:
    found = np.asarray(values, dtype=np.float64)
    low, high = _RANGE_C
    wrong = (found < low) | (found > high)
    if np.any(wrong):
        raise RangeError(name, f"{np.extract(wrong, found)[0]:g}", f"{low:g} to {high:g} °C")
    return found
