"""Read a log of any make into house units, with a report of every choice and every row left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Literal

import numpy as np

from advisor.base.errors import FileFormatError
from advisor.climate.logs.decode import BLOCK_BYTES, Decoded, decode
from advisor.climate.logs.delimiter import Delimiter, Grid, cut, cut_raw, sniff_delimiter
from advisor.climate.logs.merge import (
    Merged,
    Rows,
    is_finer_than_minutes,
    join,
    merge,
    minute_means,
)
from advisor.climate.logs.plan import Options, Plan, make_plan
from advisor.climate.logs.quality import flag_series
from advisor.climate.logs.rows import Block, read_block
from advisor.climate.logs.structure import Structure, find_structure
from advisor.climate.readings import DroppedRow, ImportedFile, ImportReport, ReadingTable

#: Steps longer than this are told as gaps.
GAP_S = 3 * 3600
AVERAGED = "several readings a minute: averaged over each minute"


def read_log(
    path: Path,
    *,
    time_zone: str | None = None,
    station: str | None = None,
    date_order: Literal["dmy", "mdy"] | None = None,
    limit: int | None = None,
    columns: Mapping[str, str] | None = None,
) -> ImportedFile:
    """Read a log file into house units (°C, %, hPa, m/s, mm; UTC seconds).

    `time_zone` IANA name or fixed offset for times without one; `station` for files of several;
    `limit` rows at most; `columns` house name -> header, over the importer's own choice.
    Raises FileFormatError, InputError with one line that says what would do.
    """
    options = Options(time_zone, station, date_order, columns)
    decoded = decode(path)
    delimiter = sniff_delimiter(decoded.head, decoded.file)
    structure = find_structure(decoded.head, delimiter, decoded.file)
    plan: Plan | None = None
    blocks: list[Block] = []
    for grid, last in _grids(decoded, delimiter, structure, limit):
        open_end = last and not decoded.ends_with_newline
        wall = None
        if plan is None:
            plan = make_plan(decoded, delimiter, structure, grid, options)
            wall = plan.first_wall
        blocks.append(_lighter(read_block(plan, grid, open_end, wall), decoded))
    if plan is None:
        raise FileFormatError(decoded.file, "", "no rows of readings", "rows of a time and numbers")
    return _finish(plan, blocks, options, decoded)


def _grids(
    decoded: Decoded, delimiter: Delimiter, structure: Structure, limit: int | None
) -> Iterator[tuple[Grid, bool]]:
    """Yield the readings block by block, with whether it is the last line of the file."""
    if len(decoded.raw) <= BLOCK_BYTES:
        clean = cut_raw(decoded.raw, delimiter.mark, structure.width, structure.data_line)
        if clean is not None:
            whole = limit is None or limit >= len(clean.lines)
            yield (clean if limit is None else _first_rows(clean, limit)), whole
            return
    line, left, skip = 1, limit, structure.data_line - 1
    for text in decoded.blocks():
        body, first_line = text, line
        line += text.count("\n")
        if skip:
            body, first_line = text.split("\n", skip)[skip], first_line + skip
            skip = 0
        grid = cut(body, delimiter.mark, structure.width, first_line)
        whole = left is None or left >= len(grid.lines)
        if left is not None:
            grid = _first_rows(grid, left)
            left -= len(grid.lines)
        if len(grid.lines):
            yield grid, whole
        if left is not None and left <= 0:
            return


def _first_rows(grid: Grid, count: int) -> Grid:
    return Grid(
        [column[:count] for column in grid.columns],
        grid.lines[:count],
        {row: cells for row, cells in grid.ragged.items() if row < count},
        grid.blank_lines,
    )


def _lighter(block: Block, decoded: Decoded) -> Block:
    """Bring a reading a second to a reading a minute where the file is too large to keep."""
    if len(decoded.raw) <= BLOCK_BYTES or not is_finer_than_minutes(block.rows):
        return block
    notes = (*block.notes, AVERAGED)
    return Block(minute_means(block.rows), block.dropped, block.done, notes, block.read)


def _finish(plan: Plan, blocks: list[Block], options: Options, decoded: Decoded) -> ImportedFile:
    rows = join([block.rows for block in blocks])
    if len(blocks) > 1 and any(AVERAGED in block.notes for block in blocks):
        rows = minute_means(rows)  # a minute may be cut in two between blocks
    zone, why = zone_told(plan, options)
    merged = merge(rows, zone, why, plan.file)
    columns = merged.rows.columns
    flagged = flag_series(merged.rows.wall_s, columns, merged.rows.flags)
    columns = {name: values for name, values in columns.items() if np.isfinite(values).any()}
    table = ReadingTable(merged.rows.wall_s, columns, merged.rows.flags)
    dropped = tuple(
        sorted(
            (*(row for block in blocks for row in block.dropped), *merged.dropped),
            key=lambda row: row.line,
        )
    )
    mapping = plan.mapping | dict(merged.mapping)
    if len(table) > 1:
        mapping["step"] = _step_words(merged.rows)
    notes = _notes(plan, blocks, flagged, merged)
    return ImportedFile(table, _report(blocks, table, mapping, dropped, notes, decoded.sha256))


def zone_told(plan: Plan, options: Options) -> tuple[str | None, str]:
    """Return the zone of times without one, None where nobody told, and who told it."""
    if options.time_zone is not None:
        if plan.zone_hint and plan.time.columns.form != "number":
            return options.time_zone, f"told by you; the file names {plan.zone_hint}"
        return options.time_zone, "told by you"
    if plan.zone_hint:
        return plan.zone_hint, "named in the file"
    return None, ""


def _notes(
    plan: Plan, blocks: list[Block], flagged: Mapping[str, int], merged: Merged
) -> tuple[str, ...]:
    done: dict[str, int] = {}
    for block in blocks:
        for what, number in block.done.items():
            done[what] = done.get(what, 0) + number
    done |= flagged
    counted = [f"{number} × {what}" for what, number in done.items()]
    told = [note for block in blocks for note in block.notes]
    return tuple(dict.fromkeys([*plan.notes, *told, *counted, *merged.notes]))


def _step_words(rows: Rows) -> str:
    steps = np.diff(rows.wall_s)
    usual = float(np.median(steps))
    text = f"{usual / 60:.4g} min" if usual < 7200 else f"{usual / 3600:.4g} h"
    even = float((np.abs(steps - usual) <= 60).mean())
    words = f"mostly {text}" if even > 0.5 else f"irregular, about {text}"
    gaps = steps[steps > max(GAP_S, 1.5 * usual)]
    if len(gaps):
        words += f"; {len(gaps)} gaps over 3 h, the longest {gaps.max() / 3600:.1f} h"
    return words


def _report(
    blocks: list[Block],
    table: ReadingTable,
    mapping: dict[str, str],
    dropped: tuple[DroppedRow, ...],
    notes: tuple[str, ...],
    sha256: str,
) -> ImportReport:
    read = sum(block.read for block in blocks)
    return ImportReport(
        rows_read=read,
        rows_used=read - len(dropped),
        rows_dropped=len(dropped),
        flagged=int((table.flags != 0).sum()),
        first_s=int(table.time_s[0]) if len(table) else None,
        last_s=int(table.time_s[-1]) if len(table) else None,
        mapping=mapping,
        dropped=dropped,
        notes=notes,
        file_sha256=sha256,
    )
