"""A weather file as the forecast: its rows laid on the hours, its holes kept."""

from __future__ import annotations

import numpy as np

from advisor.base.errors import RangeError
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.readings import IntArray, ReadingTable
from advisor.climate.sources.layers import (
    HOUR_S,
    LONGEST_STEP_H,
    Axis,
    BoolArray,
    FloatArray,
    bridges,
    dew_from,
    lay_instants,
    step_class,
    utc_text,
)

SOURCE_ID = "file"
CREDIT = "Weather from a file of your own"
_INSTANTS = ("air_temp_c", "wind_m_s", "pressure_hpa", "cloud_pct")
#: Thirty years of hours: more is no forecast but a mistake.
_MOST_HOURS = 270_000


def from_table(
    table: ReadingTable,
    place: Place,
    now_s: float,
    *,
    label: str = "",
    credit: str = CREDIT,
    notes: tuple[str, ...] = (),
) -> Forecast:
    """Return a table of readings as hourly weather, UTC, from its first to its last hour.

    Straight lines between rows up to an hour apart, or 3 or 6 h where that is the table's own
    step; anything longer is a hole. A table may carry `cloud_pct`, as seen at the stamp, and
    `sun_w_m2`, the mean since the row before. `notes` are added to its own. Raises RangeError
    where the table has no air temperature with a dew point or humidity.
    """
    axis = _axis(table)
    columns, derived = _columns(table, axis)
    if not {"air_temp_c", "dew_point_c"} <= columns.keys():
        raise RangeError("weather file", "no air with dew point or humidity", "both in some hour")
    own = f"Weather from {label}." if label else "Weather from a file."
    return Forecast(
        source=SOURCE_ID,
        place=place,
        fetched_s=int(now_s),
        issued_s=None,
        hourly=Outdoor(axis.start_s, HOUR_S, columns, derived),
        step_h=_steps(axis, table.time_s),
        credit=credit,
        notes=(own, *notes),
    )


def part_of(table: ReadingTable, first_s: float, last_s: float) -> ReadingTable:
    """Return the rows of a span; RangeError, with what the table spans, where it has none."""
    low, high = (int(np.searchsorted(table.time_s, t)) for t in (first_s, last_s + 1))
    if low == high:
        ends = [utc_text(float(t)) for t in table.time_s[[0, -1]]] if len(table) else []
        found = f"rows from {ends[0]} to {ends[1]}" if ends else "no rows"
        accepted = f"rows between {utc_text(first_s)} and {utc_text(last_s)}, or a whole past year"
        raise RangeError("weather file", found, accepted)
    return table.part(slice(low, high))


def _columns(table: ReadingTable, axis: Axis) -> tuple[dict[str, FloatArray], frozenset[str]]:
    """Return every column on the hours that has a value in some, and which were computed."""
    bridged = _bridged(table.time_s)
    told = table.column("dew_point_c")
    # Only where there is none: most weather files tell it, and RH costs a look-up a row.
    dew, filled = dew_from(table.column("air_temp_c"), told, table.column("rh_pct"))
    values = {name: table.column(name) for name in _INSTANTS} | {"dew_point_c": dew}
    columns = {
        name: lay_instants(axis, table.time_s, column, bridged) for name, column in values.items()
    }
    columns["rain_mm"] = _sums(table, table.column("rain_mm"), axis)
    columns["sun_w_m2"] = _means(table, table.column("sun_w_m2"), axis)
    kept = {name: column for name, column in columns.items() if np.isfinite(column).any()}
    derived = filled > 0 and bool(np.isnan(told).all())
    return kept, frozenset({"dew_point_c"} if derived else ())


def _axis(table: ReadingTable) -> Axis:
    """Return the full hours inside the table."""
    if not len(table):
        raise RangeError("weather file", "no rows", "at least two hours")
    first, last = int(table.time_s[0]), int(table.time_s[-1])
    start_s = -(-first // HOUR_S) * HOUR_S
    n = (last - start_s) // HOUR_S + 1
    if not 2 <= n <= _MOST_HOURS:
        raise RangeError("weather file", f"{max(n, 0)} full hours", f"2 to {_MOST_HOURS}")
    return Axis(start_s, n)


def _bridged(time_s: IntArray) -> BoolArray:
    """Return the gaps [m - 1] that are steps of the file: an hour at most, or its own step."""
    return np.asarray((np.diff(time_s) <= HOUR_S) | bridges(time_s))


def _steps(axis: Axis, time_s: IntArray) -> FloatArray:
    """Return the step class, 1, 3 or 6 h, of the gap each hour lies in."""
    gaps_h = np.diff(time_s, prepend=time_s[0] - HOUR_S) / HOUR_S
    at = np.minimum(np.searchsorted(time_s, axis.time_s, side="left"), len(time_s) - 1)
    return step_class(gaps_h[at])


def _means(table: ReadingTable, values: FloatArray, axis: Axis) -> FloatArray:
    """Return the mean of the hour before each stamp, of means since the row before."""
    return _sums(table, values * _gaps(table.time_s) / HOUR_S, axis)


def _gaps(time_s: IntArray) -> IntArray:
    """Return seconds since the row before [m]; an hour before the first."""
    return np.diff(time_s, prepend=time_s[0] - HOUR_S)


def _sums(table: ReadingTable, values: FloatArray, axis: Axis) -> FloatArray:
    """Return the sum of the hour before each stamp: sums of odd steps shared out evenly.

    An hour that touches an unknown sum, or a gap longer than six hours, is unknown.
    """
    if np.isnan(values).all():
        return axis.hole()
    gaps = _gaps(table.time_s)
    unknown = np.isnan(values) | (gaps > LONGEST_STEP_H * HOUR_S)
    edges = np.concatenate(([table.time_s[0] - gaps[0]], table.time_s)).astype(np.float64)

    def shared(amounts: FloatArray) -> FloatArray:
        total = np.concatenate(([0.0], np.cumsum(amounts)))
        ends = np.interp(axis.time_s, edges, total)
        begins = np.interp(axis.time_s - HOUR_S, edges, total)
        return np.asarray(ends - begins)

    doubtful = shared(np.where(unknown, 1.0, 0.0)) > 1e-9
    return np.where(doubtful, np.nan, shared(np.where(unknown, 0.0, values)))
