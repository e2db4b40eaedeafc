"""Old forecasts beside a log: where something was logged, what was foretold no longer counts.

A log at :07, :22, … and a forecast on the hour never meet at equal time, so without this the two
would alternate in one column, and every hour would show a jump that nobody measured.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.climate.readings import FloatArray, IntArray
from advisor.climate.series import LONGEST_GAP_S
from advisor.physics import moist_air

BoolArray = NDArray[np.bool_]
#: A forecast value this near to a logged one of the same column is left out.
NEAR_S = 90 * 60
DAMP = ("rh_pct", "dew_point_c")


def leave_out_near_log(
    time_s: IntArray, standing: IntArray, values: dict[str, FloatArray]
) -> BoolArray | None:
    """Blank, in place, forecast values near logged ones; return rows [n] still worth keeping.

    `time_s` [n] rising, `standing` [n] is 1 for logged, -1 for forecast rows. None when there is
    nothing to leave out. RH and dew point count as one column, since each tells the other. A
    value is kept after all where its loss would leave a hole too long for a straight line.
    """
    foretold = standing < 0
    logged = standing > 0
    if not foretold.any() or not logged.any():
        return None
    air = values.get("air_temp_c")
    gone = {
        name: _beside(time_s, logged & _told(name, values), foretold & ~np.isnan(column))
        for name, column in values.items()
    }
    if air is not None and "rh_pct" in values:
        _keep_damp(air, values, gone)
    for name, at in gone.items():
        values[name][at] = np.nan
    empty = np.logical_and.reduce([np.isnan(column) for column in values.values()])
    return np.asarray(~(foretold & empty))


def _told(name: str, values: dict[str, FloatArray]) -> BoolArray:
    """Return the rows [n] that tell a column, for RH and dew point either way."""
    told = ~np.isnan(values[name])
    if name not in DAMP:
        return told
    blank = np.full(len(told), np.nan)
    air, rh, dew = (~np.isnan(values.get(n, blank)) for n in ("air_temp_c", *DAMP))
    return told | dew | (air & rh)


def _beside(time_s: IntArray, logged: BoolArray, foretold: BoolArray) -> BoolArray:
    """Return the foretold rows [n] near a logged one that are not needed to bridge a hole."""
    gone = np.zeros(len(time_s), dtype=bool)
    times = time_s[logged]
    if not len(times) or not foretold.any():
        return gone
    at = np.flatnonzero(foretold)
    before, after = _around(times, time_s[at])
    gone[at] = np.fmin(time_s[at] - before, after - time_s[at]) <= NEAR_S
    at = np.flatnonzero(gone)
    before, after = _around(time_s[logged | (foretold & ~gone)], time_s[at])
    hole = after - before
    gone[at] = ~(np.isfinite(hole) & (hole > LONGEST_GAP_S))
    return gone


def _around(times: IntArray, asked: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the last of `times` at or before each moment asked, and the first at or after."""
    padded = np.concatenate(([-np.inf], times.astype(np.float64), [np.inf]))
    before = padded[np.searchsorted(times, asked, side="right")]
    after = padded[np.searchsorted(times, asked, side="left") + 1]
    return before, after


def _keep_damp(air: FloatArray, values: dict[str, FloatArray], gone: dict[str, BoolArray]) -> None:
    """Where a row keeps its RH but not the air it belongs to, turn it into a dew point."""
    rh = values["rh_pct"]
    alone = gone["air_temp_c"] & ~gone["rh_pct"] & ~np.isnan(rh) & ~np.isnan(air)
    if not alone.any():
        return
    dew = values.setdefault("dew_point_c", np.full(len(air), np.nan))
    bare = alone & np.isnan(dew)
    dew[bare] = moist_air.dew_point_array(air[bare], rh[bare])
    gone["rh_pct"] = gone["rh_pct"] | alone
