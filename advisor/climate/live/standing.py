"""How a sensor stands: live, stale or lost, by the age of its newest value that is not doubted."""

from __future__ import annotations

from types import MappingProxyType

from advisor.climate.live.sensor import Sensor, Standing
from advisor.climate.quality import SPIKE_S
from advisor.climate.readings import DOUBTFUL, Flag

#: Live within this many of its steps, and at least so long; lost after so many (assumptions).
LIVE_STEPS, LIVE_S = 3.0, 90.0
LOST_STEPS, LOST_S = 20.0, 1800.0

DOUBTS = MappingProxyType(
    {
        Flag.UNIT: "reads like °F where °C was said",
        Flag.SPIKE: "jumped: doubted until told for five minutes",
        Flag.STUCK: "has stood still for six hours or more",
        Flag.APART: "does not agree with another sensor there: read by hand which is right",
        Flag.SWAPPED: "temperature and humidity look exchanged",
        Flag.FAULT: "told an impossible value or a fault code",
        Flag.DEW_ABOVE_AIR: "told a dew point above the air temperature",
    }
)


def standing(sensor: Sensor, last_s: float | None, now_s: float) -> Standing:
    """Return how a sensor stands; `last_s` is the time of its newest good value, or None."""
    if not sensor.on:
        return "off"
    if last_s is None:
        return "waiting"
    age = now_s - last_s
    if age <= max(LIVE_STEPS * sensor.step_s, LIVE_S):
        return "live"
    return "stale" if age <= max(LOST_STEPS * sensor.step_s, LOST_S) else "lost"


def lasts_s(sensor: Sensor) -> float:
    """Return for how long what a sensor told can be compared with what another tells, seconds."""
    return max(LIVE_STEPS * sensor.step_s, SPIKE_S)


def doubt_of(flags: int) -> str:
    """Say what is wrong with a row of these flags; empty where nothing is."""
    return "; ".join(words for flag, words in DOUBTS.items() if flags & flag)


def is_good(flags: int) -> bool:
    """Whether a value of a row of these flags may speak for now."""
    return not flags & DOUBTFUL
