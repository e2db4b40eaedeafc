"""The outlook's courses laid end to end, so that the rules see them as one long series.

Each course gets an hour of the measured past before it (a trend looks back that far) and a
hole after it, which ends every clock. What lies further back is the same in all of them and
is kept once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Courses:
    """`long` holds s courses of `width` points: `head` of the past, `ahead` to come, a hole.

    `past` [h] is the measured series on the same grid, up to the last point before the courses.
    The first `missing` points of each head are holes, where the past is shorter than an hour.
    """

    scenarios: Scenarios
    central: Series
    past: Series
    long: Series
    head: int

    @property
    def count(self) -> int:
        """Number of courses."""
        return self.scenarios.count

    @property
    def ahead(self) -> int:
        """Points to come in each course."""
        return len(self.scenarios)

    @property
    def width(self) -> int:
        """Points of one course in `long`, the hole included."""
        return self.head + self.ahead + 1

    @property
    def missing(self) -> int:
        """Points of each head that the past is too short for."""
        return max(0, self.head - len(self.past))

    @property
    def shift(self) -> int:
        """Points of the past before the head: index in past and course less index in a row."""
        return len(self.past) - self.head

    @cached_property
    def row_start(self) -> IntArray:
        """Index in `long` of the first point of each course, as a column [s, 1]."""
        return self.width * np.arange(self.count, dtype=np.int64)[:, np.newaxis]

    def starts(self, columns: IntArray) -> IntArray:
        """Indices in `long` of the same points ahead [m] in every course, [s * m]."""
        return np.asarray(self.row_start + self.head + columns, dtype=np.int64).ravel()

    def rows(self, values: FloatArray) -> FloatArray:
        """Values along `long` as [s, width]."""
        return values.reshape(self.count, self.width)

    def mask(self, central: BoolArray) -> BoolArray:
        """A mask on the central grid along `long`; false where the central series has ended."""
        row = np.zeros(self.width, dtype=bool)
        at = self._central_index()
        known = (at >= 0) & (at < len(central))
        row[:-1][known] = central[at[known]]
        return np.tile(row, self.count)

    def _central_index(self) -> IntArray:
        first = self.scenarios.start_s - self.head * self.scenarios.step_s
        return _index_in(self.central, first, self.scenarios.step_s, self.width - 1)


def lay(scenarios: Scenarios, central: Series) -> Courses:
    """Lay scenarios end to end after the past of the central series.

    A column the scenarios do not carry (wind, rain, sun) is the central series' in each of
    them. ValueError where the grids do not fit: the step must be whole in the hour and in
    steps of the central series, and both start on that series' grid.
    """
    _check(scenarios, central)
    head = 3600 // scenarios.step_s
    past = _past(scenarios, central)
    known = {
        "air_temp_c": scenarios.air_temp_c,
        "dew_point_c": scenarios.dew_point_c,
        "surface_temp_c": scenarios.surface_temp_c,
        "surface_hot_c": _hot(scenarios, central),
        "wind_m_s": scenarios.wind_m_s,
        "rain_mm": scenarios.rain_mm,
        "sun_on_patch": scenarios.sun_on_patch,
    }
    columns = {name: _row_by_row(name, known[name], scenarios, central, past) for name in known}
    first_s = scenarios.start_s - head * scenarios.step_s
    long = Series(first_s, **columns, step_s=scenarios.step_s, courses=scenarios.count)  # type: ignore[arg-type]
    return Courses(scenarios, central, past, long, head)


def _check(scenarios: Scenarios, central: Series) -> None:
    step = scenarios.step_s
    if 3600 % step or step % central.step_s:
        raise ValueError(f"scenario step {step} s does not fit the hour and {central.step_s} s")
    if (scenarios.start_s - central.start_s) % central.step_s:
        raise ValueError(f"scenarios start at {scenarios.start_s}, off the grid of the series")


def _index_in(central: Series, first_s: int, step_s: int, count: int) -> IntArray:
    at = (first_s - central.start_s) // central.step_s
    return at + (step_s // central.step_s) * np.arange(count, dtype=np.int64)


def _sample(values: FloatArray, at: IntArray) -> FloatArray:
    """Values of the central series at its indices; a hole outside it."""
    inside = (at >= 0) & (at < len(values))
    found = np.full(len(at), np.nan)
    found[inside] = values[at[inside]]
    return found


def _past(scenarios: Scenarios, central: Series) -> Series:
    step = scenarios.step_s
    count = max(0, (scenarios.start_s - central.start_s) // step)
    first_s = scenarios.start_s - count * step
    at = _index_in(central, first_s, step, count)
    named = ("air_temp_c", "dew_point_c", "surface_temp_c", "surface_hot_c", "wind_m_s",
             "rain_mm", "sun_on_patch")  # fmt: skip
    found = {name: getattr(central, name) for name in named}
    if scenarios.surface_hot_c is not None:
        found["surface_hot_c"] = central.hot_c
    columns = {n: None if v is None else _sample(v, at) for n, v in found.items()}
    return Series(first_s, **columns, step_s=step)  # type: ignore[arg-type]


def _hot(scenarios: Scenarios, central: Series) -> FloatArray | None:
    if scenarios.surface_hot_c is None and central.surface_hot_c is not None:
        return scenarios.surface_temp_c
    return scenarios.surface_hot_c


def _row_by_row(
    name: str, ahead: FloatArray | None, scenarios: Scenarios, central: Series, past: Series
) -> FloatArray | None:
    """One column along all courses; None where neither they nor the central series have it."""
    before, n = getattr(past, name), len(scenarios)
    ours = getattr(central, name)
    if ahead is None and (ours is None or name == "surface_hot_c"):
        return None
    if ahead is None:
        ahead = _sample(ours, _index_in(central, scenarios.start_s, scenarios.step_s, n))
    head = 3600 // scenarios.step_s
    rows = np.full((scenarios.count, head + n + 1), np.nan)
    rows[:, head:-1] = ahead
    if before is not None and len(before):
        real = min(head, len(before))
        rows[:, head - real : head] = before[-real:]
    return rows.ravel()
