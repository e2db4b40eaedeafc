"""Rows of the table of readings: figures in the reader's units, each doubt in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from advisor.base import units as u
from advisor.planning.words import Words
from advisor.ui.widgets.paged_table import Heading, TableRow
from advisor.work.readings_look import SOURCES, ReadingRow, ReadingRows

HEADINGS = (
    Heading("Time", 140),
    Heading("Zone", 96),
    Heading("Air", 84, figures=True),
    Heading("RH", 62, figures=True),
    Heading("Dew point", 104, figures=True),
    Heading("Surface", 90, figures=True),
    Heading("Margin", 84, figures=True),
    Heading("Source", 106),
    Heading("Doubts"),
)


@dataclass(frozen=True, eq=False)
class RowPages:
    """Pages of a table. `names` has the name of each zone by the area its rows are kept under."""

    found: ReadingRows
    words: Words
    names: tuple[tuple[str, str], ...]

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        return self.found.rows

    def page(self, first: int, count: int) -> tuple[TableRow, ...]:
        """Return up to `count` rows, newest first."""
        names = dict(self.names)
        return tuple(
            table_row(row, self.words, names.get(row.stored.area, row.stored.area))
            for row in self.found.page(first, count)
        )


def table_row(row: ReadingRow, words: Words, zone: str) -> TableRow:
    """Put one reading into cells; the key is its moment, UTC seconds."""
    kept, units = row.stored, words.units
    doubt = "; ".join(row.doubts)
    cells = (
        clock(kept.time_s, words),
        zone,
        u.format_temperature(kept.air_temp_c, units),
        u.format_humidity(kept.rh_pct, units),
        u.format_temperature(row.dew_point_c, units),
        u.format_temperature(kept.surface_temp_c, units),
        u.format_difference(row.margin_k, units),
        SOURCES.get(kept.origin, kept.origin.value),
        doubt,
    )
    return TableRow(cells, kept.time_s, doubt=bool(doubt), told=spoken(cells))


def spoken(cells: tuple[str, ...]) -> str:
    """Return a row as one sentence, for a tap and for a reader of the screen."""
    time, zone, air, rh, dew, surface, margin, source, doubt = cells
    told = (
        f"{time}, {zone}, {source}: surface {surface}, dew point {dew}, margin {margin}; "
        f"air {air}, humidity {rh}"
    )
    return f"{told}. In doubt: {doubt}" if doubt else told


def clock(at_s: float, words: Words) -> str:
    """Return day and clock with seconds; the year where it is not this one."""
    local = datetime.fromtimestamp(at_s, words.zone)
    now = local if words.now_s is None else datetime.fromtimestamp(words.now_s, words.zone)
    year = "" if local.year == now.year else f" {local.year}"
    day = f"{local.day} {local.strftime('%b')}{year}"
    return f"{day} {local.strftime('%H:%M:%S' if local.second else '%H:%M')}"
