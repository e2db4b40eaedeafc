"""What was read at the work while a batch is live, a row a minute, kept from look to look."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from advisor.climate import reading_store
from advisor.climate.reading_store import OBSERVED
from advisor.climate.readings import DOUBTFUL, ReadingTable
from advisor.work import zones

if TYPE_CHECKING:
    from advisor.work.kept import Kept

FloatArray = NDArray[np.float64]

#: Rows finer than this are thinned to the last one in each, seconds.
FINEST_S = 60
#: Rows may arrive this much later than they were read, seconds; older ones at the next full look.
LATE_S = 180
#: Everything is read anew after this long, for rows that came in late, seconds.
FULL_S = 600
#: Rows looked at this shortly before are not looked at again, seconds.
LOOK_S = 5.0
#: A value stands this long after it was read, seconds.
HOLD_S = 3600
COLUMNS = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "surface_hot_c",
           "wind_m_s", "rain_mm")  # fmt: skip


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows [n] in time order, UTC seconds; house units, NaN where nothing is known.

    A value stands for HOLD_S after it was read, since not every instrument reads at once. The
    margin is to the higher of dew and frost point. `whole` is true where the surface was read
    and the air is known: a reading of the record. Doubtful rows have no values.
    """

    time_s: FloatArray
    air_temp_c: FloatArray
    rh_pct: FloatArray
    surface_temp_c: FloatArray
    hot_c: FloatArray
    margin_k: FloatArray
    wind_m_s: FloatArray
    rain_mm: FloatArray
    whole: NDArray[np.bool_]

    def since(self, first_s: float) -> Rows:
        """Return the rows from a moment on."""
        part = slice(int(np.searchsorted(self.time_s, first_s)), None)
        return Rows(*(getattr(self, field.name)[part] for field in fields(self)))

    @property
    def whole_s(self) -> FloatArray:
        """Times of the readings of the record."""
        return self.time_s[self.whole]


_NONE = np.zeros(0)
NO_ROWS = Rows(_NONE, _NONE, _NONE, _NONE, _NONE, _NONE, _NONE, _NONE, _NONE.astype(bool))


