"""The raw grid of the US National Weather Service: layers of run-length intervals.

Each layer has its own intervals; equal hours are merged, so three equal hours and one 3-hourly
value look the same and count as the longer step. The grid starts hours in the past. `pressure`
has no unit and is ignored.
"""

from __future__ import annotations

import math
import re
from types import MappingProxyType

import numpy as np

from advisor.base.counting import counted
from advisor.climate.sources.answer import Node
from advisor.climate.sources.assemble import Draft
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    FloatArray,
    Run,
    axis_over,
    dew_from,
    expand_runs,
    spread_sums,
    utc_text,
)
from advisor.climate.sources.source import BadAnswer
from advisor.climate.sources.units import house_value

_LAYERS = MappingProxyType(
    {
        "air_temp_c": "temperature",
        "dew_point_c": "dewpoint",
        "rh_pct": "relativeHumidity",
        "wind_m_s": "windSpeed",
        "cloud_pct": "skyCover",
    }
)
_RAIN = "quantitativePrecipitation"
_DURATION = re.compile(
    r"P(?:(\d{1,4})W)?(?:(\d{1,4})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,6})M)?(?:(\d{1,7})S)?)?"
)
_SECONDS = (7 * 86400, 86400, 3600, 60, 1)
#: Values are whole °F: half a step either way in air and dew point.
_QUANTISED = "Air and dew point come in whole °F, so their spread is uncertain by 0.6 K."


def grid_draft(root: Node, fetched_s: float) -> Draft:
    """Read a gridpoint answer from the running hour on."""
    properties = root.key("properties")
    layers = {name: _runs(properties, theirs, name) for name, theirs in _LAYERS.items()}
    air_runs = [run for run in layers["air_temp_c"] if math.isfinite(run.value)]
    axis = _axis(root.source, air_runs, fetched_s)
    columns = {name: expand_runs(axis, runs) for name, runs in layers.items()}
    rh = columns.pop("rh_pct")
    given = bool(np.isfinite(columns["dew_point_c"]).any())
    columns["dew_point_c"], filled = dew_from(columns["air_temp_c"], columns["dew_point_c"], rh)
    columns["rain_mm"] = spread_sums(axis, _runs(properties, _RAIN, "rain_mm"))
    more = (f"Dew point of {counted(filled, 'hour')} from humidity.",) if given and filled else ()
    return Draft(
        axis,
        columns,
        _steps(axis, air_runs),
        issued_s=properties.key("updateTime").time_s(),
        derived=frozenset() if given else frozenset({"dew_point_c"}),
        notes=(_QUANTISED, *more),
    )


def _axis(source: str, air_runs: list[Run], fetched_s: float) -> Axis:
    """Return the hours from the running one to the end of the temperatures."""
    where = "properties.temperature"
    if not air_runs:
        raise BadAnswer(source, where, "no value", "at least one")
    first_s = max(int(fetched_s) // HOUR_S * HOUR_S, air_runs[0].start_s)
    last_s = air_runs[-1].end_s - HOUR_S
    if last_s < first_s:
        found = f"an end at {utc_text(air_runs[-1].end_s)}, before it was fetched"
        raise BadAnswer(source, where, found, "values still to come")
    return axis_over(source, where, first_s, last_s)


def _runs(properties: Node, layer: str, column: str) -> list[Run]:
    """Return the intervals of a layer in the house unit; none where it is absent."""
    node = properties.maybe(layer)
    values = None if node is None else node.maybe("values")
    if node is None or values is None or not values.items():
        return []
    runs = [_run(item, node, column) for item in values.items()]
    for i in range(1, len(runs)):
        if runs[i].start_s <= runs[i - 1].start_s:
            found = f"{utc_text(runs[i].start_s)} after {utc_text(runs[i - 1].start_s)}"
            raise BadAnswer(node.source, f"{values.where}[{i}]", found, "times that rise")
    return runs


def _run(item: Node, layer: Node, column: str) -> Run:
    start_s, end_s = interval_s(item.key("validTime"))
    found = item.maybe("value")
    value = math.nan if found is None else house_value(found, column, layer.key("uom"))
    return Run(start_s, end_s, value)


def interval_s(node: Node) -> tuple[int, int]:
    """Return start and end, UTC seconds, of "2031-05-04T06:00:00+00:00/P1DT6H"."""
    start, slash, length = node.text().partition("/")
    match = _DURATION.fullmatch(length)
    counts = [int(part or 0) for part in match.groups()] if match else [0]
    duration_s = sum(n * s for n, s in zip(counts, _SECONDS, strict=False))
    if not slash or duration_s <= 0:
        raise node.bad("an interval such as 2031-05-04T06:00:00+00:00/PT3H")
    start_s = Node(node.source, node.where, start).time_s()
    return start_s, start_s + duration_s


def _steps(axis: Axis, air_runs: list[Run]) -> FloatArray:
    """Return 3 or 6 h where an interval could be one such value, else 1 h."""
    steps = np.ones(axis.n)
    for run in air_runs:
        length_h, hour = (run.end_s - run.start_s) // HOUR_S, run.start_s // HOUR_S
        could = [h for h in (6, 3) if length_h >= h and hour % h == 0]
        first, end = max(axis.index(run.start_s), 0), max(axis.index(run.end_s), 0)
        steps[first:end] = could[0] if could else 1.0
    return steps
