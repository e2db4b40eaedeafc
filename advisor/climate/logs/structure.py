"""Where the header is, what stands before it, and where the readings begin."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from advisor.base.errors import FileFormatError
from advisor.climate.logs.delimiter import (
    SAMPLE_LINES,
    Delimiter,
    Row,
    data_rows,
    is_comment,
    is_data,
    kinds_of,
    rows_of,
    strip_comment,
)
from advisor.climate.logs.units import is_unit_cell, unit_of
from advisor.climate.logs.vocabulary import (
    CHANNEL_WORDS,
    EVENT_WORDS,
    PARTS,
    STATION_WORDS,
    TIME_WORDS,
    VALUE_WORDS,
)
from advisor.climate.logs.words import fold, has_word, quantity_of

_NUMBERED = re.compile(r"^\d+:(?=\D)")


@dataclass(frozen=True)
class Structure:
    """The frame of the file: header names, unit row, metadata lines, first line of readings.

    `kinds` holds per column the commonest kind letter of the sample, `sample` its rows.
    """

    names: tuple[str, ...]
    unit_row: tuple[str, ...]
    header_line: int | None
    data_line: int
    metadata: tuple[str, ...]
    kinds: str
    sample: tuple[tuple[str, ...], ...]

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.names)


def find_structure(head: str, delimiter: Delimiter, file: str) -> Structure:
    """Find header, units row and first reading in the first lines of the file."""
    lines = head.split("\n", SAMPLE_LINES)[:SAMPLE_LINES]
    if delimiter.sep_line:
        lines[0] = ""
    rows = list(rows_of("\n".join(lines), delimiter.mark))
    kinds = [kinds_of(row.cells) for row in rows]
    data = data_rows(kinds)
    if not data:
        raise FileFormatError(file, "", "no rows of readings", "rows of a time and numbers")
    width = Counter(len(kinds[place]) for place in data).most_common(1)[0][0]
    modal = _modal([kinds[place] for place in data if len(kinds[place]) == width])
    fitting = [place for place in data if _fits(kinds[place], modal)]
    if not fitting:
        raise FileFormatError(file, "", "no two rows alike", "rows of a time and numbers")
    first = fitting[0]
    header, unit_row = _find_header(rows, first, width, lines, delimiter.mark)
    sample = [row.cells for row, kind in zip(rows, kinds, strict=True) if _fits(kind, modal)]
    names, units, modal, trim = _level(header, unit_row, modal, sample)
    return Structure(
        names,
        units,
        header.line if header else None,
        rows[first].line,
        tuple(line for line in lines[: rows[first].line - 1] if line.strip()),
        modal,
        tuple(tuple((cells + [""] * trim)[:trim]) for cells in sample),
    )


def _modal(kinds: Sequence[str]) -> str:
    """Per column the commonest kind among cells that hold something."""
    return "".join(_commonest(column) for column in zip(*kinds, strict=True))


def _commonest(letters: Sequence[str]) -> str:
    filled = [letter for letter in letters if letter not in "mf"]
    return Counter(filled or letters).most_common(1)[0][0]


def _fits(kind: str, modal: str) -> bool:
    """Whether a row has the commonest shape: its width and a time where the others have one."""
    if not is_data(kind) or abs(len(kind) - len(modal)) > 1:
        return False
    return all(
        letter in "Ddc" for letter, usual in zip(kind, modal, strict=False) if usual in "Ddc"
    )


def _find_header(
    rows: Sequence[Row], first: int, width: int, lines: Sequence[str], mark: str
) -> tuple[Row | None, Row | None]:
    before = [_bare(row, lines, mark) for row in rows[:first]]
    unit_row = None
    for row in reversed(before):
        if len(row.cells) < 2:
            continue
        if unit_row is None and _is_unit_row(row):
            unit_row = row
            continue
        if len(row.cells) >= width - 1 and _known_words(row) >= 1 and _no_statistics(row):
            return row, unit_row
    close = [
        row
        for row in before[-1:]
        if abs(len(row.cells) - width) <= 1 and "x" in kinds_of(row.cells)
    ]
    return (close[0] if close else None), unit_row


def _bare(row: Row, lines: Sequence[str], mark: str) -> Row:
    """Read a row again without its comment mark (`# 1:Date 2:Time`)."""
    if not is_comment(lines[row.line - 1]):
        return row
    again = list(rows_of(strip_comment(lines[row.line - 1]), mark, row.line))
    return again[0] if again else Row(row.line, [])


def _is_unit_row(row: Row) -> bool:
    filled = [cell for cell in row.cells if cell.strip()]
    return (
        len(filled) >= 1
        and all(is_unit_cell(cell) for cell in filled)
        and any(unit_of(cell) is not None for cell in filled)
    )


def _known_words(row: Row) -> int:
    return sum(is_known_name(cell) for cell in row.cells)


def is_known_name(cell: str) -> bool:
    """Whether a header cell holds a word of our lists."""
    folded = fold(_NUMBERED.sub("", cell))
    if not folded or len(folded) > 60:
        return False
    groups = (TIME_WORDS, STATION_WORDS, CHANNEL_WORDS, VALUE_WORDS, EVENT_WORDS)
    return (
        quantity_of(folded) is not None
        or any(has_word(folded, words) for words in groups)
        or any(folded in words for words in PARTS.values())
    )


def _no_statistics(row: Row) -> bool:
    """A header has no numbers; a line of statistics or alarm limits has."""
    kinds = kinds_of(row.cells)
    return kinds.count("n") + kinds.count("D") <= len(kinds) / 4


def _level(
    header: Row | None, unit_row: Row | None, modal: str, sample: Sequence[list[str]]
) -> tuple[tuple[str, ...], tuple[str, ...], str, int]:
    """Bring header, units and data to one width."""
    width = len(modal)
    if header is None:
        names = tuple(f"column {number}" for number in range(1, width + 1))
        return names, ("",) * width, modal, width
    cells = [_NUMBERED.sub("", cell.strip()) for cell in header.cells]
    while len(cells) > width and not cells[-1]:
        cells.pop()
    trailing_mark = all(not row[-1].strip() for row in sample if len(row) == width)
    if len(cells) == width - 1 and not trailing_mark:
        cells = ["", *cells]  # an unnamed row number in front
    width = max(width, len(cells))
    cells = (cells + [""] * width)[:width]
    units = list(unit_row.cells) if unit_row is not None else []
    units = (units + [""] * width)[:width]
    return tuple(cells), tuple(units), (modal + "m" * width)[:width], width
