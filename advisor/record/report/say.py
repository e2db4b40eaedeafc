"""How moments, values and fields of entries are put into words on paper."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType

from advisor.base import units as u
from advisor.planning.words import Words, duration
from advisor.record.canonical import Json
from advisor.record.kinds import Field
from advisor.record.report.blocks import Cell, Run, Tone, cell
from advisor.record.review_types import Standing, TimeSpan
from advisor.record.telling import LATE_S, source_of

#: A space at which no line is broken; it is printed as a plain one.
HELD = "\u00a0"
_MARKS: Mapping[Standing, tuple[str, Tone]] = MappingProxyType(
    {
        "inside": ("● inside", "good"),
        "outside": ("▲ OUTSIDE", "bad"),
        "not known": ("? not known", "doubt"),
    }
)

#: Heads of the tables of a job, by the keys of their rows.
ROW_HEADS: Mapping[str, str] = MappingProxyType({
    "id": "Short name", "name": "Name", "area_m2": "Area, m²", "substrate": "Substrate",
    "outdoors": "Outdoors", "area": "Area", "product": "Product", "method": "Method",
    "dft_um": "Dry film asked, µm", "status": "Values", "title": "Data sheet",
    "revision": "Revision", "issued": "Issued", "sha256": "SHA-256 of its file",
})  # fmt: skip


@dataclass(frozen=True)
class Say:
    """The reader's units and the job's time zone."""

    words: Words

    def when(self, time_s: float | None) -> str:
        """Return a moment as date, clock and offset; a night of a clock change stays plain."""
        if time_s is None or not math.isfinite(time_s):
            return ""
        local = datetime.fromtimestamp(round(time_s), UTC).astimezone(self.words.zone)
        offset = local.strftime("%z")
        return f"{local:%Y-%m-%d %H:%M} {offset[:3]}:{offset[3:5]}"

    def iso(self, time_s: float | None) -> str:
        """Return a moment for a program: ISO 8601 with offset, "" where not known."""
        return "" if time_s is None or not math.isfinite(time_s) else self.words.iso(time_s)

    def span(self, span: TimeSpan) -> str:
        """Return from, to and how long."""
        return f"{self.when(span.from_s)} to {self.when(span.to_s)} ({duration(span.hours)})"

    def value(self, value: float | None, unit: str) -> str:
        """Return a house value in the reader's units, "" where not known."""
        if value is None or not math.isfinite(value):
            return ""
        if unit == "µm":
            return u.format_film(value, self.words.units).replace(" ", HELD)
        if unit == "%":
            # Whole per cents would print 85.4 against a limit of 85 as inside.
            return f"{value:.1f}{HELD}%"
        if unit == "h":
            return f"{value:.1f}{HELD}h"
        return self.words.value(value, unit).replace(" ", HELD)

    def bounds(self, low: float | None, high: float | None, unit: str) -> str:
        """Return limits: from, up to, or between."""
        shown_low, shown_high = self.value(low, unit), self.value(high, unit)
        if shown_low and shown_high:
            return f"{shown_low} to {shown_high}"
        if shown_low:
            return f"at least {shown_low}"
        return f"at most {shown_high}" if shown_high else ""

    def field(self, field: Field, value: Json) -> str:
        """Return one field of an entry as it was entered, "" where it holds nothing."""
        if field.type == "moment" and isinstance(value, str) and value:
            return self.when(datetime.fromisoformat(value).timestamp())
        if field.key == "blocks":
            return _blocks(rows_of(value))
        return _table(field, rows_of(value)) if field.type == "rows" else plain(value)


def plain(value: Json) -> str:
    """Return kept data in words, as it was entered."""
    if isinstance(value, Mapping):
        return _quantity(value) if "value" in value and "source" in value else _pairs(value)
    if isinstance(value, list | tuple):
        return _several(list(value))
    return "" if value is None else str(value)


def rows_of(value: Json) -> list[Mapping[str, Json]]:
    """Return the rows of a kept table, none where it is not one."""
    rows = value if isinstance(value, list | tuple) else ()
    return [row for row in rows if isinstance(row, Mapping)]


def standing(of: Standing) -> Cell:
    """Return inside, outside, not known: a word, a shape and a colour."""
    text, tone = _MARKS[of]
    return cell(text, tone, bold=of == "outside")


def late(late_s: float) -> Cell:
    """Return the mark of an entry written long after what it tells, nothing where in time."""
    if late_s > LATE_S:
        return (Run(f"written {duration(late_s / 3600)} later", "doubt"),)
    if late_s < -LATE_S:
        return (Run(f"written {duration(-late_s / 3600)} before its time", "doubt"),)
    return ()


def _blocks(rows: list[Mapping[str, Json]]) -> str:
    """Return how many blocks of lines a file was cut into; a log of a year has hundreds."""
    if not rows:
        return ""
    many = "1 block" if len(rows) == 1 else f"{len(rows)} blocks"
    return f"{many} up to line {_last_line(rows[-1])}; the SHA-256 of each is in record.jsonl"


def _table(field: Field, rows: list[Mapping[str, Json]]) -> str:
    """Return the rows of a table as text, what stands in them by the heads of the first pages."""
    return "; ".join(
        ", ".join(
            f"{ROW_HEADS[key]}: {plain(row[key])}"
            if key in ROW_HEADS
            else f"{key} {plain(row[key])}"
            for key in dict.fromkeys((*field.keys, *row))
            if plain(row.get(key))
        )
        for row in rows
    )


def _last_line(row: Mapping[str, Json]) -> str:
    first, lines = str(row.get("first_line", "")), str(row.get("lines", ""))
    whole = first.isdigit() and lines.isdigit()
    return str(int(first) + int(lines) - 1) if whole else "not kept"


def _quantity(value: Mapping[str, Json]) -> str:
    if not value.get("value"):
        return ""
    how = source_of(value)
    shown = f"{value['value']} {value.get('unit', '')}".strip()
    if value.get("entered"):
        shown = f"{value['entered']} = {shown}"
    return f"{shown} ({how})" if how else shown


def _pairs(value: Mapping[str, Json]) -> str:
    return ", ".join(f"{k} {plain(v)}" for k, v in value.items() if plain(v))


def _several(values: list[Json]) -> str:
    alike = [v for v in values if isinstance(v, Mapping) and "value" in v and "source" in v]
    hows = {(str(v.get("unit")), source_of(v)) for v in alike}
    if len(alike) == len(values) and len(hows) == 1:
        unit, how = hows.pop()
        return f"{', '.join(str(v['value']) for v in alike)} {unit} ({how}; n = {len(alike)})"
    return "; ".join(plain(v) for v in values)
