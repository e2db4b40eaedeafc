"""What a rule says: a quantity along the grid, or a figure per start, against a limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.planning.timeline import Phase, Span

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: A value this close to its limit counts as on it (design, section 4).
ON_THE_LIMIT = 1e-9


@dataclass(frozen=True, eq=False)
class Outcome:
    """For every start [m]: whether the test is broken, cannot be told, or wants care.

    `by_spread` where the care comes from the spread of the central values.
    """

    rule: str
    broken: BoolArray
    unknown: BoolArray
    caution: BoolArray | None = None
    by_spread: bool = False


@dataclass(frozen=True, eq=False)
class Along:
    """A quantity [n] that must stay at or over (`at_least`) or under a limit over a phase.

    `soft` tests only turn go into a close call.
    """

    rule: str
    phase: Phase
    quantity: str
    unit: str
    values: FloatArray
    limit: float
    at_least: bool
    whose: str
    soft: bool = False

    def slack(self, values: FloatArray) -> FloatArray:
        """How far inside the limit; negative where broken."""
        return values - self.limit if self.at_least else self.limit - values

    def outside(self) -> BoolArray:
        """Grid points [n] at which the limit is broken; a hole breaks nothing."""
        with np.errstate(invalid="ignore"):
            if self.at_least:
                return np.asarray(self.values < self.limit - ON_THE_LIMIT)
            return np.asarray(self.values > self.limit + ON_THE_LIMIT)

    def outcome(self, span: Span) -> Outcome:
        """Test every start over its own span."""
        return together([self], span)


@dataclass(frozen=True, eq=False)
class AtStart:
    """A finding per start [m] that no single grid quantity expresses."""

    rule: str
    phase: Phase
    broken: BoolArray
    unknown: BoolArray
    caution: BoolArray
    whose: str
    past_maximum: BoolArray | None = None

    def outcome(self) -> Outcome:
        """Hand the findings on as they are."""
        return Outcome(self.rule, self.broken, self.unknown, self.caution)


@dataclass(frozen=True, eq=False)
class Share:
    """Share of the outlook's courses [m], 0 to 1, in which a start goes well; NaN not known.

    `dry` where it speaks of the dew alone, otherwise of every rule together.
    """

    rule: str
    phase: Phase
    shares: FloatArray
    asked: float
    whose: str
    dry: bool

    def outcome(self) -> Outcome:
        """Too small a share makes a go a close call."""
        none = np.zeros(len(self.shares), dtype=bool)
        with np.errstate(invalid="ignore"):
            return Outcome(self.rule, none, none, self.shares < self.asked - ON_THE_LIMIT)


Test = Along | AtStart | Share


def together(tests: Sequence[Along], span: Span) -> Outcome:
    """Test limits of one rule over one phase in a single pass, for every start."""
    bad, hole = tests[0].outside(), np.isnan(tests[0].values)
    for test in tests[1:]:
        bad |= test.outside()
        hole |= np.isnan(test.values)
    broken = any_inside(bad, span)
    unknown = ~span.complete | any_inside(hole, span)
    if tests[0].soft:
        return Outcome(tests[0].rule, np.zeros_like(broken), unknown, broken, by_spread=True)
    return Outcome(tests[0].rule, broken, unknown)


def any_inside(flags: BoolArray, span: Span) -> BoolArray:
    """Whether any flag [n] is set inside each span [m]."""
    if not flags.any():
        return np.zeros(len(span.low), dtype=bool)
    before = np.zeros(len(flags) + 1, dtype=np.int32)
    np.cumsum(flags, out=before[1:], dtype=np.int32)
    return np.asarray(before[span.stop] > before[span.low])
