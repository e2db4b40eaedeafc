"""MET Norway Locationforecast 2.0: `complete`; `compact` is read as well.

Terms and data model: api.met.no (TermsOfService, locationforecast/datamodel). Hourly for about
60 h, then 6-hourly; the step is read from the time stamps. Missing values are absent keys.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.base.counting import counted
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.answer import Node, read_json, refuse_refusal
from advisor.climate.sources.assemble import Draft, finished
from advisor.climate.sources.extremes import Span, bounded
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    FloatArray,
    IntArray,
    Run,
    axis_over,
    bridges,
    checked_stamps,
    dew_from,
    lay_instants,
    spread_sums,
    step_marks,
)
from advisor.climate.sources.source import (
    USUAL_DECIMALS,
    Ask,
    FollowUp,
    checked_server,
    cut_place,
)
from advisor.climate.sources.units import house_value

_SERIES = "properties.timeseries"
_INSTANT = MappingProxyType(
    {
        "air_temp_c": "air_temperature",
        "dew_point_c": "dew_point_temperature",
        "rh_pct": "relative_humidity",
        "wind_m_s": "wind_speed",
        "cloud_pct": "cloud_area_fraction",
        "pressure_hpa": "air_pressure_at_sea_level",
    }
)
_PERCENTILES = MappingProxyType({"air_temp_c": "air_temperature", "wind_m_s": "wind_speed"})
_ACCEPT: Mapping[str, str] = MappingProxyType({"Accept": "application/json"})


@dataclass(frozen=True)
class MetNorway:
    """The world's forecast of the Norwegian Meteorological Institute."""

    server: str = "https://api.met.no"
    decimals: int = USUAL_DECIMALS
    id: str = "metno"
    name: str = "MET Norway"
    credit: str = (
        "Weather data: MET Norway, CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/)"
    )
    terms: str = (
        "Free for any use with credit. Worldwide. MET Norway logs your IP address "
        "and the coordinates asked for."
    )
    opt_in: bool = False

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        """Return the one question; altitude in whole metres where it is known."""
        where = cut_place(place, self.decimals)
        params = {"lat": where.lat, "lon": where.lon}
        if where.altitude:
            params["altitude"] = where.altitude
        url = f"{checked_server(self.server)}/weatherapi/locationforecast/2.0/complete"
        return (Ask(url, params, _ACCEPT, "complete"),)

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        """Read a `complete` or `compact` answer."""
        root = read_json(self.name, body)
        refuse_refusal(root, "properties")
        draft = _bounded_draft(_Steps.read(root), place)
        issued_s = root.path("properties.meta.updated_at").time_s()
        return finished(self, replace(draft, issued_s=issued_s), place, fetched_s)


@dataclass(frozen=True, eq=False)
class _Steps:
    """The time steps of an answer [m] with their data blocks, and the units."""

    time_s: IntArray
    data: list[Node]
    units: Node

    @staticmethod
    def read(root: Node) -> _Steps:
        steps = root.path(_SERIES).some()
        stamps = [step.key("time").time_s() for step in steps]
        time_s = checked_stamps(root.source, _SERIES, stamps)
        units = root.path("properties.meta.units")
        return _Steps(time_s, [step.key("data") for step in steps], units)

    def value(self, i: int, block: str, parameter: str, column: str) -> float:
        """Return one value in the house unit; NaN where block, details or key are absent."""
        within = self.data[i].maybe(block)
        details = None if within is None else within.maybe("details")
        found = None if details is None else details.maybe(parameter)
        if found is None:
            return float("nan")
        return house_value(found, column, self.units.key(parameter))

    def instants(self, parameter: str, column: str) -> FloatArray:
        """Return a parameter at the time steps [m]."""
        count = len(self.data)
        return np.array([self.value(i, "instant", parameter, column) for i in range(count)])

    def coarse(self, i: int) -> bool:
        """Whether the step to the next time is longer than an hour."""
        return i + 1 < len(self.time_s) and bool(self.time_s[i + 1] - self.time_s[i] > HOUR_S)


