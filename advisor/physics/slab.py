"""Temperature of the painted face of a plate or slab that follows the air (or sol-air) before it.

Time is the last axis: [n] or [s, n]. Below a Biot number of 0.1 the piece moves as one lump;
above it heat conduction is solved by its own modes, exact in space and, with a constant surface
coefficient, exact in time for a drive that is linear between points (Carslaw & Jaeger 1959,
3.11; the step response is the one-term-chart series of heat transfer textbooks).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.physics.surfaces import LUMPED_BIOT, biot, lumped_time_constant_h

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_T = TypeVar("_T", bound=np.generic)
#: "closed": no heat leaves the back (insulation, ground, the middle of a filled space);
#: "same air": the back is in the same air as the face, so the middle of the piece is closed.
Back = Literal["closed", "same air"]

#: Modes kept; the faster ones (seconds) follow the drive at once, none is thrown away.
_MODES = 8
_S_PER_H = 3600.0
#: After a hole the answer stays unknown for so many of the slowest mode's time constants: what the
#: piece was at then counts for e^−3, a twentieth.
_SETTLED_TAUS = 3.0
#: Most of h Δt / (ρ c L) in one step of a slab: trapezoids overshoot above 2, 1 is near enough.
_RINGS = 1.0


@dataclass(frozen=True)
class Slab:
    """A plate: density kg/m³, heat capacity J/(kg K), conductivity W/(m K), thickness m."""

    density_kg_m3: float
    heat_capacity_j_kg_k: float
    conductivity_w_m_k: float
    thickness_m: float
    back: Back = "closed"

    @property
    def depth_m(self) -> float:
        """Distance from the face to the plane no heat crosses."""
        return self.thickness_m if self.back == "closed" else self.thickness_m / 2.0

    @property
    def stored_j_m2_k(self) -> float:
        """Heat stored per area of face and kelvin."""
        return self.density_kg_m3 * self.heat_capacity_j_kg_k * self.depth_m

    def biot(self, h_w_m2_k: float) -> float:
        """Return the Biot number for a surface coefficient."""
        return biot(h_w_m2_k, self.depth_m, self.conductivity_w_m_k)

    def is_lumped(self, h_w_m2_k: float) -> bool:
        """Tell whether the piece may be taken as one temperature throughout."""
        return self.biot(h_w_m2_k) < LUMPED_BIOT

    def time_constant_h(self, h_w_m2_k: float) -> float:
        """Return stored heat over surface coefficient, h."""
        return lumped_time_constant_h(
            self.density_kg_m3, self.heat_capacity_j_kg_k, self.depth_m, h_w_m2_k
        )


def steady_coefficient_c(
    slab: Slab,
    drive_c: ArrayLike,
    step_h: float,
    h_w_m2_k: float,
    start_c: ArrayLike | None = None,
) -> FloatArray:
    """Return the face's temperature, °C, shape of `drive_c` [n] or [s, n].

    `drive_c` is air or sol-air, linear between points; `start_c`, a number or [s], is the whole
    piece at the first point (the drive itself where not told). NaN in the drive is NaN in the
    answer, and so is what follows for three time constants, in which the piece still remembers
    a temperature nobody knows.
    """
    drive = _series("drive_c", drive_c)
    if not 0.0 < step_h < math.inf:
        raise RangeError("step_h", f"{step_h:g}", "more than 0")
    if drive.size == 0:
        return drive.copy()
    taus_h, weights = _convective_modes(slab, h_w_m2_k)
    flat = _by_step(drive)
    behind = _behind_drive(flat, step_h / taus_h, _first(start_c, flat[0]))
    face = flat + np.einsum("kjm,j->km", behind, weights)
    face[_unsettled(np.isfinite(flat), start_c, taus_h[0] / step_h)] = np.nan
    return np.ascontiguousarray(face.T).reshape(drive.shape)


def changing_coefficient_c(
    slab: Slab,
    drive_c: ArrayLike,
    step_h: float,
    h_w_m2_k: ArrayLike,
    start_c: ArrayLike | None = None,
) -> FloatArray:
    """Return the face's temperature, °C, [n] or [s, n], where the coefficient changes with wind.

    As `steady_coefficient_c`, with `h_w_m2_k` of the drive's shape (or [n]); lumped or not is
    decided by its mean. A lump takes the mean coefficient of each step and is exact for it;
    a slab takes the heat flow as linear within a step, in steps short enough not to ring.
    """
    drive = _series("drive_c", drive_c)
    if not 0.0 < step_h < math.inf:
        raise RangeError("step_h", f"{step_h:g}", "more than 0")
    h = np.broadcast_to(np.asarray(h_w_m2_k, dtype=np.float64), drive.shape)
    known = np.isfinite(drive) & np.isfinite(h)
    if not known.any():
        return np.full(drive.shape, np.nan)
    flat, h_flat, ok = (_by_step(x) for x in (np.where(known, drive, 0.0), h, known))
    h_flat = np.where(ok, h_flat, 1.0)
    if np.any(h_flat <= 0.0):
        raise RangeError("h_w_m2_k", f"{h_flat.min():g}", "more than 0")
    start = flat[0] + _first(start_c, flat[0])
    mean_h = float(h_flat[ok].mean())
    march = _march_lump if slab.is_lumped(mean_h) else _march_slab
    face = np.where(ok, march(slab, flat, step_h * _S_PER_H, h_flat, ok, start), np.nan)
    slowest_h = float(_convective_modes(slab, mean_h)[0][0])
    face[_unsettled(ok, start_c, slowest_h / step_h)] = np.nan
    return np.ascontiguousarray(face.T).reshape(drive.shape)


def _unsettled(ok: BoolArray, start_c: ArrayLike | None, tau_steps: float) -> BoolArray:
    """Return where a hole in the drive is not forgotten yet, [n, m], from where it is known.

    Before the drive is first known there is no hole, unless the piece's start was told.
    """
    if bool(ok.all()):
        return np.zeros(ok.shape, np.bool_)
    seen = np.logical_or.accumulate(ok, axis=0)
    if start_c is not None:
        seen |= np.isfinite(np.asarray(start_c, dtype=np.float64).reshape(-1))
    wait = math.ceil(_SETTLED_TAUS * tau_steps)
    index = np.arange(len(ok))[:, None]
    last = np.maximum.accumulate(np.where(seen & ~ok, index, -wait - 1), axis=0)
    return np.asarray(index - last <= wait)


def _march_lump(
    slab: Slab, drive: FloatArray, step_s: float, h: FloatArray, ok: BoolArray, start: FloatArray
) -> FloatArray:
    """Step a lump through [n, m]: d₁ = d₀ e^(−r) − rise (1 − e^(−r))/r, r by the step's mean h."""
    ratio = (h[1:] + h[:-1]) * (0.5 * step_s / slab.stored_j_m2_k)
    linked = ok[1:] & ok[:-1]
    keep = np.where(linked, np.exp(-ratio), 0.0)
    behind = np.empty_like(drive)
    behind[0] = np.where(ok[0], start - drive[0], 0.0)
    behind[1:] = np.where(linked, np.diff(drive, axis=0) * (np.expm1(-ratio) / ratio), 0.0)
    for k in range(1, len(drive)):
        behind[k] += behind[k - 1] * keep[k - 1]
    return drive + behind


