"""Two answers of the same issue: which says more, and what the fuller one keeps of the other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor

FloatArray = NDArray[np.float64]


def fuller(new: Forecast, kept: Forecast) -> Forecast | None:
    """Return `new` with what only `kept` says of the hours before it was fetched.

    None where it is poorer: a column, member or percentile less, an end that is nearer, or a
    hole in the hours to come where `kept` has a value.
    """
    if new.hourly.step_s != kept.hourly.step_s or _less(new, kept):
        return None
    start_s = min(new.hourly.start_s, kept.hourly.start_s)
    step_s = new.hourly.step_s
    n = (new.hourly.end_s - start_s) // step_s + 1
    ours, theirs = ((f.hourly.start_s - start_s) // step_s for f in (new, kept))
    now = max(0, (new.fetched_s - start_s) // step_s)

    def both(mine: FloatArray, its: FloatArray | None) -> FloatArray:
        found = _laid(mine, n, ours)
        if its is not None and its.shape[:-1] == mine.shape[:-1]:
            past = found[..., :now]
            found[..., :now] = np.where(np.isnan(past), _laid(its, n, theirs)[..., :now], past)
        return found

    def each(
        mine: Mapping[str, FloatArray], its: Mapping[str, FloatArray]
    ) -> dict[str, FloatArray]:
        return {name: both(values, its.get(name)) for name, values in mine.items()}

    columns = each(new.hourly.columns, kept.hourly.columns)
    if any(_loses(columns[k], _laid(v, n, theirs), now) for k, v in kept.hourly.columns.items()):
        return None
    # An observed air may be colder than the dew point that was foretold for that hour.
    columns["dew_point_c"] = _at_most(columns["dew_point_c"], columns["air_temp_c"])
    return replace(
        new,
        hourly=Outdoor(start_s, step_s, columns, new.hourly.derived),
        step_h=np.nan_to_num(both(new.step_h, kept.step_h), nan=1.0),
        members=each(new.members, kept.members),
        low10=each(new.low10, kept.low10),
        high90=each(new.high90, kept.high90),
    )


def _less(new: Forecast, kept: Forecast) -> bool:
    """Tell whether something is missing altogether, or the end is nearer."""
    return (
        new.hourly.end_s < kept.hourly.end_s
        or not kept.hourly.columns.keys() <= new.hourly.columns.keys()
        or _counts(new.members) < _counts(kept.members)
        or not kept.low10.keys() <= new.low10.keys()
        or not kept.high90.keys() <= new.high90.keys()
    )


def _counts(members: Mapping[str, FloatArray]) -> int:
    return sum(len(column) for column in members.values())


def _laid(values: FloatArray, n: int, first: int) -> FloatArray:
    """Return values [..., m] from place `first` on in [..., n]; holes around them."""
    found = np.full((*values.shape[:-1], n), np.nan)
    found[..., first : first + values.shape[-1]] = values
    return found


def _loses(mine: FloatArray, its: FloatArray, now: int) -> bool:
    return bool((np.isfinite(its[now:]) & ~np.isfinite(mine[now:])).any())


def _at_most(values: FloatArray, limit: FloatArray) -> FloatArray:
    return np.where(values > limit, limit, values)
