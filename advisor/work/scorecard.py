"""What the shop was said to do each night against what it did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from advisor.base import units as u
from advisor.base.units import Units
from advisor.work.outlook_views import NightScore

FloatArray = NDArray[np.float64]
#: A night is told at 18:00 and lasts to 10:00 local: cold surfaces lag to mid-morning.
TOLD_AT, OVER_AT = time(18), time(10)
#: What was said longer ago than this before the evening is not what one went by.
OLDEST_S = 24 * 3600
#: A longer gap in the log may hide the coldest hour: the night is not scored.
LONGEST_GAP_S = 2 * 3600


@dataclass(frozen=True, eq=False)
class Said:
    """A course said at `issued_s` (UTC seconds): °C [n] at `time_s` [n], rising."""

    issued_s: float
    time_s: NDArray[np.int64]
    value_c: FloatArray


@dataclass(frozen=True)
class Scorecard:
    """Scored nights, oldest first; errors are said less was, K (NaN without a night).

    `left_out` names every night the log or the archive touches that could not be scored.
    """

    nights: tuple[NightScore, ...]
    mean_error_k: float
    mean_abs_error_k: float
    left_out: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """Return the score in one line."""
        if not self.nights:
            return "No night to score yet: it takes a log and the outlook of the evening before."
        lean = "warm" if self.mean_error_k > 0 else "cold"
        bias = f"{abs(self.mean_error_k):.1f} K too {lean} on average"
        if abs(self.mean_error_k) < 0.05:
            bias = "no lean either way"
        count = len(self.nights)
        nights = "1 night" if count == 1 else f"{count} nights"
        return f"{nights}: {self.mean_abs_error_k:.1f} K off, {bias}"


@dataclass(frozen=True, eq=False)
class Log:
    """A logged course: °C [n] at `time_s` [n] UTC seconds, rising; NaN is no value."""

    time_s: NDArray[np.int64]
    value_c: FloatArray
    what: str = "your shed"


def scorecard(
    said: Sequence[Said], log: Log, zone: ZoneInfo, now_s: float, units: Units = "metric"
) -> Scorecard:
    """Score every night that is over by `now_s`, from what was said by 18:00 that evening."""
    known = ~np.isnan(log.value_c)
    log = Log(log.time_s[known], log.value_c[known], log.what)
    scored: list[NightScore] = []
    left_out: list[str] = []
    for day in _evenings(said, log, zone):
        evening, morning = _span(day, zone)
        if morning > now_s:
            break
        found = _score(said, log, (evening, morning), units)
        if isinstance(found, NightScore):
            scored.append(found)
        else:
            left_out.append(f"night of {day.isoformat()}: {found}")
    errors = np.array([n.said_c - n.was_c for n in scored])
    mean, size = (float(e.mean()) if len(e) else float("nan") for e in (errors, np.abs(errors)))
    return Scorecard(tuple(scored), mean, size, tuple(left_out))


def _evenings(said: Sequence[Said], log: Log, zone: ZoneInfo) -> list[date]:
    """Days of the evenings for which there is both a log and something said."""
    if len(log.time_s) == 0 or not said:
        return []
    first = max(float(log.time_s[0]), min(s.issued_s for s in said))
    last = min(float(log.time_s[-1]), max(float(s.time_s[-1]) for s in said if len(s.time_s)))
    day = datetime.fromtimestamp(first, zone).date() - timedelta(days=1)
    days = []
    while _span(day, zone)[0] < last:
        if _span(day, zone)[1] > first:
            days.append(day)
        day += timedelta(days=1)
    return days


def _span(day: date, zone: ZoneInfo) -> tuple[float, float]:
    """UTC seconds of 18:00 and of 10:00 the morning after, local time."""
    evening = datetime.combine(day, TOLD_AT, zone).timestamp()
    return evening, datetime.combine(day + timedelta(days=1), OVER_AT, zone).timestamp()


def _score(
    said: Sequence[Said], log: Log, night: tuple[float, float], units: Units
) -> NightScore | str:
    """Score one night, or say why not."""
    told = [s for s in said if night[0] - OLDEST_S <= s.issued_s <= night[0]]
    if not told:
        return "nothing was said in the day before"
    was = _lowest(log.time_s, log.value_c, night)
    if was is None:
        return "the log has a gap"
    course = max(told, key=lambda s: s.issued_s)
    known = ~np.isnan(course.value_c)
    lowest = _lowest(course.time_s[known], course.value_c[known], night)
    if lowest is None:
        return "what was said does not last the night"
    at_s, was_c = was
    said_text, was_text = (u.format_temperature(c, units) for c in (lowest[1], was_c))
    return NightScore(
        at_s, lowest[1], was_c, f"said {said_text} at dawn, {log.what} did {was_text}"
    )


def _lowest(
    time_s: NDArray[np.int64], value_c: FloatArray, night: tuple[float, float]
) -> tuple[int, float] | None:
    """Time and value of the coldest moment; None where a gap may hide it.

    Courses are joined by straight lines, whose lowest point is a stamp or an end of the night.
    """
    low, high = night
    inside = (time_s > low) & (time_s < high)
    around = np.concatenate(([low], time_s[inside], [high]))
    if len(time_s) == 0 or not _spans(time_s, night):
        return None
    values = np.interp(around, time_s, value_c)
    k = int(np.argmin(values))
    return int(around[k]), float(values[k])


def _spans(time_s: NDArray[np.int64], night: tuple[float, float]) -> bool:
    """Whether stamps reach from before the evening to after the morning without a long gap.

    Half a gap is let pass at the ends: a log read every hour need not stamp 18:00.
    """
    half = LONGEST_GAP_S / 2
    near = time_s[(time_s >= night[0] - half) & (time_s <= night[1] + half)]
    if len(near) == 0 or near[0] > night[0] + half or near[-1] < night[1] - half:
        return False
    return bool((np.diff(near) <= LONGEST_GAP_S).all())
