"""When the crew is there: working hours by weekday, in local time, on the UTC grid."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.series import Series

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
ACCEPTED = (
    'hours such as "08:00-18:00", "mon-fri 17:00-21:00, sat 08:00-18:00" or '
    '"mon-fri 08:00-12:00, mon-fri 13:00-17:00"'
)
_PART = re.compile(
    r"^(?:(?P<first>[a-z]{3})(?:-(?P<last>[a-z]{3}))?\s+)?"
    r"(?P<from>\d{1,2}:\d{2})-(?P<to>\d{1,2}:\d{2})$"
)


@dataclass(frozen=True)
class WorkingHours:
    """Spans of each weekday (Monday is 0) in minutes of the local day; none is a day off."""

    days: tuple[tuple[tuple[int, int], ...], ...]
    text: str = ""

    def mask(self, series: Series, zone: ZoneInfo) -> NDArray[np.bool_]:
        """Return true for grid points [n] inside a working day, ends included."""
        inside = np.zeros(len(series), dtype=bool)
        if len(series) == 0:
            return inside
        day = datetime.fromtimestamp(series.start_s, zone).date() - timedelta(days=1)
        last = datetime.fromtimestamp(series.end_s, zone).date()
        while day <= last:
            self._mark(inside, series, day, zone)
            day += timedelta(days=1)
        return inside

    def _mark(self, inside: NDArray[np.bool_], series: Series, day: date, zone: ZoneInfo) -> None:
        for span in self.days[day.weekday()]:
            low, high = (series.index_of(_utc_s(day, minute, zone)) for minute in span)
            inside[max(0, int(np.ceil(low))) : max(0, int(np.floor(high)) + 1)] = True


def parse_hours(text: str) -> WorkingHours:
    """Read working hours; RangeError names what was found and what is accepted.

    A day may have several spans. Hours without a day are those of every day not named.
    """
    named: list[list[tuple[int, int]]] = [[] for _ in DAYS]
    usual: list[tuple[int, int]] = []
    for part in text.lower().split(","):
        match = _PART.match(part.strip())
        if match is None:
            raise RangeError("working hours", repr(part.strip()), ACCEPTED)
        span = (_minutes(match["from"], text), _minutes(match["to"], text))
        if span[0] >= span[1]:
            raise RangeError("working hours", repr(part.strip()), "an end after the start")
        if match["first"] is None:
            usual.append(span)
            continue
        for day in _days(match["first"], match["last"]):
            named[day].append(span)
    return WorkingHours(tuple(tuple(sorted(set(spans or usual))) for spans in named), text)


def _days(first: str, last: str | None) -> list[int]:
    for name in (first, last or first):
        if name not in DAYS:
            raise RangeError("working hours", repr(name), ", ".join(DAYS))
    low, high = DAYS.index(first), DAYS.index(last or first)
    return [day % 7 for day in range(low, high + 1 if high >= low else high + 8)]


def _minutes(clock: str, text: str) -> int:
    hour, minute = (int(part) for part in clock.split(":"))
    if hour > 24 or minute > 59 or hour * 60 + minute > 24 * 60:
        raise RangeError("working hours", repr(clock), "a time from 00:00 to 24:00")
    return hour * 60 + minute


def _utc_s(day: date, minute: int, zone: ZoneInfo) -> float:
    midnight_next = minute == 24 * 60
    clock = time(0) if midnight_next else time(minute // 60, minute % 60)
    day = day + timedelta(days=1) if midnight_next else day
    return datetime.combine(day, clock, zone).timestamp()
