"""A log that is still being written: new lines read with the choices made from its beginning.

The same steps as the importer's. What was read before goes along as context, so that order and
the repeated hour of autumn are decided as in the whole file. A change of unit is not told from the
values: an import says so for somebody to look at, here nobody does, and what reads like the other
unit is left in doubt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from advisor.base.errors import FileFormatError
from advisor.climate.logs.decode import Decoded, decode_bytes, to_text
from advisor.climate.logs.delimiter import Grid, cut, sniff_delimiter
from advisor.climate.logs.importer import zone_told
from advisor.climate.logs.merge import Merged, merge
from advisor.climate.logs.plan import Options, Plan, make_plan
from advisor.climate.logs.rows import Block, read_block
from advisor.climate.logs.structure import Structure, find_structure
from advisor.climate.readings import DroppedRow, FloatArray, ReadingTable

#: Marks, beside the values, the rows that new lines told.
_NEW = "new"
#: Lines of this kind are no readings: neither counted nor told as left out.
_NO_READING = ("comment line", "repeated header", "repeated line of units")


@dataclass(frozen=True, eq=False)
class Choices:
    """How a file is read: its plan and the codec of its text."""

    plan: Plan
    codec: str


@dataclass(frozen=True, eq=False)
class Grown:
    """Rows that new lines told, [n] in time order; `lines` of readings, those left out and why."""

    table: ReadingTable
    lines: int
    dropped: tuple[DroppedRow, ...]
    choices: Choices


def choices_of(raw: bytes, file: str, options: Options) -> tuple[Choices, Grid]:
    """Decide how a file is read from its beginning and its newest lines; errors as `read_log`."""
    decoded = decode_bytes(raw, file)
    delimiter = sniff_delimiter(decoded.head, file)
    structure = find_structure(decoded.head, delimiter, file)
    grid = _body(decoded, structure, delimiter.mark)
    if not len(grid.lines):
        raise FileFormatError(file, "", "no rows of readings", "rows of a time and numbers")
    plan = make_plan(decoded, delimiter, structure, grid, options)
    return Choices(replace(plan, units_by_value=False), decoded.codec), grid


def read_new(
    raw: bytes, known: int, file: str, options: Options, choices: Choices | None = None
) -> Grown:
    """Read the lines of `raw` behind its first `known` bytes, which have been read before.

    `raw` are whole lines: without `choices` the beginning of the file and its newest lines, with
    them newest lines only. Raises FileFormatError, InputError for what cannot be read.
    """
    if choices is None:
        choices, grid = choices_of(raw, file, options)
    else:
        text = to_text(raw, choices.codec)
        plan = choices.plan
        grid = cut(text, plan.delimiter.mark, plan.structure.width, 1)
    last_known = to_text(raw[:known], choices.codec).count("\n")
    block = read_block(choices.plan, grid, open_end=False)
    merged = _merged(block, last_known, choices.plan, options)
    dropped = tuple(row for row in (*block.dropped, *merged.dropped) if row.line > last_known)
    aside = sum(row.reason in _NO_READING for row in dropped)
    told = tuple(row for row in dropped if row.reason not in _NO_READING)
    lines = int((grid.lines > last_known).sum()) - aside
    return Grown(_table_of_new(merged), lines, told, choices)


def _body(decoded: Decoded, structure: Structure, mark: str) -> Grid:
    text = "".join(decoded.blocks())
    skip = structure.data_line - 1
    body = text.split("\n", skip)[skip] if skip else text
    return cut(body, mark, structure.width, structure.data_line)


def _merged(block: Block, last_known: int, plan: Plan, options: Options) -> Merged:
    """Bring the rows to UTC, one a time, with those that a new line tells something of marked."""
    is_new: FloatArray = np.where(block.rows.line > last_known, 1.0, np.nan)
    rows = replace(block.rows, columns=block.rows.columns | {_NEW: is_new})
    zone, why = zone_told(plan, options)
    return merge(rows, zone, why, plan.file)


def _table_of_new(merged: Merged) -> ReadingTable:
    columns: Mapping[str, FloatArray] = merged.rows.columns
    new = np.isfinite(columns[_NEW])
    kept = {name: values[new] for name, values in columns.items() if name != _NEW}
    kept = {name: values for name, values in kept.items() if np.isfinite(values).any()}
    return ReadingTable(merged.rows.wall_s[new], kept, merged.rows.flags[new])
