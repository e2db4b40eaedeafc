"""Rows in file order to rows in time order: direction, zone, duplicates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from advisor.base.errors import InputError
from advisor.climate.logs.quality import FlagArray, mark
from advisor.climate.logs.stamps import BoolArray
from advisor.climate.logs.zones import stamp_text, to_utc, zone_of
from advisor.climate.readings import DroppedRow, Flag, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows with a time and a value: all arrays [n]. `count` is the lines each row stands for."""

    line: IntArray
    wall_s: IntArray
    offset_s: FloatArray
    columns: dict[str, FloatArray]
    flags: FlagArray
    count: IntArray

    def take(self, rows: IntArray | BoolArray | slice) -> Rows:
        """Return the rows picked by a mask, a slice or an order."""
        return Rows(
            self.line[rows],
            self.wall_s[rows],
            self.offset_s[rows],
            {name: values[rows] for name, values in self.columns.items()},
            self.flags[rows],
            self.count[rows],
        )

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.line)


@dataclass(frozen=True, eq=False)
class Merged:
    """Rows with `wall_s` in UTC, strictly increasing; what was left out and what to tell."""

    rows: Rows
    dropped: tuple[DroppedRow, ...]
    mapping: Mapping[str, str]
    notes: tuple[str, ...]


def join(parts: list[Rows]) -> Rows:
    """Put the rows of several blocks after each other."""
    if len(parts) == 1:
        return parts[0]
    return Rows(
        np.concatenate([part.line for part in parts]),
        np.concatenate([part.wall_s for part in parts]),
        np.concatenate([part.offset_s for part in parts]),
        {name: np.concatenate([part.columns[name] for part in parts]) for name in parts[0].columns},
        np.concatenate([part.flags for part in parts]),
        np.concatenate([part.count for part in parts]),
    )


def is_finer_than_minutes(rows: Rows) -> bool:
    """Whether most steps are shorter than a minute."""
    return len(rows) > 1 and bool(np.median(np.abs(np.diff(rows.wall_s))) < 60)


def minute_means(rows: Rows) -> Rows:
    """Average runs of rows of one minute, each weighted by the lines it stands for."""
    minute = rows.wall_s // 60
    starts = np.flatnonzero(np.concatenate(([True], minute[1:] != minute[:-1])))
    columns = {}
    for name, values in rows.columns.items():
        weight = np.where(np.isfinite(values), rows.count, 0)
        number = np.add.reduceat(weight, starts)
        total = np.add.reduceat(np.where(weight > 0, values * weight, 0.0), starts)
        columns[name] = np.where(number > 0, total / np.maximum(number, 1), np.nan)
    return Rows(
        rows.line[starts],
        minute[starts] * 60,
        rows.offset_s[starts],
        columns,
        np.bitwise_or.reduceat(rows.flags, starts),
        np.add.reduceat(rows.count, starts),
    )


def merge(rows: Rows, zone_name: str | None, zone_why: str, file: str) -> Merged:
    """Bring rows to UTC and in order, one row a time."""
    mapping: dict[str, str] = {}
    rows, mapping["order"] = _oldest_first(rows)
    rows, dropped, zone_text, notes = _in_utc(rows, zone_name, zone_why, file)
    mapping["zone"] = zone_text
    backward = int((np.diff(rows.wall_s) < 0).sum())
    if backward:
        mapping["order"] += f"; the time steps back {backward} times, rows sorted by time"
        rows = rows.take(np.argsort(rows.wall_s, kind="stable"))
    rows, doubles, more = _one_row_a_time(rows)
    return Merged(rows, (*dropped, *doubles), mapping, (*notes, *more))


def _oldest_first(rows: Rows) -> tuple[Rows, str]:
    shift = np.where(np.isnan(rows.offset_s), 0.0, rows.offset_s).astype(np.int64)
    steps = np.diff(rows.wall_s - shift)
    if (steps < 0).sum() > (steps > 0).sum():
        return rows.take(slice(None, None, -1)), "newest first, turned round"
    return rows, "oldest first"


