"""How wrong forecasts usually are, until this shop's own archive tells.

All figures are rounded from memory of published verification of two-metre temperature and dew
point (root mean square against stations, mid-latitudes): about 1.5 to 2 K on day 1, 3 K on
day 5, 4 K on day 7; they are starting points, not measurements of any one service.
"""

from __future__ import annotations

from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import LEAD_H, ErrorModel

FloatArray = NDArray[np.float64]

#: Hours of lead and root mean square error, K. Lead 0 is not 0: the shop is not the grid cell.
_LEADS = (0.0, 6.0, 24.0, 48.0, 72.0, 96.0, 120.0, 168.0, 240.0)
_AIR_K = (1.0, 1.3, 1.7, 2.1, 2.5, 2.9, 3.3, 4.2, 5.0)
_DEW_K = (1.2, 1.6, 2.0, 2.4, 2.9, 3.3, 3.7, 4.5, 5.2)
#: Against the table, by source (from memory or judgement): forecasts corrected to stations do
#: a little better; a bare global grid a little worse; a forecast typed from the radio, with two
#: temperatures a day, worse.
_BY_SOURCE = MappingProxyType(
    {"nws": 1.0, "metno": 1.0, "brightsky": 0.95, "openmeteo": 1.05, "typed": 1.4, "file": 1.2}
)
_OTHER = 1.2

#: Shape of the error in time (judgement): most of it lasts a day or more (a mis-timed or
#: misplaced air mass), the rest hours. Together about 0.3 after 24 h.
SLOW_H, FAST_H, SLOW_SHARE = 30.0, 4.0, 0.7
#: Errors of air and dew point go together about half way (from memory).
AIR_DEW = 0.5
#: Degrees of freedom of Student's t, by course: a bust is a bust for days (judgement).
TAIL_DF = 6.0


def prior(source_id: str) -> ErrorModel:
    """Return the usual error of a source; one not known is taken as somewhat worse."""
    scale = _BY_SOURCE.get(source_id, _OTHER)
    leads = np.array(LEAD_H, dtype=np.float64)
    air, dew = (scale * np.interp(leads, _LEADS, table) for table in (_AIR_K, _DEW_K))
    return ErrorModel(source_id, air, dew)


def unit_courses(rng: np.random.Generator, count: int, hours: int) -> tuple[FloatArray, FloatArray]:
    """Return courses [count, hours] of unit spread for air and dew point, an hour apart."""
    own = [_slow_and_fast(rng, count, hours) for _ in range(2)]
    dew = AIR_DEW * own[0] + np.sqrt(1.0 - AIR_DEW**2) * own[1]
    size = np.sqrt((TAIL_DF - 2.0) / rng.chisquare(TAIL_DF, (count, 1)))
    return size * own[0], size * dew


def _slow_and_fast(rng: np.random.Generator, count: int, hours: int) -> FloatArray:
    slow, fast = (wandering(rng, count, hours, lag_h) for lag_h in (SLOW_H, FAST_H))
    return np.asarray(np.sqrt(SLOW_SHARE) * slow + np.sqrt(1.0 - SLOW_SHARE) * fast)


def wandering(rng: np.random.Generator, count: int, steps: int, lag_steps: float) -> FloatArray:
    """Return first-order autoregressive courses [count, steps] of unit spread."""
    keep = np.exp(-1.0 / lag_steps)
    noise = rng.standard_normal((steps, count))
    noise[1:] *= np.sqrt(1.0 - keep * keep)
    for k in range(1, steps):
        noise[k] += keep * noise[k - 1]
    return np.ascontiguousarray(noise.T)


def at_lead(courses: FloatArray, lead_h: FloatArray) -> FloatArray:
    """Read hourly courses [s, n_lead] at leads [n], on straight lines; the ends hold."""
    at = np.clip(lead_h, 0.0, len(LEAD_H) - 1.0)
    low = np.minimum(at.astype(np.int64), len(LEAD_H) - 2)
    part = at - low
    return np.asarray(courses[..., low] * (1.0 - part) + courses[..., low + 1] * part)