def _bounded_draft(steps: _Steps, place: Place) -> Draft:
    """Return the draft with the extremes of its 6-hourly part brought in."""
    draft = _draft(steps)
    air, moved = bounded(draft.axis, draft.columns["air_temp_c"], _spans(steps), place.lon_deg)
    shift = air - draft.columns["air_temp_c"]
    columns = {**draft.columns, "air_temp_c": air}
    # Saturated air that is cooled further gives its water up: the dew point falls with it.
    columns["dew_point_c"] = np.where(
        (shift < 0.0) & (columns["dew_point_c"] > air), air, columns["dew_point_c"]
    )
    low10, high90 = (
        {name: c + shift if name == "air_temp_c" else c for name, c in part.items()}
        for part in (draft.low10, draft.high90)
    )
    spans = counted(moved, "span")
    note = f"6-hourly values: lowest and highest of {spans} placed by the time of day."
    notes = (*draft.notes, note) if moved else draft.notes
    return replace(draft, columns=columns, low10=low10, high90=high90, notes=notes)


def _draft(steps: _Steps) -> Draft:
    axis = axis_over(steps.units.source, _SERIES, int(steps.time_s[0]), int(steps.time_s[-1]))
    bridged = bridges(steps.time_s)

    def laid(values: FloatArray) -> FloatArray:
        return lay_instants(axis, steps.time_s, values, bridged)

    at = {name: steps.instants(theirs, name) for name, theirs in _INSTANT.items()}
    rh = at.pop("rh_pct")
    given = bool(np.isfinite(at["dew_point_c"]).any())
    at["dew_point_c"], filled = dew_from(at["air_temp_c"], at["dew_point_c"], rh)
    columns = {name: laid(values) for name, values in at.items()}
    columns["pressure_msl_hpa"] = columns.pop("pressure_hpa")
    columns["rain_mm"] = _rain(steps, axis)
    notes = (
        (f"Dew point of {counted(filled, 'time step')} from humidity.",) if given and filled else ()
    )
    return Draft(
        axis,
        columns,
        step_marks(axis, steps.time_s),
        derived=frozenset() if given else frozenset({"dew_point_c"}),
        low10=_percentiles(steps, laid, "10"),
        high90=_percentiles(steps, laid, "90"),
        notes=notes,
    )


def _percentiles(
    steps: _Steps, laid: Callable[[FloatArray], FloatArray], which: str
) -> dict[str, FloatArray]:
    """Return the percentiles there are, on the axis (temperature and wind, Nordic area only)."""
    found = {
        name: steps.instants(f"{theirs}_percentile_{which}", name)
        for name, theirs in _PERCENTILES.items()
    }
    return {name: laid(values) for name, values in found.items() if np.isfinite(values).any()}


def _rain(steps: _Steps, axis: Axis) -> FloatArray:
    """Return rain of the hour before each stamp: `next_1_hours`, else a share of six hours."""
    sums = []
    for i, start in enumerate(steps.time_s.tolist()):
        hour = steps.value(i, "next_1_hours", "precipitation_amount", "rain_mm")
        six = steps.value(i, "next_6_hours", "precipitation_amount", "rain_mm")
        if np.isfinite(hour):
            sums.append(Run(start, start + HOUR_S, hour))
        elif np.isfinite(six) and steps.coarse(i):
            sums.append(Run(start, start + 6 * HOUR_S, six))
    return spread_sums(axis, sums)


def _spans(steps: _Steps) -> list[Span]:
    """Return the extremes of the spans between 6-hourly instants, which those may miss."""
    return [
        Span(
            start,
            start + 6 * HOUR_S,
            steps.value(i, "next_6_hours", "air_temperature_min", "air_temp_c"),
            steps.value(i, "next_6_hours", "air_temperature_max", "air_temp_c"),
        )
        for i, start in enumerate(steps.time_s.tolist())
        if steps.coarse(i)
    ]
