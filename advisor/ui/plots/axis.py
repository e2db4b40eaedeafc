"""The time axis: seconds to pixels and back, days of a zone, zooming about a point."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

#: Shortest and longest stretch shown, seconds.
CLOSEST_S, FURTHEST_S = 6 * 3600.0, 16 * 86400.0


@dataclass(frozen=True)
class Axis:
    """`first_s`..`last_s` (UTC seconds) lie over `left`..`right` (px)."""

    first_s: float
    last_s: float
    left: float = 0.0
    right: float = 1.0

    def x(self, at_s: float) -> float:
        """Pixel of a moment."""
        share = (at_s - self.first_s) / (self.last_s - self.first_s)
        return self.left + share * (self.right - self.left)

    def at(self, x: float) -> float:
        """Moment of a pixel, UTC seconds."""
        share = (x - self.left) / max(1.0, self.right - self.left)
        return self.first_s + share * (self.last_s - self.first_s)

    def zoomed(self, factor: float, about_s: float) -> Axis:
        """Closer for a factor under 1; the moment `about_s` stays where it is."""
        span = self.last_s - self.first_s
        wanted = min(max(span * factor, CLOSEST_S), FURTHEST_S)
        share = (about_s - self.first_s) / span
        first = about_s - share * wanted
        return Axis(first, first + wanted, self.left, self.right)

    def moved(self, by_s: float) -> Axis:
        """Shift in time."""
        return Axis(self.first_s + by_s, self.last_s + by_s, self.left, self.right)

    def showing(self, at_s: float) -> Axis:
        """Shift just so far that a moment is on show."""
        if at_s < self.first_s:
            return self.moved(at_s - self.first_s)
        return self.moved(at_s - self.last_s) if at_s > self.last_s else self


@dataclass(frozen=True)
class Day:
    """A calendar day of the zone: midnight in UTC seconds, its name, how firm its words are."""

    start_s: float
    end_s: float
    name: str
    strength: str


def days_between(first_s: float, last_s: float, now_s: float, zone: ZoneInfo) -> list[Day]:
    """Days touching a stretch; today and tomorrow are firm, then likely, then outlook."""
    today = datetime.fromtimestamp(now_s, zone).date()
    day = datetime.fromtimestamp(first_s, zone).date()
    found = []
    while (start := _midnight(day, zone)) <= last_s:
        ahead = (day - today).days
        strength = "" if ahead < 2 else "likely" if ahead == 2 else "outlook"
        name = f"{day.strftime('%a')} {day.day}"
        found.append(Day(start, _midnight(day + timedelta(days=1), zone), name, strength))
        day += timedelta(days=1)
    return found


def _midnight(day: object, zone: ZoneInfo) -> float:
    date = datetime.fromisoformat(str(day))
    return date.replace(tzinfo=zone).timestamp()


def first_midnight(now_s: float, zone: ZoneInfo) -> float:
    """Midnight at the start of today, UTC seconds."""
    return _midnight(datetime.fromtimestamp(now_s, zone).date(), zone)