def _in_utc(
    rows: Rows, zone_name: str | None, zone_why: str, file: str
) -> tuple[Rows, list[DroppedRow], str, list[str]]:
    naive = np.isnan(rows.offset_s)
    time_s = rows.wall_s - np.where(naive, 0.0, rows.offset_s).astype(np.int64)
    if not naive.any():
        if len(rows) == 0:
            return rows, [], "no rows", []
        return replace(rows, wall_s=time_s), [], _carried(rows), []
    if zone_name is None:
        raise InputError(
            f"{file}: the times carry no zone (line {int(rows.line[0])}: "
            f"{stamp_text(int(rows.wall_s[0]))}); give --time-zone, such as Europe/Dublin, "
            "+01:00 for a logger that never changes its clock, or UTC"
        )
    wall_s = rows.wall_s[naive]
    step_s = float(np.median(np.abs(np.diff(wall_s)))) if len(wall_s) > 1 else 0.0
    in_utc = to_utc(wall_s, zone_of(zone_name), step_s)
    time_s[naive] = in_utc.time_s
    flags, missing = rows.flags.copy(), np.zeros(len(rows), np.bool_)
    mark(flags, np.flatnonzero(naive)[in_utc.repeated], Flag.AMBIGUOUS_TIME)
    missing[np.flatnonzero(naive)[in_utc.missing]] = True
    dropped = [
        DroppedRow(
            int(rows.line[row]),
            f"{stamp_text(int(rows.wall_s[row]))} does not exist in {zone_name}: the clocks "
            "went forward over it; for a logger that never changes its clock give a fixed "
            "offset such as +01:00 as time zone",
        )
        for row in np.flatnonzero(missing)
    ]
    kept = replace(rows, wall_s=time_s, flags=flags).take(~missing)
    text = f"{zone_name} ({zone_why})"
    if not naive.all():
        text += f"; {int((~naive).sum())} rows carry their own offset"
    notes = list(in_utc.notes)
    if dropped:
        notes.append(
            f"{len(dropped)} rows fall in an hour the clocks of {zone_name} skip: if the logger "
            "never changes its clock, all its summer times are an hour off; give a fixed offset"
        )
    return kept, dropped, text, notes


def _carried(rows: Rows) -> str:
    offsets = np.unique(rows.offset_s)
    if len(offsets) == 1 and offsets[0] == 0:
        return "UTC (the times carry it)"
    words = ", ".join(f"{offset / 3600:+.4g} h" for offset in offsets[:4])
    return f"offsets carried by the times: {words}"


def _one_row_a_time(rows: Rows) -> tuple[Rows, list[DroppedRow], list[str]]:
    """Keep one row a time; later rows only fill what the first left open."""
    first = np.concatenate(([True], np.diff(rows.wall_s) > 0)) if len(rows) else np.ones(0, bool)
    if first.all():
        return rows, [], []
    group = np.cumsum(first) - 1
    starts = np.flatnonzero(first)
    gives, clash = np.zeros(len(rows), np.bool_), np.zeros(len(rows), np.bool_)
    columns = {}
    for name, values in rows.columns.items():
        columns[name] = _first_valid(values, group, len(starts), gives, clash)
    used = gives | first
    flags = np.zeros(len(starts), np.uint16)
    np.bitwise_or.at(flags, group[used], rows.flags[used])
    count = np.bincount(group[used], rows.count[used], len(starts)).astype(np.int64)
    dropped = _double_reasons(rows, group, starts, used, clash)
    notes = []
    if (clash & gives).any():
        notes.append(
            f"{int((clash & gives).sum())} rows contradict an earlier row of the same time in "
            "part; the first value was kept"
        )
    merged = rows.take(starts)
    return replace(merged, columns=columns, flags=flags, count=count), dropped, notes


def _first_valid(
    values: FloatArray, group: IntArray, groups: int, gives: BoolArray, clash: BoolArray
) -> FloatArray:
    """First valid value of each group; marks rows that give one and rows that differ from it."""
    valid = np.flatnonzero(np.isfinite(values))
    found, place = np.unique(group[valid], return_index=True)
    result = np.full(groups, np.nan)
    result[found] = values[valid[place]]
    gives[valid[place]] = True
    clash |= np.isfinite(values) & (values != result[group])
    return result


def _double_reasons(
    rows: Rows, group: IntArray, starts: IntArray, used: BoolArray, clash: BoolArray
) -> list[DroppedRow]:
    dropped = []
    for row in np.flatnonzero(~used):
        line = int(rows.line[starts[group[row]]])
        if clash[row]:
            reason = f"contradicts line {line} at the same time; the first was kept"
        else:
            reason = f"duplicate of line {line} (same time, same values)"
        dropped += [DroppedRow(int(rows.line[row]), reason)] * int(rows.count[row])
    return dropped
