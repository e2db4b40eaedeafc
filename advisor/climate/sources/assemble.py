"""The last steps every source shares: dew point against air, reach, age, credit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.base.counting import counted
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.sources.layers import (
    HOUR_S,
    Axis,
    FloatArray,
    station_pressure,
    utc_text,
)
from advisor.climate.sources.source import BadAnswer, Source

#: Dew points this much above the air come from rounding and unlike time steps; more is broken.
MOST_DEW_ABOVE_AIR_K = 5.0
_SLIGHTLY_K = 0.3
#: Hours with air and dew point from now on that make an answer worth having.
LEAST_AHEAD_H = 24
#: Older than this is said; older than `TOO_OLD_H` is not used: the source has stopped.
OLD_H = 12
TOO_OLD_H = 24
#: Made later than this after it was fetched is not used: it would come before every good
#: forecast until then. Where our own clock is wrong, `asking` reads by the service's.
MOST_AHEAD_H = 1
_DAMP = ("air_temp_c", "dew_point_c")


@dataclass(frozen=True, eq=False)
class Draft:
    """A forecast being put together: columns [n] on `axis`."""

    axis: Axis
    columns: Mapping[str, FloatArray]
    step_h: FloatArray
    issued_s: int | None = None
    derived: frozenset[str] = frozenset()
    low10: Mapping[str, FloatArray] = field(default_factory=dict)
    high90: Mapping[str, FloatArray] = field(default_factory=dict)
    members: Mapping[str, FloatArray] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def finished(source: Source, draft: Draft, place: Place, fetched_s: float) -> Forecast:
    """Return the forecast, or raise `BadAnswer`: of a wrong time, too short, contradictory."""
    columns, dew_note = _dew_below_air(source, draft)
    _check_reach(source, draft.axis, columns, fetched_s)
    age_note = _checked_age(source, draft.issued_s, fetched_s)
    columns, derived = _at_station(columns, draft.derived, place)
    kept = {name: column for name, column in columns.items() if np.isfinite(column).any()}
    return Forecast(
        source=source.id,
        place=place,
        fetched_s=int(fetched_s),
        issued_s=draft.issued_s,
        hourly=Outdoor(draft.axis.start_s, HOUR_S, kept, derived & kept.keys()),
        step_h=draft.step_h,
        credit=source.credit,
        members=draft.members,
        low10=draft.low10,
        high90=draft.high90,
        notes=(*draft.notes, *dew_note, *age_note),
    )


def _dew_below_air(source: Source, draft: Draft) -> tuple[dict[str, FloatArray], tuple[str, ...]]:
    columns = dict(draft.columns)
    air, dew = (columns.get(name, draft.axis.hole()) for name in _DAMP)
    above = np.nan_to_num(dew - air, nan=0.0)
    worst = int(np.argmax(above)) if len(above) else 0
    if len(above) and above[worst] > MOST_DEW_ABOVE_AIR_K:
        where = f"hour {utc_text(int(draft.axis.time_s[worst]))}"
        found = f"dew point {dew[worst]:.1f} °C above air {air[worst]:.1f} °C"
        raise BadAnswer(source.name, where, found, "a dew point at or below the air")
    columns["dew_point_c"] = np.where(above > 0.0, air, dew)
    count = int(np.count_nonzero(above > _SLIGHTLY_K))
    if not count:
        return columns, ()
    most = f"up to {above.max():.1f} K above the air in {counted(count, 'hour')}"
    return columns, (f"Dew point {most}: set to the air.",)


def _check_reach(
    source: Source, axis: Axis, columns: Mapping[str, FloatArray], fetched_s: float
) -> None:
    both = np.isfinite(columns.get("air_temp_c", axis.hole())) & np.isfinite(columns["dew_point_c"])
    ahead = int(np.count_nonzero(both & (axis.time_s > fetched_s - HOUR_S)))
    if ahead < LEAST_AHEAD_H:
        found = f"{ahead} hours with air and dew point from {utc_text(fetched_s)} on"
        raise BadAnswer(source.name, "hours", found, f"at least {LEAST_AHEAD_H}")


def _checked_age(source: Source, issued_s: int | None, fetched_s: float) -> tuple[str, ...]:
    if issued_s is None:
        return ()
    age_h = (fetched_s - issued_s) / HOUR_S
    if age_h > TOO_OLD_H:
        found = f"a forecast made {utc_text(issued_s)}, {age_h:.0f} h before it was fetched"
        raise BadAnswer(source.name, "time of issue", found, f"at most {TOO_OLD_H} h")
    if age_h > OLD_H:
        return (f"Made {age_h:.0f} h before it was fetched: the service seems to lag.",)
    if age_h < -MOST_AHEAD_H:
        found = f"a forecast made {utc_text(issued_s)}, {-age_h:.1f} h after it was fetched"
        raise BadAnswer(source.name, "time of issue", found, f"at most {MOST_AHEAD_H} h")
    return ()


def _at_station(
    columns: dict[str, FloatArray], derived: frozenset[str], place: Place
) -> tuple[dict[str, FloatArray], frozenset[str]]:
    """Turn pressure at sea level, marked by its own name, into that at the place."""
    at_sea = columns.pop("pressure_msl_hpa", None)
    if at_sea is None or "pressure_hpa" in columns:
        return columns, derived
    columns["pressure_hpa"] = station_pressure(at_sea, place.altitude_m)
    return columns, derived | {"pressure_hpa"}


def with_past(
    forecast: Forecast, axis: Axis, columns: Mapping[str, FloatArray], note: str
) -> Forecast:
    """Return the forecast with measured hours before it; what lies between them is a hole."""
    hourly = forecast.hourly
    before = (hourly.start_s - axis.start_s) // HOUR_S
    if before <= 0 or axis.n == 0:
        return forecast

    def behind(values: FloatArray) -> FloatArray:
        empty = np.full((*values.shape[:-1], before), np.nan)
        return np.concatenate((empty, values), axis=-1)

    names = dict.fromkeys((*hourly.columns, *columns))
    joined = {name: behind(hourly.column(name)) for name in names}
    share = min(before, axis.n)
    for name, values in columns.items():
        joined[name][:share] = values[:share]
    steps = np.concatenate((np.ones(before), forecast.step_h))
    return replace(
        forecast,
        hourly=Outdoor(axis.start_s, HOUR_S, joined, hourly.derived),
        step_h=steps,
        members={name: behind(values) for name, values in forecast.members.items()},
        low10={name: behind(values) for name, values in forecast.low10.items()},
        high90={name: behind(values) for name, values in forecast.high90.items()},
        notes=(*forecast.notes, note),
    )
