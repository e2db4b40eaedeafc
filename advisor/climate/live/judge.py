"""A sensor that lies: every value is judged as it comes, by what the same sensor told before.

What can be told of a table by itself (impossible values, saturation) is `climate.quality`'s. Here
is what needs the past: a jump, until it has been told three times over five minutes; a value that
stands still; a value that reads like °F where °C was said. The thresholds of jumps and standing
still are those of `climate.quality`, the others are assumptions of this program. No value is
changed or left out; its row is flagged, and a flagged value never speaks for the air of now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from types import MappingProxyType

import numpy as np

from advisor.climate.live.sensor import Arrived
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
from advisor.climate.readings import Flag, FloatArray, Origin, ReadingTable
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


def known_before(values: Mapping[str, tuple[float, int]]) -> dict[str, Track]:
    """Return tracks of a sensor not heard yet, from (value, UTC seconds) told by others there."""
    return {name: Track(value, time_s) for name, (value, time_s) in values.items()}


def judged(arrived: Arrived, tracks: Tracks) -> tuple[ReadingTable, dict[str, Track]]:
    """Return rows flagged, and the tracks after them. Rows are in time order, each time once."""
    flags = np.zeros(len(arrived.time_s), dtype=np.uint16)
    table = ReadingTable(arrived.time_s.astype(np.int64), dict(arrived.columns), flags,
                         Origin.MEASURED)  # fmt: skip
    return judged_table(table, tracks)


def judged_table(table: ReadingTable, tracks: Tracks) -> tuple[ReadingTable, dict[str, Track]]:
    """Return a table with its flags added to, of origin measured, and the tracks after it."""
    table = replace(flag_table(table), origin=Origin.MEASURED)
    flags = table.flags.astype(np.uint16, copy=True)
    after = dict(tracks)
    for name in JUMPS.keys() & table.columns.keys():
        column = table.columns[name].tolist()
        track = after.get(name)
        for row, (time_s, value) in enumerate(zip(table.time_s.tolist(), column, strict=True)):
            track, flag = _step(name, track, time_s, value)
            flags[row] |= np.uint16(flag)
        if track is not None:
            after[name] = track
    _compare(table, flags)
    return replace(table, flags=flags), after


def _step(name: str, track: Track | None, time_s: int, value: float) -> tuple[Track | None, Flag]:
    """Judge one value and return the track after it."""
    if np.isnan(value):
        return (None if track is None else replace(track, run_count=0)), Flag.NONE
    if track is None:
        track = Track(value, time_s)
    if time_s <= track.seen_s:  # out of order: judged by the next one that is not
        return track, Flag.NONE
    since_seen = time_s - track.seen_s
    track = _run(track, time_s, value)
    flag = Flag.STUCK if _stands_still(name, track, time_s) else Flag.NONE
    track, leap = _leap(name, track, time_s, value, since_seen)
    return replace(track, seen_s=time_s), flag | leap


def _run(track: Track, time_s: int, value: float) -> Track:
    same = track.run_count and value == track.run_value and time_s - track.seen_s <= HOLE_S
    if same:
        return replace(track, run_count=track.run_count + 1)
    return replace(track, run_value=value, run_since_s=time_s, run_count=1)


def _stands_still(name: str, track: Track, time_s: int) -> bool:
    if name not in STANDS or (name == "rh_pct" and track.run_value >= SATURATED_PCT):
        return False
    return track.run_count >= STUCK_SAMPLES and time_s - track.run_since_s >= STUCK_S


def _leap(
    name: str, track: Track, time_s: int, value: float, since_seen: int
) -> tuple[Track, Flag]:
    off = abs(value - track.value)
    if off > JUMPS[name] and time_s - track.time_s <= UNIT_MEMORY_S and name in TEMPERATURES:
        in_c = (value - 32.0) / 1.8
        if abs(in_c - track.value) < min(UNIT_NEAR_K, off / 3.0):
            # Followed in °C, so that a whole season in the wrong unit stays doubted.
            return replace(track, value=in_c, time_s=time_s, away_count=0), Flag.UNIT
    if off > JUMPS[name] and since_seen <= SPIKE_S:
        track = _away(name, track, time_s, value)
        told = track.away_count >= BELIEVED_TIMES and time_s - track.away_since_s >= BELIEVED_S
        if not told:
            return track, Flag.SPIKE
    return replace(track, value=value, time_s=time_s, away_count=0), Flag.NONE


def _away(name: str, track: Track, time_s: int, value: float) -> Track:
    """Count how often a level away from the one believed was told."""
    if track.away_count and abs(value - track.away_value) <= JUMPS[name] / 2.0:
        return replace(track, away_count=track.away_count + 1)
    return replace(track, away_value=value, away_since_s=time_s, away_count=1)


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
