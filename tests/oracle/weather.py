"""Invented weather on the five-minute grid: days, nights, fronts, showers, gusts and holes."""

import math
from dataclasses import dataclass
from random import Random

from tests.oracle.plain_types import PlainSeries

POINTS_PER_DAY = 288


@dataclass
class Weather:
    """What the days are like, before they become lists."""

    days: int = 4
    first_hour: int = 0
    base_c: float = 19.0
    swing_k: float = 2.0
    dew_c: float = 9.0
    dew_swing_k: float = 1.0
    lag_points: int = 18
    surface_offset_k: float = 0.0
    night_sky_k: float = 0.0
    hot_offset_k: float = 1.0
    front_k: float = 0.0
    dew_front_k: float = 0.0
    wind_m_s: float = 2.0
    rain_share: float = 0.0
    holes: int = 0
    hole_columns: tuple = ("air", "dew", "surface", "surface_hot", "wind", "rain")
    decimals: int = 1
    steps: bool = False
    hot_spell_points: int = 0
    dips: bool = False
    sun_over: float | None = None


def calm_weather(rng):
    """Mild, dry days."""
    return Weather(
        days=rng.choice([2, 2, 3, 3, 4, 5, 6]),
        first_hour=rng.randrange(24),
        base_c=rng.choice([16.0, 18.0, 19.0, 20.0, 21.0, 22.0]),
        swing_k=rng.choice([0.0, 1.0, 2.0, 3.0]),
        dew_c=rng.choice([5.0, 7.0, 9.0]),
        dew_swing_k=rng.choice([0.0, 0.5, 1.0]),
        lag_points=rng.choice([1, 12, 24, 48]),
        hot_offset_k=rng.choice([0.0, 0.0, 1.0, 3.0]),
        front_k=rng.choice([0.0, 0.0, -2.0, 2.0]),
        wind_m_s=rng.choice([1.0, 2.0, 3.0]),
        decimals=rng.choice([0, 1, 1, 2]),
        steps=rng.random() < 0.15,
        holes=rng.choice([0, 0, 1]),
    )


def build_series(weather, rng):
    """Lists on the five-minute grid."""
    noise = Random(rng.randrange(2**31))
    count = weather.days * POINTS_PER_DAY + noise.randrange(-30, 30)
    front = noise.randrange(count)
    air, dew = [], []
    for k in range(count):
        sun = daily(weather, k)
        passed = 1.0 / (1.0 + math.exp(-(k - front) / 12.0)) if abs(k - front) < 600 else k > front
        value = weather.base_c + weather.swing_k * sun + weather.front_k * passed
        air.append(rounded(weather, value + noise.gauss(0, 0.05)))
        value = weather.dew_c + weather.dew_swing_k * math.sin(k / 97.0 + 1.0)
        value = value + weather.dew_front_k * passed + noise.gauss(0, 0.05)
        dew.append(rounded(weather, min(value, air[-1])))
    surface = surface_behind(weather, air)
    for k in range(20, count if weather.dips else 0, 150):
        surface[k] -= 5.0
    series = with_derived(air, dew, surface, weather.hot_offset_k, weather.decimals)
    series.wind = wind_list(weather, count, noise)
    series.rain = rain_list(weather, count, noise)
    series.sun = sun_list(weather, count)
    hot_spells(series, weather)
    punch_holes(series, weather, noise)
    return series


def hot_spells(series, weather):
    """Sun on the hottest spot twice a day, for just about an hour."""
    for first in range(30, len(series.surface_hot), 144):
        for k in range(first, min(first + weather.hot_spell_points, len(series.surface_hot))):
            series.surface_hot[k] += 8.0


def daily(weather, k):
    """The day's course from -1 (before dawn) to 1 (afternoon)."""
    hour = weather.first_hour + k / 12.0
    sun = math.sin((hour - 9.0) / 24.0 * 2.0 * math.pi)
    return (1.0 if sun > 0 else -1.0) if weather.steps else sun


def rounded(weather, value):
    """To the decimals of the logger; 0 stands for halves."""
    return round(value * 2.0) / 2.0 if weather.decimals == 0 else round(value, weather.decimals)


def surface_behind(weather, air):
    """The surface follows the air slowly, and cools under a clear sky at night."""
    surface, now = [], air[0]
    for k, value in enumerate(air):
        now = now + (value - now) / weather.lag_points
        night = max(0.0, -daily(weather, k)) * weather.night_sky_k
        surface.append(rounded(weather, now + weather.surface_offset_k - night))
    return surface


def magnus_hpa(temp_c):
    """Saturation over water, near enough for invented weather."""
    return 6.112 * math.exp(17.62 * temp_c / (243.12 + temp_c))


def with_derived(air, dew, surface, hot_offset_k, decimals=2):
    """Humidity and margin to go with the temperatures; rounding puts many on a limit."""
    rh = [
        min(100.0, round(100.0 * magnus_hpa(d) / magnus_hpa(a), decimals))
        for a, d in zip(air, dew, strict=True)
    ]
    wet = [d if d >= 0 else 0.89 * d for d in dew]
    margin = [round(s - w, 3) for s, w in zip(surface, wet, strict=True)]
    hot = [s + hot_offset_k for s in surface]
    blank = [math.nan] * len(air)
    return PlainSeries(air, dew, rh, margin, surface, hot, blank)


def wind_list(weather, count, noise):
    """Gusts that come and go, in half metres per second."""
    phase = noise.random() * 6.0
    values = (
        weather.wind_m_s * (1.0 + 0.6 * math.sin(k / 70.0 + phase)) + noise.gauss(0, 0.2)
        for k in range(count)
    )
    return [max(0.0, round(value * 2.0) / 2.0) for value in values]


def rain_list(weather, count, noise):
    """Dry spells and showers; half a tip lies exactly on the limit."""
    rain, left, wet = [], 0, False
    for _ in range(count):
        if left == 0:
            wet = noise.random() < weather.rain_share
            left = noise.randrange(2, 12) if wet else noise.randrange(20, 90)
        left -= 1
        rain.append(noise.choice([0.1, 0.2, 0.4]) if wet else noise.choice([0.0, 0.0, 0.05]))
    return rain


def sun_list(weather, count):
    """Sun on the patch while it stands high enough; None where nobody can tell."""
    if weather.sun_over is None:
        return None
    return [float(daily(weather, k) > weather.sun_over) for k in range(count)]


def punch_holes(series, weather, noise):
    """Take stretches out of single columns; humidity and margin go with what they rest on."""
    for _ in range(weather.holes):
        column = noise.choice(weather.hole_columns)
        values = getattr(series, column) or [0.0]
        first = noise.randrange(len(values))
        for k in range(first, min(len(values), first + noise.choice([1, 3, 12, 50]))):
            values[k] = math.nan
            if column in ("air", "dew"):
                series.rh[k] = math.nan
            if column in ("dew", "surface"):
                series.margin[k] = math.nan
