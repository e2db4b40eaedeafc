"""The shop's response to the weather: what is known of it, and what the air inside will be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import InputError, RangeError
from advisor.climate.outdoor import Outdoor
from advisor.climate.shop import defaults, moisture, thermal, vapour
from advisor.climate.shop.holes import bridged
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.thermal import Thermal

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Spread:
    """How far the response missed with the true weather: sd in K at hours ahead.

    `…_lag1` is the correlation of the miss from hour to hour; `…_day_k` the RMSE of each day of
    the log in cross-validation, 24 h ahead. `RangeError` without a lead: that would be no doubt.
    """

    lead_h: tuple[float, ...]
    air_sd_k: tuple[float, ...]
    dew_sd_k: tuple[float, ...]
    air_lag1: float
    dew_lag1: float
    air_day_k: tuple[float, ...] = ()
    dew_day_k: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what is no spread."""
        leads = np.asarray(self.lead_h, dtype=np.float64)
        if len(leads) == 0 or not (np.diff(leads, prepend=0.0) > 0.0).all():
            raise RangeError("lead_h of a spread", f"{self.lead_h}", "rising hours above 0")
        for name in ("air_sd_k", "dew_sd_k"):
            sd_k = np.asarray(getattr(self, name), dtype=np.float64)
            if sd_k.shape != leads.shape or not (np.isfinite(sd_k) & (sd_k >= 0.0)).all():
                raise RangeError(name, f"{sd_k.tolist()}", f"{len(leads)} numbers, 0 K or more")


@dataclass(frozen=True)
class Response:
    """A shop's response: heat, moisture, and how far to trust them.

    `fitted` says whether the figures come from this shop's own log (of `log_days` days) or are
    the usual ones for its kind; `reason` says why the latter. `loss_fitted` is true where a
    known heater input fixed the watts.
    """

    thermal: Thermal
    moisture: Moisture
    spread: Spread
    volume_m3: float
    fitted: bool
    log_days: float = 0.0
    reason: str = ""
    loss_fitted: bool = False

    @property
    def loss_w_k(self) -> float:
        """Heat lost to outdoors, W per K of difference."""
        return self.thermal.loss_w_k

    @property
    def air_change_per_h(self) -> float:
        """Air changes with outdoors per hour."""
        return self.moisture.air_change_per_h

    def to_json(self) -> str:
        """Return the response as one JSON object."""
        return json.dumps(asdict(self), sort_keys=True)

    @classmethod
    def from_json(cls, text: str) -> Response:
        """Read what `to_json` wrote; `InputError` on anything else."""
        try:
            raw = json.loads(text)
            heat, water = Thermal(**raw.pop("thermal")), Moisture(**raw.pop("moisture"))
            return cls(heat, water, _spread(raw.pop("spread")), **raw)
        except (RangeError, ValueError, TypeError, KeyError, AttributeError) as error:
            raise InputError(f"stored shop response cannot be read: {error}") from None


def _spread(raw: dict[str, object]) -> Spread:
    known = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
    return Spread(**known)  # type: ignore[arg-type]


@dataclass(frozen=True)
class State:
    """Air and fabric at one moment (UTC seconds).

    `store_hpa` is the vapour pressure over the fabric. `heat_k_h` and `source_hpa_h` are what the
    recent log shows beyond the model; they fade. `heater_w` is what the heater still gives off.
    """

    time_s: int
    air_temp_c: float
    fabric_c: float
    vapour_hpa: float
    store_hpa: float
    heat_k_h: float = 0.0
    source_hpa_h: float = 0.0
    heater_w: float = 0.0

    @classmethod
    def at_rest(cls, time_s: int, air_temp_c: float, dew_point_c: float) -> State:
        """Return a shop long at this air and dew point, °C."""
        held = float(vapour.pressure_hpa(dew_point_c))
        return cls(time_s, air_temp_c, air_temp_c, held, held)


@dataclass(frozen=True, eq=False)
class Inputs:
    """What is done to the shop: numbers, or [n] arrays on the outdoor grid.

    Watts into the air, grams of water an hour (below 0 takes water out), and a factor on the air
    change. Each value holds over the step before its stamp.
    """

    heat_w: float | FloatArray = 0.0
    vapour_g_per_h: float | FloatArray = 0.0
    air_change_factor: float | FloatArray = 1.0


