"""Cells to numbers: decimals, thousands, units in the cell, missing marks and fault codes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.climate.logs.bytecolumn import ByteColumn
from advisor.climate.logs.units import unit_of
from advisor.climate.logs.words import mend, month_of
from advisor.climate.readings import FloatArray

Decimal = Literal[".", ","]

#: What became of a cell.
GOOD, MISSING, FAULT, DAMAGED = 0, 1, 2, 3

_MISSING = re.compile(
    r"na|nan|null|none|nil|#?n/a|<na>|nodata|missing|unknown|unavailable|undef|[.?*x]",
    re.IGNORECASE,
)
_FAULT = re.compile(
    r"(err(or)?\d*|e\d+|ol|over(flow|range|load)?|under(range)?|lo|hi|low|high|open|short|fail(ed)?"
    r"|fault|sensor|invalid|bad|disconnected|offline|#value!?|#ref!?|#div/0!?|#num!?|-?inf(inity)?)",
    re.IGNORECASE,
)
_DASHES = re.compile(r"[-–—−.,_ ]+")
_NUMBER = re.compile(
    r"(?P<sign>[+\-]?)(?P<body>\d+[.,](?![\d.,])|(?:\d[\d.,' \u00a0\u2009\u202f]*)?[.,]?\d+)"
    r"(?P<exp>[eE][+\-]?\d+)?\s*(?P<unit>[^\d\s].*)?"
)
_SPACES = re.compile(r"[ '\u00a0\u2009\u202f]")


@dataclass(frozen=True, eq=False)
class Cells:
    """A column as numbers [n] (NaN where none), the state of each cell, units found in cells.

    `units` maps a row to the unit code its cell carried; `odd` holds up to a few damaged texts.
    """

    values: FloatArray
    state: NDArray[np.uint8]
    units: dict[int, str] = field(default_factory=dict)
    odd: dict[int, str] = field(default_factory=dict)


def to_cells(cells: Sequence[str], decimal: Decimal) -> Cells:
    """Convert a column of texts; only cells that are no plain number are looked at one by one."""
    if isinstance(cells, ByteColumn):
        return _from_bytes(cells, decimal)
    fast = _all_plain(cells, decimal)
    if fast is not None:
        return Cells(fast, np.isnan(fast).astype(np.uint8))
    return _one_by_one(cells, decimal)


def _from_bytes(column: ByteColumn, decimal: Decimal) -> Cells:
    values, good = column.floats(decimal)
    rows = np.flatnonzero(~good)
    if not len(rows):
        return Cells(values, np.zeros(len(values), np.uint8))
    dirty = _one_by_one(column.at(rows), decimal)
    values[rows] = dirty.values
    state = np.zeros(len(values), np.uint8)
    state[rows] = dirty.state
    places = rows.tolist()
    return Cells(
        values,
        state,
        {places[row]: unit for row, unit in dirty.units.items()},
        {places[row]: text for row, text in dirty.odd.items()},
    )


def _all_plain(cells: Sequence[str], decimal: Decimal) -> FloatArray | None:
    texts: Iterable[str] = cells
    if decimal == ",":
        joined = "\x1f".join(cells)
        if "." in joined:
            return None
        texts = joined.replace(",", ".").split("\x1f")
    try:
        values = np.fromiter(map(float, texts), np.float64, len(cells))
    except ValueError:
        return None
    return None if np.isinf(values).any() else values


def _one_by_one(cells: Sequence[str], decimal: Decimal) -> Cells:
    values = np.full(len(cells), np.nan)
    state = np.zeros(len(cells), np.uint8)
    units: dict[int, str] = {}
    odd: dict[int, str] = {}
    known: dict[str, tuple[float, int, str | None]] = {}
    plain_point = decimal == "."
    for row, text in enumerate(cells):
        if plain_point:
            try:
                values[row] = float(text)
            except ValueError:
                pass
            else:
                continue
        found = known.get(text)
        if found is None:
            found = known[text] = parse_cell(text, decimal)
        values[row], state[row], unit = found
        if unit is not None:
            units[row] = unit
        if found[1] == DAMAGED and len(odd) < 5:
            odd[row] = text
    state[np.isnan(values) & (state == GOOD)] = MISSING
    infinite = np.isinf(values)
    state[infinite], values[infinite] = FAULT, np.nan
    return Cells(values, state, units, odd)


def parse_cell(text: str, decimal: Decimal) -> tuple[float, int, str | None]:
    """Return (value, state, unit code or None) of one cell."""
    plain = mend(text).strip().strip("\"'").strip()
    plain = plain.replace("−", "-").replace("–", "-")
    if plain.startswith("="):
        plain = plain[1:].strip("\"' ")
    if not plain or _DASHES.fullmatch(plain) or _MISSING.fullmatch(plain):
        return np.nan, MISSING, None
    if _FAULT.fullmatch(plain):
        return np.nan, FAULT, None
    match = _NUMBER.fullmatch(plain)
    if match is None:
        return np.nan, DAMAGED, None
    unit_text = (match["unit"] or "").strip()
    unit = unit_of(unit_text) if unit_text else None
    number = _plain_number(match["body"], decimal)
    if number is None or (unit_text and unit is None):
        return np.nan, DAMAGED, None
    return float(f"{match['sign']}{number}{match['exp'] or ''}"), GOOD, unit


def _plain_number(body: str, decimal: Decimal) -> str | None:
    """Drop thousands marks and write the decimal as a point; None if the grouping is wrong."""
    mark = decimal_mark(body, decimal)
    other = "," if mark == "." else "."
    whole, _, fraction = body.partition(mark)
    if mark in fraction or other in fraction or _SPACES.search(fraction):
        return None
    groups = re.split(r"[.,' \u00a0\u2009\u202f]", whole)
    if len(groups) > 1 and (
        any(len(group) != 3 for group in groups[1:]) or not 1 <= len(groups[0]) <= 3
    ):
        return None
    return f"{''.join(groups) or '0'}.{fraction or '0'}"


def decimal_mark(body: str, decimal: Decimal) -> Decimal:
    """Which mark is the decimal in this number; `decimal` is the file's habit."""
    points, commas = body.count("."), body.count(",")
    if points and commas:
        return "." if body.rfind(".") > body.rfind(",") else ","
    if not points and not commas:
        return decimal
    mark: Decimal = "." if points else ","
    if points + commas > 1:
        return "," if mark == "." else "."
    whole, _, fraction = body.partition(mark)
    grouped = len(fraction) == 3 and 1 <= len(whole) <= 3 and whole != "0"
    if mark != decimal and grouped:
        return decimal
    return mark


