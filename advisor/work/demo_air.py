"""Invented weather at the demo's tide-mill, and what its stone shed made of it.

Mid-May style whatever the date, so that the demo always starts today. A pure function of the
local date of now; nothing is measured and nothing random. The shed's log is the weather put
through the usual response of a stone shed, with what no outlook knows of: doors left open now
and then, the crew's lamps and kettle, and the tide under the floor.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate.area_surface import indoor_surface_c
from advisor.climate.outdoor import FloatArray, Outdoor
from advisor.climate.readings import IntArray, Origin, ReadingTable
from advisor.climate.shop.response import Inputs, State, simulate, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.skin import Skin
from advisor.physics import moist_air
from advisor.work.views import Reading

#: The weather begins a fortnight back, so that the shed's response can be read from its log.
FIRST_DAY = -14
#: The forecast ends in the morning of this day: what must last longer than that can't be told.
LAST_DAY, LAST_H = 7, 6.0
HOUR_S = 3600
#: Local hours of the turning points of air and dew point.
AIR_TURNS_H = (5.0, 15.0)
#: Sun from dawn to dusk, and its noon strength under a clear sky in May, W/m².
SUN_UP_H, SUN_DOWN_H, CLEAR_NOON_W_M2 = 5.0, 21.0, 800.0
#: How much warmer than the coldest spot the planks under the roof light get in the afternoon, K.
ROOF_LIGHT_K = 1.2
#: Days on which the crew left the doors open from late morning to mid-afternoon.
DOORS_OPEN = ((-12, 11.0, 15.0), (-9, 10.0, 16.0), (-6, 11.0, 15.0), (-2, 10.0, 14.0))
DOORS_FACTOR = 2.5
#: Lamps and kettle while the crew is there, two days in three, W.
CREW_W, CREW_FROM_H, CREW_TO_H = 1500.0, 9.0, 18.0
#: The tide under the mill: vapour at its height, g/h, twice a lunar day.
TIDE_G_PER_H, TIDE_H = 250.0, 12.42

# Day from today; outdoor air at dawn and in the afternoon, dew point at dawn and in the
# afternoon, all °C; share of the clear sun; wind, m/s.
_DAYS = (
    (-15, 2.5, 17.2, 4.8, 5.4, 0.5, 3.0),
    (-14, 3.4, 15.8, 5.0, 5.6, 0.4, 4.0),
    (-13, 2.2, 17.6, 4.4, 5.2, 0.6, 2.5),
    (-12, 4.6, 15.2, 5.8, 6.6, 0.3, 5.0),
    (-11, 3.0, 18.4, 4.6, 5.0, 0.7, 2.5),
    (-10, 2.4, 17.0, 4.4, 5.8, 0.5, 3.0),
    (-9, 4.0, 16.2, 5.4, 6.0, 0.4, 4.5),
    (-8, 2.6, 17.8, 5.0, 5.5, 0.5, 3.0),
    (-7, 2.6, 18.3, 4.6, 5.2, 0.5, 3.0),
    (-6, 2.0, 18.7, 4.5, 5.4, 0.6, 2.5),
    (-5, 3.5, 16.9, 5.6, 6.2, 0.4, 4.0),
    (-4, 2.9, 18.2, 5.2, 5.4, 0.5, 3.0),
    (-3, 4.3, 16.0, 6.0, 6.4, 0.4, 4.5),
    (-2, 2.8, 17.7, 5.0, 5.2, 0.5, 3.0),
    (-1, 2.9, 18.8, 5.1, 5.4, 0.6, 2.5),
    (0, 3.6, 19.4, 4.8, 5.0, 0.6, 2.5),  # today: a good morning
    (1, 2.6, 20.2, 5.6, 6.0, 0.6, 2.0),
    (2, 4.2, 16.5, 7.0, 8.6, 0.3, 4.0),  # warm air creeps in
    (3, 9.6, 14.4, 9.4, 13.4, 0.1, 5.0),  # the damp front
    (4, 8.6, 15.6, 8.4, 8.6, 0.2, 4.0),  # the damp left behind
    (5, 1.6, 21.8, 2.8, 3.4, 0.9, 2.0),  # clear and drying
    (6, 2.2, 20.5, 4.0, 4.6, 0.8, 2.0),
    (7, 3.0, 19.1, 5.0, 5.4, 0.6, 2.5),
    (8, 2.8, 18.4, 5.0, 5.4, 0.5, 3.0),
)


def demo_outdoors(now_s: float, zone: ZoneInfo) -> Outdoor:
    """Return hourly weather from local midnight a fortnight back to the end of the forecast."""
    today = datetime.fromtimestamp(now_s, zone).date()
    time_s = _hours(today, zone)
    day_h = np.array([_local_hours(int(t), today, zone) for t in time_s])
    days = np.array(_DAYS, dtype=float)
    air = _curve(day_h, days[:, 0], days[:, 1:3])
    share, wind = (np.interp(day_h, days[:, 0] * 24 + 12, days[:, k]) for k in (5, 6))
    columns = {
        "air_temp_c": air,
        "dew_point_c": np.minimum(_curve(day_h, days[:, 0], days[:, 3:5]), air),
        "wind_m_s": wind,
        "cloud_pct": 100.0 * (1.0 - share) ** (1.0 / 3.4),
        "sun_w_m2": CLEAR_NOON_W_M2 * share * _daylight(day_h - 0.5),
        "rain_mm": np.where((day_h > 3 * 24 + 9) & (day_h < 3 * 24 + 15), 1.2, 0.0),
    }
    rounded = {name: np.round(values, 2) for name, values in columns.items()}
    return Outdoor(int(time_s[0]), HOUR_S, rounded)


def demo_log(outdoors: Outdoor, shop: Shop, now_s: float, zone: ZoneInfo) -> ReadingTable:
    """Return the shed's hourly log over the weather: air, humidity, coldest and hottest spot."""
    today = datetime.fromtimestamp(now_s, zone).date()
    day_h = np.array([_local_hours(int(t), today, zone) for t in outdoors.time_s])
    air, dew = (float(np.mean(outdoors.column(n)[:24])) for n in ("air_temp_c", "dew_point_c"))
    state = State.at_rest(outdoors.start_s, air + 2.0, dew)
    inside = simulate(usual_response(shop), outdoors, state, _unknown(day_h))
    surface = indoor_surface_c(Skin("timber"), inside.air_temp_c, 1.0)
    columns = {
        "air_temp_c": inside.air_temp_c,
        "dew_point_c": inside.dew_point_c,
        "surface_temp_c": surface,
        "surface_hot_c": surface + ROOF_LIGHT_K * _afternoon(day_h),
    }
    rounded = {name: np.round(values, 2) for name, values in columns.items()}
    humidity = moist_air.rh_array(rounded["air_temp_c"], rounded["dew_point_c"])
    rounded["rh_pct"] = np.round(humidity, 2)
    flags = np.zeros(len(day_h), dtype=np.uint16)
    return ReadingTable(outdoors.time_s, rounded, flags, Origin.IMPORTED)


