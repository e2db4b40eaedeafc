"""Looking at the readings kept: zones, pictures, rows by the page, each doubt in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from advisor.climate.readings import Flag, Origin

if TYPE_CHECKING:
    from advisor.climate.reading_pages import StoredPages, StoredRow, Wanted
    from advisor.climate.reading_strands import Strand
    from advisor.work.workbench import Workbench

#: What is wrong with a row, for each flag.
DOUBTS: Mapping[Flag, str] = MappingProxyType({
    Flag.FAULT: "an impossible value, left empty",
    Flag.STUCK: "stood still for hours: stuck?",
    Flag.SPIKE: "a jump and back",
    Flag.SWAPPED: "temperature and humidity exchanged?",
    Flag.DEW_ABOVE_AIR: "dew point above the air, left empty",
    Flag.UNIT: "reads like °F where °C was said",
    Flag.APART: "another sensor there told otherwise",
    Flag.AMBIGUOUS_TIME: "the hour that comes twice in autumn",
    Flag.CLAMPED: "just past saturation, set to 100%",
})  # fmt: skip
#: Where a reading is from, as told in a table.
SOURCES: Mapping[Origin, str] = MappingProxyType({
    Origin.TYPED: "typed", Origin.MEASURED: "sensor", Origin.IMPORTED: "imported",
})  # fmt: skip
WHOLE_SHOP = "The shop"


@dataclass(frozen=True)
class Zone:
    """A part of the shop and the name its readings are kept under."""

    area: str
    name: str


@dataclass(frozen=True)
class ReadingRow:
    """A kept row with its dew point (read or computed), margin in K, and doubts in words."""

    stored: StoredRow
    dew_point_c: float | None
    margin_k: float | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class ReadingRows:
    """Rows by position, newest first."""

    pages: StoredPages

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        return self.pages.rows

    def page(self, first: int, count: int) -> tuple[ReadingRow, ...]:
        """Return up to `count` rows from position `first`."""
        return with_margins(self.pages.page(first, count))


class ReadingsLook:
    """What the window asks about the readings. Every call but `zones` belongs on a worker."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench

    def zones(self) -> tuple[Zone, ...]:
        """Return the shop as a whole and every area of the job."""
        job = self._bench.job()
        areas = () if job is None else tuple(Zone(area.id, area.name) for area in job.areas)
        return (Zone(self._bench.readings_area, WHOLE_SHOP), *areas)

    def lay_out(self) -> int:
        """Lay out what was written since it was last looked at; return how many rows that were."""
        from advisor.climate.reading_spans import refresh

        return refresh(self._bench.store, tuple(zone.area for zone in self.zones()))

    def reach(self, area: str) -> tuple[float, float] | None:
        """Return the times of the first and last reading of a zone, UTC seconds."""
        from advisor.climate.reading_strands import reach

        return reach(self._bench.store, area)

    def strands(self, area: str, first_s: float, last_s: float, points: int) -> tuple[Strand, ...]:
        """Return what was read in a zone, for each origin, at about `points` steps."""
        from advisor.climate.reading_strands import strands

        return strands(self._bench.store, area, first_s, last_s, points)

    def rows(self, wanted: Wanted) -> ReadingRows:
        """Count the rows wanted; pages come from what is returned."""
        from advisor.climate.reading_pages import stored_pages

        return ReadingRows(stored_pages(self._bench.store, wanted))


def with_margins(rows: tuple[StoredRow, ...]) -> tuple[ReadingRow, ...]:
    """Add dew point and margin, computed together: one call for a page."""
    from advisor.physics import moist_air

    def column(name: str) -> np.ndarray:
        return np.array([getattr(row, name) for row in rows], dtype=np.float64)

    dew = column("dew_point_c")
    computed = moist_air.dew_point_array(column("air_temp_c"), column("rh_pct"))
    dew = np.where(np.isnan(dew), computed, dew)
    margin = column("surface_temp_c") - moist_air.wet_point_array(dew)
    return tuple(
        ReadingRow(row, _known(d), _known(m), doubts(row.flags))
        for row, d, m in zip(rows, dew.tolist(), margin.tolist(), strict=True)
    )


def doubts(flags: int) -> tuple[str, ...]:
    """Say what is wrong with a row, the worst first."""
    told = tuple(words for flag, words in DOUBTS.items() if flags & flag)
    unnamed = flags & ~sum(int(flag) for flag in DOUBTS)
    return (*told, "in doubt") if unnamed else told


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
