"""A weather file as the forecast: its rows laid on the hours, its holes kept."""

from __future__ import annotations

import numpy as np

from advisor.base.errors import RangeError
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.readings import IntArray, ReadingTable
from advisor.climate.series import dew_rows
from advisor.climate.sources.layers import (
    HOUR_S,
    LONGEST_STEP_H,
    Axis,
    BoolArray,
    FloatArray,
    bridges,
    lay_instants,
    step_class,
)

SOURCE_ID = "file"
CREDIT = "Weather from a file of your own"
_INSTANTS = ("air_temp_c", "wind_m_s", "pressure_hpa")
#: Thirty years of hours: more is no forecast but a mistake.
_MOST_HOURS = 270_000


def from_table(
    table: ReadingTable,
    place: Place,
    now_s: float,
    *,
    label: str = "",
    credit: str = CREDIT,
) -> Forecast:
    """Return a table of readings as hourly weather, UTC, from its first to its last hour.

    Straight lines between rows up to an hour apart, or 3 or 6 h where that is the table's own
    step; anything longer is a hole. Raises RangeError where the table has no air temperature
    with a dew point or humidity.
    """
    axis = _axis(table)
    bridged = _bridged(table.time_s)
    values = {name: table.column(name) for name in _INSTANTS} | {"dew_point_c": dew_rows(table)}
    columns = {
        name: lay_instants(axis, table.time_s, column, bridged) for name, column in values.items()
    }
    columns["rain_mm"] = _rain(table, axis)
    kept = {name: column for name, column in columns.items() if np.isfinite(column).any()}
    if not {"air_temp_c", "dew_point_c"} <= kept.keys():
        raise RangeError("weather file", "no air with dew point or humidity", "both in some hour")
    derived = np.isnan(table.column("dew_point_c")).all()
    return Forecast(
        source=SOURCE_ID,
        place=place,
        fetched_s=int(now_s),
        issued_s=None,
        hourly=Outdoor(axis.start_s, HOUR_S, kept, frozenset({"dew_point_c"} if derived else ())),
        step_h=_steps(axis, table.time_s),
        credit=credit,
        notes=(f"Weather from {label}." if label else "Weather from a file.",),
    )


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


def _rain(table: ReadingTable, axis: Axis) -> FloatArray:
    """Return rain of the hour before each stamp: sums of odd steps shared out evenly.

    An hour that touches an unknown sum, or a gap longer than six hours, is unknown.
    """
    rain = table.column("rain_mm")
    if np.isnan(rain).all():
        return axis.hole()
    gaps = np.diff(table.time_s, prepend=table.time_s[0] - HOUR_S)
    unknown = np.isnan(rain) | (gaps > LONGEST_STEP_H * HOUR_S)
    edges = np.concatenate(([table.time_s[0] - gaps[0]], table.time_s)).astype(np.float64)

    def shared(amounts: FloatArray) -> FloatArray:
        total = np.concatenate(([0.0], np.cumsum(amounts)))
        ends = np.interp(axis.time_s, edges, total)
        begins = np.interp(axis.time_s - HOUR_S, edges, total)
        return np.asarray(ends - begins)

    doubtful = shared(np.where(unknown, 1.0, 0.0)) > 1e-9
    return np.where(doubtful, np.nan, shared(np.where(unknown, 0.0, rain)))
