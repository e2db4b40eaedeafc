"""Was the surface wet before the start: by dew or rain, and not dried and wiped since."""

from __future__ import annotations

import numpy as np

from advisor.climate.series import Series
from advisor.planning.rules import NO_RAIN_MM

#: How far back a wet surface still asks for drying and wiping (assumption: a day and a night).
LOOK_BACK_S = 24 * 3600


def last_wet_s(
    series: Series, at_s: float, since_s: float | None = None, *, outdoors: bool = False
) -> float | None:
    """Return when the surface was last wet before `at_s`, in UTC seconds; None if it was not.

    `since_s` is the last time it was dried and wiped, or painted.
    """
    low = at_s - LOOK_BACK_S if since_s is None else max(since_s, at_s - LOOK_BACK_S)
    first = max(0, int(np.ceil(series.index_of(low))))
    last = min(len(series), int(np.floor(series.index_of(at_s))) + 1)
    if last <= first:
        return None
    with np.errstate(invalid="ignore"):
        wet = series.margin_k[first:last] <= 0.0
        if outdoors and series.rain_mm is not None:
            wet |= series.rain_mm[first:last] > NO_RAIN_MM
    found = np.flatnonzero(wet)
    return None if len(found) == 0 else series.time_at(first + int(found[-1]))
