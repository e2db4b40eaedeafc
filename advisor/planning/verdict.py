"""Verdicts for every start of a coat: wait, unknown, borderline or go."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.planning.case import Case
from advisor.planning.chance import ASKED_DRY, ASKED_HOLDS, Chances, chances, weakest
from advisor.planning.courses import Courses, lay
from advisor.planning.limits import Along, AtStart, Outcome, Share, Test, together
from advisor.planning.previous import ready_s
from advisor.planning.rules import NAMES, Setting, tests_of
from advisor.planning.timeline import Phase, Timeline, timeline
from advisor.planning.verdict_words import Verdict as Verdict  # noqa: PLC0414 (also found here)

BoolArray = NDArray[np.bool_]
#: Stands for the rule that fails most often, until somebody asks which that is.
BY_CHANCE = "chance"


@dataclass(frozen=True, eq=False)
class Judged:
    """The verdict of every start [m], with the tests and their outcomes behind it.

    `chances` of the starts and the `courses` they come from, where there is an outlook.
    """

    case: Case
    series: Series
    timeline: Timeline
    verdicts: NDArray[np.int8]
    tests: tuple[Test, ...]
    outcomes: tuple[Outcome, ...]
    chances: Chances | None = None
    courses: Courses | None = None

    def verdict(self, j: int) -> Verdict:
        """Verdict of the j-th start."""
        return Verdict(int(self.verdicts[j]))

    def broken(self, j: int) -> list[str]:
        """Names of the rules broken at the j-th start, each once, in the order of telling."""
        return list(dict.fromkeys(o.rule for o in self.outcomes if o.broken[j]))

    def cautions(self, j: int) -> list[str]:
        """Names of the rules that make the j-th start a close call."""
        names = [o.rule for o in self.outcomes if o.caution is not None and o.caution[j]]
        names = [self.weakest(j) if name == BY_CHANCE else name for name in names]
        return list(dict.fromkeys(names))

    def chance(self, j: int) -> float | None:
        """Share of the outlook's courses in which every rule holds; None where not known."""
        if self.chances is None or self.verdict(j) is Verdict.UNKNOWN:
            return None
        share = float(self.chances.holds[j])
        return None if np.isnan(share) else share

    def weakest(self, j: int) -> str:
        """Name of the rule that fails in most of the outlook's courses from the j-th start."""
        return self._weakest.get(j, "data")

    @cached_property
    def _weakest(self) -> dict[int, str]:
        """The same for every start that chance alone makes a close call."""
        doubtful = [o.caution for o in self.outcomes if o.rule == BY_CHANCE]
        if self.courses is None or not doubtful or doubtful[0] is None:
            return {}
        at = np.flatnonzero(doubtful[0] & (self.verdicts == Verdict.BORDERLINE))
        times = self.series.time_s[self.timeline.starts[at]]
        names = weakest(self.case, self.courses, times)
        return {int(j): name for j, name in zip(at, names, strict=True)}

    def unknowns(self, j: int) -> list[str]:
        """Names of the rules that cannot be tested at the j-th start."""
        return list(dict.fromkeys(o.rule for o in self.outcomes if o.unknown[j]))

    @property
    def ready_s(self) -> float | None:
        """When the last patch of the coat below reaches its minimum, None where not known."""
        row = self.case.next_row
        if self.case.previous is None or row is None:
            return None
        return ready_s(self.case.previous, row, self.series)

    def sand_first(self, j: int) -> bool:
        """Whether the bond of the coat below has closed by the j-th start."""
        return any(
            isinstance(t, AtStart) and t.past_maximum is not None and bool(t.past_maximum[j])
            for t in self.tests
        )


def judge(
    case: Case,
    series: Series,
    starts: NDArray[np.int64] | None = None,
    scenarios: Scenarios | Courses | None = None,
) -> Judged:
    """Judge a coat at many starts (grid indices [m]; all of the series when None).

    With `scenarios` a go needs their agreement too; for several coats lay them once (`lay`)
    and hand over the courses. A certain case leaves them aside.
    """
    if starts is None:
        starts = np.arange(len(series), dtype=np.int64)
    line = timeline(case, series, starts)
    tests = tests_of(Setting(case, series, line))
    outcomes = _outcomes(tests, line)
    if scenarios is None or case.certain:
        worst = _worst(outcomes, len(starts))
        return Judged(case, series, line, worst, tuple(tests), tuple(outcomes))
    courses = scenarios if isinstance(scenarios, Courses) else lay(scenarios, series)
    found = chances(case, courses, series.time_s[starts])
    shares = _shares(found)
    outcomes = [_without_spread(o, found) for o in outcomes] + [s.outcome() for s in shares]
    worst = _worst(outcomes, len(starts))
    tests += shares
    return Judged(case, series, line, worst, tuple(tests), tuple(outcomes), found, courses)


def _shares(found: Chances) -> list[Share]:
    return [
        Share("margin", Phase.TO_DEW_SAFE, found.dry, ASKED_DRY, "assumption", dry=True),
        Share(BY_CHANCE, Phase.TO_DEW_SAFE, found.holds, ASKED_HOLDS, "assumption", dry=False),
    ]


def _without_spread(outcome: Outcome, found: Chances) -> Outcome:
    """Where courses tell the chance of staying dry, the central margin's is left aside."""
    if not outcome.by_spread or outcome.caution is None:
        return outcome
    return replace(outcome, caution=outcome.caution & np.isnan(found.dry))


def _outcomes(tests: list[Test], line: Timeline) -> list[Outcome]:
    """One outcome a rule and phase, in the order of the rules."""
    groups: dict[tuple[str, Phase, bool], list[Along]] = {}
    outcomes: list[Outcome] = []
    for test in tests:
        if isinstance(test, Along):
            groups.setdefault((test.rule, test.phase, test.soft), []).append(test)
        else:
            outcomes.append(test.outcome())
    outcomes += [together(group, line.spans[key[1]]) for key, group in groups.items()]
    return sorted(outcomes, key=lambda o: NAMES.index(o.rule))


def _worst(outcomes: list[Outcome], m: int) -> NDArray[np.int8]:
    """Broken beats unknown, unknown beats care, care beats go."""
    broken, unknown, caution = (np.zeros(m, dtype=bool) for _ in range(3))
    for outcome in outcomes:
        broken |= outcome.broken
        unknown |= outcome.unknown
        if outcome.caution is not None:
            caution |= outcome.caution
    worst = np.where(caution, np.int8(Verdict.BORDERLINE), np.int8(Verdict.GO))
    worst = np.where(unknown, np.int8(Verdict.UNKNOWN), worst)
    return np.where(broken, np.int8(Verdict.WAIT), worst).astype(np.int8)
