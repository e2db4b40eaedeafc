"""When the record asks for a reading: before mixing, at the start, every four hours, at a change,
at the end, and hourly until the film can take dew (practice of the trade and of public
specifications). A sensor that reads air, humidity and surface does it by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.coatings.clocks import minimum_clock
from advisor.coatings.product import Product
from advisor.planning.case import cure_min_c, dew_safe_table
from advisor.record.bench_state import Finished, Going
from advisor.work.at_work import Rows
from advisor.work.live_views import ReadingDue

FloatArray = NDArray[np.float64]

#: A reading this long before an event is that event's, seconds.
AT_EVENT_S = 1800.0
EVERY_S = 4 * 3600.0
CURING_S = 3600.0
#: After this long a film is no longer asked about, seconds.
LONGEST_S = 72 * 3600.0
#: Between two readings of a surface it is known over at most this, seconds.
GAP_S = 3 * 3600.0
STEP_S = 300.0

TEXTS = MappingProxyType({
    "before mixing": "Read before mixing: air, humidity and the coldest spot.",
    "start": "Read at the start: air, humidity and the coldest spot.",
    "four hours": "Four hours since the last reading: read again.",
    "change": "Conditions changed: read at the work.",
    "end": "Read at the end of the coat.",
    "until it can take dew": "Read hourly until the film can take dew.",
})  # fmt: skip


@dataclass(frozen=True, eq=False)
class Rounds:
    """What asks for readings. `mixed_s` of open batches whose coat has not begun; times UTC s.

    `curing` are films with the moment they can take dew, None where that is not known.
    `changed_s` when conditions changed, None where they did not.
    """

    read_s: FloatArray
    mixed_s: tuple[float, ...] = ()
    going: Going | None = None
    curing: tuple[tuple[Finished, float | None], ...] = ()
    changed_s: float | None = None


def readings_due(rounds: Rounds, now_s: float) -> tuple[ReadingDue, ...]:
    """Return readings that are due or will be next, the oldest first."""
    found: list[ReadingDue] = []
    for mixed_s in rounds.mixed_s:
        if not _read_between(rounds, mixed_s - 2 * AT_EVENT_S, now_s):
            found.append(_due("before mixing", mixed_s))
    if rounds.going is not None:
        found.append(_while_going(rounds, rounds.going))
    if rounds.changed_s is not None and not _read_between(rounds, rounds.changed_s, now_s):
        found.append(_due("change", rounds.changed_s))
    for film, can_take_s in rounds.curing:
        found += _after(rounds, film, can_take_s, now_s)
    # One reading answers for all: the oldest of each reason is enough.
    by_reason = {due.reason: due for due in sorted(found, key=lambda d: -d.due_s)}
    return tuple(sorted(by_reason.values(), key=lambda d: d.due_s))


def _while_going(rounds: Rounds, going: Going) -> ReadingDue:
    last = _last_read(rounds)
    if last is None or last < going.started_s - AT_EVENT_S:
        return _due("start", going.started_s)
    return _due("four hours", max(last, going.started_s - AT_EVENT_S) + EVERY_S)


def _after(
    rounds: Rounds, film: Finished, can_take_s: float | None, now_s: float
) -> list[ReadingDue]:
    last = _last_read(rounds)
    if last is None or last < film.end_s - AT_EVENT_S:
        return [_due("end", film.end_s)]
    until = min(film.end_s + LONGEST_S, np.inf if can_take_s is None else can_take_s)
    due = max(last, film.end_s) + CURING_S
    return [_due("until it can take dew", due)] if due < until and now_s < until else []


def can_take_dew_s(product: Product, film: Finished, rows: Rows, now_s: float) -> float | None:
    """Return when a film can take dew by the surface read since, held as it is; None if unknown.

    Where the surface is not known the film is taken to stand still: it is asked about longer.
    """
    table = dew_safe_table(product)
    since = rows.since(film.end_s - GAP_S)
    known = ~np.isnan(since.surface_temp_c)
    if table is None or not known.any():
        return None
    ahead = max(0.0, now_s - film.end_s) + LONGEST_S
    times = film.end_s + STEP_S * np.arange(int(ahead / STEP_S) + 1, dtype=float)
    surface = surface_course(since.time_s[known], since.surface_temp_c[known], times)
    clock = minimum_clock(table, surface, cure_min_c(product), STEP_S / 3600.0)
    event = float(clock.when(np.zeros(1))[0])
    return None if np.isnan(event) else film.end_s + event * STEP_S


def surface_course(time_s: FloatArray, values: FloatArray, at_s: FloatArray) -> FloatArray:
    """Return a surface at moments [m].

    Linear over short gaps, the colder end in long ones, held past the last reading.
    """
    found = np.interp(at_s, time_s, values)
    after = np.clip(np.searchsorted(time_s, at_s), 1, max(1, len(time_s) - 1))
    high = np.minimum(after, len(time_s) - 1)
    gap = (time_s[high] - time_s[after - 1] > GAP_S) & (at_s > time_s[0]) & (at_s < time_s[-1])
    return np.where(gap, np.minimum(values[after - 1], values[high]), found)


def _due(reason: str, due_s: float) -> ReadingDue:
    return ReadingDue(reason, due_s, TEXTS[reason])


def _last_read(rounds: Rounds) -> float | None:
    return float(rounds.read_s[-1]) if len(rounds.read_s) else None


def _read_between(rounds: Rounds, first_s: float, last_s: float) -> bool:
    return bool(((rounds.read_s >= first_s) & (rounds.read_s <= last_s)).any())
