"""The air at the work under a change, through the same response of the shop as without it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Outdoor
from advisor.climate.shop import inputs as given
from advisor.climate.shop.machines import Beside, Room, Walked, shop_steps, tent_step, walk
from advisor.climate.shop.response import (
    Indoor,
    Inputs,
    Response,
    State,
    air_changes_along,
    at_level,
    simulate,
)
from advisor.climate.shop.shop import Change, Shop
from advisor.climate.shop.vapour import HPA_PER_G_M3, dew_c, pressure_hpa

FloatArray = NDArray[np.float64]
#: Machines are walked again until the air that moves the air change is the air they leave.
_SAME_AIR_K, _MOST_WALKS = 0.1, 5


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
    response = at_level(response, state)
    return AsIs(shop, response, outdoor, state, simulate(response, outdoor, state))


def until(at: AsIs, last_s: float) -> AsIs:
    """Return the same shop with nothing reckoned past `last_s`."""
    n = max(2, int((last_s - at.outdoor.start_s) // at.outdoor.step_s) + 1)
    columns = {name: values[..., :n] for name, values in at.outdoor.columns.items()}
    inside = at.indoor
    cut = replace(inside, air_temp_c=inside.air_temp_c[:n], dew_point_c=inside.dew_point_c[:n],
                  fabric_c=inside.fabric_c[:n])  # fmt: skip
    return replace(at, outdoor=replace(at.outdoor, columns=columns), indoor=cut)


@dataclass(frozen=True, eq=False)
class ChangedAir:
    """Air at the work [n] (in the tent while one hangs), and what the change draws, W [n].

    `dry_at` is the step in which a wetted floor has dried, None where it has not.
    """

    air_temp_c: FloatArray
    dew_point_c: FloatArray
    electric_w: FloatArray
    fuel_w: FloatArray
    dry_at: int | None = None


def changed_air(at: AsIs, change: Change, now_s: float) -> ChangedAir:
    """Return the air under a change; RangeError when the change cannot be."""
    on = given.active(given.check(change), at.outdoor.time_s, now_s)
    if not on.any():
        return _answer(change, on, at.indoor, None)
    known = given.known_inputs(change, on)
    indoor = simulate(at.response, at.outdoor, at.state, known)
    if change.tent_m3 > 0:
        return _in_tent(at, change, on, (known, indoor))
    if not given.feeds_on_air(change):
        return _answer(change, on, indoor, None)
    walked, after = _walked(at, change, on, (known, indoor), [])
    return _answer(change, on, after, walked)


def _beside(indoor: Indoor) -> Beside:
    return Beside(indoor.air_temp_c, indoor.fabric_c, indoor.dew_point_c)


def _walked(
    at: AsIs, change: Change, on: FloatArray, shop: tuple[Inputs, Indoor], inside: list[Room]
) -> tuple[Walked, Indoor]:
    """Walk the machines in the shop, or in rooms inside it; return the shop's air after them.

    Their heat moves the shop's own air change, which is reckoned along the course they leave.
    """
    known, indoor = shop
    air_c = indoor.air_temp_c
    for _ in range(_MOST_WALKS):
        rooms = [_shop_room(at, known, indoor, air_c), *inside]
        walked = walk(change, on, rooms, _beside(indoor), at.step_h)
        after = _shop_with(at, known, walked)
        moved_k = np.nan_to_num(np.abs(after.air_temp_c - air_c)).max()
        if at.response.moisture.is_steady or moved_k < _SAME_AIR_K:
            break
        air_c = after.air_temp_c
    return walked, after


def _shop_room(at: AsIs, known: Inputs, indoor: Indoor, air_c: FloatArray) -> Room:
    """Return the shop as a room with its air at `air_c`, walked beside its course `indoor`.

    What is known to go into it is in that course already; the vapour that comes in because the
    air changes otherwise than there is not.
    """
    nothing = np.zeros(len(at.outdoor))
    factor = nothing + known.air_change_factor
    was, now = (
        air_changes_along(at.response, at.outdoor, air) for air in (indoor.air_temp_c, air_c)
    )
    over = pressure_hpa(at.outdoor.column("dew_point_c")) - pressure_hpa(indoor.dew_point_c)
    more = factor * (now - was)
    more[1:] *= 0.5 * (over[1:] + over[:-1])
    grams = np.nan_to_num(more) * (at.response.volume_m3 / HPA_PER_G_M3)
    return Room(shop_steps(at.response, factor, now, at.step_h), nothing, grams)


def _shop_with(at: AsIs, known: Inputs, walked: Walked) -> Indoor:
    """Return the shop's air with what the machines did."""
    more = replace(known, heat_w=known.heat_w + walked.heat_w,
                   vapour_g_per_h=known.vapour_g_per_h + walked.vapour_g_per_h)  # fmt: skip
    return simulate(at.response, at.outdoor, at.state, more)


def _in_tent(at: AsIs, change: Change, on: FloatArray, shop: tuple[Inputs, Indoor]) -> ChangedAir:
    """Return the tent's air while it hangs, the shop's else; all machines stand in the tent."""
    known, indoor = shop
    nothing, hung = np.zeros(len(on)), on > 0.0
    tent = Room([tent_step(change.tent_m3, at.step_h)] * len(on),
                nothing + known.heat_w, nothing + known.vapour_g_per_h)  # fmt: skip
    if given.feeds_on_air(change):
        walked, after = _walked(at, change, on, shop, [tent])
    else:
        walked, after = walk(change, on, [tent], _beside(indoor), at.step_h), indoor
    air = np.where(hung, indoor.air_temp_c + walked.air_k, after.air_temp_c)
    vapour = pressure_hpa(indoor.dew_point_c) + walked.vapour_hpa
    dew = np.where(hung, np.minimum(dew_c(vapour), air), after.dew_point_c)
    return _answer(change, on, Indoor(air, dew, after.fabric_c), walked)


def _answer(change: Change, on: FloatArray, indoor: Indoor, walked: Walked | None) -> ChangedAir:
    drawn, nothing = 1000.0 * given.fuel_kw(change) * on, np.zeros(len(on))
    burns = change.heater_kind != "electric"
    electric = nothing if burns else drawn
    if walked is not None:
        electric = electric + walked.electric_w
    dry_at = None if walked is None else walked.dry_at
    return ChangedAir(
        indoor.air_temp_c, indoor.dew_point_c, electric, drawn if burns else nothing, dry_at
    )
