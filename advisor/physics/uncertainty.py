"""How far instruments blur the margin between surface and wet point.

Standard uncertainties, one sigma, after JCGM 100 (GUM): a maker's "± a" is the half-width of a
rectangle, so u = a/√3 (4.3.7), and independent parts add as squares (5.1.2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError

FloatArray = NDArray[np.float64]

#: Common practice for a fair hygrometer and contact probe: ±0.5 K, ±3 % RH, ±1 K, over √3.
DEFAULT_AIR_K = 0.29
DEFAULT_RH_PCT = 1.7
DEFAULT_SURFACE_K = 0.58
#: Infra-red reading of gloss or bare metal without a matt tape target.
UNTAPED_INFRARED_SURFACE_K = 3.0

#: No margin is known better than this, K.
LEAST_SD_K = 1e-3

# Magnus coefficients over water and ice (WMO-No. 8; the ice pair from memory): slopes within
# 0.4 % of MetPy's above freezing and 0.8 % below. Far cheaper while a slider is dragged.
_WATER = (17.62, 243.12)
_ICE = (22.46, 272.62)


@dataclass(frozen=True)
class SensorSpread:
    """Standard uncertainties of one set of instruments; `defaults` where nobody stated them."""

    air_k: float = DEFAULT_AIR_K
    rh_pct: float = DEFAULT_RH_PCT
    surface_k: float = DEFAULT_SURFACE_K
    defaults: bool = True

    def __post_init__(self) -> None:
        """Refuse negative or missing uncertainties."""
        for name in ("air_k", "rh_pct", "surface_k"):
            value = getattr(self, name)
            if not 0.0 <= value < np.inf:
                raise RangeError(f"uncertainty {name}", f"{value:g}", "0 or more")

    @classmethod
    def from_half_widths(
        cls,
        air_k: float | None = None,
        rh_pct: float | None = None,
        surface_k: float | None = None,
    ) -> SensorSpread:
        """Turn makers' ± figures (K, % RH, K) into standard uncertainties.

        A figure left out keeps its default, and the result stays marked as resting on one.
        """
        return cls(
            air_k=DEFAULT_AIR_K if air_k is None else air_k / np.sqrt(3.0),
            rh_pct=DEFAULT_RH_PCT if rh_pct is None else rh_pct / np.sqrt(3.0),
            surface_k=DEFAULT_SURFACE_K if surface_k is None else surface_k / np.sqrt(3.0),
            defaults=None in (air_k, rh_pct, surface_k),
        )

    def with_untaped_infrared(self) -> SensorSpread:
        """Widen the surface to 3 K: gloss and bare metal read by infra-red without matt tape."""
        return replace(self, surface_k=max(self.surface_k, UNTAPED_INFRARED_SURFACE_K))


def wet_point_slopes(air_temp_c: ArrayLike, rh_pct: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return d(wet point)/d(RH), K per point of RH, and d(wet point)/d(air), K per K.

    Wet point: dew point, below freezing the frost point. NaN, RH not above 0 or over 105 %
    give NaN.
    """
    air, rh = np.broadcast_arrays(
        np.asarray(air_temp_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    )
    rh = np.minimum(np.where((rh > 0.0) & (rh <= 105.0), rh, np.nan), 100.0)
    level = np.log(rh / 100.0) + _log_ratio(air, _WATER)  # ln of vapour pressure over es(0 °C)
    wet_slope = np.where(level < 0.0, _slope_at_level(level, _ICE), _slope_at_level(level, _WATER))
    return 1.0 / (rh * wet_slope), _slope(air, _WATER) / wet_slope


def wet_point_sd_k(air_temp_c: ArrayLike, rh_pct: ArrayLike, spread: SensorSpread) -> FloatArray:
    """Return the standard uncertainty of the dew or frost point, K; NaN gives NaN."""
    per_rh, per_k = wet_point_slopes(air_temp_c, rh_pct)
    return np.asarray(np.hypot(per_rh * spread.rh_pct, per_k * spread.air_k))


def margin_sd_k(air_temp_c: ArrayLike, rh_pct: ArrayLike, spread: SensorSpread) -> FloatArray:
    """Return the standard uncertainty of surface minus wet point, K; NaN gives NaN.

    For a surface measured by its own instrument: one derived from the air temperature shares
    its error, and this is then an upper bound.
    """
    return np.asarray(np.hypot(wet_point_sd_k(air_temp_c, rh_pct, spread), spread.surface_k))


def margin_errors(
    margin_k: ArrayLike, air_temp_c: ArrayLike, rh_pct: ArrayLike, spread: SensorSpread
) -> FloatArray:
    """Return a margin in its own standard errors; NaN gives NaN.

    Instruments stated as perfect count as good to `LEAST_SD_K`, so that the answer is finite.
    """
    sd_k = margin_sd_k(air_temp_c, rh_pct, spread)
    return np.asarray(np.asarray(margin_k) / np.maximum(sd_k, LEAST_SD_K))


def _log_ratio(temp_c: FloatArray, magnus: tuple[float, float]) -> FloatArray:
    """Return ln(es(T) / es(0 °C))."""
    a, b = magnus
    return a * temp_c / (b + temp_c)


def _slope(temp_c: FloatArray, magnus: tuple[float, float]) -> FloatArray:
    """Return d ln(es)/dT, 1/K."""
    a, b = magnus
    return a * b / np.square(b + temp_c)


def _slope_at_level(level: FloatArray, magnus: tuple[float, float]) -> FloatArray:
    """Return d ln(es)/dT where ln(es / es(0 °C)) equals `level`."""
    a, b = magnus
    return np.square(a - level) / (a * b)


def chance_above(errors: float) -> float | None:
    """Chance that a value this many standard errors over a limit truly is over it; None for NaN."""
    return None if math.isnan(errors) else 0.5 * (1.0 + math.erf(errors / math.sqrt(2.0)))
