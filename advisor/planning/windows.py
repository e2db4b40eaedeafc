"""From a verdict at every start to windows a person can plan by."""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import GRID_S
from advisor.planning.limits import Along
from advisor.planning.verdict import Judged, Verdict

#: Go and close-call runs shorter than this are too short to plan by.
SHORTEST_S = 20 * 60


@dataclass(frozen=True)
class Window:
    """Starts `first`..`last` (positions among the judged starts) with one verdict."""

    first: int
    last: int
    verdict: Verdict


@dataclass(frozen=True)
class Tightest:
    """The test with the least room over a window, the moment, and the figures."""

    rule: str
    at_s: float
    measured: float
    limit: float
    unit: str


def windows(judged: Judged) -> list[Window]:
    """Return maximal runs of starts with the same verdict, the too short ones merged away."""
    return merge_short(runs(judged.verdicts), judged.series.step_s)


def runs(verdicts: NDArray[np.int8]) -> list[Window]:
    """Maximal runs of equal verdicts."""
    if len(verdicts) == 0:
        return []
    edges = np.flatnonzero(np.diff(verdicts)) + 1
    firsts = np.concatenate(([0], edges))
    lasts = np.concatenate((edges, [len(verdicts)])) - 1
    return [
        Window(int(a), int(b), Verdict(int(verdicts[a])))
        for a, b in zip(firsts, lasts, strict=True)
    ]


def merge_short(found: list[Window], step_s: int = GRID_S) -> list[Window]:
    """Give go and close-call runs under 20 minutes to their worse neighbour.

    Shortest first, then earliest; a run is never made better.
    """
    chain = _Chain(found, step_s)
    while (short := chain.pop_short()) is not None:
        worse = chain.worse_neighbour(short)
        if worse is not None:
            chain.absorb(short, worse)
    return chain.windows()


def closes_because(judged: Judged, window: Window) -> str:
    """Name of the rule that ends the window: what is wrong at the next start."""
    after = window.last + 1
    if after >= len(judged.verdicts):
        return "data"
    if names := judged.broken(after):
        return names[0]
    if judged.unknowns(after):
        return "data"
    names = judged.cautions(after)
    return names[0] if names else "data"


def tightest(judged: Judged, first: int, last: int) -> Tightest | None:
    """Return the least room of any limit over the starts `first`..`last`, in its own scale."""
    best: tuple[float, Tightest] | None = None
    for test in judged.tests:
        if not isinstance(test, Along) or test.soft or not test.unit:
            continue
        span = judged.timeline.spans[test.phase]
        lows, highs = span.low[first : last + 1], span.high[first : last + 1]
        some = highs >= lows
        if not some.any():
            continue
        low, high = int(lows[some].min()), int(highs[some].max())
        part = test.slack(test.values[low : high + 1])
        if np.isnan(part).all():
            continue
        k = int(np.nanargmin(part)) + low
        room = float(part[k - low]) / _scale(test.unit)
        if best is None or room < best[0]:
            at_s = judged.series.time_at(k)
            best = (room, Tightest(test.rule, at_s, float(test.values[k]), test.limit, test.unit))
    return best[1] if best else None


def _scale(unit: str) -> float:
    """Rough size of one step of each unit, so that rooms compare."""
    return {"K": 1.0, "°C": 2.0, "%": 5.0, "m/s": 2.0, "mm": 1.0, "share": 0.2}[unit]


class _Chain:
    """Runs as a linked list with a heap of the short ones, so that growth stays linear."""

    def __init__(self, found: list[Window], step_s: int) -> None:
        self._step_s = step_s
        self._runs: list[Window | None] = list(found)
        self._left = [i - 1 for i in range(len(found))]
        self._right = [i + 1 if i + 1 < len(found) else -1 for i in range(len(found))]
        self._heap: list[tuple[int, int, int]] = []
        for i in range(len(found)):
            self._offer(i)

    def _offer(self, i: int) -> None:
        run = self._runs[i]
        if run is None or run.verdict > Verdict.BORDERLINE:
            return
        length = run.last - run.first
        if length * self._step_s < SHORTEST_S:
            heapq.heappush(self._heap, (length, run.first, i))

    def pop_short(self) -> int | None:
        while self._heap:
            length, first, i = heapq.heappop(self._heap)
            run = self._runs[i]
            if run is not None and (run.last - run.first, run.first) == (length, first):
                return i
        return None

    def worse_neighbour(self, i: int) -> Verdict | None:
        run = self._runs[i]
        sides = (self._runs[j] for j in (self._left[i], self._right[i]) if j >= 0)
        worst = max((s.verdict for s in sides if s is not None), default=None)
        return worst if run is not None and worst is not None and worst > run.verdict else None

    def absorb(self, i: int, verdict: Verdict) -> None:
        run = self._runs[i]
        assert run is not None
        self._runs[i] = Window(run.first, run.last, verdict)
        for j in (self._left[i], self._right[i]):
            if j >= 0 and (other := self._runs[j]) is not None and other.verdict == verdict:
                self._join(i, j)
        self._offer(i)
        for j in (self._left[i], self._right[i]):
            if j >= 0:
                self._offer(j)

    def _join(self, i: int, j: int) -> None:
        """Take run j into run i."""
        run, other = self._runs[i], self._runs[j]
        assert run is not None
        assert other is not None
        self._runs[i] = Window(min(run.first, other.first), max(run.last, other.last), run.verdict)
        self._runs[j] = None
        left, right = self._left[j], self._right[j]
        if left == i:
            self._right[i] = right
            if right >= 0:
                self._left[right] = i
        else:
            self._left[i] = left
            if left >= 0:
                self._right[left] = i

    def windows(self) -> list[Window]:
        kept = [r for r in self._runs if r is not None]
        return sorted(kept, key=lambda r: r.first)