class RowsAtWork:
    """The rows of one area since a moment; only what is new is read at each look."""

    def __init__(self, bench: Kept, look_s: float = LOOK_S) -> None:
        self._bench = bench
        self._look_s = look_s
        self._kept: dict[str, _Kept] = {}

    def of(self, area_id: str, since_s: float, now_s: float, mark: object) -> Rows:
        """Return an area's rows. `mark` changes where something was typed: all is read anew."""
        known = self._kept.get(area_id)
        if known is None or not known.fits(since_s, now_s, mark):
            read = self._read(area_id, since_s, now_s)
            known = _Kept(since_s, now_s, now_s, mark, read, filled(read))
        elif now_s != known.seen_s and not 0 <= now_s - known.seen_s < self._look_s:
            first_s = max((now_s - LATE_S) // FINEST_S * FINEST_S, known.since_s)
            newer = self._read(area_id, first_s, now_s)
            raw = known.raw.before(first_s).joined(newer)
            rows = filled(raw, known.rows, first_s)
            known = replace(known, seen_s=now_s, raw=raw, rows=rows)
        self._kept[area_id] = known
        return known.rows.since(since_s)

    def _read(self, area_id: str, first_s: float, last_s: float) -> Raw:
        """Read what was observed: the area's own sensor stands before the shop's."""
        store, shop = self._bench.store, self._bench.readings_area
        first, last = int(first_s), int(last_s)
        table = reading_store.load(store, first, last, shop, OBSERVED)
        if area_id != shop:
            zone = reading_store.load(store, first, last, area_id, OBSERVED)
            table = zones.overlaid(table, zone)
        return thinned(table)


@dataclass(frozen=True, eq=False)
class Raw:
    """Rows [n] as read, the newest value of each minute; columns by the names of COLUMNS."""

    time_s: FloatArray
    values: dict[str, FloatArray]

    def before(self, end_s: float) -> Raw:
        """Return the rows before a moment."""
        end = int(np.searchsorted(self.time_s, end_s))
        return Raw(self.time_s[:end], {name: v[:end] for name, v in self.values.items()})

    def joined(self, later: Raw) -> Raw:
        """Return these rows with later ones after them."""
        values = {n: np.concatenate((v, later.values[n])) for n, v in self.values.items()}
        return Raw(np.concatenate((self.time_s, later.time_s)), values)


@dataclass(frozen=True, eq=False)
class _Kept:
    since_s: float
    full_s: float
    seen_s: float
    mark: object
    raw: Raw
    rows: Rows

    def fits(self, since_s: float, now_s: float, mark: object) -> bool:
        """Whether only the newest rows need to be read."""
        fresh = self.full_s <= now_s < self.full_s + FULL_S
        return fresh and self.since_s <= since_s and self.mark == mark


def thinned(table: ReadingTable) -> Raw:
    """Return the newest value of each minute; doubtful values left out."""
    if not len(table):
        return Raw(np.zeros(0), {name: np.zeros(0) for name in COLUMNS})
    starts = np.flatnonzero(np.append(True, np.diff(table.time_s // FINEST_S) > 0))
    ends = np.append(starts[1:], len(table)).astype(np.int64)
    odd = (table.flags & int(DOUBTFUL)) != 0
    last = {
        name: _last_known(np.where(odd, np.nan, table.column(name)), starts, ends)
        for name in COLUMNS
    }
    return Raw(table.time_s[ends - 1].astype(float), last)


def _last_known(
    column: FloatArray, starts: NDArray[np.int64], ends: NDArray[np.int64]
) -> FloatArray:
    """Return the last value of each run of rows, NaN where it has none."""
    at = np.where(np.isnan(column), -1, np.arange(len(column)))
    newest = np.maximum.accumulate(at)[ends - 1]
    return np.where(newest >= starts, column[np.maximum(newest, 0)], np.nan)


def filled(raw: Raw, known: Rows | None = None, from_s: float = -np.inf) -> Rows:
    """Let values stand until they are old, and reckon the room above the dew point.

    That of rows before `from_s` is taken from `known`.
    """
    time_s = raw.time_s
    held = {name: _held(time_s, column) for name, column in raw.values.items()}
    first = 0 if known is None else int(np.searchsorted(time_s, from_s))
    margin = np.zeros(0) if known is None else known.margin_k[:first]
    newer = {name: column[first:] for name, column in held.items()}
    margin = np.concatenate((margin, _margin_k(newer)))
    whole = ~np.isnan(raw.values["surface_temp_c"]) & ~np.isnan(margin)
    return Rows(
        time_s,
        held["air_temp_c"],
        held["rh_pct"],
        held["surface_temp_c"],
        np.fmax(held["surface_hot_c"], held["surface_temp_c"]),
        margin,
        held["wind_m_s"],
        held["rain_mm"],
        whole,
    )


def _held(time_s: FloatArray, column: FloatArray) -> FloatArray:
    if not len(column):
        return column
    at = np.maximum.accumulate(np.where(np.isnan(column), -1, np.arange(len(column))))
    value, since = column[np.maximum(at, 0)], time_s[np.maximum(at, 0)]
    return np.where((at >= 0) & (time_s - since <= HOLD_S), value, np.nan)


def _margin_k(values: dict[str, FloatArray]) -> FloatArray:
    """Surface above the higher of dew and frost point, by air and humidity, else as logged."""
    air, rh, dew = values["air_temp_c"], values["rh_pct"], values["dew_point_c"]
    if np.isnan(values["surface_temp_c"]).all():
        return np.full(len(air), np.nan)
    # Imported only where there is something to reckon: MetPy takes most of a second.
    from advisor.physics.moist_air import dew_point_array, wet_point_array

    dew = np.where(np.isnan(air + rh), dew, dew_point_array(air, rh))
    return np.asarray(values["surface_temp_c"] - wet_point_array(dew))
