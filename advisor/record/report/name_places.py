"""Where the names of a chart's lines stand: never on one another, and beside a curve if they can.

All lengths are mm on paper, y downwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.record.review_types import FloatArray

#: From a line to the letters, and between two names.
_APART = 0.6
#: A line this near to a name is taken for covered: pens have a width.
_NEAR = 0.4
#: A name this near to a line is read as that line's.
_BESIDE = 1.2
#: A line is looked at so closely for names that would stand on it.
_SAMPLE = 0.4
_STEPS = 12

Line = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Box:
    """A rectangle on paper."""

    left: float
    top: float
    right: float
    foot: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles have room in common."""
        apart = self.right <= other.left or other.right <= self.left
        return not (apart or self.foot <= other.top or other.foot <= self.top)

    def within(self, other: Box) -> bool:
        """Whether this rectangle lies in the other."""
        across = other.left <= self.left and self.right <= other.right
        return across and other.top <= self.top and self.foot <= other.foot


@dataclass(eq=False)
class NamePlaces:
    """The names of one panel. `taken` are those placed, `drawn` points of lines [n, 2]."""

    frame: Box
    taken: list[Box] = field(default_factory=list)
    drawn: list[FloatArray] = field(default_factory=list)

    def keep_off(self, line: Line) -> None:
        """Remember a line that names should not cover."""
        self.drawn.append(_sampled(line))

    def place(self, line: Line, width: float, height: float, others: Sequence[Line] = ()) -> Box:
        """Return where the name of a line stands, and take that place.

        It is on no other name if the panel has any room left, and of such places the first that
        covers least of the curves and is nearest to none of the `others` that have names.
        """
        near = (-_BESIDE, 0.0, _BESIDE)
        sides = [np.add(_sampled(other), (0.0, off)) for other in others for off in near]
        points = np.concatenate([np.empty((0, 2)), *self.drawn, *sides])
        best, least = self._outside(line, width, height), len(points) + 1
        for box in self._around(line, width, height):
            covered = least if self._named(box) else _covered(box, points)
            if covered < least:
                best, least = box, covered
            if not least:
                break
        self.taken.append(best)
        return best

    def _named(self, box: Box) -> bool:
        return not box.within(self.frame) or any(box.meets(other) for other in self.taken)

    def _around(self, line: Line, width: float, height: float) -> Iterator[Box]:
        """Give the places near a line, the nearest to where names are looked for first."""
        first, last = line[0], line[-1]
        lefts = (first[0], (first[0] + last[0] - width) / 2, last[0] - width)
        for step in range(_STEPS):
            for left in lefts:
                upper, lower = _reach(line, left, left + width)
                off = _APART + step * (height + _APART)
                yield Box(left, upper - off - height, left + width, upper - off)
                yield Box(left, lower + off, left + width, lower + off + height)
            if step == 0:
                for left, y in ((last[0] + 1, last[1]), (first[0] - 1 - width, first[1])):
                    yield Box(left, y - height / 2, left + width, y + height / 2)

    def _outside(self, line: Line, width: float, height: float) -> Box:
        left = min(line[0][0], self.frame.right - width)
        return Box(left, self.frame.top, left + width, self.frame.top + height)


def _sampled(line: Line) -> FloatArray:
    """Return points [n, 2] close together along a line."""
    x, y = np.array(line).T
    along = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
    at = np.linspace(0.0, along[-1], int(along[-1] / _SAMPLE) + 2)
    return np.column_stack((np.interp(at, along, x), np.interp(at, along, y)))


def _covered(box: Box, points: FloatArray) -> int:
    """Return how many points [n, 2] of lines a name would cover."""
    x, y = points.T
    across = (x > box.left - _NEAR) & (x < box.right + _NEAR)
    return int(np.count_nonzero(across & (y > box.top - _NEAR) & (y < box.foot + _NEAR)))


def _reach(line: Line, left: float, right: float) -> tuple[float, float]:
    """Return the highest and lowest a line comes between two places."""
    x, y = np.array(line).T
    at = np.interp((left, right), x, y)
    between = y[(x > left) & (x < right)]
    heights = np.concatenate((at, between))
    return float(heights.min()), float(heights.max())
