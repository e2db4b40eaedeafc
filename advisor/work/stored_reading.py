"""The newest readings kept, as what is read at the work now."""

from __future__ import annotations

from pathlib import Path

from advisor.base.store import Store
from advisor.climate.reading_store import LatestValue, latest
from advisor.physics import moist_air
from advisor.planning.words import Words, duration
from advisor.work.views import Reading

NAMES = (
    ("air_temp_c", "air temperature"),
    ("rh_pct", "humidity"),
    ("surface_temp_c", "coldest spot"),
)


def stored_reading(
    database: Path, at_s: float, stale_after_s: float, words: Words
) -> tuple[Reading, tuple[str, ...]] | None:
    """Return the newest values of the day before, and which of them are too old to be now.

    None when there are none.
    """
    if not database.is_file():
        return None
    with Store(database) as store:
        values = latest(store, int(at_s))
    if not values:
        return None
    return _reading(values, at_s), _stale(values, at_s, stale_after_s, words)


def _reading(values: dict[str, LatestValue], at_s: float) -> Reading:
    def value(name: str) -> float | None:
        return values[name].value if name in values else None

    cold, hot = value("surface_temp_c"), value("surface_hot_c")
    # The two may be of different hours: a hottest spot colder than the coldest tells nothing.
    hot = None if hot is None or cold is None or hot < cold else hot
    return Reading(at_s, value("air_temp_c"), _humidity(values), cold, hot)


def _humidity(values: dict[str, LatestValue]) -> float | None:
    """RH as read, else from a dew point of the same time as the air."""
    if "rh_pct" in values:
        return values["rh_pct"].value
    air, dew = values.get("air_temp_c"), values.get("dew_point_c")
    if air is None or dew is None or air.time_s != dew.time_s:
        return None
    return min(100.0, moist_air.rh_pct(air.value, min(dew.value, air.value)))


def _stale(
    values: dict[str, LatestValue], at_s: float, stale_after_s: float, words: Words
) -> tuple[str, ...]:
    return tuple(
        f"{name} was last read at {words.moment(values[column].time_s)}, "
        f"{duration((at_s - values[column].time_s) / 3600)} ago: read it again"
        for column, name in NAMES
        if column in values and at_s - values[column].time_s > stale_after_s
    )
