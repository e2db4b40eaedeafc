"""Wall clock to UTC in a zone: the repeated hour, the missing hour, fixed shifts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np

from advisor.base.errors import InputError
from advisor.climate.logs.stamps import DAY_S, BoolArray
from advisor.climate.readings import IntArray

_FIXED = re.compile(r"(?:utc|gmt)?\s*([+\-−])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)


@dataclass(frozen=True)
class Switch:
    """A change of offset: the UTC second it happens at, seconds east before and after."""

    at_s: int
    before_s: int
    after_s: int


@dataclass(frozen=True, eq=False)
class InUtc:
    """UTC seconds [n], rows in the repeated hour, rows in the hour that does not exist."""

    time_s: IntArray
    repeated: BoolArray
    missing: BoolArray
    notes: tuple[str, ...]


def zone_of(name: str) -> tzinfo:
    """Return the zone of an IANA name or a fixed offset such as `+01:00`; InputError if unknown."""
    text = name.strip()
    if text.upper() in {"UTC", "Z", "GMT"}:
        return UTC
    fixed = _FIXED.fullmatch(text)
    if fixed is not None and int(fixed[2]) <= 14:
        minutes = int(fixed[2]) * 60 + int(fixed[3] or 0)
        return timezone(timedelta(minutes=minutes if fixed[1] == "+" else -minutes))
    try:
        return ZoneInfo(text)
    except (KeyError, ValueError, OSError) as error:
        raise InputError(
            f"time zone: found {name!r}; accepted: an IANA name such as Europe/Dublin, "
            "a fixed offset such as +01:00, or UTC"
        ) from error


def switches(zone: tzinfo, first_s: int, last_s: int) -> list[Switch]:
    """Find every change of offset between two UTC seconds, to the second."""
    found = []
    low, before = first_s, _offset_at(zone, first_s)
    while low < last_s:
        high = min(low + 7 * DAY_S, last_s)
        after = _offset_at(zone, high)
        if after != before:
            found.append(_bisect(zone, low, high, before))
            high, after = found[-1].at_s, found[-1].after_s
        low, before = high, after
    return found


def _bisect(zone: tzinfo, low: int, high: int, before: int) -> Switch:
    while high - low > 1:
        middle = (low + high) // 2
        if _offset_at(zone, middle) == before:
            low = middle
        else:
            high = middle
    return Switch(high, before, _offset_at(zone, high))


def _offset_at(zone: tzinfo, time_s: int) -> int:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=time_s)
    offset = moment.astimezone(zone).utcoffset()
    return int(offset.total_seconds()) if offset is not None else 0


def to_utc(wall_s: IntArray, zone: tzinfo, usual_step_s: float) -> InUtc:
    """Convert wall seconds in the order of the log (oldest first) to UTC.

    The repeated hour is told apart by order: until the clock steps back it is the first pass.
    Rows in the hour that does not exist are marked `missing`; their time is not to be used.
    """
    none = np.zeros(len(wall_s), np.bool_)
    if not len(wall_s):
        return InUtc(wall_s, none, none, ())
    low, high = int(wall_s.min()) - 2 * DAY_S, int(wall_s.max()) + 2 * DAY_S
    found = switches(zone, low, high)
    offsets = np.array([_offset_at(zone, low), *(s.after_s for s in found)], np.int64)
    bounds = np.array([s.at_s + max(s.before_s, s.after_s) for s in found], np.int64)
    time_s = wall_s - offsets[np.searchsorted(bounds, wall_s, side="right")]
    repeated, missing = none.copy(), none.copy()
    notes: list[str] = []
    for switch in found:
        if switch.after_s > switch.before_s:
            gap = (wall_s >= switch.at_s + switch.before_s) & (
                wall_s < switch.at_s + switch.after_s
            )
            missing |= gap
        else:
            notes += _settle(wall_s, time_s, repeated, switch, usual_step_s)
    return InUtc(time_s, repeated, missing, tuple(notes))


def _settle(
    wall_s: IntArray, time_s: IntArray, repeated: BoolArray, switch: Switch, step_s: float
) -> list[str]:
    """Give the rows of one repeated hour their offset by order; returns what to tell."""
    start, end = switch.at_s + switch.after_s, switch.at_s + switch.before_s
    rows = np.flatnonzero((wall_s >= start) & (wall_s < end))
    if not len(rows):
        return []
    repeated[rows] = True
    previous = np.where(rows > 0, wall_s[rows - 1], np.iinfo(np.int64).min)
    back = wall_s[rows] < previous
    if step_s >= switch.before_s - switch.after_s:
        back |= wall_s[rows] == previous
    hour = f"{stamp_text(start)[:16]} to {stamp_text(end)[11:16]}"
    if not back.any():
        return [
            f"{hour} comes twice on the clock but once in the log: taken as the first pass; "
            "if the logger never changes its clock, give a fixed offset as time zone"
        ]
    second = rows[np.argmax(back) :]
    time_s[second] = wall_s[second] - switch.after_s
    return [f"{hour} comes twice: told apart by the order of the rows"]


def stamp_text(time_s: int) -> str:
    """Write seconds since 1970 as `YYYY-MM-DD HH:MM:SS`."""
    return str(np.datetime64(int(time_s), "s")).replace("T", " ")