def _unknown(day_h: FloatArray) -> Inputs:
    """Return what people and tide did to the shed's air, hour by hour."""
    factor = np.ones(len(day_h))
    for day, first_h, last_h in DOORS_OPEN:
        factor[(day_h > day * 24 + first_h) & (day_h <= day * 24 + last_h)] = DOORS_FACTOR
    hour, days = day_h % 24, np.floor(day_h / 24)
    crew = (hour > CREW_FROM_H) & (hour <= CREW_TO_H) & (days % 3 != 0) & (days < 0)
    tide = TIDE_G_PER_H * np.maximum(0.0, np.sin(2 * np.pi * day_h / TIDE_H))
    return Inputs(np.where(crew, CREW_W, 0.0), tide, factor)


def read_off(table: ReadingTable, at_s: float) -> Reading:
    """Read the demo's own air off its log at a moment, rounded as a person would read it."""

    def read(name: str, digits: int) -> float:
        return round(float(np.interp(at_s, table.time_s, table.column(name))), digits)

    return Reading(
        at_s,
        read("air_temp_c", 1),
        read("rh_pct", 0),
        read("surface_temp_c", 1),
        read("surface_hot_c", 1),
    )


def local_s(today: date, day: int, clock: time, zone: ZoneInfo) -> float:
    """UTC seconds of a local clock time, `day` days from today."""
    return datetime.combine(today + timedelta(days=day), clock, zone).timestamp()


def _hours(today: date, zone: ZoneInfo) -> IntArray:
    first = int(local_s(today, FIRST_DAY, time(0), zone)) // HOUR_S * HOUR_S
    last = int(local_s(today, LAST_DAY, time(int(LAST_H)), zone))
    return np.arange(first, last + 1, HOUR_S, dtype=np.int64)


def _local_hours(time_s: int, today: date, zone: ZoneInfo) -> float:
    """Hours on the wall clock since midnight today; a repeated or missing hour is as the clock."""
    there = datetime.fromtimestamp(time_s, zone)
    clock_h = there.hour + there.minute / 60 + there.second / 3600
    return (there.date() - today).days * 24 + clock_h


def _curve(day_h: FloatArray, days: FloatArray, values: FloatArray) -> FloatArray:
    """Half cosine waves between the turning points [d, 2] of each day."""
    at = (days[:, np.newaxis] * 24 + np.array(AIR_TURNS_H)).ravel()
    known = values.ravel()
    after = np.clip(np.searchsorted(at, day_h, side="right"), 1, len(at) - 1)
    share = (day_h - at[after - 1]) / (at[after] - at[after - 1])
    eased = (1 - np.cos(np.pi * share)) / 2
    return np.asarray(known[after - 1] + (known[after] - known[after - 1]) * eased)


def _daylight(day_h: FloatArray) -> FloatArray:
    """0 by night, 1 at the middle of the day."""
    up = (day_h % 24 - SUN_UP_H) / (SUN_DOWN_H - SUN_UP_H)
    return np.where((up > 0) & (up < 1), np.sin(np.pi * np.clip(up, 0, 1)), 0.0)


def _afternoon(day_h: FloatArray) -> FloatArray:
    """0 at night, 1 at two in the afternoon."""
    return np.asarray(np.clip(np.cos((day_h % 24 - 14) / 12 * np.pi), 0, None))
