"""The time of each row: date order, half days, epochs, serials, elapsed time, unset clocks."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.base.errors import FileFormatError, InputError
from advisor.climate.logs.header import TimeColumns
from advisor.climate.logs.stamps import (
    DAY_S,
    DOTTED,
    FIRST,
    HOUR,
    SECOND,
    SLASHED,
    BoolArray,
    DateOrder,
    Stamps,
    civil_seconds,
    fold_month_texts,
    join_clock,
    parse_clocks,
    parse_stamps,
    wall_seconds,
)
from advisor.climate.logs.values import to_cells
from advisor.climate.logs.zones import stamp_text
from advisor.climate.readings import FloatArray, IntArray

#: Spreadsheet day 0 (1899-12-30) in days before 1970; the 1904 base starts 1462 days later.
SERIAL_EPOCH_DAYS, SERIAL_1904_DAYS = 25_569, 1_462
#: Where loggers' clocks begin when nobody set them.
_RESETS_S = tuple(
    int(np.datetime64(f"{year}-01-01", "s").astype(np.int64)) for year in (1970, 1980, 2000)
)
_1980_S = _RESETS_S[1] - DAY_S
RESET_DAYS = 60


@dataclass(frozen=True, eq=False)
class Wall:
    """Times as logged: `wall_s` [n] seconds since 1970 on the logger's clock, `offset_s` [n]
    seconds east of UTC (NaN where the file does not tell), `valid` [n]."""

    wall_s: IntArray
    offset_s: FloatArray
    valid: BoolArray


@dataclass(frozen=True)
class TimePlan:
    """How time cells become seconds; decided once for the file."""

    columns: TimeColumns
    order: DateOrder
    number: str
    start_s: int
    half_days: bool
    mapping: tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class Timed:
    """The plan for the time and, made on the way, the times of the block it was made from."""

    plan: TimePlan
    wall: Wall


def stamps_of(plan: TimeColumns, columns: Sequence[Sequence[str]]) -> Stamps:
    """Cut the time columns of a stamp or of date and clock apart."""
    first = columns[plan.indexes[0]]
    if plan.form == "apart":
        return join_clock(parse_stamps(first), parse_clocks(columns[plan.indexes[1]]))
    return parse_stamps(first)


def plan_time(
    columns: TimeColumns,
    cells: Sequence[Sequence[str]],
    metadata: Sequence[str],
    date_order: DateOrder | None,
    file: str,
) -> Timed:
    """Decide date order, half days or the meaning of numbers from the whole file."""
    mapping = [("time", columns.why)]
    order: DateOrder = date_order or "dmy"
    number, start_s, halves = "", 0, False
    stamps: Stamps | None = None
    if columns.form in ("stamp", "apart"):
        stamps = stamps_of(columns, cells)
        order, why = decide_order(stamps, date_order, file)
        mapping.append(("date order", why))
        halves = lacks_half_days(stamps, order)
        if halves:
            mapping.append(
                (
                    "clock",
                    "12-hour clock without am or pm: the second pass of a day is the afternoon",
                )
            )
    elif columns.form == "number":
        name = columns.why.strip("'")
        number, start_s, why = _number_plan(cells[columns.indexes[0]], name, metadata, file)
        mapping[0] = ("time", f"{columns.why}: {why}")
    plan = TimePlan(columns, order, number, start_s, halves, tuple(mapping))
    return Timed(plan, wall_of(plan, cells, stamps))


def wall_of(plan: TimePlan, cells: Sequence[Sequence[str]], stamps: Stamps | None = None) -> Wall:
    """Return the logged time of each row; `stamps` if the cells were cut before."""
    form, indexes = plan.columns.form, plan.columns.indexes
    if form == "parts":
        return _from_parts([cells[index] for index in indexes])
    if form == "number":
        return _from_numbers(cells[indexes[0]], plan)
    stamps = stamps_of(plan.columns, cells) if stamps is None else stamps
    wall_s, valid = wall_seconds(stamps, plan.order)
    if plan.half_days:
        wall_s = add_half_days(wall_s, valid)
    return Wall(wall_s, stamps.offset_s, valid)


def _from_parts(parts: Sequence[Sequence[str]]) -> Wall:
    count = len(parts[0])
    fields = np.zeros((6, count), np.int32)
    good = np.ones(count, np.bool_)
    for place, cells in enumerate(parts):
        texts = fold_month_texts(cells) if place == 1 and not _numeric(cells) else cells
        values = to_cells(texts, ".").values
        whole = np.isfinite(values) & (values == np.floor(values))
        fields[place] = np.where(whole & (np.abs(values) < 1e6), values, 0)
        good &= whole
    year = np.where(fields[0] < 100, fields[0] + 2000, fields[0])
    wall_s, valid = civil_seconds(year, fields[1], fields[2], fields)
    return Wall(wall_s, np.full(count, np.nan), valid & good)


def _numeric(cells: Sequence[str]) -> bool:
    return all(cell.strip().isdigit() for cell in cells[:20])


def _from_numbers(cells: Sequence[str], plan: TimePlan) -> Wall:
    values = to_cells(cells, ".").values
    valid = np.isfinite(values)
    values = np.where(valid, values, 0.0)
    scale = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "d": DAY_S}
    kind, _, unit = plan.number.partition(" ")
    if kind == "serial":
        days = values - SERIAL_EPOCH_DAYS + (SERIAL_1904_DAYS if unit == "1904" else 0)
        seconds = days * DAY_S
    else:
        seconds = plan.start_s + values * scale[unit]
    # Half up, not half to even: 0.5 s rounding must not depend on the neighbour.
    wall_s = np.floor(np.clip(seconds, -1e11, 1e11) + 0.5).astype(np.int64)
    offset = 0.0 if kind == "epoch" else np.nan
    return Wall(wall_s, np.full(len(values), offset), valid)


def _number_plan(
    cells: Sequence[str], name: str, metadata: Sequence[str], file: str
) -> tuple[str, int, str]:
    values = to_cells(cells, ".").values
    middle = float(np.nanmedian(values)) if np.isfinite(values).any() else np.nan
    for low, high, unit, words in (
        (3e8, 5e9, "s", "seconds"),
        (3e11, 5e12, "ms", "milliseconds"),
        (3e14, 5e15, "us", "microseconds"),
    ):
        if low <= middle < high:
            return f"epoch {unit}", 0, f"{words} since 1970 UTC (by their size)"
    told = " ".join([name, *metadata])
    if 20_000 <= middle < 80_000 and "elapsed" not in name.casefold():
        base = "1904" if "1904" in told else "1900"
        return f"serial {base}", 0, f"spreadsheet day numbers, {base} base (by their size)"
    return _elapsed(name, metadata, file)


def _elapsed(name: str, metadata: Sequence[str], file: str) -> tuple[str, int, str]:
    start = start_in(metadata)
    if start is None:
        raise FileFormatError(
            file,
            f"column {name!r}",
            "elapsed time without a start",
            "a date and clock in each row, or a line such as 'Start: 2024-03-05 10:00' on top",
        )
    folded = name.casefold()
    unit = "s"
    for found, pattern in (("ms", r"milli|\bms\b"), ("min", r"\bmin"), ("h", r"hour|\bhr?s?\b")):
        if re.search(pattern, folded):
            unit = found
            break
    return f"elapsed {unit}", start, f"elapsed {unit} since the start {stamp_text(start)} on top"


def start_in(metadata: Sequence[str]) -> int | None:
    """Find the start of the log in the metadata lines, wall seconds since 1970."""
    for line in metadata:
        match = re.search(
            r"(?i)\b(?:start|begin|beginn|debut|début|inicio|inizio)[^\d]{0,40}", line
        )
        if match is None:
            continue
        rest = line[match.end() :].strip(" \t\"',;")
        for text in (rest, re.split(r"[,;\t]", rest)[0]):
            wall_s, valid = wall_seconds(parse_stamps([text.strip(" \"'")]), "dmy")
            if valid[0]:
                return int(wall_s[0])
    return None


def decide_order(stamps: Stamps, told: DateOrder | None, file: str) -> tuple[DateOrder, str]:
    """Choose d/m or m/d from the whole file; InputError when the file cannot tell."""
    slashed = stamps.style == SLASHED
    if not slashed.any():
        dotted = (stamps.style == DOTTED).any()
        return "dmy", "day.month.year (dots)" if dotted else "year first or month by name"
    if told is not None:
        return told, f"{_words(told)} (told by you)"
    first, second = stamps.fields[FIRST][slashed], stamps.fields[SECOND][slashed]
    over_first, over_second = int((first > 12).sum()), int((second > 12).sum())
    if over_first > 20 * over_second:
        return "dmy", f"day/month/year ({over_first} rows have a first number over 12)"
    if over_second > 20 * over_first:
        return "mdy", f"month/day/year ({over_second} rows have a second number over 12)"
    if over_first and over_second:
        found = "day/month and month/day dates mixed"
        raise FileFormatError(file, "time column", found, "one date order in a file")
    if (first == second).all():
        return "dmy", "day and month are equal in every row, so either order reads the same"
    return _order_by_steps(stamps, file)


def _words(order: DateOrder) -> str:
    return "day/month/year" if order == "dmy" else "month/day/year"


def _order_by_steps(stamps: Stamps, file: str) -> tuple[DateOrder, str]:
    """Without a number over 12: the order in which the rows run on without leaps."""
    leaps = {order: _leaps(stamps, order) for order in ("dmy", "mdy")}
    if leaps["dmy"] != leaps["mdy"]:
        better: DateOrder = "dmy" if leaps["dmy"] < leaps["mdy"] else "mdy"
        return better, f"{_words(better)} (only so the rows follow each other without leaps)"
    example = stamps.fields[:, np.argmax(stamps.style == SLASHED)]
    raise InputError(
        f"{file}: dates such as {example[FIRST]:02d}/{example[SECOND]:02d}/{example[0]} read "
        "both as day/month and as month/day; give the date order: dmy or mdy"
    )


def _leaps(stamps: Stamps, order: DateOrder) -> tuple[int, int]:
    """Rows that step against the run of the log, and the longest step in days."""
    wall_s, valid = wall_seconds(stamps, order)
    steps = np.diff(wall_s[valid])
    if not len(steps):
        return (0, 0)
    against = min(int((steps < -7200).sum()), int((steps > 7200).sum()))
    return (against, int(np.abs(steps).max()) // DAY_S)


def lacks_half_days(stamps: Stamps, order: DateOrder) -> bool:
    """Whether the clock runs 1–12 twice a day without am or pm."""
    hours = stamps.fields[HOUR]
    if stamps.has_ampm.any() or len(hours) < 3 or hours.min() < 1 or hours.max() != 12:
        return False
    wall_s, valid = wall_seconds(stamps, order)
    wall_s = wall_s[valid]
    steps = np.diff(wall_s)
    same_day = wall_s[1:] // DAY_S == wall_s[:-1] // DAY_S
    wraps = (np.abs(steps) > 10 * 3600) & same_day
    return bool(wraps.any()) and bool(wraps.sum() >= 0.5 * len(np.unique(wall_s // DAY_S)))


def add_half_days(wall_s: IntArray, valid: BoolArray) -> IntArray:
    """Tell morning from afternoon by the order of the rows of each day."""
    rows = np.flatnonzero(valid)
    clock = wall_s[rows] % DAY_S
    twelve = clock >= 12 * 3600
    clock = np.where(twelve, clock - 12 * 3600, clock)
    days = wall_s[rows] // DAY_S
    newest_first = bool((np.diff(days) < 0).sum() > (np.diff(days) > 0).sum())
    out = wall_s.copy()
    all_days = np.unique(days)
    for day in all_days:
        here = np.flatnonzero(days == day)[:: -1 if newest_first else 1]
        wraps = np.flatnonzero(np.diff(clock[here]) < 0)
        late = np.zeros(len(here), np.int64)
        if len(wraps):
            late[wraps[0] + 1 :] = 12 * 3600
        elif day == all_days[0] and len(all_days) > 1:
            late[:] = 12 * 3600  # the log began in the afternoon of its first day
        out[rows[here]] = day * DAY_S + clock[here] + late
    return out


def unset_clock(wall_s: IntArray, valid: BoolArray) -> BoolArray:
    """Rows logged with a clock never set (1970) or reset by a battery change (1980, 2000).

    Only the first weeks of those years count, and only in a log that is otherwise later: weather
    years put together from old months are left alone.
    """
    suspect = np.zeros(len(wall_s), np.bool_)
    for start in _RESETS_S:
        suspect |= (wall_s >= start - DAY_S) & (wall_s < start + RESET_DAYS * DAY_S)
    suspect &= valid
    if not suspect.any():
        return suspect
    rest = wall_s[valid & ~suspect]
    later = len(rest) > 0 and float(np.median(rest)) > float(wall_s[suspect].max())
    return suspect if later and len(rest) >= suspect.sum() / 10 else suspect & (wall_s < _1980_S)
