"""What was really read, as rows: sensors, files and typing joined, corrections applied.

The table of readings is the source of values; `reading` entries go over it, so that a corrected
value counts as it is now and one that was struck out counts for nothing. Forecasts and estimates
are not in it. Doubtful rows (stuck, spike, exchanged) stay to be seen and count neither way.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.climate.quality import POSSIBLE
from advisor.climate.reading_store import OBSERVED
from advisor.climate.readings import DOUBTFUL, Origin, ReadingTable
from advisor.climate.series import on_grid
from advisor.physics import moist_air
from advisor.record.effective import Effective
from advisor.record.entry import Entry, number_of
from advisor.record.kinds import KINDS
from advisor.record.review_types import FloatArray, IntArray, ReadingsOfCoat

#: Columns a review looks at.
COLUMNS = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "surface_hot_c", "wind_m_s",
           "rain_mm")  # fmt: skip
#: Fields of a `reading` entry and the columns they are.
_FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "air_temp": "air_temp_c",
        "rh": "rh_pct",
        "dew_point": "dew_point_c",
        "surface_temp": "surface_temp_c",
        "surface_hot": "surface_hot_c",
        "wind": "wind_m_s",
    }
)
_SURFACES = ("surface_temp_c", "surface_hot_c")
#: Closed intervals of what can be read, by column.
_CAN_BE = MappingProxyType({**POSSIBLE, "surface_hot_c": POSSIBLE["surface_temp_c"]})


@dataclass(frozen=True, eq=False)
class Observed:
    """Rows in time order. `time_s` [n] UTC seconds, strictly increasing; columns [n], NaN blank.

    `rank` [n] index into OBSERVED of where the row is from; `doubtful` [n].
    """

    time_s: IntArray
    columns: Mapping[str, FloatArray]
    rank: IntArray
    doubtful: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.time_s)

    def sure(self, name: str) -> FloatArray:
        """Return a column with doubtful rows left out."""
        return np.where(self.doubtful, np.nan, self.columns[name])

    def source_at(self, time_s: float) -> str:
        """Return where the row of a moment is from; "between readings" where there is none."""
        at = int(np.searchsorted(self.time_s, time_s))
        if at < len(self) and self.time_s[at] == time_s:
            return OBSERVED[int(self.rank[at])].value
        return "between readings"


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of one origin; `at_work` where they were read in the coat's own zone."""

    table: ReadingTable
    origin: Origin
    at_work: bool = False


def observed(
    rows: Iterable[Rows], entries: Iterable[Effective] = (), area_id: str = ""
) -> Observed:
    """Join rows and `reading` entries; entries over typed, typed over measured over imported.

    Where the coat's zone has its own sensor, the shop's rows count only in holes of over three
    hours. The surface of an entry made at another area is left out.
    """
    given, readings = list(rows), [e for e in entries if e.entry.kind == "reading"]
    work = _stacked([r for r in given if r.at_work])
    shop = _outside_of(work, _stacked([r for r in given if not r.at_work]))
    said_s = {int(at) for e in readings for at in (e.entry.at_s, e.now.at_s)}
    logged = _without(_joined(work, shop), sorted(said_s))
    return _merged(_joined(logged, _said(readings, area_id)))


def readings_of(seen: Observed, first_s: float, last_s: float) -> ReadingsOfCoat:
    """Return the rows of a stretch as they are printed, dew point and margin worked out."""
    part = (seen.time_s >= first_s) & (seen.time_s <= last_s)
    air = seen.columns["air_temp_c"][part]
    dew = dew_points(seen, with_doubtful=True)[part]
    surface = seen.columns["surface_temp_c"][part]
    rh = seen.columns["rh_pct"][part]
    blank = np.isnan(rh) & ~np.isnan(air) & ~np.isnan(dew)
    rh = np.where(blank, moist_air.rh_array(air, dew), rh) if blank.any() else rh
    return ReadingsOfCoat(
        seen.time_s[part], air, rh, dew, surface, surface - moist_air.wet_point_array(dew),
        tuple(OBSERVED[int(rank)].value for rank in seen.rank[part]), seen.doubtful[part],
    )  # fmt: skip


def dew_points(seen: Observed, *, with_doubtful: bool = False) -> FloatArray:
    """Dew point of each row: as read, else from humidity with the air of the row or near it."""
    name = seen.columns.__getitem__ if with_doubtful else seen.sure
    air, rh, dew = name("air_temp_c"), name("rh_pct"), name("dew_point_c")
    wanted = np.isnan(dew) & ~np.isnan(rh)
    if not wanted.any():
        return dew
    beside = np.where(np.isnan(air), on_grid(seen.time_s, air, seen.time_s), air)
    return np.where(wanted, moist_air.dew_point_array(beside, rh), dew)


def _stacked(rows: Sequence[Rows]) -> Observed:
    """Lay rows of several origins one after the other, not yet joined."""
    if not rows:
        return _none()
    columns = {n: np.concatenate([r.table.column(n) for r in rows]) for n in COLUMNS}
    flags = np.concatenate([r.table.flags for r in rows])
    return Observed(
        np.concatenate([r.table.time_s for r in rows]).astype(np.int64),
        columns,
        np.concatenate([np.full(len(r.table), OBSERVED.index(r.origin)) for r in rows]),
        (flags & np.uint16(DOUBTFUL)) != 0,
    )


def _none() -> Observed:
    blank = np.empty(0)
    return Observed(np.empty(0, dtype=np.int64), dict.fromkeys(COLUMNS, blank),
                    np.empty(0, dtype=np.int64), np.empty(0, dtype=bool))  # fmt: skip


