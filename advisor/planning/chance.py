"""How sure a start is: in how many of the outlook's courses it would go well.

(a) `holds`: the share of courses in which every hard rule holds over its whole interval, on the
values as they would be measured; what cannot be told in a course does not hold, nor does a bond
that is only likely. (b) `dry`: the chance that the surface stays above the dew point until the
film can take dew, with one constant error of the instruments in each course: the mean over the
courses of Phi(least margin in standard errors). Go asks for 0.9 and 0.99 (design, section 4).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from advisor.physics.uncertainty import SensorSpread, margin_errors
from advisor.planning.bond_courses import bond_holds
from advisor.planning.case import Case
from advisor.planning.courses import Courses
from advisor.planning.limits import Along, any_inside
from advisor.planning.rules import HARD, Setting, over_previous
from advisor.planning.timeline import Phase, Span, Timeline, timeline

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

#: Asked of a go: share of courses in which every rule holds, and chance of staying dry.
ASKED_HOLDS = 0.9
ASKED_DRY = 0.99


@dataclass(frozen=True, eq=False)
class Chances:
    """Of each start [m], 0 to 1; NaN for starts before the first course.

    Between two points of the courses' grid a start has the worse of both chances.
    """

    holds: FloatArray
    dry: FloatArray


def chances(case: Case, courses: Courses, starts_s: NDArray[np.int64] | FloatArray) -> Chances:
    """Return the chances of starts [m] in UTC seconds, in any order.

    A start less than a step before the first point takes the first point's chance; past the
    last point nothing holds.
    """
    first, second = _neighbours(courses, starts_s)
    columns, place = np.unique(np.concatenate((first, second)), return_inverse=True)
    inside = (columns >= 0) & (columns < courses.ahead)
    holds, dry = np.zeros(len(columns)), np.zeros(len(columns))
    if inside.any():
        holds[inside], dry[inside] = _on_grid(case, courses, columns[inside])
    holds[columns < 0] = dry[columns < 0] = np.nan
    half = len(first)
    return Chances(
        np.minimum(holds[place[:half]], holds[place[half:]]),
        np.minimum(dry[place[:half]], dry[place[half:]]),
    )


def chances_of_all(
    cases: Sequence[Case],
    courses: Courses,
    starts_s: NDArray[np.int64] | FloatArray,
    workers: int = 2,
) -> list[Chances]:
    """The same for several coats over the same courses, side by side on `workers` threads."""
    for case in cases:
        _dry_table(courses, case.spread)  # once, rather than by two threads at a time
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(lambda case: chances(case, courses, starts_s), cases))


def _neighbours(courses: Courses, starts_s: NDArray[np.int64] | FloatArray) -> tuple[IntArray, ...]:
    """Points before and after each start; -1 for those too early."""
    scenarios = courses.scenarios
    at = (np.asarray(starts_s, float) - scenarios.start_s) / scenarios.step_s
    late = np.ceil(at).astype(np.int64)
    early = np.where((at > -1.0) & (at < 0.0), 0, np.floor(at)).astype(np.int64)
    outside = (early < 0) | (late < 0)
    return np.where(outside, -1, early), np.where(outside, -1, late)


def _on_grid(case: Case, courses: Courses, columns: IntArray) -> tuple[FloatArray, FloatArray]:
    """Both chances of starts at points of the courses."""
    setting = along_courses(case, courses, columns)
    shape = (courses.count, len(columns))
    holds = np.ones(len(setting.timeline.starts), dtype=bool)
    for phase, tests in _by_phase(setting).items():
        span = setting.timeline.spans[phase]
        holds &= span.complete & ~any_inside(_not_held(tests), span)
    if case.previous is not None:
        holds &= bond_holds(case, courses, setting.timeline)
    dry = _stays_dry(case, courses, setting.timeline)
    return holds.reshape(shape).mean(axis=0), dry.reshape(shape).mean(axis=0)


def along_courses(case: Case, courses: Courses, columns: IntArray) -> Setting:
    """The coat, laid out for the same starts in every course."""
    mask = None if case.hours_mask is None else courses.mask(case.hours_mask)
    tiled = replace(case, hours_mask=mask)
    return Setting(tiled, courses.long, timeline(tiled, courses.long, courses.starts(columns)))


def _tests(setting: Setting) -> Iterator[Along]:
    """Every hard rule but the coat below, which `bond_courses` tests."""
    for rule in HARD:
        if rule is not over_previous:
            yield from (test for test in rule(setting) if isinstance(test, Along))


def _by_phase(setting: Setting) -> dict[Phase, list[Along]]:
    found: dict[Phase, list[Along]] = {}
    for test in _tests(setting):
        found.setdefault(test.phase, []).append(test)
    return found


def _not_held(tests: list[Along]) -> BoolArray:
    """Points at which one of the tests is broken or cannot be told."""
    bad = np.isnan(tests[0].values)
    for test in tests:
        bad |= test.outside() | np.isnan(test.values)
    return bad


def _stays_dry(case: Case, courses: Courses, line: Timeline) -> FloatArray:
    """Chance of each start in its course [s * m]; 0 where it cannot be told."""
    span = line.spans[Phase.TO_DEW_SAFE]
    least = _dry_table(courses, case.spread).inside(span)
    return np.asarray(least * span.complete, float)


def _dry_table(courses: Courses, spread: SensorSpread) -> Lowest:
    """Chance at each point that the surface is over the dew point; 0 where it cannot be told."""
    key, long = ("dry", spread), courses.long
    if key not in long.shared:
        from scipy.special import ndtr

        errors = margin_errors(long.margin_k, long.air_temp_c, long.rh_pct, spread)
        long.shared[key] = Lowest.of(np.where(np.isnan(errors), 0.0, ndtr(errors)), courses.width)
    return cast(Lowest, long.shared[key])


@dataclass(frozen=True, eq=False)
class Lowest:
    """The lowest of values [n] over any span of up to so many points, for many spans at once.

    `table` [levels * n] holds the lowest over the 1, 2, 4, ... points from each point on, of
    which two cover any span; `level` says which by the length of the span.
    """

    table: FloatArray
    level: IntArray
    n: int

    @classmethod
    def of(cls, values: FloatArray, longest: int) -> Lowest:
        """Lay the table for spans of up to `longest` points."""
        level = np.frexp(np.arange(longest + 1.0))[1].astype(np.int64) - 1
        rows = [values]
        for k in range(int(level[-1])):
            length = 1 << k
            longer = rows[-1].copy()
            np.minimum(longer[:-length], rows[-1][length:], out=longer[:-length])
            rows.append(longer)
        return cls(np.concatenate(rows), level, len(values))

    def inside(self, span: Span) -> FloatArray:
        """Lowest over each span [m]; of an empty one the value at its first point."""
        level = self.level[np.maximum(span.high - span.low, 0) + 1]
        at = level * self.n
        second = at + span.stop - (1 << level)
        second_least = self.table[np.maximum(second, 0)]
        return np.asarray(np.minimum(self.table[at + span.low], second_least), float)


def weakest(case: Case, courses: Courses, starts_s: IntArray) -> list[str]:
    """For each start [m] the rule that fails in most courses, at the worse of its two points."""
    if len(starts_s) == 0:
        return []
    first, second = (np.clip(k, 0, courses.ahead - 1) for k in _neighbours(courses, starts_s))
    columns, place = np.unique(np.concatenate((first, second)), return_inverse=True)
    shares = failing(case, courses, columns)
    names = list(shares)
    each = np.array([shares[name] for name in names])[:, place]
    half = len(first)
    worst = np.maximum(each[:, :half], each[:, half:]).argmax(axis=0)
    return [names[k] for k in worst]


def failing(case: Case, courses: Courses, columns: IntArray) -> dict[str, FloatArray]:
    """For each hard rule the share of courses [m] in which it does not hold, rule by rule."""
    setting = along_courses(case, courses, columns)
    line, shape = setting.timeline, (courses.count, len(columns))
    held: dict[str, BoolArray] = {}
    for test in _tests(setting):
        span = line.spans[test.phase]
        ok = span.complete & ~any_inside(_not_held([test]), span)
        held[test.rule] = held.get(test.rule, True) & ok
    if case.previous is not None:
        held["previous_coat"] = bond_holds(case, courses, line)
    return {rule: 1.0 - ok.reshape(shape).mean(axis=0) for rule, ok in held.items()}
