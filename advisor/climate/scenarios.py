"""Many equally likely courses of the air and one area's surface over the coming days."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
#: Grid of scenarios: coarser than the five minutes of the central series.
SCENARIO_STEP_S = 900


@dataclass(frozen=True, eq=False)
class Scenarios:
    """Courses [s, n] at `start_s + k * step_s`, UTC seconds; NaN is a hole.

    As they would be measured here, without the instruments' own bias. The measured past before
    `start_s` is not repeated in them; `history` steps at the head of each are the same in all.
    """

    start_s: int
    step_s: int
    air_temp_c: FloatArray
    dew_point_c: FloatArray
    surface_temp_c: FloatArray
    surface_hot_c: FloatArray | None = None
    wind_m_s: FloatArray | None = None
    rain_mm: FloatArray | None = None
    sun_on_patch: FloatArray | None = None

    @property
    def count(self) -> int:
        """Number of courses."""
        return int(self.air_temp_c.shape[0])

    def __len__(self) -> int:
        """Return the number of time steps."""
        return int(self.air_temp_c.shape[1])
