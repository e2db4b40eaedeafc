"""One area's air and surface as the rules need them."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series


@dataclass(frozen=True, eq=False)
class AreaAir:
    """Central values on the five-minute grid, and the courses around them where known.

    `read_until_s` is when the last reading in it was taken, None where none was.
    """

    series: Series
    scenarios: Scenarios | None = None
    read_until_s: float | None = None
