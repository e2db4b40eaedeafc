"""Clocks along a series, each added up once however many coats ask for it."""

from __future__ import annotations

from typing import cast

from advisor.climate.series import Series
from advisor.coatings.clocks import Clock, maximum_clock, minimum_clock
from advisor.coatings.tables import TimeTable


def minimum_along(series: Series, table: TimeTable, pause_below_c: float) -> Clock:
    """Minimum clock on the coldest spot."""
    key = ("minimum", table.cells, pause_below_c)
    if key not in series.shared:
        series.shared[key] = minimum_clock(
            table, series.surface_temp_c, pause_below_c, series.step_h, series.courses
        )
    return cast(Clock, series.shared[key])


def maximum_along(series: Series, table: TimeTable) -> Clock:
    """Maximum clock on the hottest spot."""
    key = ("maximum", table.cells)
    if key not in series.shared:
        series.shared[key] = maximum_clock(table, series.hot_c, series.step_h)
    return cast(Clock, series.shared[key])