@dataclass(frozen=True, eq=False)
class _FluxModes:
    """How the face answers heat flowing into it over a step: closed-back modes of conduction.

    Each mode keeps `keep` of itself and takes `early` K per W/m² at the step's start and `late`
    at its end; `at_once` is the part of the modes too fast to be kept.
    """

    keep: FloatArray
    early: FloatArray
    late: FloatArray
    at_once: float


def _flux_modes(slab: Slab, step_s: float) -> _FluxModes:
    """Return the modes cos(jπx/L): rate a (jπ/L)², gain 1/(ρcL), twice that from j = 1."""
    depth, k = slab.depth_m, slab.conductivity_w_m_k
    order = np.arange(1, _MODES + 1)
    rate = k * depth / slab.stored_j_m2_k * (np.pi * order / depth) ** 2
    gain, turns = 2.0 / slab.stored_j_m2_k, rate * step_s
    mean = -np.expm1(-turns) / turns
    late = gain / rate * (1.0 - mean)
    early = gain / rate * (mean - np.exp(-turns))
    half = 0.5 * step_s / slab.stored_j_m2_k  # the whole piece's heat: no decay
    at_once = depth / (3.0 * k) - float((gain / rate).sum())
    return _FluxModes(
        np.append(1.0, np.exp(-turns))[:, None],
        np.append(half, early)[:, None],
        np.append(half, late)[:, None],
        at_once,
    )


