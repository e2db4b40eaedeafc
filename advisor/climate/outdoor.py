"""Outdoor weather on an even time axis, and forecasts of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from advisor.climate.place import Place

FloatArray = NDArray[np.float64]

#: Columns of outdoor weather in house units. Air, dew point, wind, cloud and pressure hold at
#: their stamp; `sun_w_m2` (global horizontal) is the mean and `rain_mm` the sum of the step
#: before it.
OUTDOOR_COLUMNS = (
    "air_temp_c",
    "dew_point_c",
    "wind_m_s",
    "cloud_pct",
    "sun_w_m2",
    "rain_mm",
    "pressure_hpa",
)


@dataclass(frozen=True, eq=False)
class Outdoor:
    """Outdoor weather at `start_s + k * step_s`, UTC seconds.

    `columns` maps names of `OUTDOOR_COLUMNS` to float64 [n], or [s, n] for s scenarios; NaN is
    a hole. `derived` names columns computed from others rather than given by the source.
    """

    start_s: int
    step_s: int
    columns: Mapping[str, FloatArray]
    derived: frozenset[str] = frozenset()

    def __len__(self) -> int:
        """Return the number of time steps."""
        return int(self.columns["air_temp_c"].shape[-1])

    @property
    def time_s(self) -> NDArray[np.int64]:
        """UTC seconds [n]."""
        return self.start_s + self.step_s * np.arange(len(self), dtype=np.int64)

    @property
    def end_s(self) -> int:
        """UTC seconds of the last step."""
        return self.start_s + self.step_s * (len(self) - 1)

    def column(self, name: str) -> FloatArray:
        """Return a column, all NaN [n] where the source has none."""
        found = self.columns.get(name)
        return np.full(len(self), np.nan) if found is None else found

    def part(self, first: int, stop: int) -> Outdoor:
        """Return the time steps `first` to `stop`, the last one not included."""
        columns = {name: values[..., first:stop] for name, values in self.columns.items()}
        return Outdoor(self.start_s + first * self.step_s, self.step_s, columns, self.derived)


@dataclass(frozen=True, eq=False)
class Forecast:
    """What one source said for a place, hour by hour in house units.

    `source` is the id of the source, `issued_s` when it was made (None where not told),
    `fetched_s` when we got it. `members` maps a column to [m, n] where the source has ensemble
    members; `low10` and `high90` map a column to [n] where it gives percentiles. `step_h` [n]
    is the source's own step (1, 3 or 6 h) at each hour. `credit` is the licence line to show.
    """

    source: str
    place: Place
    fetched_s: int
    issued_s: int | None
    hourly: Outdoor
    step_h: FloatArray
    credit: str
    members: Mapping[str, FloatArray] = field(default_factory=dict)
    low10: Mapping[str, FloatArray] = field(default_factory=dict)
    high90: Mapping[str, FloatArray] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
