"""Invented air of the demo's tide-mill shed: a week back, ten days on, hour by hour.

Mid-May style whatever the date, so that the demo always starts today. A pure function of the
local date of now; nothing is measured and nothing random.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate.readings import FloatArray, IntArray, Origin, ReadingTable
from advisor.physics import moist_air

FIRST_DAY, LAST_DAY = -7, 10
HOUR_S = 3600
#: Local hours of the turning points: air and dew point, then the timber that lags behind them.
AIR_TURNS_H = (5.0, 15.0)
SURFACE_TURNS_H = (7.0, 17.0)
#: The outlook of the surface ends in the morning of this day: what must last longer than that
#: can't be told.
SURFACE_ENDS_DAY, SURFACE_ENDS_H = 7, 6.0
#: How much warmer than the coldest spot the planks under the roof light get in the afternoon, K.
ROOF_LIGHT_K = 1.2

# Day from today; air at dawn and in the afternoon; dew point at dawn and in the afternoon;
# coldest spot in the morning and in the late afternoon; all °C.
_DAYS = (
    (-8, 9.5, 16.0, 6.0, 6.5, 10.4, 15.2),
    (-7, 9.0, 16.5, 5.6, 6.2, 10.1, 15.6),
    (-6, 9.4, 17.0, 5.5, 6.4, 10.4, 16.0),
    (-5, 10.2, 16.0, 6.6, 7.2, 11.0, 15.2),
    (-4, 9.8, 16.8, 6.2, 6.4, 10.7, 15.8),
    (-3, 10.5, 15.5, 7.0, 7.4, 11.2, 14.8),
    (-2, 9.6, 16.4, 6.0, 6.2, 10.6, 15.5),
    (-1, 10.0, 17.2, 6.1, 6.6, 10.9, 16.2),
    (0, 10.4, 17.6, 6.4, 7.6, 11.4, 16.6),  # today: a good morning
    (1, 9.8, 18.0, 8.0, 6.6, 10.6, 17.0),  # a night close to its dew point
    (2, 10.0, 16.5, 6.8, 8.6, 10.8, 15.4),  # warm air creeps in
    (3, 11.0, 14.0, 10.2, 12.4, 11.4, 12.6),  # the damp front
    (4, 9.6, 15.5, 9.4, 8.6, 9.0, 13.6),  # cold timber in the damp left behind
    (5, 8.6, 19.0, 5.4, 5.0, 9.4, 17.4),  # clear and drying
    (6, 9.8, 18.2, 5.8, 6.4, 10.8, 17.0),
    (7, 10.4, 17.4, 6.8, 7.2, 11.2, 16.4),
    (8, 10.0, 16.8, 6.4, 7.0, 10.8, 15.8),
    (9, 9.4, 16.2, 6.2, 6.8, 10.3, 15.3),
    (10, 9.8, 16.6, 6.4, 6.9, 10.6, 15.6),
    (11, 9.8, 16.6, 6.4, 6.9, 10.6, 15.6),
)


def demo_table(now_s: float, zone: ZoneInfo) -> ReadingTable:
    """Return hourly rows from local midnight a week back to the end of the tenth day on."""
    today = datetime.fromtimestamp(now_s, zone).date()
    time_s = _hours(today, zone)
    day_h = np.array([_local_hours(int(t), today, zone) for t in time_s])
    days = np.array(_DAYS, dtype=float)
    surface = _curve(day_h, days[:, 0], SURFACE_TURNS_H, days[:, 5:7])
    surface[day_h > SURFACE_ENDS_DAY * 24 + SURFACE_ENDS_H] = np.nan
    columns = {
        "air_temp_c": _curve(day_h, days[:, 0], AIR_TURNS_H, days[:, 1:3]),
        "dew_point_c": _curve(day_h, days[:, 0], AIR_TURNS_H, days[:, 3:5]),
        "surface_temp_c": surface,
        "surface_hot_c": surface + ROOF_LIGHT_K * _afternoon(day_h),
    }
    rounded = {name: np.round(values, 2) for name, values in columns.items()}
    humidity = moist_air.rh_array(rounded["air_temp_c"], rounded["dew_point_c"])
    rounded["rh_pct"] = np.round(humidity, 2)
    flags = np.zeros(len(time_s), dtype=np.uint16)
    return ReadingTable(time_s, rounded, flags, Origin.ESTIMATED)


def local_s(today: date, day: int, clock: time, zone: ZoneInfo) -> float:
    """UTC seconds of a local clock time, `day` days from today."""
    return datetime.combine(today + timedelta(days=day), clock, zone).timestamp()


def _hours(today: date, zone: ZoneInfo) -> IntArray:
    first = int(local_s(today, FIRST_DAY, time(0), zone)) // HOUR_S * HOUR_S
    last = int(local_s(today, LAST_DAY + 1, time(0), zone))
    return np.arange(first, last + 1, HOUR_S, dtype=np.int64)


def _local_hours(time_s: int, today: date, zone: ZoneInfo) -> float:
    """Hours on the wall clock since midnight today; a repeated or missing hour is as the clock."""
    there = datetime.fromtimestamp(time_s, zone)
    clock_h = there.hour + there.minute / 60 + there.second / 3600
    return (there.date() - today).days * 24 + clock_h


def _curve(
    day_h: FloatArray, days: FloatArray, turns_h: tuple[float, float], values: FloatArray
) -> FloatArray:
    """Half cosine waves between the turning points [d, 2] of each day."""
    at = (days[:, np.newaxis] * 24 + np.array(turns_h)).ravel()
    known = values.ravel()
    after = np.clip(np.searchsorted(at, day_h, side="right"), 1, len(at) - 1)
    share = (day_h - at[after - 1]) / (at[after] - at[after - 1])
    eased = (1 - np.cos(np.pi * share)) / 2
    return np.asarray(known[after - 1] + (known[after] - known[after - 1]) * eased)


def _afternoon(day_h: FloatArray) -> FloatArray:
    """0 at night, 1 at two in the afternoon."""
    return np.asarray(np.clip(np.cos((day_h % 24 - 14) / 12 * np.pi), 0, None))
