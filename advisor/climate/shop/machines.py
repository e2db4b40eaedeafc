"""Dehumidifier and wet floor walked beside a room's air, step by step.

The room is linear, so only what the machines add to it is walked: its air, fabric, vapour and
store move by the very steps of the shop's response. Within a step both machines give and take
in a straight line with the vapour at its end, which is solved for: stable at any size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import inputs as given
from advisor.climate.shop import linear, moisture, pairs
from advisor.climate.shop.response import Response
from advisor.climate.shop.shop import Change
from advisor.climate.shop.vapour import HPA_PER_G_M3, pressure_hpa
from advisor.physics.constants import AIR_WH_M3_K
from advisor.physics.evaporation import UNO_KG_M2_H, UNO_POWER, UNO_STILL_KM_H, UNO_ZERO_K
from advisor.physics.ventilation import heat_lost_w_per_k, share_left, vapour_after_g_m3

FloatArray = NDArray[np.float64]

#: A sheet hung round the work: heat through it, W/(m² K), two inside films in a row (ISO 6946:
#: 0.13 each), and its own air change with the shop, per hour (assumption: open at the foot).
SHEET_W_PER_M2_K = 1.0 / 0.26
TENT_AIR_CHANGES = 2.0
#: Heat held by a m³ of tent, air and what hangs in it, Wh/(m³ K): five times air (assumption).
TENT_WH_PER_M3_K = 5.0 * AIR_WH_M3_K
#: How fast saturation grows with temperature near T: d ln e / dT (Magnus, WMO-No. 8).
_MAGNUS_A, _MAGNUS_B = 17.62, 243.12
#: A wet floor's rate in still air over `_warm_power`, g/(m² h) (Uno, `physics/evaporation`).
_UNO_G_PER_M2_H = 1000.0 * UNO_KG_M2_H * UNO_STILL_KM_H
#: A hygrostat lets the machine cycle within these points over its floor (assumption).
_CYCLES_PCT = 5.0
#: A machine's heat within a step is reckoned again until the air moves by less, at most so often.
_NEAR_K, _TURNS = 0.1, 6
_NONE = np.zeros(2)
Four = tuple[float, float, float, float]


@dataclass(frozen=True)
class RoomStep:
    """One step of what is added to a room.

    `heat`: air and fabric kept, row by row; `warmed`: K of each by a W held. `damp` and `wetted`
    the same for vapour and store, hPa, by a g/h held. `breathed`: hPa of vapour and store by a K
    of added air at the step's start, then at its end.
    """

    heat: Four
    warmed: tuple[float, float]
    damp: Four
    wetted: tuple[float, float]
    breathed: Four


def shop_steps(
    response: Response, factor: FloatArray, air_changes_per_h: FloatArray, step_h: float
) -> list[RoomStep]:
    """Return the steps [n] of a shop whose own air changes [n] are multiplied by `factor` [n]."""
    both, which = np.unique(np.stack([factor, air_changes_per_h]), axis=1, return_inverse=True)
    warmth = {one: _warmth(response, one, step_h) for one in set(both[0].tolist())}
    water = response.moisture
    step = pairs.step_of(both[0] * both[1], water.air_store_per_h, water.store_air_per_h, step_h)
    at_0, at_1 = moisture.forcing(water, _NONE, np.array([0.0, 1.0]), _NONE)[0][:, :2]
    breath = at_1 - at_0  # what a K of air gives to vapour and takes from the store
    grams = np.array([HPA_PER_G_M3 / response.volume_m3, 0.0])
    damp = step.keep_with_fading(water.fade_h, step_h)[:, :2, :2].reshape(-1, 4)
    columns = (damp, step.push(_NONE, _NONE, grams), step.push(breath, _NONE, _NONE),
               step.push(_NONE, breath, _NONE))  # fmt: skip
    rows = zip(both[0].tolist(), *(map(tuple, c.tolist()) for c in columns), strict=True)
    found = [RoomStep(*warmth[one], keep, wetted, (*first, *last))
             for one, keep, wetted, first, last in rows]  # fmt: skip
    return [found[k] for k in which.reshape(-1).tolist()]


def _warmth(response: Response, factor: float, step_h: float) -> tuple[Four, tuple[float, float]]:
    """Return what air and fabric keep over a step, and the K of each by a W held."""
    extra = response.air_change_per_h * (factor - 1.0)
    heat = response.thermal.with_more_air(extra, response.volume_m3)
    step, share = linear.step_of(heat.rates[:2, :2], step_h), heat.heat_air_share
    watts = np.array([share / heat.air_wh_k, (1.0 - share) / heat.fabric_wh_k])
    return _four(step.keep), _two(step.hold @ watts)


def tent_step(volume_m3: float, step_h: float) -> RoomStep:
    """Return the step of a tent over the shop's own air; its store is none."""
    loss = tent_loss_w_per_k(volume_m3)
    hold = TENT_WH_PER_M3_K * volume_m3
    keep, dry = math.exp(-step_h * loss / hold), float(share_left(TENT_AIR_CHANGES, step_h))
    a_gram = vapour_after_g_m3(0.0, 0.0, 1.0 / volume_m3, TENT_AIR_CHANGES, step_h)
    grams = HPA_PER_G_M3 * float(a_gram)
    return RoomStep((keep, 0.0, 0.0, 0.0), ((1.0 - keep) / loss, 0.0), (dry, 0.0, 0.0, 0.0),
                    (grams, 0.0), (0.0, 0.0, 0.0, 0.0))  # fmt: skip


