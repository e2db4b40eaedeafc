"""Observations of a station of the US National Weather Service, as the past of a forecast."""

from __future__ import annotations

import math
from types import MappingProxyType

import numpy as np

from advisor.base.counting import counted
from advisor.climate.outdoor import Forecast
from advisor.climate.sources.answer import Node
from advisor.climate.sources.assemble import with_past
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    FloatArray,
    IntArray,
    axis_over,
    dew_from,
)
from advisor.climate.sources.source import BadAnswer
from advisor.climate.sources.units import house_value

_FIELDS = MappingProxyType(
    {
        "air_temp_c": "temperature",
        "dew_point_c": "dewpoint",
        "rh_pct": "relativeHumidity",
        "wind_m_s": "windSpeed",
        "pressure_hpa": "barometricPressure",
    }
)
#: MADIS flags: failed, questioned, judged bad by a person.
_REJECTED = frozenset({"X", "Q", "B"})
#: Reports come hourly, some minutes before the hour; a missing one leaves a hole.
_LONGEST_GAP_S = 5400
_NEAR_S = 900
_OLDEST_S = 14 * 86400


def join_observations(root: Node, fetched_s: float, forecast: Forecast | None) -> Forecast:
    """Return the forecast with the observed hours before it; unchanged where there are none."""
    features = root.key("features").items()
    if forecast is None:
        raise BadAnswer(root.source, "features", "observations alone", "a forecast before them")
    times_s, columns, rejected = _rows(features, fetched_s)
    if not len(times_s):
        return forecast
    start_s = forecast.hourly.start_s
    if times_s[0] > start_s - HOUR_S:
        return forecast
    first_s = -(-int(times_s[0]) // HOUR_S) * HOUR_S
    axis = axis_over(root.source, "features", first_s, start_s - HOUR_S)
    past = {name: _on_hours(axis, times_s, values) for name, values in columns.items()}
    left_out = f"; {counted(rejected, 'value')} left out that failed its checks" if rejected else ""
    note = f"Past hours observed at {_station(features[0])}{left_out}."
    return with_past(forecast, axis, past, note)


def _rows(features: list[Node], fetched_s: float) -> tuple[IntArray, dict[str, FloatArray], int]:
    """Return times [m] rising, columns [m] and the number of values rejected."""
    rows: dict[int, dict[str, float]] = {}
    rejected = 0
    for feature in features:
        properties = feature.key("properties")
        time_s = properties.key("timestamp").time_s()
        if not fetched_s - _OLDEST_S <= time_s <= fetched_s + HOUR_S:
            continue
        row = {name: _value(properties, theirs, name) for name, theirs in _FIELDS.items()}
        rejected += sum(value is None for value in row.values())
        rows[time_s] = {k: math.nan if v is None else v for k, v in row.items()}
    order = sorted(rows)
    columns = {name: np.array([rows[t][name] for t in order]) for name in _FIELDS}
    rh = columns.pop("rh_pct")
    columns["dew_point_c"], _ = dew_from(columns["air_temp_c"], columns["dew_point_c"], rh)
    columns["dew_point_c"] = np.fmin(columns["dew_point_c"], columns["air_temp_c"])
    return np.array(order, dtype=np.int64), columns, rejected


def _value(properties: Node, name: str, column: str) -> float | None:
    """Return a value in the house unit, NaN where null, None where it failed its checks."""
    node = properties.maybe(name)
    found = None if node is None else node.maybe("value")
    if node is None or found is None:
        return math.nan
    quality = node.maybe("qualityControl")
    if quality is not None and quality.text() in _REJECTED:
        return None
    return house_value(found, column, node.key("unitCode"))


def _station(feature: Node) -> str:
    """Return the name of the station, for a note."""
    station = feature.key("properties").maybe("station")
    name = "" if station is None else station.text().rstrip("/").rpartition("/")[2]
    return name if name.isalnum() and len(name) <= 8 else "the nearest station"


def _on_hours(axis: Axis, times_s: IntArray, values: FloatArray) -> FloatArray:
    """Return values [n] on full hours from reports at odd minutes."""
    valid = np.isfinite(values)
    times, known = times_s[valid], values[valid]
    if not len(times) or not axis.n:
        return axis.hole()
    hours = axis.time_s
    after = np.searchsorted(times, hours, side="left")
    right, left = np.minimum(after, len(times) - 1), np.maximum(after - 1, 0)
    drawn = np.interp(hours, times, known)
    inside = (after > 0) & (after < len(times)) & (times[right] - times[left] <= _LONGEST_GAP_S)
    near = np.fmin(np.abs(hours - times[left]), np.abs(times[right] - hours)) <= _NEAR_S
    return np.where(inside | near, drawn, np.nan)