def _march_slab(
    slab: Slab, drive: FloatArray, step_s: float, h: FloatArray, ok: BoolArray, start: FloatArray
) -> FloatArray:
    """Step a conducting slab through [n, m]; implicit in the face, so stable at any step."""
    parts = max(1, math.ceil(float(h.max()) * step_s / (_RINGS * slab.stored_j_m2_k)))
    modes = _flux_modes(slab, step_s / parts)
    late = float(modes.late.sum()) + modes.at_once
    state = np.zeros((_MODES + 1, drive.shape[1]))
    face = np.empty_like(drive)
    face[0] = state[0] = np.where(ok[0], start, drive[0])
    flow = h[0] * (drive[0] - face[0])
    # A fresh start, after a hole or at one, is a piece at the drive's temperature. That is not
    # to be told until it has settled; it only keeps the march going.
    afresh = ~(ok[1:] & ok[:-1])
    any_afresh: list[bool] = np.any(afresh, axis=1).tolist()
    now = face[0]
    for k in range(1, len(drive)):
        for part in range(1, parts + 1):
            share = part / parts
            there = drive[k - 1] + share * (drive[k] - drive[k - 1])
            h_there = h[k - 1] + share * (h[k] - h[k - 1])
            state *= modes.keep
            state += modes.early * flow
            now = (state.sum(axis=0) + late * h_there * there) / (1.0 + late * h_there)
            flow = h_there * (there - now)
            state += modes.late * flow
        if any_afresh[k - 1]:
            now = np.where(afresh[k - 1], drive[k], now)
            flow = np.where(afresh[k - 1], 0.0, flow)
            state[0] = np.where(afresh[k - 1], drive[k], state[0])
            state[1:] = np.where(afresh[k - 1], 0.0, state[1:])
        face[k] = now
    return face


def _by_step(values: NDArray[_T]) -> NDArray[_T]:
    """Return [..., n] as [n, m]: a step is one row in memory."""
    return np.ascontiguousarray(values.reshape(-1, values.shape[-1]).T)


@lru_cache(maxsize=64)
def _convective_modes(slab: Slab, h_w_m2_k: float) -> tuple[FloatArray, FloatArray]:
    """Return time constants, h, and shares at the face, of the modes under a coefficient.

    ζ tan ζ = Bi; τ = L²/(a ζ²); share 2 Bi / (ζ² + Bi² + Bi), all shares adding to 1.
    """
    number = slab.biot(h_w_m2_k)
    if number < LUMPED_BIOT:
        taus_h, shares = np.array([slab.time_constant_h(h_w_m2_k)]), np.ones(1)
    else:
        zeta = _roots(number)
        taus_h = slab.time_constant_h(h_w_m2_k) * number / zeta**2
        shares = 2.0 * number / (zeta**2 + number**2 + number)
    for remembered in (taus_h, shares):
        remembered.setflags(write=False)
    return taus_h, shares


def _roots(number: float) -> FloatArray:
    """Return the first roots of ζ tan ζ = Bi by halving: one in each (jπ, jπ + π/2)."""
    low = np.pi * np.arange(_MODES)
    high = low + np.pi / 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        # In there sine and cosine have one sign; without it no pole of the tangent is met.
        under = middle * np.abs(np.sin(middle)) < number * np.abs(np.cos(middle))
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return np.asarray((low + high) / 2.0)


def _behind_drive(drive: FloatArray, ratio: FloatArray, start_k: FloatArray) -> FloatArray:
    """Return each mode minus the drive, K, [n, modes, m], from the drive [n, m].

    d₁ = d₀ e^(−r) − rise (1 − e^(−r))/r with r = step/τ: exact for a linear rise.
    """
    rise = np.diff(drive, axis=0)
    linked: BoolArray = np.asarray(np.isfinite(rise))
    pushed = -(-np.expm1(-ratio) / ratio)[:, None] * np.where(linked, rise, 0.0)[:, None, :]
    behind = np.concatenate([np.zeros((1, len(ratio), drive.shape[1])), pushed])
    behind[0] = np.nan_to_num(start_k)
    keep = np.exp(-ratio)[:, None]
    unbroken: list[bool] = np.all(linked, axis=1).tolist()
    for k in range(1, len(drive)):
        carried = behind[k - 1] * keep
        if not unbroken[k - 1]:
            carried = np.where(linked[k - 1], carried, 0.0)
        behind[k] += carried
    return behind


def _first(start_c: ArrayLike | None, drive: FloatArray) -> FloatArray:
    """Return how far the piece is from the drive at the first point, K, [m]."""
    if start_c is None:
        return np.zeros_like(drive)
    start = np.broadcast_to(np.asarray(start_c, dtype=np.float64).reshape(-1), drive.shape)
    return start - drive


def _series(name: str, values: ArrayLike) -> FloatArray:
    found = np.asarray(values, dtype=np.float64)
    if found.ndim == 0:
        raise RangeError(name, "a number", "a series with time on the last axis")
    return found
