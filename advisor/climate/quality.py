"""Quality flags: which rows of a table are doubtful, and why.

No row is ever taken out. A doubtful value stays as it is and its row is flagged; an impossible
one becomes NaN (never zero, never a guess) and its row is flagged. What is flagged:

- FAULT, value now NaN: RH of 0 or less or above 105 %, air or dew point outside −40…60 °C,
  surface outside −40…80 °C (a dark deck in the sun passes 60), pressure, wind or rain beyond
  anything on Earth. RH 0 is a dead sensor's zero: it has no dew point.
- CLAMPED: RH in 100–105 % set to 100; a dew point at most 0.3 K above the air set to the air
  temperature (rounding of the two columns does that in fog).
- DEW_ABOVE_AIR: a dew point more than 0.3 K above the air. Nobody can say which of the two is
  wrong, so the derived one, the dew point, becomes NaN; RH, where there is any, still counts.
- STUCK: air or RH exactly the same for at least 6 h and at least 12 samples, without a hole
  above 3 h. RH at 99.5 % or more is left out: saturated air holds a true sensor there for days.
- SPIKE: a jump of more than 8 K in air, or 25 points in RH, and back again within 15 minutes.
- SWAPPED: temperature and humidity look exchanged in the table as a whole; a suggestion only.

The thresholds are common practice for shed loggers (from memory), not from a standard.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.readings import Flag, FloatArray, IntArray, ReadingTable

BoolArray = NDArray[np.bool_]
FlagArray = NDArray[np.uint16]

STUCK_S = 6 * 3600
STUCK_SAMPLES = 12
HOLE_S = 3 * 3600
SPIKE_S = 15 * 60
SPIKE_STEP = MappingProxyType({"air_temp_c": 8.0, "rh_pct": 25.0})
SATURATED_PCT = 99.5
DEW_TOLERANCE_K = 0.3
#: Closed intervals outside which a value cannot be true.
POSSIBLE = MappingProxyType(
    {
        "air_temp_c": (-40.0, 60.0),
        "dew_point_c": (-40.0, 60.0),
        "surface_temp_c": (-40.0, 80.0),
        "rh_pct": (0.0, 105.0),
        "pressure_hpa": (300.0, 1100.0),
        "wind_m_s": (0.0, 115.0),
        "rain_mm": (0.0, 500.0),
    }
)
#: Values as a person types them: what each is called at the bench, and its unit.
TYPED = MappingProxyType(
    {
        "air_temp_c": ("air", "°C"),
        "rh_pct": ("humidity", "%"),
        "dew_point_c": ("dew point", "°C"),
        "surface_temp_c": ("coldest spot", "°C"),
        "surface_hot_c": ("hottest spot", "°C"),
        "pressure_hpa": ("pressure", "hPa"),
        "wind_m_s": ("wind", "m/s"),
        "rain_mm": ("rain", "mm"),
    }
)
#: A hottest spot colder than the coldest, in the same words wherever it is found.
COLDER, AS_WARM = "it colder than the coldest spot", "as warm or warmer; exchanged?"
#: A table whose median "air" is above this with a lower median "RH" reads better exchanged.
SWAPPED_AIR_C = 42.0
SWAPPED_SHARE = 0.8

_WORDS = MappingProxyType(
    {
        Flag.FAULT: "with an impossible value or fault code; that value is left empty",
        Flag.CLAMPED: "just past saturation, set to saturation",
        Flag.DEW_ABOVE_AIR: "with a dew point above the air temperature; it is left empty",
        Flag.STUCK: "where air temperature or RH stood still for six hours or more",
        Flag.SPIKE: "with a single jump and back",
        Flag.SWAPPED: "where temperature and humidity look exchanged: name the columns and "
        "import again",
    }
)


def flag_table(table: ReadingTable) -> ReadingTable:
    """Return the table with its flags added to and impossible values NaN; same rows, same order.

    Flagging twice gives the same table. The given table is not changed.
    """
    if not len(table):
        return table
    columns = dict(table.columns)
    flags = table.flags.astype(np.uint16, copy=True)
    if _looks_swapped(columns):
        _mark(flags, _has_value(columns), Flag.SWAPPED)
    for name in POSSIBLE.keys() & columns.keys():
        _drop_impossible(columns, flags, name)
    _saturate(columns, flags)
    for name in SPIKE_STEP.keys() & columns.keys():
        _mark(flags, _stuck(table.time_s, columns[name], name), Flag.STUCK)
        _mark(flags, _spikes(table.time_s, columns[name], SPIKE_STEP[name]), Flag.SPIKE)
    return replace(table, columns=columns, flags=flags)


def flagged_rows(table: ReadingTable) -> int:
    """Return how many rows carry any flag."""
    return int(np.count_nonzero(table.flags))


def quality_notes(table: ReadingTable) -> tuple[str, ...]:
    """Return one plain sentence per kind of flag in the table."""
    counts = {flag: int(np.count_nonzero(table.flags & np.uint16(flag))) for flag in _WORDS}
    return tuple(
        f"{count} {'row' if count == 1 else 'rows'} {_WORDS[flag]}."
        for flag, count in counts.items()
        if count
    )


def check_typed(values: Mapping[str, float]) -> None:
    """Refuse (RangeError) typed values, by column name, that cannot be true."""
    for name, value in values.items():
        low, high = POSSIBLE["surface_temp_c" if name == "surface_hot_c" else name]
        called, unit = TYPED[name]
        accepted = f"{low:g} to {high:g} {unit}"
        if name == "rh_pct":
            accepted, high = "above 0, up to 100 %", 100.0
        if not low <= value <= high or (name == "rh_pct" and value == 0.0):
            raise RangeError(called, f"{value:g}", accepted)
    cold, hot = (values.get(name, math.nan) for name in ("surface_temp_c", "surface_hot_c"))
    if hot < cold:
        raise RangeError(TYPED["surface_hot_c"][0], COLDER, AS_WARM)
    air, dew = (values.get(name, math.nan) for name in ("air_temp_c", "dew_point_c"))
    if dew > air + DEW_TOLERANCE_K:
        called, unit = TYPED["dew_point_c"]
        raise RangeError(called, f"{dew:g}", f"not above the air, {air:g} {unit}")


def _mark(flags: FlagArray, where: BoolArray, flag: Flag) -> None:
    flags[where] |= np.uint16(flag)


def _has_value(columns: dict[str, FloatArray]) -> BoolArray:
    return ~(np.isnan(columns["air_temp_c"]) & np.isnan(columns["rh_pct"]))


def _looks_swapped(columns: dict[str, FloatArray]) -> bool:
    air, rh = columns.get("air_temp_c"), columns.get("rh_pct")
    if air is None or rh is None:
        return False
    both = ~(np.isnan(air) | np.isnan(rh))
    if np.count_nonzero(both) < STUCK_SAMPLES:
        return False
    exchanged = (air[both] > SWAPPED_AIR_C) & (rh[both] < SWAPPED_AIR_C)
    return bool(np.mean(exchanged) >= SWAPPED_SHARE)


def _drop_impossible(columns: dict[str, FloatArray], flags: FlagArray, name: str) -> None:
    values = columns[name]
    low, high = POSSIBLE[name]
    bad = (values < low) | (values > high)
    if name == "rh_pct":
        bad |= values == 0.0
    if bad.any():
        columns[name] = np.where(bad, np.nan, values)
        _mark(flags, bad, Flag.FAULT)


def _saturate(columns: dict[str, FloatArray], flags: FlagArray) -> None:
    rh, air, dew = (columns.get(name) for name in ("rh_pct", "air_temp_c", "dew_point_c"))
    if rh is not None and (over := rh > 100.0).any():
        columns["rh_pct"] = np.where(over, 100.0, rh)
        _mark(flags, over, Flag.CLAMPED)
    if air is None or dew is None:
        return
    # 1e-9: a difference of two decimals such as 10.3 − 10.0 is not exactly 0.3.
    far = dew - air > DEW_TOLERANCE_K + 1e-9
    near = (dew > air) & ~far
    if far.any() or near.any():
        columns["dew_point_c"] = np.where(far, np.nan, np.where(near, air, dew))
        _mark(flags, far, Flag.DEW_ABOVE_AIR)
        _mark(flags, near, Flag.CLAMPED)


def _stuck(time_s: IntArray, values: FloatArray, name: str) -> BoolArray:
    """Return rows in runs of one value, 6 h and 12 samples long at least; NaN ends a run."""
    out = np.zeros(len(values), dtype=np.bool_)
    new_run = (values[1:] != values[:-1]) | (np.diff(time_s) > HOLE_S)
    starts = np.concatenate(([0], np.flatnonzero(new_run) + 1))
    ends = np.concatenate((starts[1:], [len(values)]))
    long = (ends - starts >= STUCK_SAMPLES) & (time_s[ends - 1] - time_s[starts] >= STUCK_S)
    if name == "rh_pct":
        long &= values[starts] < SATURATED_PCT
    for start, end in zip(starts[long].tolist(), ends[long].tolist(), strict=True):
        out[start:end] = True
    return out


def _spikes(time_s: IntArray, values: FloatArray, step: float) -> BoolArray:
    """Return rows that left by more than `step` and came back, each way within 15 minutes.

    One sample alone may stand between two steps of 15 minutes; several must fit in 15 together.
    """
    out = np.zeros(len(values), dtype=np.bool_)
    kept = np.flatnonzero(~np.isnan(values))
    v, t = values[kept], time_s[kept]
    jump = np.diff(v)
    at = np.flatnonzero((np.abs(jump) > step) & (np.diff(t) <= SPIKE_S))
    away, back = at[:-1], at[1:]
    opposite = jump[away] * jump[back] < 0.0
    returned = np.abs(v[back + 1] - v[away]) < step
    brief = (back - away == 1) | (t[back + 1] - t[away] <= SPIKE_S)
    hit = opposite & returned & brief
    for first, last in zip(away[hit].tolist(), back[hit].tolist(), strict=True):
        out[kept[first + 1 : last + 1]] = True
    return out
