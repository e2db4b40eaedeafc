"""A sensor that lies: every value is judged as it comes, by what the same sensor told before.

What can be told of a table by itself (impossible values, saturation) is `climate.quality`'s. Here
is what needs more: a jump, until it has been told three times over five minutes; a value that
stands still; a value that reads like °F where °C was said; a value that another sensor of the zone
does not bear out. The thresholds of jumps and standing still are those of `climate.quality`, the
others are assumptions of this program. No value is changed or left out; its row is flagged, and a
flagged value never speaks for the air of now.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from types import MappingProxyType, SimpleNamespace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.quality import (
    HOLE_S,
    SATURATED_PCT,
    SPIKE_S,
    SPIKE_STEP,
    STUCK_S,
    STUCK_SAMPLES,
    SWAPPED_AIR_C,
    flag_table,
)
from advisor.climate.readings import Flag, FloatArray, IntArray, Origin, ReadingTable
from advisor.physics import moist_air

#: A jump of more than this is doubted; of a surface more, since a lamp or the sun may reach it.
JUMPS = MappingProxyType(
    {**SPIKE_STEP, "surface_temp_c": 12.0, "surface_hot_c": 25.0, "dew_point_c": 12.0}
)
STANDS = ("air_temp_c", "rh_pct", "surface_temp_c")
TEMPERATURES = ("air_temp_c", "surface_temp_c", "surface_hot_c", "dew_point_c")
#: A new level is believed when told so often and for so long.
BELIEVED_TIMES, BELIEVED_S = 3, 300
#: What was known so long ago still tells °F from °C.
UNIT_MEMORY_S = 3 * 86400
#: Read as °F a value comes within this of what was known.
UNIT_NEAR_K = 6.0
#: A surface is not this much warmer than its air where it is the air's in °F.
SURFACE_ABOVE_AIR_K = 25.0
#: RH told and RH by the dew point told agree within this, points.
RH_AGREES_PCT = 8.0
#: Two sound loggers of one place are not this far apart: twice what each may be off. As much in a
#: surface is all the room that is asked above the dew point.
APART = MappingProxyType(
    {"air_temp_c": 3.0, "rh_pct": 10.0, "surface_temp_c": 3.0, "dew_point_c": 3.0}
)
_NEVER = -(2**62)


@dataclass(frozen=True)
class Track:
    """What is known of one quantity of a sensor. Times UTC seconds.

    `value` is the level believed at `time_s`; `seen_s` when any value came last; `run_*` the run
    of one value; `away_*` a level that is told but not yet believed.
    """

    value: float
    time_s: int
    seen_s: int = _NEVER
    run_value: float = float("inf")
    run_since_s: int = 0
    run_count: int = 0
    away_value: float = 0.0
    away_since_s: int = 0
    away_count: int = 0


Tracks = Mapping[str, Track]


@dataclass(frozen=True)
class Neighbour:
    """Another sensor of the same zone: what is known of it, and for how long that can be compared,
    seconds.
    """

    tracks: Tracks
    lasts_s: float


class _Going(SimpleNamespace):
    """A track while it is gone along; one frozen copy a value made a backlog take minutes."""

    value: float
    time_s: int
    seen_s: int
    run_value: float
    run_since_s: int
    run_count: int
    away_value: float
    away_since_s: int
    away_count: int


def known_before(values: Mapping[str, tuple[float, int]]) -> dict[str, Track]:
    """Return tracks of a sensor not heard yet, from (value, UTC seconds) told by others there."""
    return {name: Track(value, time_s) for name, (value, time_s) in values.items()}


def judged_table(table: ReadingTable, tracks: Tracks) -> tuple[ReadingTable, dict[str, Track]]:
    """Return a table with its flags added to, of origin measured, and the tracks after it."""
    table = replace(flag_table(table), origin=Origin.MEASURED)
    flags = table.flags.astype(np.uint16, copy=True)
    after = dict(tracks)
    for name in JUMPS.keys() & table.columns.keys():
        track, found = _along(name, after.get(name), table.time_s, table.columns[name])
        flags |= found
        if track is not None:
            after[name] = track
    _compare(table, flags)
    return replace(table, flags=flags), after


def compared_table(table: ReadingTable, neighbours: Iterable[Neighbour]) -> ReadingTable:
    """Return a table flagged where another sensor of the zone tells otherwise about that time.

    Nobody can say which of the two is right, so that neither speaks for now while they differ.
    """
    flags = table.flags.astype(np.uint16, copy=True)
    for neighbour in neighbours:
        for name in APART.keys() & table.columns.keys() & neighbour.tracks.keys():
            level = neighbour.tracks[name]
            near = np.abs(table.time_s - level.time_s) <= neighbour.lasts_s
            far = np.abs(table.columns[name] - level.value) > APART[name]
            flags[near & far] |= np.uint16(Flag.APART)
    return replace(table, flags=flags)


def _along(
    name: str, track: Track | None, time_s: IntArray, values: FloatArray
) -> tuple[Track | None, NDArray[np.uint16]]:
    """Judge one column and return the track after it, and the flags [n]."""
    told = np.flatnonzero(~np.isnan(values))
    flags = np.zeros(len(values), dtype=np.uint16)
    if track is None and not len(told):
        return None, flags
    first = int(told[0]) if len(told) else 0
    before = track or Track(float(values[first]), int(time_s[first]))
    going = _Going(**vars(before))
    found = [_step(name, going, at, value) for at, value in
             zip(time_s.tolist(), values.tolist(), strict=True)]  # fmt: skip
    flags[:] = found
    return Track(**vars(going)), flags


def _step(name: str, going: _Going, time_s: int, value: float) -> int:
    """Judge one value, going along; return its flags."""
    if math.isnan(value):
        going.run_count = 0
        return 0
    if time_s <= going.seen_s:
        return _late(name, going, time_s, value)
    since_seen = time_s - going.seen_s
    _run(going, time_s, value)
    stuck = int(Flag.STUCK) if _stands_still(name, going, time_s) else 0
    off = abs(value - going.value)
    leap = _leap(name, going, time_s, value, since_seen) if off > JUMPS[name] else 0
    if not leap:
        going.value, going.time_s, going.away_count = value, time_s, 0
    going.seen_s = time_s
    return stuck | leap


def _late(name: str, going: _Going, time_s: int, value: float) -> int:
    """Judge a value told out of order, by what is believed; nothing is learnt from it.

    After a clock was set back every value comes so, until it has caught up. What is told of long
    ago is another level's business.
    """
    if going.seen_s - time_s > SPIKE_S or abs(value - going.value) <= JUMPS[name]:
        return 0
    return int(Flag.UNIT) if _reads_like_f(name, going, time_s, value) else int(Flag.SPIKE)


def _run(going: _Going, time_s: int, value: float) -> None:
    if going.run_count and value == going.run_value and time_s - going.seen_s <= HOLE_S:
        going.run_count += 1
    else:
        going.run_value, going.run_since_s, going.run_count = value, time_s, 1


def _stands_still(name: str, going: _Going, time_s: int) -> bool:
    if going.run_count < STUCK_SAMPLES or time_s - going.run_since_s < STUCK_S:
        return False
    return name in STANDS and not (name == "rh_pct" and going.run_value >= SATURATED_PCT)


def _leap(name: str, going: _Going, time_s: int, value: float, since_seen: int) -> int:
    """Return why a value far off the level believed is doubted; 0 where it is believed."""
    if _reads_like_f(name, going, time_s, value):
        # Followed in °C, so that a whole season in the wrong unit stays doubted.
        going.value, going.time_s, going.away_count = (value - 32.0) / 1.8, time_s, 0
        return int(Flag.UNIT)
    if since_seen > SPIKE_S:
        return 0
    _away(name, going, time_s, value)
    told = going.away_count >= BELIEVED_TIMES and time_s - going.away_since_s >= BELIEVED_S
    return 0 if told else int(Flag.SPIKE)


def _reads_like_f(name: str, going: _Going, time_s: int, value: float) -> bool:
    """Whether a value read as °F comes near what is believed in °C."""
    if time_s - going.time_s > UNIT_MEMORY_S or name not in TEMPERATURES:
        return False
    off = abs((value - 32.0) / 1.8 - going.value)
    return off < min(UNIT_NEAR_K, abs(value - going.value) / 3.0)


def _away(name: str, going: _Going, time_s: int, value: float) -> None:
    """Count how often a level away from the one believed was told."""
    if going.away_count and abs(value - going.away_value) <= JUMPS[name] / 2.0:
        going.away_count += 1
    else:
        going.away_value, going.away_since_s, going.away_count = value, time_s, 1


def _compare(table: ReadingTable, flags: np.ndarray) -> None:
    """Flag rows whose quantities cannot all be true: exchanged, or some in °F; in place."""
    air, rh = table.column("air_temp_c"), table.column("rh_pct")
    surface, dew = table.column("surface_temp_c"), table.column("dew_point_c")
    flags[(air > SWAPPED_AIR_C) & (rh < SWAPPED_AIR_C) & (rh < air)] |= np.uint16(Flag.SWAPPED)
    hot = (surface - air > SURFACE_ABOVE_AIR_K) & (np.abs(_in_c(surface) - air) < UNIT_NEAR_K)
    flags[hot] |= np.uint16(Flag.UNIT)
    whole = ~(np.isnan(air) | np.isnan(rh) | np.isnan(dew))
    if whole.any():
        as_told = np.abs(moist_air.rh_array(air[whole], dew[whole]) - rh[whole])
        as_f = np.abs(moist_air.rh_array(_in_c(air[whole]), _in_c(dew[whole])) - rh[whole])
        wrong = (as_told > RH_AGREES_PCT) & (as_f < RH_AGREES_PCT / 2.0)
        flags[np.flatnonzero(whole)[wrong]] |= np.uint16(Flag.UNIT)


def _in_c(values: FloatArray) -> FloatArray:
    result: FloatArray = (values - 32.0) / 1.8
    return result


def to_plain(tracks: Tracks) -> dict[str, dict[str, float]]:
    """Return tracks as they are stored."""
    return {name: asdict(track) for name, track in tracks.items()}


def from_plain(stored: Mapping[str, Mapping[str, float]]) -> dict[str, Track]:
    """Return stored tracks."""
    return {name: Track(**one) for name, one in stored.items()}  # type: ignore[arg-type]
