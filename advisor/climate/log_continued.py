"""The shop's own log continued, where nothing tells the weather to come: its last days repeated.

Each moment to come is the mean of the same time of day on the last days, up to three, joined to
the last measured value by an offset that fades. How far that misses is seen by doing the very same
all along the log. A change of weather is never seen coming; that is in the spread, not in the line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outlook import AirAhead
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.series import on_grid
from advisor.climate.spread.local import near_in_day, never_falling, to_spread
from advisor.climate.spread.prior import SLOW_H, unit_courses

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAY_S, HOUR_S, STEP_S = 86400, 3600, SCENARIO_STEP_S
PER_DAY, PER_HOUR = DAY_S // STEP_S, HOUR_S // STEP_S
#: Days ahead, days repeated, and the least days of log to repeat.
DAYS_AHEAD, DAYS_REPEATED, LEAST_DAYS = 3, 3, 2
#: The offset to the last measured value halves in this time. On a real house's four weeks 12, 24
#: and 48 h did about as well, 6 h worse.
FADE_HALF_H = 24.0
#: The log looked at; older days are of another season.
LOOK_BACK_S = 30 * DAY_S
#: From this many days of log on its own misses count; before, only the usual ones below.
HINDCAST_DAYS = 5
#: Days of hindcasts the usual spread is worth (judgement).
USUAL_WORTH = 3.0
#: A hindcast verified for less than this is not drawn from.
LEAST_VERIFIED = PER_DAY
#: Hindcasts from near the same time of day count most; the least that one counts.
LEAST_COUNT = 0.05
#: The usual shape mixed into drawn misses, in standard deviations, so that few do not repeat.
DRESS = 0.3
COUNT = 200
#: Usual miss, root mean square in K by hours ahead: of this method on a real, lightly heated house
#: over four weeks (air 0.25, 1.1, 2.1, 3.0 K and dew point 0.4, 1.3, 2.3, 3.4 K after 1, 6, 24 and
#: 72 h), a fifth wider for sheds that hold less warmth (judgement).
USUAL_H = (0.0, 1.0, 3.0, 6.0, 12.0, 24.0, 48.0, 72.0)
USUAL_AIR_K = (0.0, 0.3, 0.8, 1.4, 2.0, 2.6, 3.3, 3.6)
USUAL_DEW_K = (0.0, 0.5, 1.1, 1.6, 2.2, 2.8, 3.6, 4.1)

NOTE = "no forecast: the shed's last days repeated; a front will not be seen coming"


@dataclass(frozen=True, eq=False)
class Log:
    """What the shop's log says, °C [m] at `time_s` [m], UTC seconds that rise; NaN is no value."""

    time_s: IntArray
    air_temp_c: FloatArray
    dew_point_c: FloatArray


@dataclass(frozen=True, eq=False)
class _Laid:
    """The log on the quarter hours [n] from `start_s` to its last whole value; NaN is a hole."""

    start_s: int
    air: FloatArray
    dew: FloatArray

    @property
    def known(self) -> NDArray[np.bool_]:
        return np.isfinite(self.air) & np.isfinite(self.dew)

    @property
    def days(self) -> float:
        """Days with air and dew point."""
        return float(self.known.sum()) / PER_DAY


def continued(log: Log, now_s: float, *, count: int = COUNT, seed: int = 0) -> AirAhead | None:
    """Return the shop's air from the last moment the log knows to three days later.

    With `count` courses, none for 0. None where the log has under two days with air and dew
    point, or ended so long ago that nothing of it is still to come.
    """
    laid = _laid(log, now_s)
    if laid is None or laid.days < LEAST_DAYS:
        return None
    last = len(laid.air) - 1
    leads = np.arange(DAYS_AHEAD * PER_DAY + 1)
    start_s = laid.start_s + STEP_S * last
    if start_s + STEP_S * int(leads[-1]) <= now_s:
        return None
    air, dew = (row[0] for row in _repeated(laid, np.array([last]), leads))
    found = AirAhead(start_s, STEP_S, air, dew, notes=(NOTE, _spread_note(laid)))
    if not count:
        return found
    air_k, dew_k = _misses(laid, leads, count, seed)
    many = air + air_k
    return AirAhead(start_s, STEP_S, air, dew, many, np.minimum(dew + dew_k, many), found.notes)


