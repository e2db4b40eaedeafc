"""What separates the cells, and the cutting of text into columns with line numbers."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from advisor.base.errors import FileFormatError
from advisor.climate.logs.bytecolumn import PAD, cut_bytes, cut_text
from advisor.climate.logs.stamps import PLAIN_NUMBER, kind_of_text
from advisor.climate.logs.values import DAMAGED, FAULT, MISSING, parse_cell
from advisor.climate.readings import IntArray

SAMPLE_LINES = 200
SPACES, WIDE_SPACES = " ", "  "
NAMES = MappingProxyType(
    {
        ",": "comma",
        ";": "semicolon",
        "\t": "tab",
        "|": "pipe",
        SPACES: "runs of spaces",
        WIDE_SPACES: "runs of two or more spaces",
    }
)
_SEP_LINE = re.compile(r"\"?sep=(.)\"?\s*", re.IGNORECASE)
_COMMENT = re.compile(r"\s*(#|//|;)")

csv.field_size_limit(1 << 20)


@dataclass(frozen=True)
class Row:
    """One record: the line it starts on (from 1) and its cells."""

    line: int
    cells: list[str]


@dataclass(frozen=True)
class Delimiter:
    """The separator (`" "` runs of spaces, two spaces: runs of two or more) and why."""

    mark: str
    why: str
    sep_line: bool = False


@dataclass(frozen=True, eq=False)
class Grid:
    """Records as columns of texts, all of one length, with the line of each record.

    `ragged` maps a record to its number of cells where that is not the number of columns.
    """

    columns: list[Sequence[str]]
    lines: IntArray
    ragged: dict[int, int]
    blank_lines: int


def sniff_delimiter(head: str, file: str) -> Delimiter:
    """Choose the separator that cuts most sample lines into clean numbers and times."""
    lines = head.split("\n", SAMPLE_LINES)[:SAMPLE_LINES]
    told = _SEP_LINE.fullmatch(lines[0])
    if told is not None:
        return Delimiter(told[1], f"{_name(told[1])} (told by the line {lines[0].strip()!r})", True)
    scores = {
        mark: _score(lines, mark) for mark in NAMES if sum(mark in line for line in lines) > 1
    } or {",": (0, 0.0, 0)}
    best = max(scores, key=lambda mark: scores[mark])
    if scores[best] == (0, 0.0, 0):
        raise FileFormatError(
            file,
            f"the first {len(lines)} lines",
            "no rows of a time and numbers",
            "columns separated by comma, semicolon, tab, pipe or spaces, with a time in each row",
        )
    rows = scores[best][0]
    return Delimiter(best, f"{_name(best)} (cuts {rows} sample lines into clean cells)")


def _name(mark: str) -> str:
    return NAMES.get(mark, repr(mark))


def _score(lines: Sequence[str], mark: str) -> tuple[int, float, int]:
    """Rows of the commonest width, mean share of clean cells, width; zero where no data."""
    kinds = [kinds_of(row.cells) for row in rows_of("\n".join(lines), mark)]
    data = [kinds[place] for place in data_rows(kinds)]
    if not data:
        return (0, 0.0, 0)
    width, _ = Counter(len(kind) for kind in data).most_common(1)[0]
    same = [kind for kind in data if len(kind) == width]
    clean = sum(1 - kind.count("x") / len(kind) for kind in same) / len(same)
    weighted = int(len(same) * clean)
    # A date and a clock in one cell between wide spaces count as the two they are elsewhere.
    return (weighted, clean, width if mark != WIDE_SPACES else width + 2)


def rows_of(text: str, mark: str, first_line: int = 1) -> Iterator[Row]:
    """Cut text into records; blank lines are left out."""
    lines = text.split("\n")
    if mark in (SPACES, WIDE_SPACES):
        cut = re.compile(r" {2,}" if mark == WIDE_SPACES else r" +")
        for number, line in enumerate(lines, start=first_line):
            if line.strip():
                yield Row(number, [cell.strip('"') for cell in cut.split(line.strip())])
        return
    reader = csv.reader(
        (f"{line}\n" for line in lines), delimiter=mark, skipinitialspace=True, strict=False
    )
    start = first_line
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield Row(start, [cell.removesuffix("\n") for cell in cells])
        start = first_line + reader.line_num


def kinds_of(cells: Sequence[str]) -> str:
    """One letter a cell: D date and clock, d date, c clock, n number, m missing, f fault, x."""
    return "".join(kind_of_cell(cell) for cell in cells)


def kind_of_cell(cell: str) -> str:
    """Return the letter of one cell, see `kinds_of`."""
    if PLAIN_NUMBER.fullmatch(cell) and cell[-1:].isdigit():
        return "n"
    time_kind = kind_of_text(cell)
    if time_kind:
        return time_kind
    _, state, _ = parse_cell(cell, ".")
    return "x" if state == DAMAGED else "f" if state == FAULT else "m" if state == MISSING else "n"


def is_data(kinds: str) -> bool:
    """Whether a row looks like readings: a time or several numbers, and little text."""
    times = sum(kinds.count(letter) for letter in "Ddc")
    numbers = kinds.count("n")
    few_texts = kinds.count("x") <= max(1, len(kinds) / 2)
    if times:
        return few_texts and numbers + kinds.count("m") + kinds.count("f") > 0
    return few_texts and numbers >= 2 and kinds.count("x") <= len(kinds) / 3


def data_rows(kinds: Sequence[str]) -> list[int]:
    """Places of the rows of readings; where many hold a time, those without are statistics."""
    data = [place for place, kind in enumerate(kinds) if is_data(kind)]
    timed = [place for place in data if any(letter in "Ddc" for letter in kinds[place])]
    return timed if len(timed) >= max(2, len(data) / 4) else data


def cut(text: str, mark: str, width: int, first_line: int) -> Grid:
    """Cut the body into `width` columns; records that do not fit are padded and listed."""
    fast = _cut_even(text, mark, width, first_line)
    return fast if fast is not None else _cut_rows(text, mark, width, first_line)


def _cut_even(text: str, mark: str, width: int, first_line: int) -> Grid | None:
    """Cut at once when every line has the same number of marks and nothing is quoted."""
    body = text.rstrip("\n")
    if mark in (SPACES, WIDE_SPACES) or not body.isascii() or '"' in body or not body:
        return None
    columns = cut_text(body, mark, width)
    if columns is None:
        return None
    count = len(columns[0])
    return Grid(list(columns), np.arange(first_line, first_line + count, dtype=np.int64), {}, 0)


def cut_raw(raw: bytes, mark: str, width: int, data_line: int) -> Grid | None:
    """Cut a plain ASCII file from line `data_line` on without making text of it.

    None if it is not clean enough: quotes, NUL bytes, CR alone, blank or uneven lines.
    """
    if mark in (SPACES, WIDE_SPACES) or not raw.isascii() or b"\x00" in raw or b'"' in raw:
        return None
    begin = 0
    for _ in range(data_line - 1):
        begin = raw.find(b"\n", begin) + 1
        if not begin:
            return None
    end = len(raw)
    while end > begin and raw[end - 1] in b"\r\n":
        end -= 1
    if begin < PAD or (b"\r" in raw and raw.count(b"\r") != raw.count(b"\r\n")):
        return None
    columns = cut_bytes(raw, begin, end, mark, width)
    if columns is None:
        return None
    lines = np.arange(data_line, data_line + len(columns[0]), dtype=np.int64)
    return Grid(list(columns), lines, {}, 0)


def _cut_rows(text: str, mark: str, width: int, first_line: int) -> Grid:
    ragged: dict[int, int] = {}
    table: list[list[str]] = []
    lines: list[int] = []
    for row in rows_of(text, mark, first_line):
        cells = row.cells
        if len(cells) != width:
            while len(cells) > width and not cells[-1].strip():
                cells.pop()
            if len(cells) != width:
                ragged[len(table)] = len(cells)
                cells = (cells + [""] * width)[:width]
        table.append(cells)
        lines.append(row.line)
    columns: list[Sequence[str]] = [[row[place] for row in table] for place in range(width)]
    blank = text.rstrip("\n").count("\n") + 1 - len(table)
    return Grid(columns, np.array(lines, np.int64), ragged, max(blank, 0))


def strip_comment(line: str) -> str:
    """Drop a leading comment mark (`#`, `//`, `;`)."""
    match = _COMMENT.match(line)
    return line[match.end() :].strip() if match is not None else line.strip()


def is_comment(line: str) -> bool:
    """Whether a line begins with a comment mark."""
    return _COMMENT.match(line) is not None
