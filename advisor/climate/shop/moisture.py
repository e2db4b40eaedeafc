"""Moisture in a shop: vapour in its air and in its fabric, between outdoors and sources."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import linear
from advisor.climate.shop.vapour import HPA_PER_G_M3

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Moisture:
    """Rates per hour of vapour pressure between air, outdoors and store (the fabric).

    `air_change_per_h` is the air change with outdoors. Warm fabric gives off vapour: the
    pressure over the store rises by the share `warm_per_k` of `level_hpa` (None: what the store
    has at the start) per K of indoor air; 0.065 is fabric at constant relative humidity.
    `source_hpa_h` is what people, floor and work add all the time. What the model does not
    explain at the start fades with `fade_h`.
    """

    air_change_per_h: float
    air_store_per_h: float
    store_air_per_h: float
    source_hpa_h: float
    warm_per_k: float = 0.0
    level_hpa: float | None = None
    fade_h: float = 24.0

    @property
    def rates(self) -> FloatArray:
        """System matrix [3, 3] per hour of air, store and unexplained source (hPa/h)."""
        change, give, take = self.air_change_per_h, self.air_store_per_h, self.store_air_per_h
        return np.array(
            [
                [-(change + give), give, 1.0],
                [take, -take, 0.0],
                [0.0, 0.0, -1.0 / self.fade_h],
            ]
        )

    def with_air_changes(self, factor: float) -> Moisture:
        """Return the shop with its air change multiplied."""
        return replace(self, air_change_per_h=self.air_change_per_h * factor)


def source_hpa_h(vapour_g_per_h: FloatArray, volume_m3: float) -> FloatArray:
    """Return the rise of vapour pressure, hPa/h, from grams of water an hour."""
    return vapour_g_per_h * (HPA_PER_G_M3 / volume_m3)


def warmth_hpa(moisture: Moisture, air_in_c: FloatArray) -> FloatArray:
    """Return what indoor air, °C, adds to the pressure over the store; 0 at 0 °C.

    The state carries the rest of that pressure, so that its zero does not matter.
    """
    return moisture.warm_per_k * (moisture.level_hpa or 0.0) * air_in_c


def forcing(
    moisture: Moisture, vapour_out_hpa: FloatArray, air_in_c: FloatArray, added_hpa_h: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the straight-line and the held forcing, each [..., n, 3], hPa/h."""
    shape = np.broadcast_shapes(vapour_out_hpa.shape, air_in_c.shape)
    straight = np.zeros((*shape, 3))
    warm = warmth_hpa(moisture, air_in_c)
    straight[..., 0] = moisture.air_change_per_h * vapour_out_hpa + moisture.air_store_per_h * warm
    straight[..., 1] = -moisture.store_air_per_h * warm
    held = np.zeros((*np.broadcast_shapes(shape, added_hpa_h.shape), 3))
    held[..., 0] = moisture.source_hpa_h + added_hpa_h
    return straight, held


def courses(
    moisture: Moisture,
    step_h: float,
    start: FloatArray,
    forced: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Return vapour in air, store and unexplained source [..., n, 3] from `start` [..., 3]."""
    step = linear.step_of(moisture.rates, step_h)
    return linear.run(step.keep, start, linear.pushes(step, *forced))
