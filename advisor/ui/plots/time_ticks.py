"""Round moments of a time axis from minutes to years, in the reader's zone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

_DAY_S = 86400.0
#: Steps in minutes, days and months; the smallest that leaves room for its words is taken.
_MINUTES = (5, 10, 30, 60, 180, 360, 720)
_DAYS = (1, 2, 7, 14)
_MONTHS = (1, 3, 6, 12, 24, 60, 120)


@dataclass(frozen=True)
class Tick:
    """A moment (UTC seconds) and its words; `strong` begins a day, a month or a year."""

    at_s: float
    words: str
    strong: bool = False


def ticks(first_s: float, last_s: float, zone: ZoneInfo, most: int) -> list[Tick]:
    """Return at most about `most` round moments of a stretch, oldest first."""
    span, most = last_s - first_s, max(1, most)
    for minutes in _MINUTES:
        if span / (minutes * 60) <= most:
            return _clip(_hours(first_s, last_s, zone, minutes), first_s, last_s)
    for days in _DAYS:
        if span / (days * _DAY_S) <= most:
            return _clip(_days(first_s, last_s, zone, days), first_s, last_s)
    months = next((m for m in _MONTHS if span / (m * 30.4 * _DAY_S) <= most), _MONTHS[-1])
    return _clip(_months(first_s, last_s, zone, months), first_s, last_s)


def _clip(found: Iterator[Tick], first_s: float, last_s: float) -> list[Tick]:
    return [tick for tick in found if first_s <= tick.at_s <= last_s]


def _day_of(at_s: float, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(at_s, zone).date()


def _moment(day: date, zone: ZoneInfo, minutes: int = 0) -> float:
    clock = divmod(minutes, 60)
    return datetime(day.year, day.month, day.day, *clock, tzinfo=zone).timestamp()


def _hours(first_s: float, last_s: float, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    day = _day_of(first_s, zone)
    while _moment(day, zone) <= last_s:
        yield Tick(_moment(day, zone), f"{day.strftime('%a')} {day.day}", strong=True)
        for minutes in range(step, 24 * 60, step):
            yield Tick(_moment(day, zone, minutes), f"{minutes // 60:02d}:{minutes % 60:02d}")
        day += timedelta(days=1)


def _days(first_s: float, last_s: float, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    day = _day_of(first_s, zone)
    day -= timedelta(days=day.toordinal() % step)
    named = last_s - first_s < 10 * _DAY_S
    while _moment(day, zone) <= last_s:
        month = day.strftime("%b")
        words = f"{day.strftime('%a')} {day.day}" if named else f"{day.day} {month}"
        yield Tick(_moment(day, zone), words, strong=day.day == 1)
        day += timedelta(days=step)


def _months(first_s: float, last_s: float, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    day = _day_of(first_s, zone)
    number = day.year * 12 + day.month - 1
    number -= number % step
    while True:
        day = date(number // 12, number % 12 + 1, 1)
        at_s = _moment(day, zone)
        if at_s > last_s:
            return
        new_year = day.month == 1
        yield Tick(at_s, str(day.year) if new_year else day.strftime("%b"), strong=new_year)
        number += step
