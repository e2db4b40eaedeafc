"""Flags on values in house units: faults, clamped RH, stuck, spikes, swapped, dew above air."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.climate.logs.stamps import BoolArray
from advisor.climate.readings import Flag, FloatArray, IntArray

FlagArray = NDArray[np.uint16]

#: Values outside are impossible in a shop or its weather. Temperatures: the range the moist air
#: formulas accept. Wind: above the highest gust on record (113 m/s, WMO, from memory).
LIMITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "air_temp_c": (-40.0, 60.0),
        "dew_point_c": (-60.0, 60.0),
        "surface_temp_c": (-40.0, 60.0),
        "surface_hot_c": (-40.0, 80.0),  # as typed readings: a dark deck in the sun passes 60
        "pressure_hpa": (500.0, 1100.0),
        "wind_m_s": (0.0, 115.0),
        "rain_mm": (0.0, 500.0),
    }
)
#: Columns wholly inside (above, up to) hold nothing to mark; most do.
ORDINARY: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "air_temp_c": (-40.0 + 1e-9, 60.0),
        "dew_point_c": (-40.0 + 1e-9, 60.0),
        "surface_temp_c": (-40.0 + 1e-9, 60.0),
        "surface_hot_c": (-40.0 + 1e-9, 80.0),
        "rh_pct": (0.0, 100.0),
        "pressure_hpa": (500.0, 1100.0),
        "wind_m_s": (0.0, 115.0),
        "rain_mm": (0.0, 500.0),
    }
)
TEMPERATURES = ("air_temp_c", "dew_point_c", "surface_temp_c", "surface_hot_c")
#: What a dead sensor reports inside the limits, °C, exactly: the bottom of common ranges. The
#: others (-127, 85, 327.67, 999, 9999, 65535) are outside the limits anyway.
FAULT_CODES_C = (-40.0, -46.85)
#: Rounding of whole degrees Fahrenheit (0.56 K) may lift the dew point above the air by this.
DEW_ROUNDING_K = 0.6
SPIKE = MappingProxyType({"air_temp_c": 8.0, "surface_temp_c": 12.0, "rh_pct": 35.0})
SPIKE_WITHIN_S = 3600
STUCK_S, STUCK_ROWS = 6 * 3600, 12


def mark(flags: FlagArray, rows: BoolArray | IntArray | slice, flag: Flag) -> None:
    """Add a flag to the rows picked; in place."""
    flags[rows] |= np.uint16(flag)


def mark_faults(house: str, values: FloatArray, flags: FlagArray) -> dict[str, int]:
    """Turn fault codes and impossible values of one column to NaN, clamp RH; in place.

    `values` [n] in house units. Returns what was done in words, with the number of rows.
    """
    done: dict[str, int] = {}
    least, most = np.fmin.reduce(values, initial=np.inf), np.fmax.reduce(values, initial=-np.inf)
    floor, ceiling = ORDINARY[house]
    if least > floor and most <= ceiling:
        return done
    if house == "rh_pct":
        over = (values > 100.0) & (values <= 105.0)
        bad = (values > 105.0) | (values <= 0.0)
        _count(done, f"{house} between 100 and 105 set to 100", over)
        values[over] = 100.0
        mark(flags, over, Flag.CLAMPED)
    else:
        low, high = LIMITS[house]
        bad = (values < low) | (values > high)
    if house in TEMPERATURES:
        for code in FAULT_CODES_C:
            bad |= np.abs(values - code) < 1e-9  # -40 °F is -40 °C but for rounding
    _count(done, f"{house} impossible or a fault code, left out", bad)
    values[bad] = np.nan
    mark(flags, bad, Flag.FAULT)
    return done


def _count(done: dict[str, int], what: str, mask: BoolArray) -> None:
    number = int(mask.sum())
    if number:
        done[what] = number


def flag_series(
    time_s: IntArray, columns: Mapping[str, FloatArray], flags: FlagArray
) -> dict[str, int]:
    """Flag spikes, stuck sensors and dew above air in rows in time order; in place."""
    done: dict[str, int] = {}
    _leading_zeros(time_s, columns, flags, done)
    for house, jump in SPIKE.items():
        if house in columns:
            spikes = find_spikes(time_s, columns[house], jump)
            mark(flags, spikes, Flag.SPIKE)
            _count(done, f"{house} spikes (kept)", spikes)
    for house in ("air_temp_c", "rh_pct", "surface_temp_c"):
        if house in columns:
            stuck = find_stuck(time_s, columns[house])
            mark(flags, stuck, Flag.STUCK)
            _count(done, f"{house} unchanged for 6 hours or more (kept)", stuck)
    _dew_above_air(columns, flags, done)
    return done


def _leading_zeros(
    time_s: IntArray, columns: Mapping[str, FloatArray], flags: FlagArray, done: dict[str, int]
) -> None:
    """A station that starts with exact zeros and then leaps was not yet measuring."""
    for house in ("air_temp_c", "surface_temp_c"):
        values = columns.get(house)
        if values is None or len(values) < 3 or values[0] != 0.0:
            continue
        length = int(np.argmax(values != 0.0))
        if not length or abs(values[length]) <= 5.0:
            continue
        if time_s[length] - time_s[length - 1] <= SPIKE_WITHIN_S:
            values[:length] = np.nan
            mark(flags, slice(length), Flag.FAULT)
            done[f"{house} zeros before the first real value, left out"] = length


def find_spikes(time_s: IntArray, values: FloatArray, jump: float) -> BoolArray:
    """Values that leave both neighbours by `jump` while these agree, within an hour."""
    spikes = np.zeros(len(values), np.bool_)
    if len(values) < 3:
        return spikes
    steps = np.diff(values)
    if not (np.abs(steps) > jump).any():
        return spikes
    near = np.diff(time_s) <= SPIKE_WITHIN_S
    up, down = steps[:-1], -steps[1:]
    agree = np.abs(values[2:] - values[:-2]) < jump / 2
    high = np.minimum(up, down) > jump
    low = np.maximum(up, down) < -jump
    spikes[1:-1] = (high | low) & agree & near[:-1] & near[1:]
    return spikes


def find_stuck(time_s: IntArray, values: FloatArray) -> BoolArray:
    """Runs of one value that last 6 hours and 12 rows or more."""
    stuck = np.zeros(len(values), np.bool_)
    if len(values) < STUCK_ROWS:
        return stuck
    same = values[1:] == values[:-1]
    half = STUCK_ROWS // 2  # a run of that many rows covers one whole block of half as many
    if not same[: len(same) // half * half].reshape(-1, half).all(axis=1).any():
        return stuck
    starts = np.flatnonzero(np.concatenate(([True], ~same)))
    ends = np.concatenate((starts[1:], [len(values)]))
    long = (ends - starts >= STUCK_ROWS) & (time_s[ends - 1] - time_s[starts] >= STUCK_S)
    for start, end in zip(starts[long], ends[long], strict=True):
        stuck[start:end] = True
    return stuck


def _dew_above_air(
    columns: Mapping[str, FloatArray], flags: FlagArray, done: dict[str, int]
) -> None:
    if "air_temp_c" not in columns or "dew_point_c" not in columns:
        return
    air, dew = columns["air_temp_c"], columns["dew_point_c"]
    above = dew > air
    far = dew > air + DEW_ROUNDING_K
    mark(flags, above, Flag.DEW_ABOVE_AIR)
    dew[above] = air[above]
    dew[far] = np.nan
    _count(done, "dew_point_c up to 0.6 K above air set to air", above & ~far)
    _count(done, "dew_point_c above air, left out", far)


def looks_swapped(air: FloatArray, humidity: FloatArray) -> bool:
    """Whether temperature and humidity were most likely exchanged.

    Typical for it: `temperatures` around 40–90 that move by tens and `humidities` around 5–30.
    """
    both = np.isfinite(air) & np.isfinite(humidity)
    if both.sum() < 3:
        return False
    hot, dry = float(np.median(air[both])), float(np.median(humidity[both]))
    return hot > 40.0 and dry < 40.0 and hot > dry + 15.0
