"""One block of the file to rows with time and values, and the reasons for rows left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import FileFormatError
from advisor.climate.logs.convert import find_switches, to_house
from advisor.climate.logs.delimiter import Grid, is_comment
from advisor.climate.logs.header import describe_name
from advisor.climate.logs.merge import Rows
from advisor.climate.logs.plan import Plan, Source
from advisor.climate.logs.quality import FlagArray, looks_swapped, mark, mark_faults
from advisor.climate.logs.stamps import BoolArray
from advisor.climate.logs.structure import is_known_name
from advisor.climate.logs.times import Wall, unset_clock, wall_of
from advisor.climate.logs.units import KIND_OF, is_unit_cell, unit_of
from advisor.climate.logs.values import (
    DAMAGED,
    FAULT,
    Cells,
    looks_like_spreadsheet_date,
    to_cells,
)
from advisor.climate.readings import DroppedRow, Flag, FloatArray

_MAX_SHOWN = 40


@dataclass(frozen=True, eq=False)
class Block:
    """Rows of one block, what was left out, what was done to values, the number of rows read."""

    rows: Rows
    dropped: tuple[DroppedRow, ...]
    done: dict[str, int]
    notes: tuple[str, ...]
    read: int


def read_block(plan: Plan, grid: Grid, open_end: bool, wall: Wall | None = None) -> Block:
    """Turn a block of texts into rows. `open_end`: its last line has no line end."""
    count = len(grid.lines)
    wall = wall_of(plan.time, grid.columns) if wall is None else wall
    reasons = _unusable(plan, grid, wall.valid, open_end)
    for row in np.flatnonzero(unset_clock(wall.wall_s, wall.valid)):
        reasons.setdefault(int(row), "the logger's clock was not set (or reset by a new battery)")
    headers = [row for row, why in reasons.items() if why == REPEATED]
    usable = np.ones(count, np.bool_)
    usable[list(reasons)] = False
    others = _other_stations(plan, grid, usable)
    usable &= ~others
    columns, flags, done, notes = _values(plan, grid, usable, headers)
    filled = np.zeros(count, np.bool_)
    for values in columns.values():
        filled |= np.isfinite(values)
    for row in np.flatnonzero(usable & ~filled):
        reasons[int(row)] = _empty_reason(plan, grid, int(row))
    dropped = _dropped(plan, grid, reasons, others)
    keep = usable & filled
    every = bool(keep.all())
    rows = Rows(grid.lines, wall.wall_s, wall.offset_s, columns, flags, np.ones(count, np.int64))
    return Block(rows if every else rows.take(keep), dropped, done, tuple(notes), count)


REPEATED = "repeated header"


def _dropped(
    plan: Plan, grid: Grid, reasons: dict[int, str], others: BoolArray
) -> tuple[DroppedRow, ...]:
    lines = grid.lines
    listed = [DroppedRow(int(lines[row]), why) for row, why in reasons.items()]
    if plan.station_index is not None:
        names = grid.columns[plan.station_index]
        listed += [
            DroppedRow(int(lines[row]), f"belongs to station {names[row].strip()!r}")
            for row in np.flatnonzero(others).tolist()
        ]
    return tuple(sorted(listed, key=lambda row: row.line))


def _other_stations(plan: Plan, grid: Grid, usable: BoolArray) -> BoolArray:
    if plan.station_index is None:
        return np.zeros(len(usable), np.bool_)
    cells = grid.columns[plan.station_index]
    same = np.fromiter((cell.strip() == plan.station for cell in cells), np.bool_, len(cells))
    return usable & ~same


def _unusable(plan: Plan, grid: Grid, valid: BoolArray, open_end: bool) -> dict[int, str]:
    """Rows that cannot be read at all, with the reason."""
    width = plan.structure.width
    reasons: dict[int, str] = {}
    for row, found in grid.ragged.items():
        if found > width:
            reasons[row] = f"{found} cells where {width} are expected"
        elif open_end and row == len(grid.lines) - 1:
            reasons[row] = f"the last line was cut short ({found} of {width} cells)"
    for row in np.flatnonzero(~valid).tolist():
        why = _no_time_reason(plan, [column[row] for column in grid.columns])
        if why == REPEATED or row not in reasons:
            reasons[row] = why
    return reasons


def _no_time_reason(plan: Plan, cells: Sequence[str]) -> str:
    filled = [cell.strip() for cell in cells if cell.strip()]
    names = {name for name in plan.structure.names if name}
    if filled and sum(cell in names for cell in filled) > len(filled) / 2:
        return REPEATED
    if len(filled) > 1 and sum(is_known_name(cell) for cell in filled) > len(filled) / 2:
        return REPEATED
    if filled and is_comment(filled[0]):
        return "comment line"
    if len(filled) > 1 and all(is_unit_cell(c) for c in filled) and any(map(unit_of, filled)):
        return "repeated line of units"
    time = " ".join(cells[index].strip() for index in plan.time.columns.indexes).strip()
    if not time:
        return "no time in the row"
    return f"{_short(time)!r} is no time"


def _short(text: str) -> str:
    return text if len(text) <= _MAX_SHOWN else f"{text[:_MAX_SHOWN]}…"


def _empty_reason(plan: Plan, grid: Grid, row: int) -> str:
    if plan.channel_index is not None:
        channel = grid.columns[plan.channel_index][row].strip()
        if channel not in {source.channel for source in plan.sources}:
            return f"channel {channel!r} not used"
    used = {source.index for source in plan.sources} | set(plan.time.columns.indexes)
    texts = [grid.columns[source.index][row].strip() for source in plan.sources]
    shown = ", ".join(_short(text) for text in dict.fromkeys(texts) if text)
    rest = [
        column[row].strip()
        for index, column in enumerate(grid.columns)
        if index not in used and any(char.isalpha() for char in column[row])
    ]
    event = f" (event {_short(rest[0])!r})" if rest and not shown else ""
    return f"no usable value: {shown}" if shown else f"no value in the row{event}"


def _values(
    plan: Plan, grid: Grid, usable: BoolArray, headers: Sequence[int]
) -> tuple[dict[str, FloatArray], FlagArray, dict[str, int], list[str]]:
    count = len(grid.lines)
    flags = np.zeros(count, np.uint16)
    done: dict[str, int] = {}
    notes: list[str] = []
    cells = {
        source.index: to_cells(grid.columns[source.index], plan.decimal) for source in plan.sources
    }
    columns: dict[str, FloatArray] = {}
    for source in plan.sources:
        mask = usable & _channel_mask(plan, grid, source)
        values, more = _column(plan, grid, source, cells[source.index], headers)
        notes += more
        broken = mask & (cells[source.index].state >= FAULT)
        mark(flags, broken, Flag.FAULT)
        if broken.any():
            done[f"{source.house} fault mark or unreadable text, left out"] = int(broken.sum())
            notes += _odd_notes(grid, source, cells[source.index])
        columns[source.house] = values if mask.all() else np.where(mask, values, np.nan)
        if values is cells[source.index].values:
            columns[source.house] = columns[source.house].copy()
    _swapped(columns, flags, notes)
    for house, values in columns.items():
        done |= mark_faults(house, values, flags)
    return columns, flags, done, notes


def _channel_mask(plan: Plan, grid: Grid, source: Source) -> BoolArray:
    if plan.channel_index is None:
        return np.ones(len(grid.lines), np.bool_)
    names = grid.columns[plan.channel_index]
    return np.fromiter((name.strip() == source.channel for name in names), np.bool_, len(names))


def _column(
    plan: Plan, grid: Grid, source: Source, cells: Cells, headers: Sequence[int]
) -> tuple[FloatArray, list[str]]:
    """Values in house units, with the changes of unit inside the file."""
    codes = [(0, source.unit.code)]
    for row in sorted(headers):
        code = _unit_in_header(plan, grid, source, row)
        if code is not None and code != codes[-1][1]:
            codes.append((row, code))
    told = len(codes) > 1 or bool(cells.units) or plan.channel_index is not None
    if plan.units_by_value and KIND_OF[source.house] == "temperature" and not told:
        codes = find_switches(cells.values, source.unit.code)
    notes = [
        f"{source.house}: unit changes to {code} at line {int(grid.lines[row])}"
        for row, code in codes[1:]
    ]
    return to_house(source.house, cells, codes), notes


def _unit_in_header(plan: Plan, grid: Grid, source: Source, row: int) -> str | None:
    """Unit in a repeated header; FileFormatError when the columns have changed places."""
    if plan.channel_index is not None:
        return None
    name = grid.columns[source.index][row].strip()
    column = describe_name(source.index, name)
    usual = plan.structure.names[source.index]
    if name != usual and column.quantity != describe_name(source.index, usual).quantity:
        raise FileFormatError(
            plan.file,
            f"line {int(grid.lines[row])}",
            f"another header ({name!r} where {usual!r} was)",
            "one set of columns in a file; split it here",
        )
    return column.unit


def _odd_notes(grid: Grid, source: Source, cells: Cells) -> list[str]:
    notes = []
    for row, text in list(cells.odd.items())[:3]:
        if cells.state[row] == DAMAGED:
            hint = (
                " (a number a spreadsheet made a date?)"
                if looks_like_spreadsheet_date(text)
                else ""
            )
            notes.append(
                f"{source.house}, line {int(grid.lines[row])}: {_short(text)!r} is no number{hint}"
            )
    return notes


def _swapped(columns: dict[str, FloatArray], flags: NDArray[np.uint16], notes: list[str]) -> None:
    if "air_temp_c" not in columns or "rh_pct" not in columns:
        return
    if looks_swapped(columns["air_temp_c"], columns["rh_pct"]):
        both = np.isfinite(columns["air_temp_c"]) & np.isfinite(columns["rh_pct"])
        mark(flags, both, Flag.SWAPPED)
        notes.append(
            "temperature and humidity look exchanged; if so, tell the columns: "
            "air_temp_c=HEADER, rh_pct=HEADER"
        )
