"""Texts to calendar fields: every date and clock form met in logs, taken column-wise.

Cells are grouped by layout (their text with every digit replaced by 0). One example of each
layout is understood with regular expressions; the fields of the rest are cut at the same places.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.climate.logs.bytecolumn import ByteColumn
from advisor.climate.logs.words import fold, month_of
from advisor.climate.readings import FloatArray, IntArray

DateOrder = Literal["dmy", "mdy"]
BoolArray = NDArray[np.bool_]
FieldArray = NDArray[np.int32]
DAY_S = 86_400

#: Field columns of `Stamps.fields`.
YEAR, FIRST, SECOND, HOUR, MINUTE, SEC = range(6)
#: Styles of a stamp.
BAD, YEAR_FIRST, SLASHED, DOTTED, NAMED, CLOCK_ONLY = range(6)

_CLOCK = (
    r"(?P<h>\d{1,2})(?:[:.hH](?P<mi>\d{2})(?:[:.m](?P<s>\d{2})(?:[.,:]\d{1,9})?)?[ms]?|\s?[hH]\b"
    r"|(?P<mi2>\d{2})(?P<s2>\d{2})?|(?=\s*[aApP]\.?\s?[mM]))"
)
_AMPM = r"(?:\s*(?P<ap>[aApP])\.?\s?[mM]\.?)?"
_ZONE = (
    r"(?:\s*(?P<z>Z|z|UTC|GMT|CEST|CET|MESZ|MEZ)?(?P<off>[+\-−]\d{2}:?\d{2}|[+\-−]\d{1,2})?"
    r"(?:\s*\[[\w/+\-]+\])?)"
)
_DATES = (
    r"(?P<y>\d{4})\s?[-/.年_]\s?(?P<mo>\d{1,2})\s?[-/.月_]\s?(?P<d>\d{1,2})日?",
    r"(?P<y>(?:19|20)\d\d)(?P<mo>\d\d)(?P<d>\d\d)",
    r"(?P<a>\d{1,2})(?P<sep>[-/. ])\s?(?P<b>\d{1,2})(?P=sep)\s?(?P<y>\d{4}|['’]?\d{2})\.?",
    r"(?P<d>\d{1,2})(?:st|nd|rd|th)?[-. /]*(?P<mon>[^\W\d_]{3,12})\.?[-. ,/]*(?P<y>\d{4}|\d{2})",
    r"(?P<mon>[^\W\d_]{3,12})\.?[- ]?(?P<d>\d{1,2})(?:st|nd|rd|th)?,?[- /]\s?(?P<y>\d{4})",
    r"(?P<y>\d{4})[- ](?P<mon>[^\W\d_]{3,12})\.?[- ](?P<d>\d{1,2})",
)
_LEAD = r"\s*['\"=]*(?:[^\W\d_]{2,10}\.?,?\s+)?"
_GAP = r"(?:[T ,_;:]+|(?<=日)| at )\s*"
_FORMS = tuple(
    re.compile(f"{_LEAD}{date}(?:{_GAP}{_CLOCK}{_AMPM}{_ZONE})?\\s*['\"]?\\s*") for date in _DATES
)
_CLOCK_FORM = re.compile(
    rf"\s*['\"=]*(?P<h>\d{{1,2}}):(?P<mi>\d{{2}})(?::(?P<s>\d{{2}})(?:[.,]\d+)?)?"
    rf"{_AMPM}{_ZONE}\s*['\"]?\s*"
)
_COMPACT = re.compile(
    r"\s*(?P<y>(?:19|20)\d\d)(?P<mo>\d\d)(?P<d>\d\d)(?P<h>\d\d)(?P<mi>\d\d)(?P<s>\d\d)?\s*"
)
_CLOCK_LOOSE = re.compile(rf"\s*{_CLOCK}{_AMPM}{_ZONE}\s*")
PLAIN_NUMBER = re.compile(r"[+\-]?\d{0,7}(?:[.,]\d+)?")
_TWELVE = re.compile(r"(上午|下午)\s*")
_NAMED_ZONES = MappingProxyType(
    {"z": 0, "utc": 0, "gmt": 0, "cet": 3600, "mez": 3600, "cest": 7200, "mesz": 7200}
)
_ZEROS = MappingProxyType({ord(digit): "0" for digit in "123456789"})
_MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@dataclass(frozen=True, eq=False)
class Stamps:
    """Calendar fields of n texts.

    `fields` [6, n] year, first, second, hour, minute, second. For YEAR_FIRST and NAMED styles
    first is the month and second the day; for SLASHED and DOTTED they are as written.
    `offset_s` [n] seconds east of UTC, NaN where the text has none. `style` [n]; `has_ampm` [n].
    """

    fields: FieldArray
    offset_s: FloatArray
    style: NDArray[np.uint8]
    has_ampm: BoolArray

    def __len__(self) -> int:
        """Return the number of stamps."""
        return int(self.fields.shape[1])


@dataclass(frozen=True)
class _Form:
    """How one layout is cut: spans of numeric fields and what is the same for all its cells."""

    style: int
    spans: tuple[tuple[int, tuple[int, int]], ...]
    fixed: tuple[tuple[int, int], ...]
    half: str
    zone_s: float
    offset_span: tuple[int, int] | None


def understand(text: str) -> _Form | None:
    """Return how a date, date and clock, or clock text is cut; None if it is none of them."""
    for pattern in (*_FORMS, _COMPACT):
        match = pattern.fullmatch(text)
        if match is not None:
            form = _form(match)
            if form is not None:
                return form
    match = _CLOCK_FORM.fullmatch(text)
    return _form(match) if match is not None else None


@lru_cache(maxsize=4096)
def kind_of_text(text: str) -> str:
    """Return `D` date with clock, `d` date, `c` clock, or `` when it is no time."""
    if len(text) < 4 or len(text) > 60 or PLAIN_NUMBER.fullmatch(text):
        return ""
    form = understand(text)
    if form is None or not _plausible(form, text):
        return ""
    if form.style == CLOCK_ONLY:
        return "c"
    return "D" if any(index == HOUR for index, _ in form.spans) else "d"


def _plausible(form: _Form, text: str) -> bool:
    got = {index: _number(text[start:end]) for index, (start, end) in form.spans}
    got |= dict(form.fixed)
    if form.style == CLOCK_ONLY:
        return got[HOUR] <= 24
    first, second = got.get(FIRST, 1), got.get(SECOND, 1)
    if form.style in (YEAR_FIRST, NAMED):
        return 1 <= first <= 12 and 1 <= second <= 31
    return 1 <= min(first, second) <= 12 and max(first, second) <= 31


def _number(text: str) -> int:
    return int("".join(char for char in text if char.isdigit()) or 0)


def _form(match: re.Match[str]) -> _Form | None:
    groups = match.groupdict()
    spans: list[tuple[int, tuple[int, int]]] = []
    fixed: list[tuple[int, int]] = []
    style = CLOCK_ONLY
    if groups.get("a"):
        style = DOTTED if groups["sep"] == "." else SLASHED
        spans += [(FIRST, match.span("a")), (SECOND, match.span("b")), (YEAR, match.span("y"))]
    elif groups.get("mon"):
        month = month_of(groups["mon"])
        if month is None:
            return None
        style = NAMED
        fixed.append((FIRST, month))
        spans += [(SECOND, match.span("d")), (YEAR, match.span("y"))]
    elif groups.get("y"):
        style = YEAR_FIRST
        spans += [(YEAR, match.span("y")), (FIRST, match.span("mo")), (SECOND, match.span("d"))]
    for index, names in ((HOUR, ("h",)), (MINUTE, ("mi", "mi2")), (SEC, ("s", "s2"))):
        for name in names:
            if groups.get(name):
                spans.append((index, match.span(name)))
    zone, offset = _zone(groups, match)
    return _Form(style, tuple(spans), tuple(fixed), (groups.get("ap") or "").lower(), zone, offset)


def _zone(
    groups: dict[str, str | None], match: re.Match[str]
) -> tuple[float, tuple[int, int] | None]:
    named, offset = groups.get("z"), groups.get("off")
    if offset:
        return np.nan, match.span("off")
    return (float(_NAMED_ZONES[named.lower()]) if named else np.nan), None


def parse_stamps(cells: Sequence[str]) -> Stamps:
    """Cut every text into calendar fields; style BAD where it is no time."""
    count = len(cells)
    stamps = Stamps(
        np.zeros((6, count), np.int32),
        np.full(count, np.nan),
        np.zeros(count, np.uint8),
        np.zeros(count, np.bool_),
    )
    if not count or _fill_uniform(stamps, cells):
        return stamps
    groups: dict[str, list[int]] = {}
    for row, layout in enumerate(_layouts(cells)):
        groups.setdefault(layout, []).append(row)
    for rows in groups.values():
        form = understand(cells[rows[0]])
        if form is not None:
            chars = _matrix([cells[row] for row in rows])
            _fill(stamps, np.array(rows), chars, form)
    return stamps


def _layouts(cells: Sequence[str]) -> list[str]:
    layouts = "\n".join(cells).translate(_ZEROS).split("\n")
    if len(layouts) == len(cells):
        return layouts
    return [cell.translate(_ZEROS) for cell in cells]


def _matrix(cells: Sequence[str]) -> NDArray[np.int32]:
    """Characters of texts of one length, [n, width] code points."""
    width = len(cells[0])
    return np.array(cells, dtype=f"U{width}").view(np.int32).reshape(len(cells), width)


def _fill_uniform(stamps: Stamps, cells: Sequence[str]) -> bool:
    """Take the whole column at once when all its texts share one ASCII layout."""
    form = understand(cells[0])
    by_place = _by_place(cells)
    if form is None or by_place is None:
        return False
    digits = np.array([char.isdigit() for char in cells[0]])
    if (by_place[~digits] != by_place[~digits][:, :1]).any():
        return False
    if ((by_place[digits] - np.uint8(48)) > 9).any():
        return False
    _fill(stamps, slice(None), by_place.T, form)
    return True


def _by_place(cells: Sequence[str]) -> NDArray[np.uint8] | None:
    """Bytes of ASCII texts of one width, [width, n]; None where they are not so."""
    if isinstance(cells, ByteColumn):
        same = cells.same_width()
        return cells.characters(same) if same is not None else None
    width = len(cells[0])
    joined = "\n".join(cells)
    if len(joined) != len(cells) * (width + 1) - 1 or not joined.isascii():
        return None
    chars = np.frombuffer(joined.encode() + b"\n", np.uint8).reshape(len(cells), width + 1)
    if (chars[:, -1] != ord("\n")).any():
        return None
    return np.ascontiguousarray(chars[:, :-1].T)


def _fill(stamps: Stamps, rows: slice | IntArray, chars: NDArray[np.integer], form: _Form) -> None:
    for index, (start, end) in form.spans:
        stamps.fields[index, rows] = _digits(chars, start, end)
    for index, value in form.fixed:
        stamps.fields[index, rows] = value
    for index, (start, end) in form.spans:
        if index == YEAR and end - start < 4:
            year = stamps.fields[YEAR, rows]
            stamps.fields[YEAR, rows] = year + np.where(year < 70, 2000, 1900)
    if form.half:
        hour = stamps.fields[HOUR, rows] % 12
        stamps.fields[HOUR, rows] = hour + (12 if form.half == "p" else 0)
        stamps.has_ampm[rows] = True
    if form.offset_span is not None:
        stamps.offset_s[rows] = _offset(chars, *form.offset_span)
    else:
        stamps.offset_s[rows] = form.zone_s
    stamps.style[rows] = form.style


def _digits(chars: NDArray[np.integer], start: int, end: int) -> FieldArray:
    number = np.zeros(chars.shape[0], np.int32)
    for place in range(start, end):
        if 48 <= chars[0, place] <= 57:  # one layout: a colon stands in all cells or none
            number *= np.int32(10)
            number += chars[:, place]
            number -= np.int32(48)
    return number


def _offset(chars: NDArray[np.integer], start: int, end: int) -> FloatArray:
    """Seconds east of UTC from `+hh`, `+hhmm` or `+hh:mm`."""
    sign = np.where(chars[:, start] == ord("+"), 1.0, -1.0)
    number = _digits(chars, start + 1, end)
    if end - start <= 3:
        number = number * 100
    result: FloatArray = sign * ((number // 100) * 3600.0 + (number % 100) * 60.0)
    return result


def join_clock(dates: Stamps, clocks: Stamps) -> Stamps:
    """Put a date column and a clock column together."""
    fields = dates.fields.copy()
    fields[HOUR:] = clocks.fields[HOUR:]
    style = np.where(clocks.style == CLOCK_ONLY, dates.style, BAD).astype(np.uint8)
    return Stamps(fields, clocks.offset_s, style, clocks.has_ampm)


def parse_clocks(cells: Sequence[str]) -> Stamps:
    """Cut clock texts, also forms too loose to tell from a number (`12.30`, `7h`, `930`)."""
    return parse_stamps([_clock_text(cell) for cell in cells])


@lru_cache(maxsize=8192)
def _clock_text(cell: str) -> str:
    match = _TWELVE.match(cell)
    if match is not None:
        return f"{cell[match.end() :]} {'am' if match[1] == '上午' else 'pm'}"
    if _CLOCK_FORM.fullmatch(cell):
        return cell
    loose = _CLOCK_LOOSE.fullmatch(cell)
    if loose is None:
        return cell
    minute = loose["mi"] or loose["mi2"] or "00"
    half = f" {loose['ap']}m" if loose["ap"] else ""
    return f"{loose['h']}:{minute}:{loose['s'] or loose['s2'] or '00'}{half}"


def civil_seconds(
    year: FieldArray, month: FieldArray, day: FieldArray, fields: FieldArray
) -> tuple[IntArray, BoolArray]:
    """Seconds since 1970 of wall fields and which are real dates (24:00 is the next midnight)."""
    hour, minute, second = fields[HOUR], fields[MINUTE], fields[SEC]
    clock_good = (hour < 24) | ((hour == 24) & (minute == 0) & (second == 0))
    clock_good &= (minute < 60) & (second <= 60)
    clock = hour * 3600 + minute * 60 + second
    # Rows of one day stand together, so the calendar is worked out once a run.
    key = (year * 16 + month) * 32 + day
    starts = np.flatnonzero(np.concatenate(([True], key[1:] != key[:-1])))
    if not len(key):
        return key.astype(np.int64), clock_good
    days, real = _civil_days(year[starts], month[starts], day[starts])
    if len(starts) > len(key) // 2:
        days, real = _civil_days(year, month, day)
    else:
        runs = np.diff(np.concatenate((starts, [len(key)])))
        days, real = np.repeat(days, runs), np.repeat(real, runs)
    return days * DAY_S + clock, real & clock_good


def _civil_days(year: FieldArray, month: FieldArray, day: FieldArray) -> tuple[IntArray, BoolArray]:
    """Days since 1970 and which are real dates."""
    leap = ((year % 4 == 0) & (year % 100 != 0)) | (year % 400 == 0)
    in_year = (month >= 1) & (month <= 12)
    length = _MONTH_DAYS[np.where(in_year, month, 1) - 1] + (leap & (month == 2))
    valid = in_year & (day >= 1) & (day <= length) & (year >= 1900) & (year < 2200)
    # Count years from March, so that the leap day comes last.
    shifted = year - (month <= 2)
    of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    days = shifted * 365 + shifted // 4 - shifted // 100 + shifted // 400 + of_year - 719_468
    return days.astype(np.int64), valid


def wall_seconds(stamps: Stamps, order: DateOrder) -> tuple[IntArray, BoolArray]:
    """Wall clock seconds since 1970 and validity, reading slashed dates in the given order."""
    fields = stamps.fields
    month, day = fields[FIRST], fields[SECOND]
    day_first = stamps.style == DOTTED
    if order == "dmy":
        day_first = day_first | (stamps.style == SLASHED)
    if day_first.any():
        month, day = np.where(day_first, day, month), np.where(day_first, month, day)
    seconds, valid = civil_seconds(fields[YEAR], month, day, fields)
    return seconds, valid & (stamps.style != BAD) & (stamps.style != CLOCK_ONLY)


def fold_month_texts(cells: Sequence[str]) -> list[str]:
    """Return month cells as numbers in text; names become 1–12."""
    return [str(month_of(cell) or fold(cell)) for cell in cells]
