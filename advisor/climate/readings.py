"""Readings as they were taken: typed, logged, imported or forecast, with their flags."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import IntFlag, StrEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Columns a table of readings may carry, in house units.
COLUMNS = (
    "air_temp_c",
    "rh_pct",
    "dew_point_c",
    "surface_temp_c",
    "surface_hot_c",
    "pressure_hpa",
    "wind_m_s",
    "rain_mm",
)


class Origin(StrEnum):
    """Where a number comes from; never mixed up in print."""

    MEASURED = "measured"
    TYPED = "typed"
    IMPORTED = "imported"
    FORECAST = "forecast"
    ESTIMATED = "estimated"


#: What an instrument wrote by itself: here as it came, or in a file.
LOGGED = (Origin.MEASURED, Origin.IMPORTED)


class Flag(IntFlag):
    """Why a row or value is doubtful. Flagged values are kept; bad ones become NaN."""

    NONE = 0
    CLAMPED = 1  # RH 100–105 from a logger set to 100
    FAULT = 2  # fault code or impossible value, now NaN
    STUCK = 4
    SPIKE = 8
    SWAPPED = 16  # temperature and humidity look exchanged
    DEW_ABOVE_AIR = 32
    AMBIGUOUS_TIME = 64  # the repeated hour in autumn, decided by order
    UNIT = 128  # reads like °F where °C was said
    APART = 256  # another sensor of the same zone tells otherwise


#: A value of a row flagged so stays in the record but never speaks for the air of now.
DOUBTFUL = Flag.STUCK | Flag.SPIKE | Flag.SWAPPED | Flag.UNIT | Flag.APART | Flag.DEW_ABOVE_AIR


@dataclass(frozen=True, eq=False)
class ReadingTable:
    """Rows in time order.

    `time_s` [n] int64, UTC seconds since 1970, strictly increasing. `columns` maps a name of
    `COLUMNS` to float64 [n], NaN where the row has no value. `flags` [n] of `Flag`.
    """

    time_s: IntArray
    columns: dict[str, FloatArray]
    flags: NDArray[np.uint16]
    origin: Origin = Origin.IMPORTED

    def column(self, name: str) -> FloatArray:
        """Return a column, all NaN when the table has none."""
        found = self.columns.get(name)
        return np.full(len(self.time_s), np.nan) if found is None else found

    def part(self, rows: slice | NDArray[np.bool_]) -> ReadingTable:
        """Return some of the rows: a slice of them, or those where `rows` [n] is true."""
        columns = {name: values[rows] for name, values in self.columns.items()}
        return replace(self, time_s=self.time_s[rows], columns=columns, flags=self.flags[rows])

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.time_s)


@dataclass(frozen=True)
class DroppedRow:
    """A row that was not used: the line in the file (from 1) and why."""

    line: int
    reason: str


@dataclass(frozen=True)
class ImportReport:
    """What the importer understood, kept and left out. `mapping` explains each choice."""

    rows_read: int
    rows_used: int
    rows_dropped: int
    flagged: int
    first_s: int | None
    last_s: int | None
    mapping: dict[str, str] = field(default_factory=dict)
    dropped: tuple[DroppedRow, ...] = ()
    notes: tuple[str, ...] = ()
    file_sha256: str = ""


@dataclass(frozen=True)
class ImportedFile:
    """A file read into house units, with the report of how."""

    table: ReadingTable
    report: ImportReport
