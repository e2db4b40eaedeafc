"""Laying the values of a source on the even hourly axis, never over a hole."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.sources.source import BadAnswer
from advisor.physics import moist_air

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
HOUR_S = 3600
#: Longest step of a source between whose instants a straight line is drawn.
LONGEST_STEP_H = 6
#: 92 past and 35 coming days, the most any source offers, and some.
LONGEST_AXIS_H = 4000
_STANDARD_HPA = 1013.25


@dataclass(frozen=True)
class Axis:
    """`n` full hours from `start_s`, UTC seconds."""

    start_s: int
    n: int

    @property
    def time_s(self) -> IntArray:
        """UTC seconds [n]."""
        return self.start_s + HOUR_S * np.arange(self.n, dtype=np.int64)

    def hole(self) -> FloatArray:
        """Return an array [n] without a value."""
        return np.full(self.n, np.nan)

    def index(self, time_s: float) -> int:
        """Return the index of the hour at or after a moment; may lie outside."""
        return -int(-(time_s - self.start_s) // HOUR_S)


@dataclass(frozen=True)
class Run:
    """One value for all hours in [start_s, end_s)."""

    start_s: int
    end_s: int
    value: float


def utc_text(time_s: float) -> str:
    """Write UTC seconds as 2031-05-04T14:00Z."""
    return str(np.datetime64(int(time_s), "s"))[:16] + "Z"


def axis_over(source: str, where: str, first_s: int, last_s: int) -> Axis:
    """Return the axis from the hour of `first_s` to that of `last_s`, both included."""
    start = first_s // HOUR_S * HOUR_S
    n = (last_s - start) // HOUR_S + 1
    if not 1 <= n <= LONGEST_AXIS_H:
        found = f"{n} hours from {utc_text(first_s)} to {utc_text(last_s)}"
        raise BadAnswer(source, where, found, f"1 to {LONGEST_AXIS_H} hours")
    return Axis(start, n)


def checked_stamps(source: str, where: str, times_s: Sequence[int]) -> IntArray:
    """Return the stamps as an array; they must be full hours and strictly rising."""
    for i, time_s in enumerate(times_s):
        if time_s % HOUR_S:
            raise BadAnswer(source, f"{where}[{i}]", utc_text(time_s), "a full hour UTC")
        if i and time_s <= times_s[i - 1]:
            found = f"{utc_text(time_s)} after {utc_text(times_s[i - 1])}"
            raise BadAnswer(source, f"{where}[{i}]", found, "times that rise")
    return np.array(times_s, dtype=np.int64)


def bridges(times_s: IntArray) -> BoolArray:
    """Return, for each gap [m - 1], whether it is the source's own step and not a hole.

    Sources go from a short to a long step and never back, so a gap with a shorter one after
    it is a hole.
    """
    gaps = np.diff(times_s)
    shortest_after = np.minimum.accumulate(gaps[::-1])[::-1]
    return np.asarray((gaps <= shortest_after) & (gaps <= LONGEST_STEP_H * HOUR_S))


def lay_instants(
    axis: Axis, times_s: IntArray, values: FloatArray, bridged: BoolArray
) -> FloatArray:
    """Return values [n] of instants [m]: straight lines over bridged gaps between two values."""
    hours = axis.time_s
    left = np.searchsorted(times_s, hours, side="right") - 1
    inside = left >= 0
    left = np.maximum(left, 0)
    right = np.minimum(left + 1, len(times_s) - 1)
    span = np.maximum(times_s[right] - times_s[left], 1)
    share = (hours - times_s[left]) / span
    drawn = values[left] + share * (values[right] - values[left])
    may = np.append(bridged, False)[left]
    exact = times_s[left] == hours
    return np.where(inside, np.where(exact, values[left], np.where(may, drawn, np.nan)), np.nan)


def step_marks(axis: Axis, times_s: IntArray) -> FloatArray:
    """Return the source's own step, 1, 3 or 6 h, at each hour [n]; a hole counts as 6."""
    gaps_h = np.diff(times_s, prepend=times_s[0] - HOUR_S) / HOUR_S
    at = np.minimum(np.searchsorted(times_s, axis.time_s, side="left"), len(times_s) - 1)
    return step_class(gaps_h[at])


def step_class(hours: FloatArray) -> FloatArray:
    """Return the step class, 1, 3 or 6 h, that holds a length in hours."""
    return np.where(hours <= 1.0, 1.0, np.where(hours <= 3.0, 3.0, 6.0))


def expand_runs(axis: Axis, runs: Iterable[Run]) -> FloatArray:
    """Return the value of each hour [n] of run-length intervals; uncovered hours are holes."""
    laid = axis.hole()
    for run in runs:
        first, end = axis.index(run.start_s), axis.index(run.end_s)
        laid[max(first, 0) : max(end, 0)] = run.value
    return laid


def spread_sums(axis: Axis, sums: Iterable[Run]) -> FloatArray:
    """Return sums of the hour before each stamp [n]: each interval's sum in equal parts."""
    laid = axis.hole()
    for run in sums:
        first, end = axis.index(run.start_s) + 1, axis.index(run.end_s) + 1
        if end > first:
            laid[max(first, 0) : max(end, 0)] = run.value / (end - first)
    return laid


def dew_from(
    air_temp_c: FloatArray, dew_point_c: FloatArray, rh_pct: FloatArray
) -> tuple[FloatArray, int]:
    """Return dew point, °C, filled from RH where it is missing, and how many were filled."""
    need = np.isnan(dew_point_c) & np.isfinite(air_temp_c) & np.isfinite(rh_pct)
    if not need.any():
        return dew_point_c, 0
    filled = np.array(dew_point_c)
    filled[need] = moist_air.dew_point_array(air_temp_c[need], rh_pct[need])
    return filled, int(np.count_nonzero(need & np.isfinite(filled)))


def station_pressure(sea_level_hpa: FloatArray, altitude_m: float) -> FloatArray:
    """Return pressure at the place, hPa, from that at sea level (standard atmosphere)."""
    if altitude_m == 0.0:
        return sea_level_hpa
    ratio = moist_air.pressure_at_altitude_hpa(altitude_m) / _STANDARD_HPA
    return np.asarray(sea_level_hpa * ratio)
