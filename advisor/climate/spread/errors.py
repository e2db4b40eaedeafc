"""Past forecasts against what happened, and what is kept of it: a model of the error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
HOUR_S = 3600
#: Leads known to the model, whole hours from the issue of a forecast: ten days.
LEAD_H = tuple(range(241))
#: Hours over which a forecast's own level is taken.
SWING_H = 48
#: How close to its dew point a forecast is counts on this scale, K.
NEAR_K = 3.0
#: Errors of dew point are learned in the square root of how far it lies below the air plus this,
#: K: air over its dew point has no room on one side, and dry air errs more than damp.
ROOM_K = 4.0


@dataclass(frozen=True)
class Measured:
    """The last outdoor reading, °C, at a moment in UTC seconds."""

    time_s: float
    air_temp_c: float
    dew_point_c: float


@dataclass(frozen=True, eq=False)
class ErrorPairs:
    """Forecasts of one source and what happened, °C, [k, n_lead] at whole hours of lead.

    Row i was issued at `issued_s[i]`; column j is `j` hours later. NaN where either is missing.
    `own_truth` says that what happened is the source's own word from hours before, not a
    reading at the place: how the place differs from the source is then not in the errors.
    """

    source: str
    issued_s: IntArray
    foretold_air_c: FloatArray
    foretold_dew_c: FloatArray
    happened_air_c: FloatArray
    happened_dew_c: FloatArray
    own_truth: bool = False

    def __len__(self) -> int:
        """Return the number of forecasts."""
        return len(self.issued_s)

    @property
    def air_k(self) -> FloatArray:
        """What happened minus what was foretold, air."""
        return self.happened_air_c - self.foretold_air_c

    @property
    def dew_k(self) -> FloatArray:
        """What happened minus what was foretold, dew point."""
        return self.happened_dew_c - self.foretold_dew_c


@dataclass(frozen=True, eq=False)
class Learned:
    """What is kept of the archive: k forecasts by whole hours of lead, [k, n_lead], holes filled.

    `air_k` is happened minus foretold, `below` the same of the dew point's distance below the
    air, bent (see `bend`); `shown` [k, n_lead, p] what each forecast showed of itself (see
    `features`). `reach` is the number of leads the archive speaks for; later ones are filled by
    the prior.
    """

    issued_s: IntArray
    air_k: FloatArray
    below: FloatArray
    shown: FloatArray
    reach: int

    @cached_property
    def sized(self) -> FloatArray:
        """What the size of each error may depend on, [k, n_lead, 4] (see `size_features`)."""
        return size_features(self.shown)


@dataclass(frozen=True, eq=False)
class ErrorModel:
    """Error of a source by lead: usual spread [n_lead] and, once learned, the archive's own.

    `independent` is how many independent forecasts it rests on. A share `weight` of the courses
    is drawn from the archive, the rest from the prior's shape at the spread given here.
    `air_place_k`, `dew_place_k` are added (in squares) to what the archive shows: how the place
    differs from the source, where the archive cannot show it.
    """

    source: str
    air_sd_k: FloatArray
    dew_sd_k: FloatArray
    independent: int = 0
    weight: float = 0.0
    learned: Learned | None = None
    air_place_k: float = 0.0
    dew_place_k: float = 0.0


def features(air_c: FloatArray, dew_c: FloatArray) -> FloatArray:
    """Return what a forecast [..., n_lead] shows of its own error, [..., n_lead, 1 + 3 * 2 + 1].

    1; then for air and for dew point: how far it is from its own mean of the first two days
    (a forecast far from where it began is, on the whole, too far), its course within the day,
    and its wiggles within hours (both may be noise of the forecast); then how close the two are,
    1 to 0 (a forecast of saturated air can only be too damp). No normals are needed.
    """
    found = [np.ones_like(air_c)]
    air_c, dew_c = (level_filled(course) for course in (air_c, dew_c))
    for course in (air_c, dew_c):
        own = _own_level(course)
        day, hours = (running_mean(course, width) for width in (25, 7))
        found += [day - own, hours - day, course - hours]
    found.append(np.exp(-np.maximum(0.0, air_c - dew_c) / NEAR_K))
    return np.stack(found, axis=-1)


def size_features(shown: FloatArray) -> FloatArray:
    """Return what the size of an error may depend on, [..., n_lead, 4], from `features`.

    1, how fast air and dew point change (K/h: a front or a morning an hour early or late), and
    how close the two are.
    """
    fast = [running_mean(np.abs(np.gradient(shown[..., k : k + 3].sum(axis=-1), axis=-1)), 3)
            for k in (1, 4)]  # fmt: skip
    return np.stack([shown[..., 0], *fast, shown[..., 7]], axis=-1)


def bend(below_k: FloatArray) -> FloatArray:
    """Bend a distance of the dew point below the air so that its errors are more alike."""
    return np.asarray(np.sqrt(np.maximum(below_k, 0.0) + ROOM_K))


def unbend(bent: FloatArray) -> FloatArray:
    """Undo `bend`; never below 0 K."""
    return np.maximum(np.maximum(bent, 0.0) ** 2 - ROOM_K, 0.0)


def level_filled(course_c: FloatArray) -> FloatArray:
    """Fill what a forecast does not say by its own level."""
    return np.where(np.isfinite(course_c), course_c, _own_level(course_c))


def _own_level(course_c: FloatArray) -> FloatArray:
    first = course_c[..., :SWING_H]
    known = np.isfinite(first)
    total = np.where(known, first, 0.0).sum(axis=-1, keepdims=True)
    return np.asarray(total / np.maximum(1, known.sum(axis=-1, keepdims=True)))


def running_mean(values: FloatArray, width: int) -> FloatArray:
    """Return centred means along the last axis, over fewer values near the ends."""
    n = values.shape[-1]
    total = np.concatenate((np.zeros_like(values[..., :1]), np.cumsum(values, axis=-1)), axis=-1)
    at = np.arange(n)
    reach = np.minimum(np.minimum(at, n - 1 - at), width // 2)
    return np.asarray((total[..., at + reach + 1] - total[..., at - reach]) / (2 * reach + 1))


def made_s(forecast: Forecast) -> int:
    """When a forecast was made, at the latest when it was fetched; so too where nothing is told."""
    issued_s = forecast.issued_s
    return forecast.fetched_s if issued_s is None else min(issued_s, forecast.fetched_s)


def pairs_of(
    forecasts: Sequence[Forecast], happened: Outdoor, *, own_truth: bool = True
) -> ErrorPairs:
    """Lay forecasts of one source beside what happened, at whole hours of lead.

    `own_truth` is false where `happened` are readings taken at the place.
    """
    source = forecasts[0].source if forecasts else ""
    issued = np.array([made_s(f) for f in forecasts], dtype=np.int64)
    times = issued[:, None] + HOUR_S * np.array(LEAD_H, dtype=np.int64)
    pick = ("air_temp_c", "dew_point_c")
    said = [
        np.array([along(f.hourly, name, times[i]) for i, f in enumerate(forecasts)]).reshape(
            times.shape
        )
        for name in pick
    ]
    was = [along(happened, name, times.ravel()).reshape(times.shape) for name in pick]
    return ErrorPairs(source, issued, said[0], said[1], was[0], was[1], own_truth)


def along(outdoor: Outdoor, name: str, time_s: NDArray[np.int64] | FloatArray) -> FloatArray:
    """Return a column [n] at other moments, on straight lines; NaN past its ends and in holes."""
    values = outdoor.column(name)
    at = (time_s - outdoor.start_s) / outdoor.step_s
    low = np.clip(np.floor(at).astype(np.int64), 0, max(0, len(outdoor) - 2))
    part = at - low
    found = values[..., low] * (1.0 - part)
    high = np.minimum(low + 1, len(outdoor) - 1)
    found = np.where(part > 0.0, found + np.where(part > 0.0, values[..., high], 0.0) * part, found)
    return np.where((at >= 0.0) & (at <= len(outdoor) - 1), found, np.nan)
