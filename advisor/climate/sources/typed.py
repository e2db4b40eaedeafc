"""A forecast typed by hand, from radio, paper or the notice board, turned into hours.

Lows and highs are joined by half-cosines: coldest at dawn, warmest three hours after solar noon
(the usual shape for drawing hours out of extremes; common practice). Everything assumed is
named in the notes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from types import MappingProxyType
from typing import Literal

import numpy as np

from advisor.base.errors import RangeError
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.sources.layers import HOUR_S, FloatArray
from advisor.climate.sources.units import RANGES
from advisor.physics import moist_air

SOURCE_ID = "typed"
CREDIT = "Forecast typed by hand"
#: Mean wind by word, m/s: middle of the Beaufort class (WMO table; gale is force 8).
WIND_M_S: Mapping[str, float] = MappingProxyType(
    {"calm": 0.3, "light": 2.5, "moderate": 6.7, "fresh": 9.4, "strong": 12.3, "gale": 19.0}
)
#: Cloud cover by word, % (eighths of the sky as weather services name them).
CLOUD_PCT: Mapping[str, float] = MappingProxyType(
    {
        "clear": 5.0,
        "mostly clear": 25.0,
        "partly cloudy": 45.0,
        "mostly cloudy": 75.0,
        "overcast": 100.0,
    }
)
MOST_DAYS = 10
_DAY_S = 86400
_WARMEST_AFTER_NOON_H = 3.0
#: Without a place: dawn and warmest hour by the clock on the wall.
_DAWN_H, _WARMEST_H = 6, 15
_EARLIEST_DAWN_H, _LATEST_DAWN_H = 3.0, 9.0
_TYPED_STEP_H = 6.0


@dataclass(frozen=True)
class TypedForecast:
    """What a forecast said in words: tonight's low, tomorrow's high, and so on by day.

    `lows_c[k]` belongs to the k-th night from now (the running one counts), `highs_c[k]` to the
    day after it. Moisture is a dew point, or a humidity at the day's high or the night's low.
    `wind` and `cloud` are words of `WIND_M_S` and `CLOUD_PCT`, or m/s and %. `air_temp_now_c`
    joins the course to the present; `high_today_c` is that of the day now running or just over.
    """

    lows_c: tuple[float, ...]
    highs_c: tuple[float, ...]
    dew_point_c: float | None = None
    rh_pct: float | None = None
    rh_at: Literal["high", "low"] = "high"
    wind: str | float | None = None
    cloud: str | float | None = None
    air_temp_now_c: float | None = None
    high_today_c: float | None = None
    dry: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be turned into hours, with what would do."""
        _check_extremes(self.lows_c, self.highs_c)
        for name in ("dew_point_c", "air_temp_now_c", "high_today_c"):
            _check_between(name, getattr(self, name), RANGES["air_temp_c"])
        _check_between("rh_pct", self.rh_pct, (1.0, 100.0))
        if (self.dew_point_c is None) == (self.rh_pct is None):
            found = "neither" if self.rh_pct is None else "both"
            raise RangeError("dew point or humidity", found, "one of the two")
        _by_word("wind", self.wind, WIND_M_S, RANGES["wind_m_s"])
        _by_word("cloud", self.cloud, CLOUD_PCT, (0.0, 100.0))


@dataclass(frozen=True)
class _Knot:
    time_s: float
    air_temp_c: float


