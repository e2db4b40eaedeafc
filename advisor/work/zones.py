"""What was read where: a coat goes by its own zone's sensor where that is newer than the shop's.

A flagged value of a sensor never speaks for now: not as the newest value, not in the series.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.forecast_near_log import NEAR_S
from advisor.climate.reading_store import LatestValue
from advisor.climate.readings import COLUMNS, DOUBTFUL, LOGGED, FloatArray, Origin, ReadingTable
from advisor.climate.series import GRID_S

#: A coat's own zone counts before the shop though it was read this much earlier.
OWN_ZONE_S = 600
#: What a sensor told last stands for so long: the grid needs a value up to now.
HOLDS_S = 600
HELD = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "surface_hot_c")
#: Columns that are only true together: humidity belongs to its own air.
TOGETHER = (("air_temp_c", "rh_pct", "dew_point_c"), ("surface_temp_c", "surface_hot_c"))


def newest(
    store: Store, now_s: float, areas: Sequence[str], origins: Iterable[Origin] | None = None
) -> dict[str, LatestValue]:
    """Return the newest observed value of each quantity: the shop's, or of a zone named after it.

    The zone's stands while it is not much older than what the shop's sensor told. A doubtful
    one is returned as it is, so that it is refused, unless a value was typed since the sensor
    became doubtful.
    """
    found: dict[str, LatestValue] = {}
    for area in dict.fromkeys(areas):
        for name, value in _newest_in(store, int(now_s), area, origins).items():
            shop = found.get(name)
            late_s = OWN_ZONE_S if shop is not None and shop.origin is not Origin.TYPED else 0
            if shop is None or value.time_s >= shop.time_s - late_s:
                found[name] = value
    return found


def _newest_in(
    store: Store, now_s: int, area: str, origins: Iterable[Origin] | None
) -> dict[str, LatestValue]:
    chosen = tuple(origins) if origins is not None else reading_store.OBSERVED
    found = reading_store.latest(store, now_s, area, origins=chosen)
    odd = {name: value for name, value in found.items() if value.flags & DOUBTFUL}
    if not odd:
        return found
    sure = reading_store.latest(store, now_s, area, origins=chosen, without=DOUBTFUL)
    for name in odd.keys() & sure.keys():
        if sure[name].origin is Origin.TYPED and _was_odd(store, area, name, sure[name].time_s):
            found[name] = sure[name]
    return found


def _was_odd(store: Store, area: str, name: str, at_s: int) -> bool:
    """Whether what a sensor last told up to a moment was doubtful."""
    told = reading_store.latest(store, at_s, area, origins=LOGGED).get(name)
    return told is not None and bool(told.flags & DOUBTFUL)


def sure_of(
    store: Store, now_s: float, areas: Sequence[str], origins: Iterable[Origin]
) -> Mapping[str, LatestValue]:
    """Return the newest value of each quantity in some zones that is not doubtful."""
    found: dict[str, LatestValue] = {}
    chosen = tuple(origins)
    for area in dict.fromkeys(areas):
        told = reading_store.latest(store, int(now_s), area, origins=chosen, without=DOUBTFUL)
        found |= {k: v for k, v in told.items() if k not in found or v.time_s >= found[k].time_s}
    return found


def load(
    store: Store,
    span_s: tuple[int, int],
    now_s: float,
    areas: Sequence[str],
    origins: Iterable[Origin],
) -> ReadingTable:
    """Return the readings of some zones in a span, without what is doubtful of a sensor.

    `areas`: the shop first, then a zone whose rows stand before the shop's near them in time.
    What a sensor told just now stands at `now_s`.
    """
    first_s, last_s = span_s
    chosen = tuple(origins)
    table = _sure(store, first_s, last_s, areas[0], chosen)
    for area in dict.fromkeys(areas[1:]):
        if area != areas[0]:
            zone = tuple(origin for origin in chosen if origin in reading_store.OBSERVED)
            table = overlaid(table, _sure(store, first_s, last_s, area, zone))
    return _until_now(store, table, int(now_s), areas) if Origin.MEASURED in chosen else table


def _until_now(store: Store, table: ReadingTable, now_s: int, areas: Sequence[str]) -> ReadingTable:
    """Let what sensors told last, where that is not long ago, stand at the grid's point of now.

    That point is up to a step before now: what came since would only be judged at the next one.
    """
    at_s = now_s // GRID_S * GRID_S
    told: dict[str, LatestValue] = {}
    for area in dict.fromkeys(areas):
        told |= reading_store.latest(store, now_s, area, max_age_s=HOLDS_S,
                                     origins=(Origin.MEASURED,), without=DOUBTFUL)  # fmt: skip
    held = {name: np.array([told[name].value]) for name in HELD if name in told}
    if not held:
        return table
    now = ReadingTable(np.array([at_s], dtype=np.int64), held, np.zeros(1, dtype=np.uint16))
    return replace(_joined(table, now), origin=table.origin if len(table) else Origin.MEASURED)


def _sure(
    store: Store, first_s: int, last_s: int, area: str, origins: tuple[Origin, ...]
) -> ReadingTable:
    table = reading_store.load(store, first_s, last_s, area, origins, for_grid=True)
    if Origin.MEASURED not in origins or not (table.flags & np.uint16(DOUBTFUL)).any():
        return table
    with store.read() as db:
        rows = db.execute(
            "SELECT time_s FROM reading WHERE time_s BETWEEN ? AND ? AND area = ? "
            "AND origin = ? AND flags & ? != 0",
            (first_s, last_s, area, Origin.MEASURED.value, int(DOUBTFUL)),
        ).fetchall()
    odd = np.isin(table.time_s, np.array([row[0] for row in rows], dtype=np.int64))
    columns = {name: np.where(odd, np.nan, values) for name, values in table.columns.items()}
    return replace(table, columns=columns)


def overlaid(shop: ReadingTable, zone: ReadingTable) -> ReadingTable:
    """Return both tables as one: near what the zone tells of a quantity, the shop is left out."""
    if not len(zone):
        return shop
    columns = {
        name: np.where(_told_near(zone, name, shop.time_s), np.nan, values)
        for name, values in shop.columns.items()
    }
    joined = _joined(replace(shop, columns=columns), zone)
    return replace(joined, origin=shop.origin if len(shop) else zone.origin)


def _joined(first: ReadingTable, second: ReadingTable) -> ReadingTable:
    """Return both tables' rows as one; at the same time the second's values stand."""
    times = np.union1d(first.time_s, second.time_s)
    at_first, at_second = (np.searchsorted(times, t.time_s) for t in (first, second))
    columns: dict[str, FloatArray] = {}
    for name in COLUMNS:
        if name in first.columns or name in second.columns:
            values = np.full(len(times), np.nan)
            values[at_first] = first.column(name)
            own = second.column(name)
            values[at_second] = np.where(np.isnan(own), values[at_second], own)
            columns[name] = values
    flags = np.zeros(len(times), dtype=np.uint16)
    flags[at_first] |= first.flags
    flags[at_second] |= second.flags
    return ReadingTable(times, columns, flags, first.origin)


def _told_near(zone: ReadingTable, name: str, time_s: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return where the zone tells a quantity, or one of its kind, near these moments; bool [n]."""
    group = next((names for names in TOGETHER if name in names), (name,))
    told = np.any([~np.isnan(zone.column(other)) for other in group], axis=0)
    times = zone.time_s[told].astype(np.float64)
    padded = np.concatenate(([-np.inf], times, [np.inf]))
    before = padded[np.searchsorted(times, time_s, side="right")]
    after = padded[np.searchsorted(times, time_s, side="left") + 1]
    return np.minimum(time_s - before, after - time_s) <= NEAR_S


def zones_of(shop_area: str, only: Sequence[str] | None) -> tuple[str, ...]:
    """Return where to look for one coat: the shop, and its own zone where one alone is asked."""
    return (shop_area, only[0]) if only is not None and len(only) == 1 else (shop_area,)
