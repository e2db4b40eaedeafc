"""The forecast services the program knows."""

from __future__ import annotations

from advisor.base.errors import RangeError
from advisor.climate.place import Place
from advisor.climate.sources.brightsky import BrightSky
from advisor.climate.sources.metno import MetNorway
from advisor.climate.sources.nws import WeatherService
from advisor.climate.sources.openmeteo import OpenMeteo
from advisor.climate.sources.source import Source

ALL: tuple[Source, ...] = (MetNorway(), WeatherService(), BrightSky(), OpenMeteo())

#: Rough boxes (south, north, west, east) of the US service: the states, Alaska, Hawaii, Puerto
#: Rico and the Virgin Islands, Guam and the Marianas, American Samoa. Beyond the border inside
#: a box it answers 404, and the next source is asked.
_US_BOXES = (
    (24.0, 49.5, -125.5, -66.5),
    (51.0, 71.6, -180.0, -129.5),
    (18.5, 22.5, -160.5, -154.5),
    (17.5, 18.7, -67.5, -64.4),
    (13.0, 20.7, 144.4, 146.2),
    (-14.7, -10.9, -171.3, -168.0),
)
_GERMANY = (47.2, 55.1, 5.8, 15.1)


def by_id(source_id: str) -> Source:
    """Return the source of that id, or raise `RangeError` naming the ids there are."""
    for source in ALL:
        if source.id == source_id:
            return source
    ids = ", ".join(source.id for source in ALL)
    raise RangeError("forecast source", repr(source_id), ids)


def suggested(place: Place) -> tuple[Source, ...]:
    """Return sources for a place, best first; none that the user must first agree to."""
    ids = ["metno"]
    if any(_inside(place, box) for box in _US_BOXES):
        ids.insert(0, "nws")
    if _inside(place, _GERMANY):
        ids.append("brightsky")
    return tuple(by_id(source_id) for source_id in ids)


def _inside(place: Place, box: tuple[float, float, float, float]) -> bool:
    south, north, west, east = box
    return south <= place.lat_deg <= north and west <= place.lon_deg <= east
