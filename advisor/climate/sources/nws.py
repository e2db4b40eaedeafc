"""US National Weather Service, api.weather.gov: the raw grid; hourly periods as a fallback.

A point leads to its grid cell, and to the stations whose observations fill the past. The map
from point to cell drifts, so it is asked anew rather than kept for ever. Documentation:
weather.gov/documentation/services-web-api and the weather-gov/api notes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import urlsplit

import numpy as np

from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.answer import Node, read_json, refuse_refusal
from advisor.climate.sources.assemble import Draft, finished
from advisor.climate.sources.layers import (
    axis_over,
    checked_stamps,
    dew_from,
    lay_instants,
)
from advisor.climate.sources.nws_grid import grid_draft
from advisor.climate.sources.nws_observations import join_observations
from advisor.climate.sources.source import (
    USUAL_DECIMALS,
    Ask,
    FollowUp,
    checked_server,
    cut_place,
)
from advisor.climate.sources.units import house_value

_GEO_JSON: Mapping[str, str] = MappingProxyType({"Accept": "application/geo+json"})
#: Another value reaches another copy in the delivery network when the usual one is stale.
_ANY: Mapping[str, str] = MappingProxyType({"Accept": "*/*"})
_NO_PARAMS: Mapping[str, str] = MappingProxyType({})
_PAST_DAYS = 3
_DAY_S = 86400
_WIND = re.compile(r"(\d{1,3})(?: to (\d{1,3}))? (mph|km/h|kt)")


@dataclass(frozen=True)
class WeatherService:
    """The forecast of the US National Weather Service."""

    server: str = "https://api.weather.gov"
    decimals: int = USUAL_DECIMALS
    id: str = "nws"
    name: str = "US National Weather Service"
    credit: str = "Weather data: US National Weather Service (weather.gov), public domain"
    terms: str = "Free for any use. United States and territories only."
    opt_in: bool = False

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        """Ask for the grid cell of the place; the rest follows from the answer."""
        where = cut_place(place, self.decimals)
        url = f"{checked_server(self.server)}/points/{where.lat},{where.lon}"
        return (Ask(url, _NO_PARAMS, _GEO_JSON, "points"),)

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        """Read `points`, `grid`, `hourly`, `stations` or `observations`."""
        root = read_json(self.name, body)
        if kind == "stations":
            return self._station(root, fetched_s)
        if kind == "observations":
            return join_observations(root, fetched_s, earlier)
        refuse_refusal(root, "properties")
        if kind == "points":
            return self._cell(root)
        read = _hourly_draft if kind == "hourly" else grid_draft
        return finished(self, read(root, fetched_s), place, fetched_s)

    def _cell(self, root: Node) -> FollowUp:
        """Return the asks of a grid cell: raw grid, else another copy of it, else hourly."""
        properties = root.key("properties")
        grid = self._address(properties.key("forecastGridData"))
        hourly = properties.maybe("forecastHourly")
        last = None
        if hourly is not None:
            last = Ask(self._address(hourly), {"units": "us"}, _GEO_JSON, "hourly")
        again = Ask(grid, _NO_PARAMS, _ANY, "grid", instead=last)
        asks = [Ask(grid, _NO_PARAMS, _GEO_JSON, "grid", instead=again)]
        stations = properties.maybe("observationStations")
        if stations is not None:
            url = self._address(stations)
            asks.append(Ask(url, _NO_PARAMS, _GEO_JSON, "stations", optional=True))
        return FollowUp(tuple(asks))

    def _station(self, root: Node, fetched_s: float) -> FollowUp:
        """Return the ask for the nearest station's observations."""
        nearest = root.key("observationStations").some()[0]
        start_s = int(fetched_s // _DAY_S - _PAST_DAYS) * _DAY_S
        start = f"{np.datetime64(start_s, 's')}Z"
        params = {"start": start, "limit": "500"}
        url = f"{self._address(nearest)}/observations"
        return FollowUp((Ask(url, params, _GEO_JSON, "observations", optional=True),))

    def _address(self, node: Node) -> str:
        """Return an address inside the service, and nowhere else."""
        text = node.text()
        own = urlsplit(checked_server(self.server))
        try:
            parts = urlsplit(text)
        except ValueError:
            raise node.bad(f"an address at {own.netloc}") from None
        plain = text.isascii() and text.isprintable() and " " not in text
        if not plain or (parts.scheme, parts.netloc) != (own.scheme, own.netloc):
            raise node.bad(f"an address at {own.netloc}")
        return text.rstrip("/")


def _hourly_draft(root: Node, fetched_s: float) -> Draft:
    """Read the hourly periods: whole °F, no cloud, no rain amount."""
    properties = root.key("properties")
    where = "properties.periods"
    periods = properties.key("periods").some()
    stamps = [period.key("startTime").time_s() for period in periods]
    time_s = checked_stamps(root.source, where, stamps)
    axis = axis_over(root.source, where, stamps[0], stamps[-1])
    air = np.array([_temperature(period) for period in periods])
    dew, rh = (
        np.array([_quantity(period.maybe(name), column) for period in periods])
        for name, column in (("dewpoint", "dew_point_c"), ("relativeHumidity", "rh_pct"))
    )
    given = bool(np.isfinite(dew).any())
    dew, _ = dew_from(air, dew, rh)
    wind = np.array([_wind(period) for period in periods])
    none = np.zeros(len(stamps) - 1, dtype=bool)
    at = {"air_temp_c": air, "dew_point_c": dew, "wind_m_s": wind}
    return Draft(
        axis,
        {name: lay_instants(axis, time_s, values, none) for name, values in at.items()},
        np.ones(axis.n),
        issued_s=properties.key("updateTime").time_s(),
        derived=frozenset() if given else frozenset({"dew_point_c"}),
        notes=("Hourly periods instead of the raw grid: whole °F, no cloud, no rain amount.",),
    )


def _temperature(period: Node) -> float:
    node = period.maybe("temperature")
    if node is None or isinstance(node.value, dict):
        return _quantity(node, "air_temp_c")
    return house_value(node, "air_temp_c", period.key("temperatureUnit"))


def _quantity(node: Node | None, column: str, name: str = "value") -> float:
    """Return {unitCode, value} in the house unit, NaN where null."""
    found = None if node is None else node.maybe(name)
    return math.nan if node is None else house_value(found, column, node.key("unitCode"))


def _wind(period: Node) -> float:
    """Return wind in m/s from "5 to 10 mph" or {minValue, maxValue}: the middle."""
    node = period.maybe("windSpeed")
    if node is None:
        return math.nan
    if isinstance(node.value, dict):
        names = ("value", "minValue", "maxValue")
        found = [_quantity(node, "wind_m_s", name) for name in names if node.maybe(name)]
        return sum(found) / len(found) if found else math.nan
    match = _WIND.fullmatch(node.text())
    if match is None:
        raise node.bad('a wind such as "5 to 10 mph"')
    low, high, unit = float(match[1]), float(match[2] or match[1]), match[3]
    middle = Node(node.source, node.where, (low + high) / 2.0)
    return house_value(middle, "wind_m_s", unit)