def _outside_of(work: Observed, shop: Observed) -> Observed:
    """Blank what the shop's sensors say while the coat's own say it beyond doubt; typing stays."""
    if not len(work):
        return shop
    typed = shop.rank == OBSERVED.index(Origin.TYPED)
    order = np.argsort(work.time_s, kind="stable")
    columns = {}
    for name, values in shop.columns.items():
        near = on_grid(work.time_s[order], work.sure(name)[order], shop.time_s)
        columns[name] = np.where(typed | np.isnan(near), values, np.nan)
    return Observed(shop.time_s, columns, shop.rank, shop.doubtful)


def _joined(first: Observed, second: Observed) -> Observed:
    columns = {n: np.concatenate([first.columns[n], second.columns[n]]) for n in COLUMNS}
    return Observed(
        np.concatenate([first.time_s, second.time_s]),
        columns,
        np.concatenate([first.rank, second.rank]),
        np.concatenate([first.doubtful, second.doubtful]),
    )


def _merged(rows: Observed) -> Observed:
    """Make one row of each moment: the best origin's values, blanks filled from the others.

    Humidity belongs to its own air, so that air, humidity and dew point go together. A doubtful
    row fills nothing where there is a good one.
    """
    sound = ~rows.doubtful
    if not sound.all():
        rows = _picked(rows, sound | ~np.isin(rows.time_s, rows.time_s[sound]))
    times, group = np.unique(rows.time_s, return_inverse=True)
    columns = {name: np.full(len(times), np.nan) for name in COLUMNS}
    rank = np.full(len(times), len(OBSERVED) - 1, dtype=np.int64)
    doubtful = np.zeros(len(times), dtype=bool)
    moist = ("air_temp_c", "rh_pct", "dew_point_c")
    for origin in reversed(range(len(OBSERVED))):
        at = rows.rank == origin
        whole = at & ~np.isnan(rows.columns["air_temp_c"]) & (
            ~np.isnan(rows.columns["rh_pct"]) | ~np.isnan(rows.columns["dew_point_c"])
        )  # fmt: skip
        rank[group[at]], doubtful[group[at]] = origin, rows.doubtful[at]
        for name in COLUMNS:
            given = at & ~np.isnan(rows.columns[name])
            given = given | whole if name in moist else given
            columns[name][group[given]] = rows.columns[name][given]
    return Observed(times, columns, rank, doubtful)


# --- entries -----------------------------------------------------------------------------


def _without(rows: Observed, times: Sequence[int]) -> Observed:
    """Leave out the typed rows of these moments: their entries say them, as they count now."""
    typed = rows.rank == OBSERVED.index(Origin.TYPED)
    return _picked(rows, ~(typed & np.isin(rows.time_s, np.asarray(times, dtype=np.int64))))


def _picked(rows: Observed, keep: NDArray[np.bool_]) -> Observed:
    columns = {name: values[keep] for name, values in rows.columns.items()}
    return Observed(rows.time_s[keep], columns, rows.rank[keep], rows.doubtful[keep])


def _said(readings: Sequence[Effective], area_id: str) -> Observed:
    """Return the rows of `reading` entries as they count now.

    Entries of one second that say different quantities are one row. Where both say the same one
    the later stands a second on: what failed stays, since typing anew is no correction.
    """
    rows: dict[tuple[int, Origin], dict[str, float]] = {}
    for told in readings:
        values, origin = _values(told.now, area_id)
        if values and not told.struck_out:
            time_s = int(told.now.at_s)
            while not _joins(rows.get((time_s, origin), {}), values):
                time_s += 1
            rows[time_s, origin] = rows.get((time_s, origin), {}) | values
    columns = {
        name: np.array([values.get(name, np.nan) for values in rows.values()]) for name in COLUMNS
    }
    return Observed(
        np.array([time_s for time_s, _ in rows], dtype=np.int64),
        columns,
        np.array([OBSERVED.index(origin) for _, origin in rows], dtype=np.int64),
        np.zeros(len(rows), dtype=bool),
    )


def _joins(row: Mapping[str, float], values: Mapping[str, float]) -> bool:
    return all(row.get(name, value) == value for name, value in values.items())


def _values(entry: Entry, area_id: str) -> tuple[dict[str, float], Origin]:
    """Return what an entry says was observed, by column, and its origin.

    What was reckoned (a dew point in print, rounded), is in another unit or cannot be so is left
    out.
    """
    found: dict[str, float] = {}
    origin = Origin.TYPED
    elsewhere = bool(entry.area_id and area_id and entry.area_id != area_id)
    for field, column in _FIELDS.items():
        kept = entry.data.get(field)
        number = number_of(kept)
        if number is None or not isinstance(kept, Mapping) or not _can_be(column, number):
            continue
        if kept.get("unit") != KINDS["reading"].field(field).unit or (
            elsewhere and column in _SURFACES
        ):
            continue
        if kept.get("source") in list(OBSERVED):
            found[column], origin = number, Origin(str(kept["source"]))
    return found, origin


def impossible(entry: Entry) -> tuple[str, ...]:
    """Return the fields of a reading whose number nobody can have read, in words."""
    fields = KINDS["reading"].field
    return tuple(
        f"{fields(field).label.lower()} {number:g} {fields(field).unit}"
        for field, column in _FIELDS.items()
        if (number := number_of(entry.data.get(field))) is not None and not _can_be(column, number)
    )


def _can_be(column: str, value: float) -> bool:
    low, high = _CAN_BE[column]
    return low <= value <= high and not (column == "rh_pct" and value == 0.0)
