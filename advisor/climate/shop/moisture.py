"""Moisture in a shop: vapour in its air and in its fabric, between outdoors and sources."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import linear, pairs
from advisor.climate.shop.vapour import HPA_PER_G_M3, pressure_hpa

FloatArray = NDArray[np.float64]
_MOST = 7.0  # an air change never leaves a seventh to seven times the usual one by itself


@dataclass(frozen=True)
class Moisture:
    """Rates per hour of vapour pressure between air, outdoors and store (the fabric).

    `air_change_per_h` is the air change with outdoors. It grows by the share `change_per_k` per
    K that outdoors stands off the air inside beyond `usual_k`, and by `change_per_pct` per point
    of outdoor RH beyond `usual_rh_pct`: wind and warmth move air, and people open doors on mild
    dry days and shut them on cold and wet ones (both as exponents; 0 is a steady change). Warm
    fabric gives off vapour: the pressure over the store rises by the share `warm_per_k` of
    `level_hpa` (None: what the store has at the start) per K of indoor air; 0.065 is fabric at
    constant relative humidity. `source_hpa_h` is what people, floor and work add all the time.
    What the model does not explain at the start fades with `fade_h`.
    """

    air_change_per_h: float
    air_store_per_h: float
    store_air_per_h: float
    source_hpa_h: float
    warm_per_k: float = 0.0
    level_hpa: float | None = None
    fade_h: float = 12.0
    change_per_k: float = 0.0
    change_per_pct: float = 0.0
    usual_k: float = 3.0
    usual_rh_pct: float = 60.0

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

    @property
    def is_steady(self) -> bool:
        """Whether the air change is the same in all weather."""
        return self.change_per_k == 0.0 and self.change_per_pct == 0.0

    def with_air_changes(self, factor: float) -> Moisture:
        """Return the moisture with its air change multiplied."""
        return replace(self, air_change_per_h=self.air_change_per_h * factor)


@dataclass(frozen=True, eq=False)
class Around:
    """What stands around a shop's vapour, each [..., n]: outdoor air and vapour, indoor air."""

    air_out_c: FloatArray
    vapour_out_hpa: FloatArray
    air_in_c: FloatArray


def source_hpa_h(vapour_g_per_h: FloatArray, volume_m3: float) -> FloatArray:
    """Return the rise of vapour pressure, hPa/h, from grams of water an hour."""
    return vapour_g_per_h * (HPA_PER_G_M3 / volume_m3)


def warmth_hpa(moisture: Moisture, air_in_c: FloatArray) -> FloatArray:
    """Return what indoor air, °C, adds to the pressure over the store; 0 at 0 °C.

    The state carries the rest of that pressure, so that its zero does not matter.
    """
    return moisture.warm_per_k * (moisture.level_hpa or 0.0) * air_in_c


def air_changes(moisture: Moisture, around: Around) -> FloatArray:
    """Return the air change per hour at each stamp [..., n]."""
    off_k = np.abs(around.air_in_c - around.air_out_c) - moisture.usual_k
    rh = 100.0 * around.vapour_out_hpa / pressure_hpa(around.air_out_c) - moisture.usual_rh_pct
    more = moisture.change_per_k * off_k + moisture.change_per_pct * rh
    most = float(np.log(_MOST))
    return np.asarray(moisture.air_change_per_h * np.exp(np.clip(more, -most, most)))


def step_air_changes(moisture: Moisture, around: Around) -> FloatArray:
    """Return the air change per hour of each step [..., n - 1]: the mean of those at its ends."""
    each = air_changes(moisture, around)
    return np.asarray(0.5 * (each[..., 1:] + each[..., :-1]))


def forcing(
    moisture: Moisture, vapour_out_hpa: FloatArray, air_in_c: FloatArray, added_hpa_h: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the straight-line and the held forcing at a steady air change, [..., n, 3], hPa/h."""
    shape = np.broadcast_shapes(vapour_out_hpa.shape, air_in_c.shape)
    straight = np.zeros((*shape, 3))
    warm = warmth_hpa(moisture, air_in_c)
    straight[..., 0] = moisture.air_change_per_h * vapour_out_hpa + moisture.air_store_per_h * warm
    straight[..., 1] = -moisture.store_air_per_h * warm
    held = np.zeros((*np.broadcast_shapes(shape, added_hpa_h.shape), 3))
    held[..., 0] = moisture.source_hpa_h + added_hpa_h
    return straight, held


def steps(
    moisture: Moisture, step_h: float, around: Around, added_hpa_h: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what each step keeps, [3, 3] or [..., n - 1, 3, 3], and adds [..., n - 1, 3]."""
    forced = forcing(moisture, around.vapour_out_hpa, around.air_in_c, added_hpa_h)
    if not moisture.is_steady:
        return _varying_steps(moisture, step_h, around, forced)
    step = linear.step_of(moisture.rates, step_h)
    return step.keep, linear.pushes(step, *forced)


def _varying_steps(
    moisture: Moisture, step_h: float, around: Around, forced: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    change = step_air_changes(moisture, around)
    straight, held = forced[0][..., :2], forced[1][..., 1:, :2]
    first, last = straight[..., :-1, :].copy(), straight[..., 1:, :].copy()
    more = change - moisture.air_change_per_h
    first[..., 0] += more * around.vapour_out_hpa[..., :-1]
    last[..., 0] += more * around.vapour_out_hpa[..., 1:]
    step = pairs.step_of(change, moisture.air_store_per_h, moisture.store_air_per_h, step_h)
    added = step.push(first, last, held)
    push = np.concatenate([added, np.zeros((*added.shape[:-1], 1))], axis=-1)
    return step.keep_with_fading(moisture.fade_h, step_h), push


def run(keep: FloatArray, start: FloatArray, push: FloatArray) -> FloatArray:
    """Return vapour in air, store and unexplained source [..., n, 3] from `start` [..., 3]."""
    return (linear.run if keep.ndim == 2 else linear.run_varying)(keep, start, push)
