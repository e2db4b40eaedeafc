"""How a surface follows the air around it: thermal lag of plates and slabs."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError

FloatArray = NDArray[np.float64]

#: Above this Biot number a piece does not move as one lump (common rule of heat transfer).
LUMPED_BIOT = 0.1


def first_order_lag(air_temp_c: ArrayLike, step_h: float, lag_h: float) -> FloatArray:
    """Return the surface temperature, °C, [n], that follows air, [n], with one time constant.

    Exact for air that is linear between points of an even grid of `step_h` hours. Starts at
    air; NaN in air is NaN in the answer, and the lag starts again at air after it. `lag_h` 0
    gives air back.
    """
    air = np.array(air_temp_c, dtype=np.float64)
    if air.ndim != 1:
        raise RangeError("air_temp_c", f"{air.ndim} dimensions", "one series")
    _positive("step_h", step_h)
    if not 0.0 <= lag_h < math.inf:
        raise RangeError("lag_h", f"{lag_h:g}", "0 hours or more")
    if lag_h == 0.0 or len(air) < 2:
        return air
    return air + _lag_behind(np.diff(air), step_h / lag_h)


def _lag_behind(rise_k: FloatArray, ratio: float) -> FloatArray:
    """Return surface minus air, K, [n + 1], from the air's rise per step, [n].

    d' = −d/τ − slope, solved over a step: d₁ = d₀ e^(−r) − rise (1 − e^(−r))/r, r = step/τ.
    A plain loop: the recursion is serial, and floats beat array calls at one value a turn.
    """
    keep = math.exp(-ratio)
    driven = (np.nan_to_num(rise_k) * (-math.expm1(-ratio) / ratio)).tolist()
    whole = np.isfinite(rise_k).tolist()
    behind, lag = [0.0], 0.0
    for push, linked in zip(driven, whole, strict=True):
        lag = keep * lag - push if linked else 0.0
        behind.append(lag)
    return np.asarray(behind)


def lumped_time_constant_h(
    density_kg_m3: float, heat_capacity_j_kg_k: float, thickness_m: float, h_w_m2_k: float
) -> float:
    """Return the time constant, h, of a plate losing heat from one face, the other adiabatic.

    τ = ρ c L / h. With both faces in air pass the sum of both coefficients. Holds for a Biot
    number under 0.1.
    """
    for name, value in (
        ("density_kg_m3", density_kg_m3),
        ("heat_capacity_j_kg_k", heat_capacity_j_kg_k),
        ("thickness_m", thickness_m),
        ("h_w_m2_k", h_w_m2_k),
    ):
        _positive(name, value)
    return density_kg_m3 * heat_capacity_j_kg_k * thickness_m / h_w_m2_k / 3600.0


def biot(h_w_m2_k: float, thickness_m: float, conductivity_w_m_k: float) -> float:
    """Return the Biot number h L / k; under 0.1 the piece is one temperature throughout."""
    _positive("h_w_m2_k", h_w_m2_k)
    _positive("thickness_m", thickness_m)
    _positive("conductivity_w_m_k", conductivity_w_m_k)
    return h_w_m2_k * thickness_m / conductivity_w_m_k


def _positive(name: str, value: float) -> None:
    if not 0.0 < value < math.inf:
        raise RangeError(name, f"{value:g}", "more than 0")
