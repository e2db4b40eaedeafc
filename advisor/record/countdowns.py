"""How long a batch lasts: induction, the comfortable part of its pot life, and the end of it.

Pot life is a clock on the temperature of the mix: the sum of dt/τ(T) from mixing on, by the same
clock as every time that runs out (see `coatings.clocks`). T is the warmer of the mix as it was
entered and of the shop's air measured since. Nothing makes it longer than the mix entered first
allows: neither cooler air, nor a cooler mix told later, nor thinner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.coatings.batch import usable_share
from advisor.coatings.clocks import maximum_clock
from advisor.coatings.product import Product
from advisor.coatings.tables import TimeTable
from advisor.planning.case import ROOM_C, column_table

FloatArray = NDArray[np.float64]

#: Step of the clock, seconds.
STEP_S = 60.0
#: Air between two readings is linear over at most this; in a longer gap the warmer one stands.
GAP_S = 3 * 3600.0
#: No pot life of any data sheet is longer than this, hours.
LONGEST_H = 30 * 24.0


@dataclass(frozen=True, eq=False)
class AirSince:
    """Air measured since mixing: `time_s` [n] rising, UTC seconds, `temp_c` [n] in °C."""

    time_s: FloatArray
    temp_c: FloatArray


@dataclass(frozen=True)
class Mixed:
    """What a countdown starts from.

    `entered` are mix temperatures with the moment each was told, oldest first, empty where nobody
    did: then the batch is at least as warm as a room.
    """

    mixed_s: float
    entered: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Countdown:
    """Moments in UTC seconds, None where the data sheet does not tell; `temp_c` of the mix now.

    `used_share` of the pot life, 0 to 1.
    """

    induction_until_s: float | None
    comfortable_until_s: float | None
    usable_until_s: float | None
    used_share: float | None
    temp_c: float
    assumptions: tuple[str, ...]


def countdown(product: Product, mixed: Mixed, air: AirSince, now_s: float) -> Countdown:
    """Return how far a batch is, `product` as it is by its method."""
    first_c = mixed.entered[0][1] if mixed.entered else max(ROOM_C, _first_air(air))
    notes = () if mixed.entered else ("mix temperature: the warmer of shop air and 20 °C",)
    induction_s = _induction_s(product, first_c)
    until = None if induction_s is None else mixed.mixed_s + induction_s
    life = column_table(product, "pot_life_h")
    if life is None:
        temp_c = max(first_c, _air_at(air, now_s))
        return Countdown(until, None, None, None, temp_c, notes)
    course = _Course(life, mixed, air, now_s)
    total = course.total()
    if total is None:
        blank = f"pot life: the table is blank at {course.now_c:.0f} °C, ask the maker"
        return Countdown(until, None, None, None, course.now_c, (*notes, blank))
    if total.shares[-1] < 1.0:
        return Countdown(until, None, None, None, course.now_c, (*notes, "pot life: no end given"))
    share = usable_share(course.warmest_c)
    ready = 0.0 if induction_s is None else total.progress_at(induction_s)
    comfortable = total.when(min(1.0, ready + share * (1.0 - min(ready, 1.0))))
    used = min(1.0, total.progress_at(max(0.0, now_s - mixed.mixed_s)))
    return Countdown(
        until,
        mixed.mixed_s + comfortable,
        mixed.mixed_s + total.when(1.0),
        used,
        course.now_c,
        (*notes, *_beyond(life, course.warmest_c)),
    )


@dataclass(frozen=True, eq=False)
class _Progress:
    """Share of the pot life used up at steps of STEP_S from mixing; rises without end."""

    shares: FloatArray

    def progress_at(self, after_s: float) -> float:
        return float(np.interp(after_s / STEP_S, np.arange(len(self.shares)), self.shares))

    def when(self, share: float) -> float:
        """Seconds from mixing until a share is used up, linear within a step as the clock is."""
        after = int(np.searchsorted(self.shares, share - 1e-12, side="left"))
        if after == 0:
            return 0.0
        low, high = self.shares[after - 1], self.shares[min(after, len(self.shares) - 1)]
        return float(STEP_S * (after - 1 + min(1.0, (share - low) / max(high - low, 1e-300))))


class _Course:
    """The temperature of a mix from mixing to past the end of its pot life."""

    def __init__(self, life: TimeTable, mixed: Mixed, air: AirSince, now_s: float) -> None:
        self._life = life
        self._mixed = mixed
        self._air = air
        self._now_s = min(max(now_s, mixed.mixed_s), mixed.mixed_s + LONGEST_H * 3600.0)
        known = math.ceil((self._now_s - mixed.mixed_s) / STEP_S) + 1
        self._past = self._temps(known)
        self.now_c = float(self._temp_at(np.array([self._now_s]))[0])
        self.warmest_c = max(float(np.max(self._past)), self.now_c)

    def total(self) -> _Progress | None:
        """Add up the shares; None where a cell of the table on the way is blank."""
        spent = self._life.at(self._past)
        ahead_h = self._life.at_one(self.now_c)
        if np.isnan(spent).any() or math.isnan(ahead_h):
            return None
        longest_h = min(LONGEST_H, float(np.max([*spent[np.isfinite(spent)], 0.0, ahead_h])))
        if not math.isfinite(longest_h):
            return None
        # Past now the mix is taken to stay as warm as it is.
        steps = math.ceil(longest_h * 3600 / STEP_S) + 2
        temps = np.concatenate((self._past, np.full(steps, self.now_c)))
        clock = maximum_clock(self._life, temps, STEP_S / 3600.0)
        return _Progress(_with_at_once(clock.total, clock.at_once))

    def _temps(self, points: int) -> FloatArray:
        return self._temp_at(self._mixed.mixed_s + STEP_S * np.arange(points, dtype=float))

    def _temp_at(self, time_s: FloatArray) -> FloatArray:
        """Warmer of what was entered and of the air."""
        told = self._mixed.entered or ((self._mixed.mixed_s, ROOM_C),)
        mix = np.full(len(time_s), told[0][1])
        for at_s, temp_c in told[1:]:
            mix = np.where(time_s >= at_s, np.maximum(mix, temp_c), mix)
        return np.asarray(np.fmax(mix, _air_course(self._air, time_s)))


def _with_at_once(total: FloatArray, at_once: FloatArray | None) -> FloatArray:
    """A pot life of 0 hours is over the moment it is reached."""
    if at_once is None:
        return total
    over = np.arange(len(total)) >= at_once[0]
    return np.where(over, np.maximum(total, 1.0), total)


def _induction_s(product: Product, mix_c: float) -> float | None:
    table = column_table(product, "induction_h")
    hours = math.nan if table is None else table.at_one(mix_c)
    return None if math.isnan(hours) else hours * 3600.0


def _air_course(air: AirSince, time_s: FloatArray) -> FloatArray:
    """Air at moments [m]: linear between readings, held past them, the warmer in a gap."""
    if not len(air.time_s):
        return np.full(len(time_s), np.nan)
    found = np.interp(time_s, air.time_s, air.temp_c)
    after = np.searchsorted(air.time_s, time_s, side="left")
    inside = (after > 0) & (after < len(air.time_s))
    low, high = np.maximum(after - 1, 0), np.minimum(after, len(air.time_s) - 1)
    gap = inside & (air.time_s[high] - air.time_s[low] > GAP_S)
    return np.where(gap, np.maximum(air.temp_c[low], air.temp_c[high]), found)


def _first_air(air: AirSince) -> float:
    return float(air.temp_c[0]) if len(air.temp_c) else -math.inf


def _air_at(air: AirSince, now_s: float) -> float:
    found = float(_air_course(air, np.array([now_s]))[0])
    return -math.inf if math.isnan(found) else found


def _beyond(life: TimeTable, warmest_c: float) -> Sequence[str]:
    if life.one_row:
        return (f"pot life: from a single row at {life.temp_c[0]:.0f} °C",)
    if warmest_c > life.temp_c[-1]:
        return (f"pot life: halved for each 10 K over {life.temp_c[-1]:.0f} °C, the top row",)
    return ()
