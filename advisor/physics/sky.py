"""How cold the sky looks: clear-sky emissivity, cloud, and the temperature that goes with them.

Arrays or numbers broadcast. Published models differ by 4 to 6 K, so `sky_band_c` gives both ends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.physics.constants import ZERO_C_K

FloatArray = NDArray[np.float64]

#: Stefan–Boltzmann constant, W/(m² K⁴), CODATA 2018.
SIGMA = 5.670374419e-8
#: A clear sky is always colder than air. Berdahl and Martin's parabola passes 1 above a dew
#: point of 35 °C, so emissivity is held here: at least 0.7 K below air.
HIGHEST_CLEAR = 0.99
#: Dew points where the parabola still falls with dryness; drier air is held at the end.
_DRIEST_C = -38.0


def berdahl_martin(
    dew_point_c: ArrayLike,
    hour: ArrayLike | None = None,
    pressure_hpa: ArrayLike | None = None,
) -> FloatArray:
    """Return clear-sky emissivity (Berdahl & Martin 1984), at most `HIGHEST_CLEAR`.

    `hour` of solar time adds the daily term (night skies warmer), `pressure_hpa` the term for
    height; without them the means of the day and of 1000 hPa.
    """
    part = np.maximum(np.asarray(dew_point_c, dtype=np.float64), _DRIEST_C) / 100.0
    clear = 0.711 + 0.56 * part + 0.73 * part * part
    if hour is not None:
        clear = clear + 0.013 * np.cos(2.0 * np.pi * np.asarray(hour, dtype=np.float64) / 24.0)
    if pressure_hpa is not None:
        clear = clear + 0.00012 * (np.asarray(pressure_hpa, dtype=np.float64) - 1000.0)
    return np.asarray(np.minimum(clear, HIGHEST_CLEAR))


def clark_allen(dew_point_c: ArrayLike) -> FloatArray:
    """Return clear-sky emissivity (Clark & Allen 1978), at most `HIGHEST_CLEAR`.

    ln(Td/273) takes the dew point in kelvins over 273 K, not over the air's temperature.
    """
    dew_k = np.maximum(np.asarray(dew_point_c, dtype=np.float64), _DRIEST_C) + ZERO_C_K
    return np.asarray(np.minimum(0.787 + 0.764 * np.log(dew_k / 273.0), HIGHEST_CLEAR))


def cloud_multiplier(cloud_pct: ArrayLike) -> FloatArray:
    """Return by how much cloud raises emissivity (Clark & Allen 1978): 1 to 1.154.

    1 + 0.0224 N − 0.0035 N² + 0.00028 N³, N in tenths. The signs matter: copies with +0.0035
    or 0.0028 give 1.85 and 3.67 under full cloud. N is held between 0 and 10.
    """
    tenths = np.clip(np.asarray(cloud_pct, dtype=np.float64) / 10.0, 0.0, 10.0)
    return np.asarray(1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028)))


def sky_temp_c(
    air_temp_c: ArrayLike, clear_emissivity: ArrayLike, cloud_pct: ArrayLike = 0.0
) -> FloatArray:
    """Return the temperature of a black sky giving the same long-wave, °C; never above air.

    T_air ε^¼ in kelvins: a temperature, not the flux σ ε T⁴ some codes print under that name.
    """
    whole = np.minimum(np.asarray(clear_emissivity) * cloud_multiplier(cloud_pct), 1.0)
    air_k = np.asarray(air_temp_c, dtype=np.float64) + ZERO_C_K
    return np.asarray(air_k * np.sqrt(np.sqrt(whole)) - ZERO_C_K)


def sky_band_c(
    air_temp_c: ArrayLike, dew_point_c: ArrayLike, cloud_pct: ArrayLike = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Return the colder and the warmer sky temperature, °C, of the two models."""
    first, second = berdahl_martin(dew_point_c), clark_allen(dew_point_c)
    cold, warm = np.minimum(first, second), np.maximum(first, second)
    return sky_temp_c(air_temp_c, cold, cloud_pct), sky_temp_c(air_temp_c, warm, cloud_pct)