def typed_forecast(
    typed: TypedForecast, place: Place | None, now_s: float, zone: tzinfo
) -> Forecast:
    """Return the hours from the running one to the last extreme typed.

    `zone` is the shop's; without a place, dawn is at 6 and the warmest hour at 15 on its clock.
    """
    knots = _knots(typed, place, now_s, zone)
    start_s = int(now_s // HOUR_S) * HOUR_S
    hours = np.arange(start_s, knots[-1].time_s + 1.0, HOUR_S)
    air = _joined_to_now(_course(knots, hours), knots, hours, typed, now_s)
    dew, dew_note = _dew(typed, air)
    columns = {"air_temp_c": air, "dew_point_c": dew}
    columns |= _steady(typed, len(hours))
    shown = place if place is not None else _somewhere(now_s, zone)
    return Forecast(
        source=SOURCE_ID,
        place=shown,
        fetched_s=int(now_s),
        issued_s=int(now_s),
        hourly=Outdoor(start_s, HOUR_S, columns, frozenset(columns)),
        step_h=np.full(len(hours), _TYPED_STEP_H),
        credit=CREDIT,
        notes=(*_shape_notes(typed, place, knots, now_s, zone), dew_note),
    )


# --- when it is coldest and warmest ---------------------------------------------------------


def _knots(typed: TypedForecast, place: Place | None, now_s: float, zone: tzinfo) -> list[_Knot]:
    """Return the extremes in order of time: two before now, then those typed.

    What is not told of the day before the first low repeats the first low and high.
    """
    extremes = _extreme_times(place, now_s, zone)
    first = next(i for i, (t, dawn) in enumerate(extremes) if dawn and t > now_s)
    today_c = typed.highs_c[0] if typed.high_today_c is None else typed.high_today_c
    knots = [
        _Knot(extremes[first - 2][0], typed.lows_c[0]),
        _Knot(extremes[first - 1][0], today_c),
    ]
    values = [v for pair in zip(typed.lows_c, typed.highs_c, strict=False) for v in pair]
    values += typed.lows_c[len(typed.highs_c) :]
    knots += [_Knot(extremes[first + i][0], value) for i, value in enumerate(values)]
    return knots


def _extreme_times(place: Place | None, now_s: float, zone: tzinfo) -> list[tuple[float, bool]]:
    """Return (UTC seconds, is dawn) from two days before now, in order."""
    ahead_s = _offset_s(now_s, zone) if place is None else place.lon_deg / 360.0 * _DAY_S
    today = math.floor((now_s + ahead_s) / _DAY_S)
    found = []
    for day in range(today - 2, today + MOST_DAYS + 2):
        dawn_s, warmest_s = _on_the_clock(day, zone) if place is None else _by_the_sun(day, place)
        found += [(_full(dawn_s), True), (_full(warmest_s), False)]
    return found


def _full(time_s: float) -> float:
    """Return the nearest full hour, so that the hours hold the extremes themselves."""
    return float(round(time_s / HOUR_S) * HOUR_S)


def _on_the_clock(day: int, zone: tzinfo) -> tuple[float, float]:
    """Return dawn and warmest hour of a day, UTC seconds, by the zone's clock on that day."""
    midnight = datetime.fromtimestamp(day * _DAY_S, UTC).replace(tzinfo=zone)
    dawn, warmest = (midnight.replace(hour=hour) for hour in (_DAWN_H, _WARMEST_H))
    return dawn.timestamp(), warmest.timestamp()


def _by_the_sun(day: int, place: Place) -> tuple[float, float]:
    """Return dawn and warmest hour of a day, UTC seconds, by the sun."""
    # Declination after Cooper (1969); good to a few minutes of sunrise, we need an hour.
    of_year = (datetime.fromtimestamp(day * _DAY_S, UTC).timetuple().tm_yday + 284.0) / 365.0
    declination = math.radians(23.45 * math.sin(2.0 * math.pi * of_year))
    cosine = -math.tan(math.radians(place.lat_deg)) * math.tan(declination)
    half_day_h = math.degrees(math.acos(min(max(cosine, -1.0), 1.0))) / 15.0
    dawn_h = min(max(12.0 - half_day_h, _EARLIEST_DAWN_H), _LATEST_DAWN_H)
    midnight_s = day * _DAY_S - place.lon_deg / 360.0 * _DAY_S
    warmest_h = 12.0 + _WARMEST_AFTER_NOON_H
    return midnight_s + dawn_h * HOUR_S, midnight_s + warmest_h * HOUR_S


def _offset_s(now_s: float, zone: tzinfo) -> float:
    offset = datetime.fromtimestamp(now_s, zone).utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def _somewhere(now_s: float, zone: tzinfo) -> Place:
    """Return a stand-in for an unset place: middle latitude, longitude of the zone's clock."""
    return Place(45.0, max(-180.0, min(180.0, _offset_s(now_s, zone) / 240.0)))


# --- the course -----------------------------------------------------------------------------


def _course(knots: list[_Knot], hours: FloatArray) -> FloatArray:
    """Return air temperature [n]: half-cosines from extreme to extreme."""
    times = np.array([knot.time_s for knot in knots])
    values = np.array([knot.air_temp_c for knot in knots])
    left = np.clip(np.searchsorted(times, hours, side="right") - 1, 0, len(knots) - 2)
    share = np.clip((hours - times[left]) / (times[left + 1] - times[left]), 0.0, 1.0)
    way = (1.0 - np.cos(np.pi * share)) / 2.0
    return np.asarray(values[left] + way * (values[left + 1] - values[left]))


def _joined_to_now(
    air: FloatArray, knots: list[_Knot], hours: FloatArray, typed: TypedForecast, now_s: float
) -> FloatArray:
    """Bend the course to the temperature now; the bend is gone at the next extreme."""
    if typed.air_temp_now_c is None:
        return air
    drawn_c = float(_course(knots, np.array([now_s]))[0])
    next_s = next(knot.time_s for knot in knots if knot.time_s > now_s)
    left = np.clip((next_s - hours) / (next_s - now_s), 0.0, 1.0)
    return air + left * (typed.air_temp_now_c - drawn_c)


def _dew(typed: TypedForecast, air: FloatArray) -> tuple[FloatArray, str]:
    """Return dew point [n] and how it was had; never above the air."""
    if typed.dew_point_c is not None:
        dew_c, how = typed.dew_point_c, "as typed"
    else:
        at_high = typed.rh_at == "high"
        # Day by day the highest or lowest decides; the dampest of them is the careful one.
        temps = typed.highs_c if at_high else typed.lows_c
        rh = typed.rh_pct if typed.rh_pct is not None else 100.0
        dew_c = max(float(moist_air.dew_point_c(t, rh)) for t in temps)
        how = f"from {rh:g} % at the {'warmest' if at_high else 'coldest'} hour"
    note = f"Dew point {dew_c:.1f} °C all through, {how}"
    if dew_c > float(air.min()):
        return np.minimum(air, dew_c), f"{note}; where the air is colder it is saturated."
    return np.full(len(air), dew_c), f"{note}."


def _steady(typed: TypedForecast, n: int) -> dict[str, FloatArray]:
    """Return wind, cloud and rain, the same at every hour, where they were told."""
    told = {
        "wind_m_s": _by_word("wind", typed.wind, WIND_M_S, RANGES["wind_m_s"]),
        "cloud_pct": _by_word("cloud", typed.cloud, CLOUD_PCT, (0.0, 100.0)),
        "rain_mm": 0.0 if typed.dry else None,
    }
    return {name: np.full(n, value) for name, value in told.items() if value is not None}


def _shape_notes(
    typed: TypedForecast, place: Place | None, knots: list[_Knot], now_s: float, zone: tzinfo
) -> tuple[str, ...]:
    coldest, warmest = (
        f"{datetime.fromtimestamp(knot.time_s, zone):%H:%M}" for knot in (knots[2], knots[1])
    )
    shape = (
        f"Typed, not a service's forecast: coldest at dawn (about {coldest}), warmest in "
        f"mid-afternoon (about {warmest}), a smooth course between; assumed."
    )
    notes = [shape]
    if place is None:
        notes.append("No place is set: dawn is taken as 06:00.")
    if typed.air_temp_now_c is None and typed.high_today_c is None:
        notes.append("Until the first low the day is taken to have been as warm as the next one.")
    if typed.wind is not None or typed.cloud is not None:
        notes.append("Wind and cloud as typed, the same at every hour.")
    return tuple(notes)


# --- checks ---------------------------------------------------------------------------------


def _check_extremes(lows_c: tuple[float, ...], highs_c: tuple[float, ...]) -> None:
    count = f"{len(lows_c)} lows, {len(highs_c)} highs"
    accepted = f"1 to {MOST_DAYS} of each, or one low more than highs"
    if not 1 <= len(highs_c) <= len(lows_c) <= min(len(highs_c) + 1, MOST_DAYS):
        raise RangeError("lows and highs", count, accepted)
    for name, values in (("low", lows_c), ("high", highs_c)):
        for i, value in enumerate(values):
            _check_between(f"{name} {i + 1}", value, RANGES["air_temp_c"])
    for i, (low, high) in enumerate(zip(lows_c, highs_c, strict=False)):
        if low > high:
            raise RangeError(f"low {i + 1}", f"{low:g}", f"at most the high after it, {high:g}")


def _check_between(name: str, value: float | None, limits: tuple[float, float]) -> None:
    low, high = limits
    if value is not None and not low <= value <= high:  # NaN fails too
        raise RangeError(name, f"{value:g}", f"{low:g} to {high:g}")


def _by_word(
    name: str,
    told: str | float | None,
    words: Mapping[str, float],
    limits: tuple[float, float],
) -> float | None:
    """Return the number a word or number stands for."""
    if told is None or not isinstance(told, str):
        _check_between(name, told, limits)
        return told
    found = words.get(told.strip().lower())
    if found is None:
        raise RangeError(name, repr(told), f"{', '.join(words)}, or a number")
    return found
