"""Linear systems with constant coefficients, stepped exactly on an even grid.

x' = A x + f(t), where f is a part that runs in straight lines between its stamps plus a part
that holds over the step before its stamp. Exact for such f, whatever the step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
_TAYLOR_TERMS = 14  # with the argument scaled under 1/2 the rest is below 1e-16


@dataclass(frozen=True, eq=False)
class Step:
    """One step of a system of m states: x₁ = keep x₀ + before f₀ + after f₁ + hold g₁."""

    keep: FloatArray  # [m, m]
    before: FloatArray  # [m, m], of the straight-line part at the step's start
    after: FloatArray  # [m, m], of it at the step's end
    hold: FloatArray  # [m, m], of the part held over the step


def step_of(rates_per_h: FloatArray, step_h: float) -> Step:
    """Return the exact step over `step_h` hours of x' = A x + f, A [m, m] per hour.

    Matrix exponential of the system with its own input appended (van Loan 1978).
    """
    m = len(rates_per_h)
    whole = np.zeros((3 * m, 3 * m))
    whole[:m, :m] = rates_per_h * step_h
    whole[:m, m : 2 * m] = np.eye(m) * step_h
    whole[m : 2 * m, 2 * m :] = np.eye(m)
    grown = exponential(whole)
    flat, slope = grown[:m, m : 2 * m], grown[:m, 2 * m :]
    return Step(grown[:m, :m], flat - slope, slope, flat)


def exponential(matrix: FloatArray) -> FloatArray:
    """Return the exponential of a small square matrix: scaling, Taylor, squaring."""
    norm = float(np.abs(matrix).sum(axis=1).max())
    halvings = max(0, int(np.ceil(np.log2(norm))) + 1) if norm > 0.0 else 0
    scaled = matrix / 2.0**halvings
    total = term = np.eye(len(matrix))
    for k in range(1, _TAYLOR_TERMS + 1):
        term = term @ scaled / k
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return np.asarray(total)


def pushes(step: Step, straight: FloatArray, held: FloatArray) -> FloatArray:
    """Return what each step adds, [..., n - 1, m], from forcings [..., n, m]."""
    m = len(step.keep)
    both = straight @ np.hstack([step.before.T, step.after.T])
    steady = held[..., 1:, :] @ step.hold.T
    shape = np.broadcast_shapes(both.shape[:-2], steady.shape[:-2])
    push = np.empty((*shape, both.shape[-2] - 1, m))
    np.add(both[..., :-1, :m], both[..., 1:, m:], out=push)
    push += steady
    return push


def run(keep: FloatArray, start: FloatArray, push: FloatArray) -> FloatArray:
    """Return all states [..., n + 1, m] of x₁ = keep x₀ + push from `start` [..., m].

    In blocks of about √n steps: every block from rest at once, then carried on from block to
    block, so that the Python loops have 2 √n turns instead of n.
    """
    n, m = push.shape[-2:]
    lead = push.shape[:-2]
    if n == 0:
        return np.broadcast_to(start, (*lead, m))[..., None, :].copy()
    size = max(1, int(np.sqrt(n)))
    count = -(-n // size)
    padded = np.zeros((*lead, count * size, m))
    padded[..., :n, :] = push
    blocks = padded.reshape(*lead, count, size, m)
    grown = powers(keep, size)
    for j in range(1, size):
        blocks[..., j, :] += blocks[..., j - 1, :] @ keep.T
    carried = np.empty((*lead, count, m))
    carried[..., 0, :] = start
    for b in range(1, count):
        carried[..., b, :] = carried[..., b - 1, :] @ grown[-1].T + blocks[..., b - 1, -1, :]
    side_by_side = grown.transpose(2, 0, 1).reshape(m, size * m)
    blocks += (carried @ side_by_side).reshape(blocks.shape)
    states = np.empty((*lead, n + 1, m))
    states[..., 0, :] = start
    states[..., 1:, :] = blocks.reshape(*lead, count * size, m)[..., :n, :]
    return states


def powers(keep: FloatArray, count: int) -> FloatArray:
    """Return keep¹ … keep^count, [count, m, m]."""
    powers = np.empty((count, *keep.shape))
    powers[0] = keep
    for j in range(1, count):
        powers[j] = powers[j - 1] @ keep
    return powers


def run_varying(keep: FloatArray, start: FloatArray, push: FloatArray) -> FloatArray:
    """Return all states as `run` does, each step with its own keep [..., n, m, m]."""
    n, m = push.shape[-2:]
    lead = np.broadcast_shapes(push.shape[:-2], keep.shape[:-3])
    size = max(1, int(np.sqrt(n)))
    count = -(-n // size)
    blocks, grown = np.zeros((*lead, count * size, m)), np.zeros((*lead, count * size, m, m))
    blocks[..., :n, :], grown[..., :n, :, :] = push, keep
    blocks = blocks.reshape(*lead, count, size, m)
    grown = grown.reshape(*lead, count, size, m, m)
    for j in range(1, size):
        each = grown[..., j, :, :]
        blocks[..., j, :] += (each @ blocks[..., j - 1, :, None])[..., 0]
        grown[..., j, :, :] = each @ grown[..., j - 1, :, :]
    carried = np.empty((*lead, count, m))
    carried[..., :1, :] = np.asarray(start)[..., None, :]
    for b in range(1, count):
        last = grown[..., b - 1, -1, :, :] @ carried[..., b - 1, :, None]
        carried[..., b, :] = last[..., 0] + blocks[..., b - 1, -1, :]
    blocks += (grown @ carried[..., None, :, None])[..., 0]
    states = np.empty((*lead, n + 1, m))
    states[..., 0, :] = start
    states[..., 1:, :] = blocks.reshape(*lead, count * size, m)[..., :n, :]
    return states