def tent_loss_w_per_k(volume_m3: float) -> float:
    """Return heat lost to the shop through the sheet and with its air; a cube on the floor."""
    sheet_m2 = 5.0 * float(volume_m3 ** (2.0 / 3.0))
    return SHEET_W_PER_M2_K * sheet_m2 + heat_lost_w_per_k(TENT_AIR_CHANGES, volume_m3)


def _two(values: FloatArray) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def _four(matrix: FloatArray) -> Four:
    return (*_two(matrix[0]), *_two(matrix[1]))


@dataclass(frozen=True, eq=False)
class Beside:
    """The course walked beside [n], °C: air, floor and dew point, the machines not in it."""

    air_temp_c: FloatArray
    floor_c: FloatArray
    dew_point_c: FloatArray


@dataclass(frozen=True, eq=False)
class Walked:
    """What the machines did and added, [n], each over the step before its stamp.

    Water condensed and evaporated, g/h; heat given to the air and electricity drawn, W. `air_k`
    and `vapour_hpa` are what air and vapour at the machines gained. `dry_at` is the step in which
    the last of a wet floor dried, None where it did not.
    """

    condensed_g_per_h: FloatArray
    evaporated_g_per_h: FloatArray
    heat_w: FloatArray
    electric_w: FloatArray
    air_k: FloatArray
    vapour_hpa: FloatArray
    dry_at: int | None

    @property
    def vapour_g_per_h(self) -> FloatArray:
        """Water given to the air, below 0 where taken."""
        return self.evaporated_g_per_h - self.condensed_g_per_h


@dataclass(frozen=True, eq=False)
class Room:
    """A room: its step before each stamp [n], and heat, W, and water, g/h, put into it [n].

    What is put in is besides the machines' own, and not in the course walked beside.
    """

    steps: Sequence[RoomStep]
    heat_w: FloatArray
    vapour_g_per_h: FloatArray


