"""One series per area on the five-minute grid: what the rules are tested against."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.climate.readings import ReadingTable
from advisor.physics import moist_air
from advisor.physics.surfaces import first_order_lag

FloatArray = NDArray[np.float64]
GRID_S = 300
STEP_H = GRID_S / 3600.0
#: Longest gap between valid values that is bridged by a straight line.
LONGEST_GAP_S = 3 * 3600


@dataclass(frozen=True, eq=False)
class Series:
    """Air, dew point and surface at whole multiples of `step_s` UTC: 5 minutes unless told.

    All arrays [n] float64, NaN where there is a hole. `surface_temp_c` is the coldest spot;
    `surface_hot_c` the hottest, the same where only one is known. Wind in m/s, rain in mm
    since the row before, `sun_on_patch` 1 in direct sun, 0 in shade, None where nobody can
    tell. `lead_from_s` is when the future begins, None where all is measured.
    `courses` not 0: so many courses of equal length laid end to end, the last point of each a
    hole in every column; times are then those of the first.
    """

    start_s: int
    air_temp_c: FloatArray
    dew_point_c: FloatArray
    surface_temp_c: FloatArray
    surface_hot_c: FloatArray | None = None
    wind_m_s: FloatArray | None = None
    rain_mm: FloatArray | None = None
    lead_from_s: int | None = None
    assumptions: tuple[str, ...] = ()
    sun_on_patch: FloatArray | None = None
    step_s: int = GRID_S
    courses: int = 0

    def __len__(self) -> int:
        """Return the number of grid points."""
        return len(self.air_temp_c)

    @property
    def step_h(self) -> float:
        """Hours between grid points."""
        return self.step_s / 3600.0

    @property
    def hour_steps(self) -> int:
        """Steps in an hour."""
        return 3600 // self.step_s

    @property
    def end_s(self) -> int:
        """UTC seconds of the last grid point."""
        return self.start_s + self.step_s * (len(self) - 1)

    @cached_property
    def shared(self) -> dict[object, object]:
        """Work along this series that several coats have in common, by what it rests on."""
        return {}

    @cached_property
    def time_s(self) -> NDArray[np.int64]:
        """UTC seconds of every grid point [n]."""
        return self.start_s + self.step_s * np.arange(len(self), dtype=np.int64)

    @cached_property
    def rh_pct(self) -> FloatArray:
        """Relative humidity over water, from air and dew point."""
        return moist_air.rh_array(self.air_temp_c, self.dew_point_c)

    @cached_property
    def wet_point_c(self) -> FloatArray:
        """Temperature at which a surface gets wet or iced: the higher of dew and frost point."""
        return np.asarray(moist_air.wet_point_c(self.air_temp_c, self.dew_point_c), float)

    @cached_property
    def margin_k(self) -> FloatArray:
        """Coldest surface minus the higher of dew and frost point."""
        return self.surface_temp_c - self.wet_point_c

    @property
    def hot_c(self) -> FloatArray:
        """Hottest surface."""
        return self.surface_temp_c if self.surface_hot_c is None else self.surface_hot_c

    @cached_property
    def next_hole(self) -> NDArray[np.int64]:
        """For each grid point the first index at or after it without a surface; n if none."""
        holes = np.where(np.isnan(self.surface_temp_c), np.arange(len(self)), len(self))
        found = np.minimum.accumulate(holes[::-1])[::-1]
        return np.append(found, len(self)).astype(np.int64)

    def index_of(self, time_s: float) -> float:
        """Float grid index of a moment in UTC seconds."""
        return (time_s - self.start_s) / self.step_s

    def time_at(self, index: float) -> float:
        """UTC seconds of a float grid index."""
        return self.start_s + index * self.step_s

    def part(self, first_s: float, last_s: float) -> Series:
        """Return the grid points inside [first_s, last_s]."""
        lo = max(0, int(np.ceil(self.index_of(first_s))))
        hi = min(len(self) - 1, int(np.floor(self.index_of(last_s))))
        cut = slice(lo, max(lo, hi + 1))
        maybe = (self.surface_hot_c, self.wind_m_s, self.rain_mm, self.sun_on_patch)
        hot, wind, rain, sun = (None if a is None else a[cut] for a in maybe)
        return Series(
            self.start_s + lo * self.step_s,
            self.air_temp_c[cut],
            self.dew_point_c[cut],
            self.surface_temp_c[cut],
            hot,
            wind,
            rain,
            self.lead_from_s,
            self.assumptions,
            sun,
            self.step_s,
        )


def series_from_table(
    table: ReadingTable,
    *,
    surface_lag_h: float | None = None,
    first_s: float | None = None,
    last_s: float | None = None,
) -> Series:
    """Lay a table of readings on the grid.

    A missing surface stays missing unless `surface_lag_h` asks for a first-order lag behind
    the air, which is then named among the assumptions.
    """
    grid = _grid(table, first_s, last_s)
    air_rows = table.column("air_temp_c")
    air = on_grid(table.time_s, air_rows, grid)
    dew = on_grid(table.time_s, dew_rows(table), grid)
    surface = on_grid(table.time_s, table.column("surface_temp_c"), grid)
    assumptions: tuple[str, ...] = ()
    if surface_lag_h is not None:
        surface = first_order_lag(air, STEP_H, surface_lag_h)
        assumptions = (f"surface assumed to follow the air with a lag of {surface_lag_h:g} h",)
    return Series(
        int(grid[0]) if len(grid) else 0,
        air,
        dew,
        surface,
        _optional(table, "surface_hot_c", grid),
        _optional(table, "wind_m_s", grid),
        _rain(table, grid),
        None,
        assumptions,
    )


def dew_rows(table: ReadingTable) -> FloatArray:
    """Dew point of each row: as given, else from air temperature and humidity."""
    dew = table.column("dew_point_c")
    rh = table.column("rh_pct")
    if np.isnan(rh).all():
        return dew
    computed = moist_air.dew_point_array(table.column("air_temp_c"), rh)
    return np.where(np.isnan(dew), computed, dew)


def on_grid(time_s: NDArray[np.int64], values: FloatArray, grid_s: NDArray[np.int64]) -> FloatArray:
    """Draw straight lines between valid values, over at most three hours."""
    valid = ~np.isnan(values)
    times, known = time_s[valid], values[valid]
    if len(times) == 0:
        return np.full(len(grid_s), np.nan)
    after = np.searchsorted(times, grid_s, side="left")
    inside = after < len(times)
    after = np.minimum(after, len(times) - 1)
    exact = times[after] == grid_s
    before = np.maximum(after - 1, 0)
    bridged = (times[after] - times[before] <= LONGEST_GAP_S) & (after > before) & inside
    drawn = np.interp(grid_s, times, known)
    return np.where(exact | bridged, drawn, np.nan)


def _grid(table: ReadingTable, first_s: float | None, last_s: float | None) -> NDArray[np.int64]:
    if len(table) == 0:
        return np.empty(0, dtype=np.int64)
    low = int(table.time_s[0]) if first_s is None else first_s
    high = int(table.time_s[-1]) if last_s is None else last_s
    first = -int(-low // GRID_S) * GRID_S
    return np.arange(first, int(high // GRID_S) * GRID_S + 1, GRID_S, dtype=np.int64)


def _optional(table: ReadingTable, name: str, grid_s: NDArray[np.int64]) -> FloatArray | None:
    column = table.column(name)
    return None if np.isnan(column).all() else on_grid(table.time_s, column, grid_s)


def _rain(table: ReadingTable, grid_s: NDArray[np.int64]) -> FloatArray | None:
    """Rain is a sum over the time before its row, so each grid point takes the row after it."""
    rain = table.column("rain_mm")
    valid = ~np.isnan(rain)
    if not valid.any():
        return None
    times, known = table.time_s[valid], rain[valid]
    after = np.searchsorted(times, grid_s, side="left")
    inside = after < len(times)
    after = np.minimum(after, len(times) - 1)
    near = inside & (times[after] - grid_s <= LONGEST_GAP_S)
    return np.where(near, known[after], np.nan)