def _laid(log: Log, now_s: float) -> _Laid | None:
    """Lay the log on quarter hours up to its last whole one; None where it knows nothing."""
    end_s = int(now_s // STEP_S) * STEP_S
    grid = np.arange(end_s - LOOK_BACK_S, end_s + 1, STEP_S, dtype=np.int64)
    past = log.time_s <= now_s
    air, dew = (on_grid(log.time_s[past], c[past], grid) for c in (log.air_temp_c, log.dew_point_c))
    known = np.flatnonzero(np.isfinite(air) & np.isfinite(dew))
    if len(known) == 0:
        return None
    part = slice(int(known[0]), int(known[-1]) + 1)
    return _Laid(int(grid[part.start]), air[part], dew[part])


def _spread_note(laid: _Laid) -> str:
    if laid.days < HINDCAST_DAYS:
        return f"how far that misses: the usual until {HINDCAST_DAYS} days are logged"
    return f"how far that misses: as seen over {laid.days:.0f} days of the log"


# --- the line ---------------------------------------------------------------------------------


def _repeated(laid: _Laid, origins: IntArray, leads: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return air and dew point [k, l] told at each origin by nothing but what was before it."""
    air, dew = (_told(values, origins, leads) for values in (laid.air, laid.dew))
    return air, np.minimum(dew, air)


def _told(values: FloatArray, origins: IntArray, leads: IntArray) -> FloatArray:
    usual = _same_time_of_day(values, origins, leads)
    offset = values[origins] - _same_time_of_day(values, origins, np.zeros(1, np.int64))[:, 0]
    # Where no day before has this time of day, there is nothing to join: the days to come stand.
    fade = 0.5 ** (leads / (FADE_HALF_H * PER_HOUR))
    joined = usual + np.where(np.isnan(offset), 0.0, offset)[:, None] * fade
    at_origin = leads == 0
    return np.asarray(np.where(at_origin, values[origins][:, None], joined))


def _same_time_of_day(values: FloatArray, origins: IntArray, leads: IntArray) -> FloatArray:
    """Return the mean [k, l] over the last whole days before each origin; NaN without a value."""
    days_back = np.maximum(1, -(-leads // PER_DAY))
    whole = np.minimum(origins // PER_DAY, DAYS_REPEATED)
    total, seen = np.zeros((2, len(origins), len(leads)))
    for day in range(DAYS_REPEATED):
        at = origins[:, None] + leads - PER_DAY * (days_back + day)
        inside = (at >= 0) & (day < whole)[:, None]
        found = np.where(inside, values[np.maximum(at, 0)], np.nan)
        known = np.isfinite(found)
        total += np.where(known, found, 0.0)
        seen += known
    return np.where(seen > 0, total / np.maximum(seen, 1.0), np.nan)


# --- how far it misses ------------------------------------------------------------------------


def _hindcasts(laid: _Laid, leads: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return what came less what this method said, every hour of the log with two days before it.

    Origins [k] as places in the log, and misses of air and dew point, K [k, l]; NaN where nothing
    was measured.
    """
    n = len(laid.air)
    every = np.arange(LEAST_DAYS * PER_DAY, n - 1, PER_HOUR)
    origins = every[laid.known[every]]
    told_air, told_dew = _repeated(laid, origins, leads)
    at = origins[:, None] + leads
    air, dew = (
        np.where(at < n, values[np.minimum(at, n - 1)], np.nan) - told
        for values, told in ((laid.air, told_air), (laid.dew, told_dew))
    )
    return origins, air, dew


def _misses(laid: _Laid, leads: IntArray, count: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Return misses to add to the line, [count, l]: 0 at the last value, wider further on."""
    rng = np.random.default_rng([seed, 2])
    lead_h = leads / PER_HOUR
    usual = [np.interp(lead_h, USUAL_H, k) for k in (USUAL_AIR_K, USUAL_DEW_K)]
    shapes = [_on_quarters(c) for c in unit_courses(rng, count, int(lead_h[-1]) + 1)]
    drawn = _drawn(laid, leads, usual, count, rng) if laid.days >= HINDCAST_DAYS else None
    if drawn is None:
        air, dew = (to_spread(c, k) for c, k in zip(shapes, usual, strict=True))
        return air, dew
    air, dew = (
        to_spread(own + DRESS * shape, sd) for (own, sd), shape in zip(drawn, shapes, strict=True)
    )
    return air, dew


def _drawn(
    laid: _Laid, leads: IntArray, usual: list[FloatArray], count: int, rng: np.random.Generator
) -> list[tuple[FloatArray, FloatArray]] | None:
    """Draw whole misses of one hindcast after another: (unit size [count, l], spread [l]) each.

    None where no hindcast is verified for long enough.
    """
    origins, *missed = _hindcasts(laid, leads)
    long = np.isfinite(missed[0][:, : LEAST_VERIFIED + 1]).mean(axis=1) > 0.75
    if not long.any():
        return None
    near = near_in_day((origins - (len(laid.air) - 1)) / PER_HOUR, LEAST_COUNT)
    rows = rng.choice(np.flatnonzero(long), count, p=near[long] / near[long].sum())
    found = []
    for misses, k in zip(missed, usual, strict=True):
        sd = _spread(misses, near, k)
        unit = misses[rows] / np.maximum(sd, 1e-9)
        found.append((_wandering_on(unit, rng), sd))
    return found


def _spread(misses_k: FloatArray, near: FloatArray, usual_k: FloatArray) -> FloatArray:
    """Return the root mean square miss [l], drawn to the usual one while there are few days."""
    known = np.isfinite(misses_k)
    days = known.sum(axis=0) / 24.0
    squares = near @ np.where(known, misses_k, 0.0) ** 2
    own = squares / np.maximum(near @ known, 1e-9)
    both = (days * own + USUAL_WORTH * usual_k**2) / (days + USUAL_WORTH)
    return np.sqrt(never_falling(both))


def _wandering_on(unit: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Fill what was not measured of misses [s, l] of about unit size by wandering on."""
    keep = np.exp(-1.0 / (SLOW_H * PER_HOUR))
    filled, noise = unit.copy(), rng.standard_normal(unit.shape)
    filled[:, 0] = np.nan_to_num(unit[:, 0])
    for j in range(1, unit.shape[1]):
        onward = keep * filled[:, j - 1] + np.sqrt(1.0 - keep**2) * noise[:, j]
        filled[:, j] = np.where(np.isnan(unit[:, j]), onward, unit[:, j])
    return filled


def _on_quarters(hourly: FloatArray) -> FloatArray:
    """Read hourly courses [s, h] every quarter of an hour, on straight lines."""
    at = np.arange((hourly.shape[1] - 1) * PER_HOUR + 1) / PER_HOUR
    low = np.minimum(at.astype(np.int64), hourly.shape[1] - 2)
    part = at - low
    return np.asarray(hourly[:, low] * (1.0 - part) + hourly[:, low + 1] * part)