def walk(
    change: Change, on: FloatArray, rooms: Sequence[Room], beside: Beside, step_h: float
) -> Walked:
    """Walk the machines of a change in a room, or in one room that stands inside another.

    The machines' air is `beside` and what all rooms gained; their heat and water go into each.
    Once they are off and the floor is dry nothing more is walked. Past a hole in the air nothing
    is known, and the machines count for nothing.
    """
    walker = _Walker(change, step_h, [_Gained(room) for room in rooms])
    n = len(on)
    out = np.zeros((6, n))
    columns = (on, beside.air_temp_c, beside.floor_c, pressure_hpa(beside.air_temp_c),
               pressure_hpa(beside.dew_point_c))  # fmt: skip
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    running = np.flatnonzero(on > 0.0)
    first, last = (int(running[0]), int(running[-1])) if len(running) else (n, n)
    for k in range(max(1, first), n):
        if k > last and walker.left_g <= 0.0:
            break
        found = walker.step(rows[k], k)
        if math.isnan(found[4]):
            break
        out[:, k] = found
    took, gave, heat_w, electric_w, air_k, vapour_hpa = out
    return Walked(took, gave, heat_w, electric_w, air_k, vapour_hpa, walker.dry_at)


class _Gained:
    """What one room has gained so far: air, fabric, K; vapour, store, hPa."""

    def __init__(self, room: Room) -> None:
        self.steps = room.steps
        self.put_in = list(zip(room.heat_w.tolist(), room.vapour_g_per_h.tolist(), strict=True))
        self.air = self.fabric = self.vapour = self.store = 0.0
        self.air_soon = self.fabric_soon = self.vapour_soon = self.store_soon = 0.0

    def begin(self, k: int) -> None:
        """Reckon the step's end without the machines."""
        step, (watts, grams) = self.steps[k], self.put_in[k]
        a, b, c, d = step.heat
        self.air_soon = a * self.air + b * self.fabric + step.warmed[0] * watts
        self.fabric_soon = c * self.air + d * self.fabric + step.warmed[1] * watts
        a, b, c, d = step.damp
        w, air = step.breathed, self.air_soon
        vapour = a * self.vapour + b * self.store + step.wetted[0] * grams
        store = c * self.vapour + d * self.store + step.wetted[1] * grams
        self.vapour_soon = vapour + w[0] * self.air + w[2] * air
        self.store_soon = store + w[1] * self.air + w[3] * air

    def end(self, k: int, watts: float, grams: float) -> None:
        """Move to the step's end with the machines' heat and water in it."""
        step = self.steps[k]
        warmer, w = step.warmed[0] * watts, step.breathed
        self.air = self.air_soon + warmer
        self.fabric = self.fabric_soon + step.warmed[1] * watts
        self.vapour = self.vapour_soon + w[2] * warmer + step.wetted[0] * grams
        self.store = self.store_soon + w[3] * warmer + step.wetted[1] * grams


