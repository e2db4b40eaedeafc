"""A surface in the open: sun in, long-wave out to the sky, wind across it.

Arrays or numbers broadcast; time is the last axis. NaN passes.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.physics.constants import ZERO_C_K
from advisor.physics.sky import SIGMA

FloatArray = NDArray[np.float64]

#: Long-wave emissivity of paint of any colour (0.85 to 0.94 measured; 0.9 is usual).
PAINT_EMISSIVITY = 0.9
#: Turns of Newton's rule from air temperature: 60 K off leaves under 1e-3 K after three.
_TURNS = 3


def wind_coefficient(wind_m_s: ArrayLike) -> FloatArray:
    """Return the convective coefficient, W/(m² K): 4 + 4 v (ISO 6946 annex; from memory)."""
    return np.asarray(4.0 + 4.0 * np.maximum(np.asarray(wind_m_s, dtype=np.float64), 0.0))


def sol_air_c(
    air_temp_c: ArrayLike,
    sun_w_m2: ArrayLike,
    absorptance: float,
    h_w_m2_k: ArrayLike,
    sky_loss_w_m2: ArrayLike = 0.0,
    emissivity: float = 1.0,
) -> FloatArray:
    """Return sol-air temperature, °C: air + α I / h − ε ΔR / h (ASHRAE).

    `absorptance` is α itself, 0 to 1. (Tables of 0.15 "light" and 0.30 "dark" are α/h in
    h ft² F/Btu, that is α 0.45 and 0.90.) `sky_loss_w_m2` is ΔR, black surface to sky.
    """
    check_absorptance(absorptance)
    gained = absorptance * np.asarray(sun_w_m2) - emissivity * np.asarray(sky_loss_w_m2)
    return np.asarray(np.asarray(air_temp_c) + gained / np.asarray(h_w_m2_k))


def check_absorptance(absorptance: float) -> None:
    """Refuse what is no share of sunlight."""
    if not 0.0 <= absorptance <= 1.0:
        raise RangeError("absorptance", f"{absorptance:g}", "0 to 1")


def sky_share(tilt_deg: float) -> float:
    """Return the share of a face's long-wave that meets a sky as cold as overhead.

    F^1.5 with the view factor F = (1 + cos tilt)/2: 1 for a deck, 0.35 for a side; the rest
    meets ground and low sky near air temperature (Walton 1983 as used in building simulation;
    from memory).
    """
    view: float = (1.0 + math.cos(math.radians(tilt_deg))) / 2.0
    return float(view**1.5)


def balance(
    air_temp_c: ArrayLike,
    sky_c: ArrayLike,
    h_convective: ArrayLike,
    gained_w_m2: ArrayLike = 0.0,
    emissivity: float = PAINT_EMISSIVITY,
    share_of_sky: float = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """Return where an insulated plate settles, °C, and its whole coefficient, W/(m² K).

    Solves gained + h_c (air − T) + ε σ [F sky⁴ + (1 − F) air⁴ − T⁴] = 0 (no latent heat of dew,
    which only warms). The coefficient is the slope of the heat flow where the plate settles, so
    that h (settled − T) is the flow close to it, and lag can be worked out with the pair.
    """
    air_k, sky_k = (np.asarray(x, dtype=np.float64) + ZERO_C_K for x in (air_temp_c, sky_c))
    h_c = np.asarray(h_convective, dtype=np.float64)
    met = share_of_sky * _fourth(sky_k) + (1.0 - share_of_sky) * _fourth(air_k)
    driven = np.asarray(gained_w_m2) + h_c * air_k + emissivity * SIGMA * met
    plate_k = np.asarray(air_k + np.zeros_like(driven))
    for _ in range(_TURNS):  # Newton: the balance is convex in T, so it comes in from one side
        slope = 4.0 * emissivity * SIGMA * plate_k * plate_k * plate_k
        plate_k = (driven + 0.75 * slope * plate_k) / (h_c + slope)
    return plate_k - ZERO_C_K, np.asarray(h_c + 4.0 * emissivity * SIGMA * plate_k**3)


def _fourth(temp_k: FloatArray) -> FloatArray:
    square = temp_k * temp_k
    return np.asarray(square * square)
