"""The air at the work under a change, through the same response of the shop as without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Outdoor
from advisor.climate.shop import inputs as given
from advisor.climate.shop.inputs import Tent, Volume, Walked
from advisor.climate.shop.response import Indoor, Inputs, Response, State, simulate
from advisor.climate.shop.shop import Change, Shop

FloatArray = NDArray[np.float64]
#: Passes between the shop's response and the machines that feed on its air: the second differs
#: from the third by less than 0.1 K of dew point in any shop of the tests.
PASSES = 2


@dataclass(frozen=True, eq=False)
class AsIs:
    """A shop as it stands at `outdoor.start_s`, and its air if nothing is done."""

    shop: Shop
    response: Response
    outdoor: Outdoor
    state: State
    indoor: Indoor

    @property
    def step_h(self) -> float:
        """Hours between stamps."""
        return self.outdoor.step_s / 3600.0


def as_is(shop: Shop, response: Response, outdoor: Outdoor, state: State) -> AsIs:
    """Reckon the shop's own air once; `outdoor` [n] begins where `state` holds."""
    return AsIs(shop, response, outdoor, state, simulate(response, outdoor, state))


@dataclass(frozen=True, eq=False)
class ChangedAir:
    """Air at the work [n] (in the tent while one hangs), and what the change draws, W [n]."""

    air_temp_c: FloatArray
    dew_point_c: FloatArray
    electric_w: FloatArray
    fuel_w: FloatArray
    dry_at: int | None = None


def changed_air(at: AsIs, change: Change, now_s: float) -> ChangedAir:
    """Return the air under a change; RangeError when the change cannot be."""
    on = given.active(given.check(change), at.outdoor.time_s, now_s)
    if not on.any():
        nothing = np.zeros(len(on))
        return ChangedAir(at.indoor.air_temp_c, at.indoor.dew_point_c, nothing, nothing)
    tent = Tent(change.tent_m3) if change.tent_m3 > 0 else None
    return _Chain(at, change, on, tent).run()


@dataclass(frozen=True, eq=False)
class _Chain:
    at: AsIs
    change: Change
    on: FloatArray
    tent: Tent | None

    @property
    def factor(self) -> FloatArray:
        return 1.0 + (self.change.air_changes - 1.0) * self.on

    def run(self) -> ChangedAir:
        heat = 1000.0 * self.change.heater_kw * self.on
        vapour = given.heater_vapour_g_per_h(self.change) * self.on
        indoor = self.shop(heat, vapour)
        if not self.feeds_on_air and self.tent is None:
            return self.answer(indoor.air_temp_c, indoor.dew_point_c, None)
        for _ in range(PASSES if self.feeds_on_air else 0):
            walked = self.walk(indoor, heat, vapour)
            heat = given.machine_heat_w(self.change, self.on, walked)
            vapour = walked.vapour_g_per_h
            indoor = self.shop(heat, vapour)
        walked = self.walk(indoor, heat, vapour)
        if self.tent is None:
            return self.answer(indoor.air_temp_c, indoor.dew_point_c, walked)
        return self.in_tent(indoor, heat, walked)

    @property
    def feeds_on_air(self) -> bool:
        return self.change.dehumidifier_l_per_day > 0 or self.change.damp_litres > 0

    def shop(self, heat_w: FloatArray, vapour_g_per_h: FloatArray) -> Indoor:
        factor: FloatArray | float = self.factor if self.change.air_changes != 1.0 else 1.0
        inputs = Inputs(heat_w, vapour_g_per_h, factor)
        return simulate(self.at.response, self.at.outdoor, self.at.state, inputs)

    def walk(self, indoor: Indoor, heat: FloatArray, vapour: FloatArray) -> Walked:
        rho = given.vapour_g_per_m3(indoor.dew_point_c)
        if self.tent is not None:
            warm = indoor.air_temp_c + self.tent.warmer_k(heat, self.on, self.at.step_h)
            changes = np.full(len(rho), given.TENT_AIR_CHANGES)
            volume = Volume(self.tent.volume_m3, changes, self.at.step_h)
            return given.walk(self.change, volume, self.on, (warm, rho), np.zeros(len(rho)))
        moisture = self.at.response.moisture
        volume = Volume(self.at.response.volume_m3, moisture.air_change_per_h * self.factor,
                        self.at.step_h, moisture.air_store_per_h,
                        moisture.store_air_per_h)  # fmt: skip
        return given.walk(self.change, volume, self.on, (indoor.air_temp_c, rho), vapour)

    def in_tent(self, indoor: Indoor, heat: FloatArray, walked: Walked) -> ChangedAir:
        assert self.tent is not None
        air = indoor.air_temp_c + self.tent.warmer_k(heat, self.on, self.at.step_h)
        rise = np.where(self.on > 0.0, walked.rise_g_per_m3, 0.0)
        rho = given.vapour_g_per_m3(indoor.dew_point_c) + rise
        dew = np.minimum(given.dew_of_vapour_c(rho), air)
        return self.answer(air, dew, walked)

    def answer(self, air: FloatArray, dew: FloatArray, walked: Walked | None) -> ChangedAir:
        fuel = 1000.0 * given.fuel_kw(self.change) * self.on
        nothing = np.zeros(len(self.on))
        burns = self.change.heater_kind != "electric"
        electric = nothing if burns else fuel
        if walked is not None:
            electric = electric + given.dehumidifier_w(self.change, self.on, walked)
        dry_at = None if walked is None else walked.dry_at
        return ChangedAir(air, dew, electric, fuel if burns else nothing, dry_at)
