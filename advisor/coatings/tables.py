"""Times of a data sheet at any temperature, by the rules of the trade.

Between rows ln(time) is linear in 1/T (Arrhenius), linear in T where a row is 0. Above the
top row a minimum keeps its row, a limit that runs out (pot life, maximum) halves per 10 K.
Below the lowest row both keep it; a running minimum clock pauses there (see `clocks`).
One row only: colder doubles per 10 K, warmer halves what runs out (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
KELVIN = 273.15
#: Columns of `[times]` that run out, rather than being reached.
RUNS_OUT = frozenset({"pot_life_h", "open_time_h", "tray_life_h", "scatter_h"})


@dataclass(frozen=True, eq=False)
class TimeTable:
    """One column: `temp_c` [m] rising, `hours` [m]; NaN is blank, infinity "unlimited".

    `runs_out` is true for pot life, open time and the overcoating maximum.
    """

    temp_c: FloatArray
    hours: FloatArray
    runs_out: bool

    @classmethod
    def of(
        cls, temp_c: Sequence[float], hours: Sequence[float], runs_out: bool = False
    ) -> TimeTable:
        """Build from plain sequences of equal length."""
        return cls(np.asarray(temp_c, float), np.asarray(hours, float), runs_out)

    @property
    def one_row(self) -> bool:
        """Whether the data sheet gives a single temperature."""
        return len(self.temp_c) == 1

    def same_as(self, other: TimeTable) -> bool:
        """Whether another column says the same at every temperature."""
        return self.runs_out == other.runs_out and self.cells == other.cells

    @property
    def cells(self) -> tuple[bytes, bytes]:
        """What the column says, to look work along it up by."""
        return self.temp_c.tobytes(), self.hours.tobytes()

    def at(self, temp_c: FloatArray) -> FloatArray:
        """Return hours at temperatures [n] in °C; NaN for NaN or where a blank cell governs."""
        temp = np.asarray(temp_c, float)
        if self.one_row:
            return self._one_row(temp)
        inside = np.clip(temp, self.temp_c[0], self.temp_c[-1])
        hours = self._between(inside)
        if self.runs_out:
            above = temp > self.temp_c[-1]
            if above.any():
                hours = np.where(above, hours * _halving(temp - self.temp_c[-1]), hours)
        return hours

    def at_one(self, temp_c: float) -> float:
        """Return hours at one temperature in °C."""
        return float(self.at(np.array([temp_c]))[0])

    def _one_row(self, temp: FloatArray) -> FloatArray:
        away = temp - self.temp_c[0]
        if not self.runs_out:
            away = np.minimum(away, 0.0)
        return np.asarray(self.hours[0] * _halving(away), float)

    def _between(self, temp: FloatArray) -> FloatArray:
        plain = np.isfinite(self.hours).all() and (self.hours > 0).all()
        if plain:
            x, rows = _inverse(temp), _inverse(self.temp_c)
            return np.asarray(np.exp(np.interp(x, rows, np.log(self.hours))), float)
        return self._by_segment(temp)

    def _by_segment(self, temp: FloatArray) -> FloatArray:
        """Take each pair of rows by itself, since blanks and "unlimited" have no logarithm."""
        out = np.full(temp.shape, np.nan)
        for low, high in zip(range(len(self.hours) - 1), range(1, len(self.hours)), strict=True):
            t0, t1 = self.temp_c[low], self.temp_c[high]
            inside = (temp > t0) & (temp < t1)
            if inside.any():
                cells = (float(self.hours[low]), float(self.hours[high]))
                out[inside] = _segment(temp[inside], (float(t0), float(t1)), cells)
        for row, hours in zip(self.temp_c, self.hours, strict=True):
            out[temp == row] = hours
        return out


def _segment(
    temp: FloatArray, rows: tuple[float, float], cells: tuple[float, float]
) -> FloatArray | float:
    low, high = cells
    if np.isnan(low) or np.isnan(high):
        return np.nan
    if np.isinf(low) or np.isinf(high):
        return min(low, high)
    if low == 0 or high == 0:
        return np.interp(temp, rows, cells)
    x0, x1 = _inverse(np.asarray(rows))
    share = (_inverse(temp) - x0) / (x1 - x0)
    return np.asarray(np.exp(np.log(low) + share * (np.log(high) - np.log(low))), float)


def _inverse(temp_c: FloatArray) -> FloatArray:
    return np.asarray(-1.0 / (temp_c + KELVIN), float)


def _halving(above_k: FloatArray) -> FloatArray:
    return np.asarray(np.exp2(-above_k / 10.0), float)
