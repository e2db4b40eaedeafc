"""The soft edge of the picture: how far the outlook's courses spread round both lines."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.scenarios import FloatArray
from advisor.physics import moist_air
from advisor.work.views import Band

LOW, HIGH = 0.1, 0.9


def bands_of(areas: Mapping[str, AreaAir]) -> dict[str, Band]:
    """Return the band of every area that has courses; areas alike share one."""
    done: dict[int, Band | None] = {}
    for air in areas.values():
        if id(air) not in done:
            done[id(air)] = band_of(air)
    return {key: band for key, air in areas.items() if (band := done[id(air)]) is not None}


def band_of(air: AreaAir) -> Band | None:
    """Return the 10th and 90th percentiles on the grid of the series; None without courses."""
    courses = air.scenarios
    if courses is None or len(courses) == 0:
        return None
    wet = np.asarray(moist_air.wet_point_c(courses.air_temp_c, courses.dew_point_c), float)
    at = courses.start_s + courses.step_s * np.arange(len(courses))
    times = air.series.time_s

    def edges(values: FloatArray) -> list[FloatArray]:
        found = np.quantile(values, (LOW, HIGH), axis=0)
        return [np.interp(times, at, edge, left=np.nan, right=np.nan) for edge in found]

    return Band(*edges(courses.surface_temp_c), *edges(wet))
