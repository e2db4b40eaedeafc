"""Heat in a shop: its air and its fabric, between outdoor air, sun, heater and inner gains."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import linear
from advisor.physics.ventilation import heat_lost_w_per_k

FloatArray = NDArray[np.float64]

_LEAST_LAG = 0.02  # a heater's lag under this share of a step is none


@dataclass(frozen=True)
class Thermal:
    """Rates per hour between air, fabric and outdoors, and what warms either.

    `sun_…` are K/h per kW/m² of global horizontal sun, `gain_air_k_h` the constant inner gain;
    `sun_morning` leans the sun's gain to the morning (above 0) or afternoon, about
    `solar_noon_h` (UTC hour). `air_wh_k` is the heat the air node holds: it turns watts into
    degrees. `heat_air_share` of a heater's heat goes to the air, the rest to the fabric, behind the
    heater's own lag (its iron and water). What the model does not explain at the start fades
    with `fade_h`.
    """

    air_out_per_h: float
    air_fabric_per_h: float
    fabric_air_per_h: float
    fabric_out_per_h: float
    sun_air_k_h: float
    sun_fabric_k_h: float
    gain_air_k_h: float
    air_wh_k: float
    sun_morning: float = 0.0
    solar_noon_h: float = 12.0
    heat_air_share: float = 1.0
    heater_lag_h: float = 0.0
    fade_h: float = 24.0

    @property
    def fabric_wh_k(self) -> float:
        """Heat the fabric holds, Wh/K: the exchange is one flow seen from both sides."""
        return self.air_wh_k * self.air_fabric_per_h / self.fabric_air_per_h

    @property
    def loss_w_k(self) -> float:
        """Heat lost to outdoors in the long run, W per K of difference."""
        inner = self.air_fabric_per_h * self.air_wh_k
        outer = self.fabric_out_per_h * self.fabric_wh_k
        return self.air_out_per_h * self.air_wh_k + inner * outer / (inner + outer)

    @property
    def rates(self) -> FloatArray:
        """System matrix [3, 3] per hour of air, fabric and unexplained heat (K/h)."""
        out, af, fa = self.air_out_per_h, self.air_fabric_per_h, self.fabric_air_per_h
        return np.array(
            [
                [-(out + af), af, 1.0],
                [fa, -(fa + self.fabric_out_per_h), 0.0],
                [0.0, 0.0, -1.0 / self.fade_h],
            ]
        )

    def with_more_air(self, extra_per_h: float, volume_m3: float) -> Thermal:
        """Return the shop with `extra_per_h` more air changes (fewer below 0)."""
        more = heat_lost_w_per_k(extra_per_h, volume_m3) / self.air_wh_k
        return replace(self, air_out_per_h=max(0.0, self.air_out_per_h + more))


def sun_seen(thermal: Thermal, time_s: NDArray[np.int64], sun_w_m2: FloatArray) -> FloatArray:
    """Return the sun in kW/m² as the shop's sides and windows take it, shape of `sun_w_m2`."""
    if thermal.sun_morning == 0.0:
        return sun_w_m2 / 1000.0
    hour = (time_s % 86400) / 3600.0 - thermal.solar_noon_h
    lean = 1.0 - thermal.sun_morning * np.sin(hour * (math.pi / 12.0))
    return sun_w_m2 / 1000.0 * np.maximum(lean, 0.0)


def forcing(
    thermal: Thermal, air_out_c: FloatArray, sun_kw_m2: FloatArray, heat_w: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the straight-line and the held forcing, each [..., n, 3], K/h."""
    straight = np.zeros((*air_out_c.shape, 3))
    straight[..., 0] = thermal.air_out_per_h * air_out_c
    straight[..., 1] = thermal.fabric_out_per_h * air_out_c
    shape = np.broadcast_shapes(air_out_c.shape, sun_kw_m2.shape, heat_w.shape)
    held = np.zeros((*shape, 3))
    share = thermal.heat_air_share
    heat_air = heat_w * (share / thermal.air_wh_k)
    heat_fabric = heat_w * ((1.0 - share) / thermal.fabric_wh_k)
    held[..., 0] = thermal.sun_air_k_h * sun_kw_m2 + thermal.gain_air_k_h + heat_air
    held[..., 1] = thermal.sun_fabric_k_h * sun_kw_m2 + heat_fabric
    return straight, held


def emitted(
    thermal: Thermal, heat_w: FloatArray, step_h: float, start_w: float
) -> tuple[FloatArray, FloatArray]:
    """Return the heater's mean output over each step and its output at each stamp, W [n].

    `start_w` is the output at the first stamp. With a lag of nothing, output is what goes in.
    """
    lag_h = thermal.heater_lag_h
    if lag_h <= _LEAST_LAG * step_h:
        return heat_w, heat_w
    ratio = step_h / lag_h
    lost = -math.expm1(-ratio)
    keep = np.array([[1.0 - lost]])
    output = linear.run(keep, np.array([start_w]), heat_w[1:, None] * lost)[:, 0]
    mean = heat_w.copy()
    mean[1:] += (output[:-1] - heat_w[1:]) * (lost / ratio)
    return mean, output


def courses(
    thermal: Thermal,
    step_h: float,
    start: FloatArray,
    forced: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Return air, fabric and unexplained heat [..., n, 3] from `start` [..., 3]."""
    step = linear.step_of(thermal.rates, step_h)
    return linear.run(step.keep, start, linear.pushes(step, *forced))
