"""The windows of one coat along a file of conditions."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from advisor.base.errors import RangeError
from advisor.climate.scenarios import Scenarios
from advisor.climate.series import GRID_S, Series
from advisor.physics.uncertainty import chance_above
from advisor.planning.courses import Courses
from advisor.planning.limits import Along
from advisor.planning.rules import NO_RAIN_MM
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.wetness import LOOK_BACK_S
from advisor.planning.windows import Tightest, Window, closes_because, tightest, windows
from advisor.work.coat_setup import CoatSetup, steps_asked

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class WindowFound:
    """Starts `opens_s`..`closes_s` (UTC s) with one verdict; `chance` None where not known."""

    opens_s: float
    closes_s: float
    verdict: Verdict
    chance: float | None
    tightest: Tightest | None
    closes_because: str


@dataclass(frozen=True)
class Step:
    """Something to do before a start in `from_s`..`to_s`; None: before any start."""

    rule: str
    from_s: float | None
    to_s: float | None
    wet_s: float | None
    text: str


@dataclass(frozen=True, eq=False)
class WindowsAnswer:
    """Windows, the unmerged starts behind them, and what to do and to know before."""

    judged: Judged
    windows: tuple[WindowFound, ...]
    sand_first: tuple[tuple[float, float], ...]
    steps: tuple[Step, ...]
    assumptions: tuple[str, ...]

    @property
    def time_s(self) -> NDArray[np.int64]:
        """UTC seconds of every start [m]."""
        starts = self.judged.timeline.starts
        return self.judged.series.time_s[starts]

    def broken_names(self) -> list[list[str]]:
        """Rules broken at every start [m]; ["data"] where it cannot be told."""
        codes = np.zeros(len(self.judged.verdicts), dtype=np.int64)
        for bit, outcome in enumerate(self.judged.outcomes):
            codes |= outcome.broken.astype(np.int64) << bit
        _, first, kind_of = np.unique(codes, return_index=True, return_inverse=True)
        names = [self.judged.broken(int(j)) for j in first]
        unknown = (self.judged.verdicts == Verdict.UNKNOWN).tolist()
        return [
            ["data"] if lost else names[kind]
            for kind, lost in zip(kind_of.tolist(), unknown, strict=True)
        ]


def find_windows(
    setup: CoatSetup,
    series: Series,
    from_s: float | None = None,
    days: float | None = None,
    scenarios: Scenarios | Courses | None = None,
) -> WindowsAnswer:
    """Judge every start in [from, from + days], all of the series by default.

    The series keeps what lies before and after. RangeError when no start lies in it.
    """
    starts = _starts(series, from_s, days)
    judged = judge(setup.case(series), series, starts, scenarios)
    runs = windows(judged)
    found = tuple(_found(judged, runs, i) for i in range(len(runs)))
    return WindowsAnswer(
        judged, found, _sand_first(judged), _steps(setup, judged, runs), setup.assumptions(series)
    )


def _starts(series: Series, from_s: float | None, days: float | None) -> NDArray[np.int64]:
    first = series.start_s if from_s is None else from_s
    last = series.end_s if days is None else first + days * 86400
    low = max(0, math.ceil(series.index_of(first)))
    high = min(len(series) - 1, math.floor(series.index_of(last)))
    if high < low:
        found = f"no start inside the file from {_iso(first)} on"
        raise RangeError(
            "--from", found, f"a time from {_iso(series.start_s)} to {_iso(series.end_s)}"
        )
    return np.arange(low, high + 1, dtype=np.int64)


def _iso(time_s: float) -> str:
    return datetime.fromtimestamp(time_s, UTC).isoformat(timespec="minutes")


def _found(judged: Judged, runs: list[Window], i: int) -> WindowFound:
    run, starts = runs[i], judged.timeline.starts
    return WindowFound(
        judged.series.time_at(int(starts[run.first])),
        judged.series.time_at(int(starts[run.last])),
        run.verdict,
        chance(judged, run.first, run.last),
        tightest(judged, run.first, run.last),
        _because(judged, runs, i),
    )


def _because(judged: Judged, runs: list[Window], i: int) -> str:
    """Name what ends a window: what goes wrong after it, or what stops being wrong in it."""
    run = runs[i]
    if i + 1 == len(runs) or runs[i + 1].verdict > run.verdict:
        return closes_because(judged, run)
    if names := judged.broken(run.last):
        return names[0]
    if run.verdict is Verdict.UNKNOWN:
        return "data"
    return next(iter(judged.cautions(run.last)), "data")


def chance(judged: Judged, first: int, last: int) -> float | None:
    """Least chance over the starts `first`..`last`; None without a spread or past what is known.

    With an outlook the share of its courses in which every rule holds. Without, or where it
    covers none of the starts: the chance that the surface stays above the dew point until dew
    does no harm, by the instruments' error alone (normal at margin over standard error).
    """
    shares = [judged.chance(j) for j in range(first, last + 1)] if judged.chances else []
    if known := [share for share in shares if share is not None]:
        return min(known)
    for test in judged.tests:
        if isinstance(test, Along) and test.soft and test.rule == "margin":
            span = judged.timeline.spans[test.phase]
            if not span.complete[first : last + 1].all():
                return None
            # The spans of consecutive starts overlap, so that together they are one stretch.
            low, high = int(span.low[first]), int(span.high[first : last + 1].max())
            least = float(test.values[low : high + 1].min())
            return chance_above(least)
    return None


def _sand_first(judged: Judged) -> tuple[tuple[float, float], ...]:
    """Stretches of starts at which the bond with the coat below has closed."""
    closed = np.zeros(len(judged.verdicts), dtype=bool)
    for test in judged.tests:
        past = getattr(test, "past_maximum", None)
        if past is not None:
            closed |= past
    times = judged.series.time_s[judged.timeline.starts]
    return tuple((float(times[a]), float(times[b])) for a, b in _stretches(closed))


def _stretches(flags: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _steps(setup: CoatSetup, judged: Judged, runs: list[Window]) -> tuple[Step, ...]:
    asked = [Step("prepared", None, None, None, step.text) for step in steps_asked(setup)]
    return (*asked, *_dry_first(setup, judged, runs))


def _dry_first(setup: CoatSetup, judged: Judged, runs: list[Window]) -> list[Step]:
    """For go and close-call windows: starts with a wet surface in the day before them."""
    last_wet = _last_wet(setup, judged.series)[judged.timeline.starts]
    steps = []
    for run in runs:
        wet = np.flatnonzero(last_wet[run.first : run.last + 1] >= 0) + run.first
        if len(wet) and run.verdict <= Verdict.BORDERLINE:
            first, last = (int(judged.timeline.starts[k]) for k in (wet[0], wet[-1]))
            at = judged.series.time_at
            wet_s = at(int(last_wet[wet[0]]))
            steps.append(Step("dry", at(first), at(last), wet_s, setup.again()))
    return steps


def _last_wet(setup: CoatSetup, series: Series) -> NDArray[np.int64]:
    """For each grid point the last wet one in the day before it, -1 where there is none."""
    with np.errstate(invalid="ignore"):
        wet = series.margin_k <= 0.0
        if setup.site.outdoors and series.rain_mm is not None:
            wet |= series.rain_mm > NO_RAIN_MM
    index = np.arange(len(series), dtype=np.int64)
    latest = np.maximum.accumulate(np.where(wet, index, -1))
    oldest = index - LOOK_BACK_S // GRID_S
    for moment in setup.dry_moments_s():
        since = math.ceil(series.index_of(moment))
        oldest = np.where(index >= since, np.maximum(oldest, since), oldest)
    oldest = np.maximum(oldest, 0)
    return np.where(latest >= oldest, latest, -1)
