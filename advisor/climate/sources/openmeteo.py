"""Open-Meteo: forecast and ensemble; opt-in, with its terms.

Spec: open-meteo/open-meteo openapi/forecast.yml and ensemble.yml. Times are asked in GMT. With
a named zone one fixed offset holds for the whole answer, clock changes or not; unix times are
UTC. Missing values are null, also whole columns and everything past a model's end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.answer import Node, read_json, refuse_refusal
from advisor.climate.sources.assemble import Draft, finished
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    FloatArray,
    IntArray,
    axis_over,
    checked_stamps,
    dew_from,
    lay_instants,
)
from advisor.climate.sources.members import member_columns
from advisor.climate.sources.source import (
    USUAL_DECIMALS,
    Ask,
    BadAnswer,
    FollowUp,
    checked_server,
    cut_place,
)
from advisor.climate.sources.units import house_value

FREE, FREE_ENSEMBLE = "https://api.open-meteo.com", "https://ensemble-api.open-meteo.com"
PAID = "https://customer-api.open-meteo.com"
PAID_ENSEMBLE = "https://customer-ensemble-api.open-meteo.com"
VARIABLES: Mapping[str, str] = MappingProxyType(
    {
        "air_temp_c": "temperature_2m",
        "dew_point_c": "dew_point_2m",
        "rh_pct": "relative_humidity_2m",
        "wind_m_s": "wind_speed_10m",
        "cloud_pct": "cloud_cover",
        "sun_w_m2": "shortwave_radiation",
        "rain_mm": "precipitation",
        "pressure_hpa": "surface_pressure",
    }
)
_IN_ENSEMBLE = ("air_temp_c", "dew_point_c", "wind_m_s", "cloud_pct", "rain_mm")
_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "timezone": "GMT",
        "temperature_unit": "celsius",
        "wind_speed_unit": "ms",
        "precipitation_unit": "mm",
    }
)
_JSON: Mapping[str, str] = MappingProxyType({"Accept": "application/json"})
_ENSEMBLE_MODEL = "ecmwf_ifs025_ensemble"
#: The usual world model gives hours to here, then 3-hourly, then 6-hourly values, all drawn
#: out to hours by the service (hours from the day's start; from memory, no answer tells it).
_DAY_S = 86400
_THREE_HOURLY_FROM_H, _SIX_HOURLY_FROM_H = 90, 144
TERMS = (
    "Open-Meteo's free service is for non-commercial use only; a shop that paints for money needs "
    "its own key (a paid plan) or its own server. Limits hold per internet address, so people "
    "sharing one share them. Data are CC BY 4.0; the link to open-meteo.com must stay beside "
    "them. The coordinates asked for, cut to about a kilometre, and your internet address reach "
    "its servers. Full terms: https://open-meteo.com/en/terms"
)


@dataclass(frozen=True)
class OpenMeteo:
    """Open-Meteo; `server` is an own server's base address, empty for the public ones."""

    server: str = ""
    ensemble: bool = True
    decimals: int = USUAL_DECIMALS
    id: str = "openmeteo"
    name: str = "Open-Meteo"
    credit: str = (
        "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0 "
        "(https://creativecommons.org/licenses/by/4.0/)"
    )
    terms: str = TERMS
    opt_in: bool = True

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        """Ask for the forecast with three past days, then for the ensemble."""
        base, members = (PAID, PAID_ENSEMBLE) if key else (FREE, FREE_ENSEMBLE)
        if self.server:
            base = members = checked_server(self.server)
        where = cut_place(place, self.decimals)
        common = {"latitude": where.lat, "longitude": where.lon} | dict(_UNITS)
        if where.altitude:
            common["elevation"] = where.altitude
        if key:
            common["apikey"] = key
        hourly = {"hourly": ",".join(VARIABLES.values()), "past_days": "3", "forecast_days": "14"}
        few = ",".join(VARIABLES[name] for name in _IN_ENSEMBLE)
        spread = {"hourly": few, "forecast_days": "10", "models": _ENSEMBLE_MODEL}
        asks = [Ask(f"{base}/v1/forecast", common | hourly, _JSON, "forecast")]
        if self.ensemble:
            url = f"{members}/v1/ensemble"
            asks.append(Ask(url, common | spread, _JSON, "ensemble", optional=True))
        return tuple(asks)

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        """Read a `forecast` or `ensemble` answer; the latter adds its members to `earlier`."""
        root = read_json(self.name, body)
        refuse_refusal(root, "hourly")
        table = _Table.read(root)
        if kind != "ensemble":
            return finished(self, _draft(table, fetched_s), place, fetched_s)
        if earlier is None:
            earlier = finished(self, _draft(table, fetched_s), place, fetched_s)
        hourly = earlier.hourly
        axis = Axis(hourly.start_s, len(hourly))
        found = member_columns(table, axis)
        count = max((len(m) for m in found.values()), default=0)
        note = f"Spread from {count} ensemble members, the control among them."
        return replace(earlier, members=found, notes=(*earlier.notes, note)) if found else earlier


