"""How answers are written: JSON for programs, lines for people."""

from __future__ import annotations

import json
import math
from datetime import datetime
from typing import TextIO
from zoneinfo import ZoneInfo

from advisor.planning.verdict import Verdict

#: Rounds away what the last bits of a float say and nobody measured.
DIGITS = 9
#: Verdicts as people read them.
WORDS = ("Go", "Close call", "Can't tell", "Wait")


def write_json(out: TextIO, answer: object) -> None:
    """Write one JSON value and a newline, in ASCII so that any console takes it."""
    out.write(json.dumps(answer, allow_nan=False) + "\n")


def number(value: float | None) -> float | None:
    """Return a number fit for JSON; None for what is not known."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), DIGITS) + 0.0  # no minus in front of a zero


def iso(time_s: float | None, zone: ZoneInfo) -> str | None:
    """ISO 8601 with offset, to the second."""
    return None if time_s is None else datetime.fromtimestamp(round(time_s), zone).isoformat()


def verdict_word(verdict: Verdict, sand_first: bool) -> str:
    """Return the verdict as a person reads it."""
    return "Sand first" if sand_first and verdict is Verdict.WAIT else WORDS[verdict]


def write_list(out: TextIO, head: str, lines: tuple[str, ...]) -> None:
    """Write a heading with its lines under it; nothing for no lines."""
    if lines:
        out.write(f"{head}\n" + "".join(f"  {line}\n" for line in lines))
