"""The date up to which a tin may be used, as it is written on it."""

from __future__ import annotations

import re
from datetime import date

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def last_day(text: str) -> date | None:
    """Return the last day of an expiry such as 2026-05-31 or 2026-05, None if it is neither."""
    try:
        if len(text) != len("2026-05"):  # weeks and days without dashes are not on a tin
            return date.fromisoformat(text) if _DAY.fullmatch(text) else None
        if not _DAY.fullmatch(f"{text}-01"):
            return None
        first = date.fromisoformat(f"{text}-01")
    except ValueError:
        return None
    month = first.month % 12 + 1
    after = first.replace(year=first.year + (month == 1), month=month)
    return date.fromordinal(after.toordinal() - 1)