@dataclass(frozen=True, eq=False)
class _Table:
    """The parallel arrays of an answer."""

    time_s: IntArray
    hourly: Node
    units: Node

    @staticmethod
    def read(root: Node) -> _Table:
        hourly, units = root.key("hourly"), root.key("hourly_units")
        stamps = hourly.key("time").some()
        if units.key("time").text() == "unixtime":
            found = [stamp.unix_s() for stamp in stamps]
        else:
            ahead = root.key("utc_offset_seconds")
            offset_s = ahead.number()
            if not abs(offset_s) <= 64_800 or offset_s != int(offset_s):
                raise ahead.bad("whole seconds up to 18 hours")
            found = [stamp.time_s(int(offset_s)) for stamp in stamps]
        return _Table(checked_stamps(root.source, "hourly.time", found), hourly, units)

    def names(self) -> list[str]:
        """Return the names of the arrays."""
        return list(self.hourly.value) if isinstance(self.hourly.value, dict) else []

    def column(self, name: str, column: str) -> FloatArray | None:
        """Return an array [m] in the house unit, None where it is absent."""
        node = self.hourly.maybe(name)
        if node is None:
            return None
        items = node.items()
        if len(items) != len(self.time_s):
            raise BadAnswer(
                node.source, node.where, f"{len(items)} values", f"{len(self.time_s)}, one per time"
            )
        unit = self.units.key(name)
        return np.array([house_value(item, column, unit) for item in items])

    def laid(self, axis: Axis, values: FloatArray) -> FloatArray:
        """Return values [n] on an axis; a missing hour is a hole."""
        none = np.zeros(len(self.time_s) - 1, dtype=bool)
        return lay_instants(axis, self.time_s, values, none)


def _draft(table: _Table, fetched_s: float) -> Draft:
    empty = np.full(len(table.time_s), np.nan)
    at = {}
    for name, theirs in VARIABLES.items():
        found = table.column(theirs, name)
        at[name] = empty if found is None else found
    rh = at.pop("rh_pct")
    given = bool(np.isfinite(at["dew_point_c"]).any())
    at["dew_point_c"], _ = dew_from(at["air_temp_c"], at["dew_point_c"], rh)
    # Past a model's end rain has come as 0 where all else was null.
    at["rain_mm"] = np.where(np.isnan(at["air_temp_c"]), np.nan, at["rain_mm"])
    axis = _axis(table, at["air_temp_c"])
    lead_h = (axis.time_s - fetched_s // _DAY_S * _DAY_S) / HOUR_S
    steps = np.where(
        lead_h <= _THREE_HOURLY_FROM_H, 1.0, np.where(lead_h <= _SIX_HOURLY_FROM_H, 3.0, 6.0)
    )
    return Draft(
        axis,
        {name: table.laid(axis, values) for name, values in at.items()},
        steps,
        derived=frozenset() if given else frozenset({"dew_point_c"}),
        notes=("The service draws hours out of longer steps after about four days.",),
    )


def _axis(table: _Table, air_temp_c: FloatArray) -> Axis:
    """Return the hours that hold air temperatures."""
    known = np.flatnonzero(np.isfinite(air_temp_c))
    if not len(known):
        source, where = table.hourly.source, "hourly.temperature_2m"
        raise BadAnswer(source, where, "no value", "at least one")
    first, last = (int(table.time_s[i]) for i in (known[0], known[-1]))
    return axis_over(table.hourly.source, "hourly.time", first, last)