@dataclass(frozen=True, eq=False)
class Indoor:
    """Air in the shop on the outdoor grid, [n] or [s, n], °C; NaN where it cannot be known."""

    air_temp_c: FloatArray
    dew_point_c: FloatArray
    fabric_c: FloatArray
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class ShopLog:
    """What was measured in the shop [n], on the even grid of `outdoor`; NaN is a hole.

    `heat_w` [n] is the heater's known mean power over the step before each stamp, else None.
    """

    air_temp_c: FloatArray
    dew_point_c: FloatArray
    outdoor: Outdoor
    heat_w: FloatArray | None = None

    def __post_init__(self) -> None:
        """Refuse columns that do not fit the grid."""
        for name in ("air_temp_c", "dew_point_c", "heat_w"):
            values = getattr(self, name)
            if values is not None and values.shape != (len(self.outdoor),):
                shape = "×".join(str(k) for k in values.shape)
                raise RangeError(name, f"{shape} values", f"{len(self.outdoor)}, as outdoors")

    @property
    def days(self) -> float:
        """Days of the log in which air was measured."""
        step_days = self.outdoor.step_s / 86400.0
        return float(np.isfinite(self.air_temp_c).sum()) * step_days

    def part(self, first: int, stop: int) -> ShopLog:
        """Return the time steps `first` to `stop`, the last one not included."""
        cut = slice(first, stop)
        heat = None if self.heat_w is None else self.heat_w[cut]
        outdoor = self.outdoor.part(first, stop)
        return ShopLog(self.air_temp_c[cut], self.dew_point_c[cut], outdoor, heat)


def usual_response(shop: Shop, reason: str = "") -> Response:
    """Return the usual response for the kind and size of shop, marked as such."""
    spread = Spread(
        lead_h=defaults.USUAL_SPREAD["lead_h"],
        air_sd_k=defaults.USUAL_SPREAD["air_sd_k"],
        dew_sd_k=defaults.USUAL_SPREAD["dew_sd_k"],
        air_lag1=defaults.USUAL_LAG1,
        dew_lag1=defaults.USUAL_LAG1,
    )
    return Response(
        defaults.usual_thermal(shop),
        defaults.usual_moisture(shop),
        spread,
        shop.volume_m3,
        fitted=False,
        reason=reason,
    )


@dataclass(frozen=True, eq=False)
class _Drive:
    """Everything that drives the shop, holes filled for the arithmetic and kept as masks."""

    step_h: float
    air_out_c: FloatArray
    vapour_out_hpa: FloatArray
    sun_kw_m2: FloatArray
    heat_w: FloatArray
    added_hpa_h: FloatArray
    factor: FloatArray
    air_hole: BoolArray
    vapour_hole: BoolArray
    notes: tuple[str, ...] = field(default=())


def simulate(
    response: Response, outdoor: Outdoor, state: State, inputs: Inputs | None = None
) -> Indoor:
    """Return the shop's air on the outdoor grid, central or for all scenarios at once.

    The state holds at the first outdoor stamp. Holes of up to three hours between two values
    outdoors are bridged; another, and all after it, stays a hole. Dew point never above the air.
    """
    response = at_level(response, state)
    drive = _drive(response, outdoor, inputs or Inputs(), state.heater_w)
    shape = np.broadcast_shapes(drive.air_out_c.shape, drive.vapour_out_hpa.shape)
    heat = np.array([state.air_temp_c, state.fabric_c, state.heat_k_h])
    warmth = float(moisture.warmth_hpa(response.moisture, np.asarray(state.air_temp_c)))
    water = np.array([state.vapour_hpa, state.store_hpa - warmth, state.source_hpa_h])
    heat_all, water_all = np.empty((*shape, 3)), np.empty((*shape, 3))
    heat_all[..., 0, :], water_all[..., 0, :] = heat, water
    for part in _even_parts(drive.factor):
        warm = _heat_part(response, drive, part, heat_all[..., part.start, :])
        heat_all[..., part, :] = warm
        wet = _water_part(response, drive, part, water_all[..., part.start, :], warm[..., 0])
        water_all[..., part, :] = wet
    return _indoor(drive, heat_all, water_all)


def at_level(response: Response, state: State) -> Response:
    """Return the response with its level of vapour set, from the state where it has none."""
    if response.moisture.level_hpa is not None:
        return response
    level = max(state.store_hpa, 0.0)
    return replace(response, moisture=replace(response.moisture, level_hpa=level))


def _heat_part(response: Response, drive: _Drive, part: slice, start: FloatArray) -> FloatArray:
    """Return heat states over a part in which the air change does not move."""
    extra = response.air_change_per_h * (_factor_in(drive, part) - 1.0)
    model = response.thermal.with_more_air(extra, response.volume_m3)
    sun, heat_w = drive.sun_kw_m2[..., part], drive.heat_w[part]
    forced = thermal.forcing(model, drive.air_out_c[..., part], sun, heat_w)
    return thermal.courses(model, drive.step_h, start, forced)


