"""Moments as people and programs write them: ISO 8601 in, UTC seconds out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from advisor.base.errors import RangeError
from advisor.record.canonical import Json
from advisor.record.kinds import check_moment, kind_of

ACCEPTED = "ISO 8601 with offset, such as 2025-06-01T09:00+02:00"
YEARS = (1970, 2200)
#: A clock may run this much ahead before a moment counts as still to come, s.
AHEAD_S = 120
NOT_YET, UP_TO_NOW = "a time still to come", "now or before"


def refuse_ahead(at_s: float, now_s: float, name: str = "when") -> None:
    """Refuse (RangeError) as having happened what is still to come."""
    if at_s > now_s + AHEAD_S:
        raise RangeError(name, NOT_YET, UP_TO_NOW)


def refuse_moments_ahead(kind: str, data: Mapping[str, Json], now_s: float) -> None:
    """Refuse (RangeError) an entry with a moment in it, such as finished, that is still to come."""
    for field in kind_of(kind).fields:
        value = data.get(field.key)
        if field.type == "moment" and isinstance(value, str) and value:
            check_moment(field.label, value)
            refuse_ahead(datetime.fromisoformat(value).timestamp(), now_s, field.label)


def time_zone(name: str) -> ZoneInfo:
    """Return a zone by IANA name; RangeError for anything else."""
    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError) as error:
        raise RangeError("--time-zone", repr(name), "an IANA name such as Europe/Oslo") from error


def parse_moment(text: str, zone: ZoneInfo | None, name: str) -> float:
    """Return UTC seconds; a time without offset is local to `zone`, a date is its midnight.

    RangeError where there is neither offset nor zone, and for local times that do not exist
    or exist twice when clocks change.
    """
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        raise RangeError(name, repr(text), ACCEPTED) from None
    if not YEARS[0] <= found.year <= YEARS[1]:
        raise RangeError(name, repr(text), f"a year from {YEARS[0]} to {YEARS[1]}")
    return found.timestamp() if found.tzinfo else _local(found, zone, name)


def _local(found: datetime, zone: ZoneInfo | None, name: str) -> float:
    text = found.isoformat(timespec="minutes")
    if zone is None:
        raise RangeError(name, f"{text} without offset", f"{ACCEPTED}, or give --time-zone")
    early, late = (found.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return early.timestamp()
    twice = (late.utcoffset() or timedelta()) < (early.utcoffset() or timedelta())
    what = "there twice" if twice else "not there"
    raise RangeError(name, f"{text}, which is {what} in {zone.key} (clocks change)", ACCEPTED)
