"""What of a shop's log can be used, and why not the rest; never an exception."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop.response import ShopLog

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: A sensor that says the same number for this long while outdoors moves by this much is stuck.
STUCK_H = 12.0
STUCK_OUTDOORS_K = 4.0
#: Outdoor air that moves less than this (sd) over the log tells nothing about the shop.
STILL_K = 0.3
LEAST_DAYS = 3.0
_AIR_RANGE_C = (-40.0, 60.0)
_DEW_RANGE_C = (-80.0, 45.0)
_SUPER_K = 1.0  # dew point above air by more than this is a contradiction


@dataclass(frozen=True, eq=False)
class Screened:
    """A log with what cannot be right taken out, what was found, and why no fit can be made.

    `reason` is empty where the air can be fitted, `dew_reason` where the dew point can.
    """

    log: ShopLog
    notes: tuple[str, ...]
    reason: str
    dew_reason: str


def screened(log: ShopLog) -> Screened:
    """Return the log without impossible and stuck readings, with plain reasons."""
    notes: list[str] = []
    outdoor, step_h = log.outdoor, log.outdoor.step_s / 3600.0
    out = _within(outdoor.column("air_temp_c"), _AIR_RANGE_C, "outdoor air", notes)
    dew_out = _within(outdoor.column("dew_point_c"), _DEW_RANGE_C, "outdoor dew point", notes)
    air = _within(log.air_temp_c, _AIR_RANGE_C, "shop air", notes)
    dew = _within(log.dew_point_c, _DEW_RANGE_C, "shop dew point", notes)
    air = _without_stuck(air, out, step_h, "shop air", notes)
    dew = _without_stuck(dew, out, step_h, "shop dew point", notes)
    above = dew > air + _SUPER_K
    if above.any():
        notes.append(f"{_hours(above, step_h)} of dew point above the air left out")
        dew = np.where(above, np.nan, dew)
    columns = {**outdoor.columns, "air_temp_c": out, "dew_point_c": dew_out}
    kept = replace(log, air_temp_c=air, dew_point_c=dew, outdoor=replace(outdoor, columns=columns))
    dew_reason = _dew_reason(dew, dew_out, above, step_h)
    return Screened(kept, tuple(notes), _reason(kept), dew_reason)


def _within(
    values: FloatArray, accepted: tuple[float, float], name: str, notes: list[str]
) -> FloatArray:
    low, high = accepted
    wrong = (values < low) | (values > high) | np.isinf(values)
    if wrong.any():
        notes.append(f"{name}: {int(wrong.sum())} values outside {low:g} to {high:g} °C left out")
    return np.where(wrong, np.nan, values)


def _without_stuck(
    values: FloatArray, out: FloatArray, step_h: float, name: str, notes: list[str]
) -> FloatArray:
    """Return values without long runs of one number while the weather moved."""
    kept, stuck = values.copy(), np.zeros(len(values), bool)
    changed = np.flatnonzero(np.diff(values) != 0.0) + 1  # a hole ends a run too
    for first, after in zip([0, *changed], [*changed, len(values)], strict=True):
        if (after - first) * step_h < STUCK_H or np.isnan(values[first]):
            continue
        some = out[first:after][np.isfinite(out[first:after])]
        if some.size and float(np.ptp(some)) >= STUCK_OUTDOORS_K:
            stuck[first:after] = True
    if stuck.any():
        notes.append(f"{name} stuck for {_hours(stuck, step_h)}, left out")
        kept[stuck] = np.nan
    return kept


def _hours(which: BoolArray, step_h: float) -> str:
    return f"{float(which.sum()) * step_h:.0f} h"


def _reason(log: ShopLog) -> str:
    """Return why the air cannot be fitted, else an empty string."""
    out = log.outdoor.column("air_temp_c")
    both = np.isfinite(out) & np.isfinite(log.air_temp_c)
    days = float(both.sum()) * log.outdoor.step_s / 86400.0
    if not np.isfinite(log.air_temp_c).any():
        return "no shop air in the log"
    if not both.any():
        return "no outdoor air for the days of the log"
    if days < LEAST_DAYS - 1e-6:
        return f"{days:.1f} days of log with outdoor air; {LEAST_DAYS:g} are needed"
    if float(np.std(out[both])) < STILL_K:
        return "outdoor air does not move over the log"
    return ""


def _dew_reason(dew: FloatArray, out: FloatArray, above: BoolArray, step_h: float) -> str:
    days = float((np.isfinite(dew) & np.isfinite(out)).sum()) * step_h / 24.0
    if above.sum() > 0.2 * max(1, int(np.isfinite(dew).sum())):
        return "dew point stands above the air in much of the log"
    if not np.isfinite(dew).any():
        return "no dew point in the log"
    if days < LEAST_DAYS - 1e-6:
        return f"{days:.1f} days of dew point in and outdoors; {LEAST_DAYS:g} are needed"
    if float(np.nanstd(out)) < STILL_K:
        return "outdoor dew point does not move over the log"
    return ""
