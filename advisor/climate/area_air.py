"""One area's air and surface as the rules need them."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series


@dataclass(frozen=True, eq=False)
class AreaAir:
    """Central values on the five-minute grid, and the courses around them where known."""

    series: Series
    scenarios: Scenarios | None = None