def decide_decimal(cells: Iterable[str]) -> tuple[Decimal, str]:
    """Choose the file's decimal mark from sample cells; say why."""
    sure = {".": 0, ",": 0}
    weak = {".": 0, ",": 0}
    for text in cells:
        match = _NUMBER.fullmatch(text.strip().strip("\"'=").replace("−", "-"))
        if match is None or (match["unit"] and unit_of(match["unit"]) is None):
            continue
        body = match["body"]
        if body.count(".") + body.count(",") == 0:
            continue
        if body.count(".") > 1 or body.count(",") > 1:
            sure["," if body.count(".") > 1 else "."] += 1
            continue
        clear = ("." in body and "," in body) or not re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", body)
        (sure if clear else weak)[decimal_mark(body, "." if "." in body else ",")] += 1
    counts = sure if sum(sure.values()) else weak
    mark: Decimal = "," if counts[","] > counts["."] else "."
    name = "comma" if mark == "," else "point"
    if not sum(counts.values()):
        return ".", "point (no cell has decimals)"
    return mark, f"{name} ({counts[mark]} of {sum(counts.values())} sampled decimals use it)"


def looks_like_spreadsheet_date(text: str) -> bool:
    """Whether a cell such as `Mar 21` or `02-Jan` was a number a spreadsheet made a date."""
    words = re.split(r"[ \-./]+", text.strip())
    return len(words) == 2 and any(month_of(word) for word in words if word.isalpha())
