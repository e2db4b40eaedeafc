"""The soft edge of the picture: how far the outlook's courses spread round both lines."""

from __future__ import annotations

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.scenarios import FloatArray
from advisor.physics import moist_air
from advisor.work.views import Band

LOW, HIGH = 0.1, 0.9


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