class _Walker:
    """State of one walk: the rooms' gains, the machines' last heat, and the water left."""

    def __init__(self, change: Change, step_h: float, rooms: list[_Gained]) -> None:
        self.step_h, self.rooms = step_h, rooms
        self.rated_g_per_h = change.dehumidifier_l_per_day * 1000.0 / 24.0
        self.rated_w = change.dehumidifier_l_per_day * given.DEHUMIDIFIER_W_PER_L_DAY
        self.damp_m2 = change.damp_m2 if change.damp_litres > 0 else 0.0
        self.water_g = self.left_g = change.damp_litres * 1000.0
        self.heat_w = 0.0
        self.dry_at: int | None = None

    def step(self, row: tuple[float, ...], k: int) -> tuple[float, ...]:
        """Take one step; return condensed, evaporated, heat, electric, air and vapour gained."""
        for room in self.rooms:
            room.begin(k)
        answers = self._answers(k)
        for _ in range(_TURNS):
            before = self.heat_w
            took, gave, electric = self._machines(row, answers)
            latent = took - given.FLOOR_SHARE_FROM_AIR * gave
            self.heat_w = electric + given.LATENT_WH_PER_G * latent
            if abs(self.heat_w - before) * answers[3] < _NEAR_K:
                break
        for room in self.rooms:
            room.end(k, self.heat_w, gave - took)
        self._dry(gave, k)
        gained = (sum(room.air for room in self.rooms), sum(room.vapour for room in self.rooms))
        return took, gave, self.heat_w, electric, *gained

    def _answers(self, k: int) -> tuple[float, ...]:
        """Return air, fabric and vapour gained without the machines, and by a W and a g/h."""
        air = fabric = vapour = warmed = fabric_k = breathed = per_g = 0.0
        for room in self.rooms:
            step = room.steps[k]
            air, fabric, vapour = (
                air + room.air_soon, fabric + room.fabric_soon, vapour + room.vapour_soon,
            )  # fmt: skip
            warmed, fabric_k = warmed + step.warmed[0], fabric_k + step.warmed[1]
            breathed += step.breathed[2] * step.warmed[0]
            per_g += step.wetted[0]
        return air, fabric, vapour, warmed, fabric_k, breathed, per_g

    def _machines(
        self, row: tuple[float, ...], answers: tuple[float, ...]
    ) -> tuple[float, float, float]:
        """Return water taken and given, g/h, and power drawn, W, with the last known heat."""
        on, air_c, floor_c, full_hpa, there_hpa = row
        air, fabric, vapour, warmed, fabric_k, breathed, per_g = answers
        air, fabric = air + warmed * self.heat_w, fabric + fabric_k * self.heat_w
        full = full_hpa * _growth(air_c, air)
        drier, least = self._drier(on, air_c + air, full), given.FLOOR_RH_PCT / 100.0 * full
        wet, even = self._floor(air_c + air, floor_c + fabric, full)
        base = there_hpa + vapour + breathed * self.heat_w
        end = (base + per_g * (drier * least + wet * even)) / (1.0 + per_g * (drier + wet))
        took = max(0.0, drier * (end - least))
        gave = min(max(0.0, wet * (even - end)), self.left_g / self.step_h)
        # Near its floor the hygrostat lets it run part of the time.
        share = min(1.0, (end - least) / (_CYCLES_PCT / 100.0 * full)) if took > 0.0 else 0.0
        return took, gave, self.rated_w * on * share

    def _drier(self, on: float, temp_c: float, full_hpa: float) -> float:
        """Grams an hour a dehumidifier takes per hPa over its floor."""
        if self.rated_g_per_h == 0.0:
            return 0.0
        warm = (temp_c - given.ICED_C) / (given.RATED_C - given.ICED_C)
        over_hpa = (given.RATED_RH_PCT - given.FLOOR_RH_PCT) / 100.0 * full_hpa
        return self.rated_g_per_h * on * min(max(warm, 0.0), 1.0) / over_hpa

    def _floor(self, air_c: float, floor_c: float, full_hpa: float) -> tuple[float, float]:
        """Grams an hour a wet floor gives per hPa under the vapour at which it gives none."""
        if self.left_g <= 0.0:
            return 0.0, 0.0
        falls = _UNO_G_PER_M2_H * self.damp_m2 * _warm_power(air_c)
        source = _UNO_G_PER_M2_H * self.damp_m2 * _warm_power(floor_c)
        return falls / full_hpa, full_hpa * source / falls

    def _dry(self, gave_g_per_h: float, k: int) -> None:
        if self.left_g > 0.0:
            self.left_g -= gave_g_per_h * self.step_h
            if self.left_g <= 1e-6 * self.water_g:
                self.left_g, self.dry_at = 0.0, k


def _warm_power(temp_c: float) -> float:
    """Return the power of a temperature by which Uno's rate goes; next to none in deep frost."""
    return float(max(temp_c + UNO_ZERO_K, 0.1) ** UNO_POWER)


def _growth(temp_c: float, warmer_k: float) -> float:
    """How many times more vapour air holds when it is warmer (Magnus, 0.1 % over 10 K)."""
    if warmer_k == 0.0:
        return 1.0
    later = temp_c + warmer_k
    return math.exp(_MAGNUS_A * later / (_MAGNUS_B + later)
                    - _MAGNUS_A * temp_c / (_MAGNUS_B + temp_c))  # fmt: skip
