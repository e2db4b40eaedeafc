"""Where the shop stands: hidden states from what was measured, up to each moment.

A steady Kalman filter over the log: the model runs on the weather and each reading pulls it.
Through a hole of over three hours in the readings it runs on the weather alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import InputError
from advisor.climate.shop import linear, moisture, thermal, vapour
from advisor.climate.shop.holes import filled_row
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.response import Response, ShopLog, State, known_sun
from advisor.climate.shop.thermal import Thermal

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Noise driving air, fabric and the unexplained part per √h, and of a reading: K and K/h for
#: heat, hPa and hPa/h for vapour. Chosen for the smallest misses on a real house's log (heat by
#: hand, vapour by cross-validation); the misses are flat around these.
HEAT_NOISE = (0.2, 0.1, 0.01, 0.1)
WATER_NOISE = (0.3, 0.02, 0.02, 0.1)
_DOUBLINGS = 30


@dataclass(frozen=True, eq=False)
class Record:
    """A log made ready for arithmetic: [n] arrays without NaN, holes over three hours as masks.

    `air_known` and `dew_known` say where a reading (or a short bridge) stands; `air_driven` and
    `dew_driven` where the weather that drives each is known.
    """

    time_s: NDArray[np.int64]
    step_h: float
    air_c: FloatArray
    dew_c: FloatArray
    air_known: BoolArray
    dew_known: BoolArray
    air_out_c: FloatArray
    dew_out_c: FloatArray
    sun_w_m2: FloatArray
    heat_w: FloatArray
    air_driven: BoolArray
    dew_driven: BoolArray

    def __len__(self) -> int:
        """Return the number of time steps."""
        return len(self.time_s)

    @property
    def vapour_hpa(self) -> FloatArray:
        """Measured vapour pressure in the shop."""
        return vapour.pressure_hpa(self.dew_c)

    @property
    def vapour_out_hpa(self) -> FloatArray:
        """Vapour pressure outdoors."""
        return vapour.pressure_hpa(self.dew_out_c)


def record_of(log: ShopLog) -> Record:
    """Return the log with short holes bridged and long ones marked."""
    outdoor, step_s = log.outdoor, log.outdoor.step_s
    air, air_hole = filled_row(log.air_temp_c, step_s)
    dew, dew_hole = filled_row(log.dew_point_c, step_s)
    out, out_hole = filled_row(outdoor.column("air_temp_c"), step_s)
    dew_out, dew_out_hole = filled_row(outdoor.column("dew_point_c"), step_s)
    sun_given, _, notes = known_sun(outdoor)
    sun_hole = np.zeros(len(outdoor), bool)
    if not notes:
        sun_given, sun_hole = filled_row(outdoor.column("sun_w_m2"), step_s)
    heat, heat_hole = np.zeros(len(outdoor)), np.zeros(len(outdoor), bool)
    if log.heat_w is not None:
        heat, heat_hole = filled_row(log.heat_w, step_s)
    driven = ~(out_hole | sun_hole | heat_hole)
    return Record(
        outdoor.time_s,
        step_s / 3600.0,
        air,
        dew,
        ~air_hole,
        ~dew_hole,
        out,
        dew_out,
        np.maximum(sun_given, 0.0),
        heat,
        driven,
        driven & ~dew_out_hole,
    )


def heat_steps(model: Thermal, record: Record) -> tuple[linear.Step, FloatArray]:
    """Return the step of the heat model and what the weather adds in each, [n - 1, 3]."""
    step = linear.step_of(model.rates, record.step_h)
    sun = thermal.sun_seen(model, record.time_s, record.sun_w_m2)
    heat_w, _ = thermal.emitted(model, record.heat_w, record.step_h, float(record.heat_w[0]))
    forced = thermal.forcing(model, record.air_out_c, sun, heat_w)
    return step, linear.pushes(step, *forced)


def water_steps(model: Moisture, record: Record) -> tuple[FloatArray, FloatArray]:
    """Return what each step of vapour keeps and adds, with the measured air."""
    around = moisture.Around(record.air_out_c, record.vapour_out_hpa, record.air_c)
    return moisture.steps(model, record.step_h, around, np.zeros(1))


def heat_states(model: Thermal, record: Record) -> FloatArray:
    """Return air, fabric and unexplained heat [n, 3], each from readings up to its stamp."""
    step, push = heat_steps(model, record)
    first = _first(record.air_c, record.air_known, float(record.air_out_c[0]))
    start = np.array([first, first, 0.0])
    pull = kalman_gain(step.keep, HEAT_NOISE, record.step_h)
    return watched(step.keep, push, start, record.air_c, record.air_known, pull)


def water_states(model: Moisture, record: Record) -> FloatArray:
    """Return vapour, store (without its warmth) and unexplained source [n, 3]."""
    keep, push = water_steps(model, record)
    measured = record.vapour_hpa
    first = _first(measured, record.dew_known, float(record.vapour_out_hpa[0]))
    warmth = moisture.warmth_hpa(model, record.air_c[:1])[0]
    start = np.array([first, first - warmth, 0.0])
    usual = keep if keep.ndim == 2 else linear.step_of(model.rates, record.step_h).keep
    pull = kalman_gain(usual, WATER_NOISE, record.step_h)
    return watched(keep, push, start, measured, record.dew_known, pull)


def _first(values: FloatArray, known: BoolArray, otherwise: float) -> float:
    return float(values[np.argmax(known)]) if known.any() else otherwise


def kalman_gain(
    keep: FloatArray, noise: tuple[float, float, float, float], step_h: float
) -> FloatArray:
    """Return the steady gain [3] on the reading of the first state.

    Riccati equation by doubling (Anderson 1978): a dozen turns on 3 × 3 matrices, where a
    general solver costs a hundred times as much in a fit.
    """
    *drive, reading = noise
    still = np.eye(len(keep))
    onward, seen, ahead = keep.T, np.zeros_like(keep), np.diag(np.square(drive)) * step_h
    seen[0, 0] = 1.0 / reading**2
    for _ in range(_DOUBLINGS):
        inverse = np.linalg.inv(still + seen @ ahead)
        grown = onward.T @ ahead @ inverse @ onward
        seen = seen + onward @ inverse @ seen @ onward.T
        onward = onward @ inverse @ onward
        ahead = ahead + grown
        if np.abs(grown).max() < 1e-12 * np.abs(ahead).max():
            break
    return np.asarray(ahead[:, 0] / (ahead[0, 0] + reading**2))


def watched(
    keep: FloatArray,
    push: FloatArray,
    start: FloatArray,
    measured: FloatArray,
    known: BoolArray,
    pull: FloatArray,
) -> FloatArray:
    """Return the states [n, m] of x₁ = keep x₀ + push, pulled to each known reading.

    `keep` [m, m], or [n - 1, m, m] where each step has its own.
    """
    pulled = np.eye(len(pull))
    pulled[:, 0] -= pull
    states = np.empty((len(measured), len(pull)))
    states[0] = start
    for part, seen in _parts(known):
        inside = push[part.start : part.stop - 1]
        closed = keep if keep.ndim == 2 else keep[part.start : part.stop - 1]
        if seen:
            closed = pulled @ closed
            inside = inside @ pulled.T + measured[part.start + 1 : part.stop, None] * pull
        run = linear.run if keep.ndim == 2 else linear.run_varying
        states[part] = run(closed, states[part.start], inside)
    return states


def _parts(known: BoolArray) -> Iterator[tuple[slice, bool]]:
    """Yield slices sharing their ends whose steps all end at known, or all at unknown, readings."""
    turns = [int(k) for k in np.flatnonzero(known[2:] != known[1:-1]) + 1]
    for first, last in pairwise([0, *turns, len(known) - 1]):
        yield slice(first, last + 1), bool(known[last])


def state_at_end(response: Response, log: ShopLog) -> State:
    """Return where the shop stands at the last air reading of the log.

    Give at least two or three days, so that the fabric is known. Without any reading the shop is
    taken to follow outdoors; `InputError` only where there is no weather either.
    """
    seen = np.isfinite(log.air_temp_c)
    out_seen = np.isfinite(log.outdoor.column("air_temp_c"))
    if not out_seen.any() and not seen.any():
        raise InputError("shop log: found neither shop air nor outdoor air; accepted: some of both")
    record = record_of(log) if out_seen.any() else _without_weather(log)
    end = int(np.flatnonzero(seen)[-1]) if seen.any() else len(record) - 1
    return _state(response, record, end)


def _without_weather(log: ShopLog) -> Record:
    """Return a record in which outdoors is what the shop was on average: the best there is."""
    air, dew = float(np.nanmean(log.air_temp_c)), log.dew_point_c
    mean_dew = float(np.nanmean(dew)) if np.isfinite(dew).any() else air - 5.0
    n = len(log.outdoor)
    columns = {"air_temp_c": np.full(n, air), "dew_point_c": np.full(n, mean_dew)}
    return record_of(replace(log, outdoor=replace(log.outdoor, columns=columns)))


def levelled(model: Moisture, record: Record) -> Moisture:
    """Return the model with its level of vapour set, from the log where it has none."""
    if model.level_hpa is not None:
        return model
    some = record.vapour_hpa[record.dew_known]
    level = np.median(some if len(some) else record.vapour_out_hpa)
    return replace(model, level_hpa=float(level))


def _state(response: Response, record: Record, end: int) -> State:
    model = levelled(response.moisture, record)
    heat = heat_states(response.thermal, record)[end]
    water = water_states(model, record)[end]
    air = float(record.air_c[end]) if record.air_known[end] else float(heat[0])
    held = float(record.vapour_hpa[end]) if record.dew_known[end] else float(water[0])
    warmth = float(moisture.warmth_hpa(model, record.air_c[end : end + 1])[0])
    first_w = float(record.heat_w[0])
    heater = thermal.emitted(response.thermal, record.heat_w, record.step_h, first_w)[1]
    return State(
        int(record.time_s[end]),
        air,
        float(heat[1]),
        max(held, 0.0),
        max(float(water[1]) + warmth, 0.0),
        float(heat[2]),
        float(water[2]),
        float(heater[end]),
    )