def _water_part(
    response: Response, drive: _Drive, part: slice, start: FloatArray, air_in_c: FloatArray
) -> FloatArray:
    model = response.moisture.with_air_changes(_factor_in(drive, part))
    around = moisture.Around(drive.air_out_c[..., part], drive.vapour_out_hpa[..., part], air_in_c)
    keep, push = moisture.steps(model, drive.step_h, around, drive.added_hpa_h[part])
    return moisture.run(keep, start, push)


def _factor_in(drive: _Drive, part: slice) -> float:
    """Return the factor of a part: the one of the steps that end inside it."""
    return float(drive.factor[part.stop - 1])


def _even_parts(factor: FloatArray) -> Iterator[slice]:
    """Yield slices, sharing their ends, over which the factor of the steps is the same."""
    n = len(factor)
    turns = [int(k) for k in np.flatnonzero(factor[2:] != factor[1:-1]) + 1]
    ends = [0, *turns, n - 1]
    for first, last in pairwise(ends):
        yield slice(first, last + 1)


def _drive(response: Response, outdoor: Outdoor, inputs: Inputs, heater_w: float) -> _Drive:
    n, step_s = len(outdoor), outdoor.step_s
    air, air_hole = bridged(outdoor.column("air_temp_c"), step_s)
    dew, dew_hole = bridged(outdoor.column("dew_point_c"), step_s)
    sun, sun_hole, notes = known_sun(outdoor)
    air_hole = air_hole | sun_hole
    heat_w = _spread_out("heat_w", inputs.heat_w, n)
    return _Drive(
        step_s / 3600.0,
        air,
        vapour.pressure_hpa(dew),
        thermal.sun_seen(response.thermal, outdoor.time_s, sun),
        thermal.emitted(response.thermal, heat_w, step_s / 3600.0, heater_w)[0],
        moisture.source_hpa_h(
            _spread_out("vapour_g_per_h", inputs.vapour_g_per_h, n), response.volume_m3
        ),
        _factors(inputs.air_change_factor, n),
        air_hole,
        dew_hole | air_hole,
        notes,
    )


def air_changes_along(response: Response, outdoor: Outdoor, air_in_c: FloatArray) -> FloatArray:
    """Return the air change per hour over the step before each stamp [n], by the air inside [n].

    That of the shop left alone; at the first stamp and past holes the usual one.
    """
    if response.moisture.is_steady:
        return np.full(len(outdoor), response.air_change_per_h)
    air, _ = bridged(outdoor.column("air_temp_c"), outdoor.step_s)
    dew, _ = bridged(outdoor.column("dew_point_c"), outdoor.step_s)
    around = moisture.Around(air, vapour.pressure_hpa(dew), air_in_c)
    found = np.full(len(outdoor), response.air_change_per_h)
    found[1:] = moisture.step_air_changes(response.moisture, around)
    return np.where(np.isnan(found), response.air_change_per_h, found)


def known_sun(outdoor: Outdoor) -> tuple[FloatArray, BoolArray, tuple[str, ...]]:
    """Return sun W/m², its holes, and a note where the source gives none at all (taken as 0)."""
    given = outdoor.columns.get("sun_w_m2")
    if given is None or bool(np.isnan(given).all()):
        n = len(outdoor)
        return np.zeros(n), np.zeros(n, bool), ("sun not known: taken as none",)
    given = given.copy()
    given[..., 0] = np.nan_to_num(given[..., 0])  # of the step before the first stamp: never used
    sun, hole = bridged(given, outdoor.step_s)
    return np.maximum(sun, 0.0), hole, ()


def _spread_out(name: str, value: float | FloatArray, n: int) -> FloatArray:
    """Return an input as [n]; refuse one that is not finite or does not fit."""
    given = np.asarray(value, dtype=np.float64)
    if given.ndim > 1 or (given.ndim == 1 and len(given) != n):
        raise RangeError(name, f"shape {given.shape}", f"a number or {n} values")
    if not np.isfinite(given).all():
        raise RangeError(name, "a hole", "numbers throughout")
    return np.array(np.broadcast_to(given, (n,)))


def _factors(value: float | FloatArray, n: int) -> FloatArray:
    factor = _spread_out("air_change_factor", value, n)
    if (factor < 0.0).any():
        raise RangeError("air_change_factor", f"{factor.min():g}", "0 or more")
    return factor


def _indoor(drive: _Drive, heat: FloatArray, water: FloatArray) -> Indoor:
    air, fabric = heat[..., 0].copy(), heat[..., 1].copy()
    dew = np.minimum(vapour.dew_c(water[..., 0]), air)
    air[np.broadcast_to(drive.air_hole, air.shape)] = np.nan
    fabric[np.broadcast_to(drive.air_hole, air.shape)] = np.nan
    dew[np.broadcast_to(drive.vapour_hole, air.shape)] = np.nan
    return Indoor(air, dew, fabric, drive.notes)
