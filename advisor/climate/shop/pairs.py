"""Exact steps of two coupled states whose loss to outside differs from step to step.

x' = A x + f with A = [[-(c + g), g], [k, -k]] and c that of the step. Any function of A is
α + β A, found from the two eigenvalues (Sylvester's formula), so all steps are done at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
_SMALL = 1e-3  # below it the functions of an eigenvalue are taken from their series


@dataclass(frozen=True, eq=False)
class PairStep:
    """Steps [...] of two states; each function of A as (α, β), the matrix A itself by its rates."""

    change: FloatArray
    give: float
    take: float
    kept: tuple[FloatArray, FloatArray]
    flat: tuple[FloatArray, FloatArray]
    slope: tuple[FloatArray, FloatArray]

    def push(self, first: FloatArray, last: FloatArray, held: FloatArray) -> FloatArray:
        """Return what steps add [..., 2] of a straight-line part and of one held over the step."""
        (flat_a, flat_b), (slope_a, slope_b) = self.flat, self.slope
        base = first + held
        plain = flat_a[..., None] * base + slope_a[..., None] * (last - first)
        turned = flat_b[..., None] * base + slope_b[..., None] * (last - first)
        return np.asarray(plain + self._times(turned))

    def _times(self, x: FloatArray) -> FloatArray:
        flow = self.give * (x[..., 1] - x[..., 0])
        back = self.take * (x[..., 0] - x[..., 1])
        return np.stack([flow - self.change * x[..., 0], back], axis=-1)

    def _matrix(self, function: tuple[FloatArray, FloatArray]) -> FloatArray:
        alpha, beta = function
        whole = np.empty((*self.change.shape, 2, 2))
        whole[..., 0, 0] = alpha - beta * (self.change + self.give)
        whole[..., 0, 1] = beta * self.give
        whole[..., 1, 0] = beta * self.take
        whole[..., 1, 1] = alpha - beta * self.take
        return whole

    def keep_with_fading(self, fade_h: float, step_h: float) -> FloatArray:
        """Return keep [..., 3, 3] with a third state that fades and feeds the first.

        Within a step the third holds its mean: it fades over many steps.
        """
        keep = np.zeros((*self.change.shape, 3, 3))
        keep[..., :2, :2] = self._matrix(self.kept)
        ratio = step_h / fade_h
        keep[..., :2, 2] = self._matrix(self.flat)[..., 0] * (-np.expm1(-ratio) / ratio)
        keep[..., 2, 2] = np.exp(-ratio)
        return keep


def step_of(change: FloatArray, give: float, take: float, step_h: float) -> PairStep:
    """Return the steps over `step_h` hours at rates per hour; `change` [...] is that of each."""
    middle = -0.5 * (change + give + take)
    apart = np.sqrt(np.square(0.5 * (change + give - take)) + give * take)
    apart = np.maximum(apart, 1e-9)  # two equal eigenvalues: the limit, to 1e-9
    high, low = np.minimum(middle + apart, 0.0), middle - apart
    functions = []
    for of_high, of_low in zip(_phis(high * step_h), _phis(low * step_h), strict=True):
        beta = (of_high - of_low) / (2.0 * apart)
        functions.append((of_high - beta * (middle + apart), beta))
    kept, flat, slope = functions
    flat, slope = ((step_h * a, step_h * b) for a, b in (flat, slope))
    return PairStep(change, give, take, kept, flat, slope)


def _phis(z: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return eᶻ, (eᶻ − 1)/z and ((eᶻ − 1)/z − 1)/z for z up to 0."""
    small = np.abs(z) < _SMALL
    away = np.where(small, -1.0, z)
    one = np.where(small, 1.0 + z / 2.0 + z * z / 6.0, np.expm1(away) / away)
    two = np.where(small, 0.5 + z / 6.0 + z * z / 24.0, (one - 1.0) / away)
    return np.exp(z), one, two
