"""Bright Sky: observations and forecasts of Deutscher Wetterdienst, in one answer.

Spec: api.brightsky.dev/openapi.json; units "dwd": °C, hPa, km/h, mm and kWh/m². Any field may
be null; forecasts have no relative humidity. Wind and sun are those of the hour before.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.base.counting import counted
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.answer import Node, read_json, refuse_refusal
from advisor.climate.sources.assemble import Draft, finished
from advisor.climate.sources.layers import (
    axis_over,
    checked_stamps,
    dew_from,
    lay_instants,
    utc_text,
)
from advisor.climate.sources.source import (
    USUAL_DECIMALS,
    Ask,
    FollowUp,
    checked_server,
    cut_place,
)
from advisor.climate.sources.units import house_value

_FIELDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "air_temp_c": ("temperature", "°C"),
        "dew_point_c": ("dew_point", "°C"),
        "rh_pct": ("relative_humidity", "%"),
        "wind_m_s": ("wind_speed", "km/h"),
        "cloud_pct": ("cloud_cover", "%"),
        "sun_w_m2": ("solar", "kWh/m²"),  # of one hour, so × 1000 is its mean in W/m²
        "rain_mm": ("precipitation", "mm"),
        "pressure_hpa": ("pressure_msl", "hPa"),
    }
)
_PAST_DAYS, _COMING_DAYS = 3, 11
_DAY_S = 86400
_FAR_M = 20_000.0


@dataclass(frozen=True)
class BrightSky:
    """The German weather service's stations and station forecasts."""

    server: str = "https://api.brightsky.dev"
    decimals: int = USUAL_DECIMALS
    id: str = "brightsky"
    name: str = "Bright Sky (DWD)"
    credit: str = (
        "Source: Deutscher Wetterdienst (DWD), units converted; through Bright Sky (brightsky.dev)"
    )
    terms: str = (
        "Free for any use with credit to DWD. Germany, and stations worldwide within 50 km. "
        "Run by volunteers, so without a promise to be there."
    )
    opt_in: bool = False

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        """Ask for past and coming days in one; without `last_date` it would be one day."""
        where = cut_place(place, self.decimals)
        today = int(now_s // _DAY_S)
        first, last = (np.datetime64(today + d, "D") for d in (-_PAST_DAYS, _COMING_DAYS))
        params = {
            "lat": where.lat,
            "lon": where.lon,
            "date": str(first),
            "last_date": str(last),
            "tz": "Etc/UTC",
            "units": "dwd",
        }
        url = f"{checked_server(self.server)}/weather"
        return (Ask(url, params, {"Accept": "application/json"}, "weather"),)

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        """Read a `weather` answer."""
        root = read_json(self.name, body)
        refuse_refusal(root, "weather")
        rows = root.key("weather").some()
        draft = _draft(root.source, rows)
        notes = _station_notes(root, rows)
        return finished(self, replace(draft, notes=(*draft.notes, *notes)), place, fetched_s)


def _draft(source: str, rows: list[Node]) -> Draft:
    time_s = checked_stamps(source, "weather", [row.key("timestamp").time_s() for row in rows])
    axis = axis_over(source, "weather", int(time_s[0]), int(time_s[-1]))
    at = {
        name: np.array([house_value(row.maybe(theirs), name, unit) for row in rows])
        for name, (theirs, unit) in _FIELDS.items()
    }
    rh = at.pop("rh_pct")
    given = bool(np.isfinite(at["dew_point_c"]).any())
    at["dew_point_c"], filled = dew_from(at["air_temp_c"], at["dew_point_c"], rh)
    at["pressure_msl_hpa"] = at.pop("pressure_hpa")
    none = np.zeros(len(rows) - 1, dtype=bool)  # hourly by design: what is missing is a hole
    notes = (f"Dew point of {counted(filled, 'hour')} from humidity.",) if given and filled else ()
    return Draft(
        axis,
        {name: lay_instants(axis, time_s, values, none) for name, values in at.items()},
        np.ones(axis.n),
        derived=frozenset() if given else frozenset({"dew_point_c"}),
        notes=notes,
    )


def _station_notes(root: Node, rows: list[Node]) -> tuple[str, ...]:
    """Say until when hours are observed, where from, and how far away."""
    stations = {}
    listed = root.maybe("sources")
    for station in [] if listed is None else listed.items():
        stations[station.key("id").number()] = station
    last_of = {_used(row): row.key("timestamp").time_s() for row in rows}
    return tuple(
        _station_note(stations[number], last_s)
        for number, last_s in last_of.items()
        if number in stations
    )


def _used(row: Node) -> float:
    node = row.maybe("source_id")
    return -1.0 if node is None else node.number()


def _station_note(station: Node, last_s: int) -> str:
    kind = station.maybe("observation_type")
    word = "Forecast" if kind is not None and kind.value == "forecast" else "Observed"
    name = station.maybe("station_name")
    label = "a station" if name is None else "".join(c for c in name.text() if c.isprintable())[:40]
    away = station.maybe("distance")
    metres = math.nan if away is None else away.number()
    distance = "" if math.isnan(metres) else f", {metres / 1000.0:.0f} km away"
    far = ": far, so judge it by your own readings" if metres > _FAR_M else ""
    return f"{word} at {label}{distance}, until {utc_text(last_s)}{far}."
