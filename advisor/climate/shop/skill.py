"""How well a response foretold a shop, beside "same as now", "same as outdoors" and habit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop import runs as ahead
from advisor.climate.shop.habit import habit_of
from advisor.climate.shop.observe import Record, levelled, record_of
from advisor.climate.shop.response import Response, ShopLog
from advisor.climate.shop.runs import Runs

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: A fit must miss by less than this share of the best simple guess: less is luck.
LEAST_GAIN = 0.95


@dataclass(frozen=True)
class Skill:
    """RMSE in K over all leads up to `horizon_h`, NaN where nothing could be judged.

    `runs` is the number of starts judged. `…_habit_k` is that of the usual value of the hour of
    day, to which what is off it now fades; known from cross-validation only.
    """

    horizon_h: float
    runs: int
    air_rmse_k: float
    air_same_as_now_k: float
    air_same_as_outdoors_k: float
    dew_rmse_k: float
    dew_same_as_now_k: float
    dew_same_as_outdoors_k: float
    air_habit_k: float = float("nan")
    dew_habit_k: float = float("nan")

    def best_guess(self, what: Literal["air", "dew"]) -> tuple[str, float]:
        """Return the simple guess that missed by least, in words, and by how much, K."""
        guesses = {
            "same as now": getattr(self, f"{what}_same_as_now_k"),
            "same as outdoors": getattr(self, f"{what}_same_as_outdoors_k"),
            "as usual at that hour": getattr(self, f"{what}_habit_k"),
        }
        known = {name: miss for name, miss in guesses.items() if np.isfinite(miss)}
        name = min(known, key=known.__getitem__, default="")
        return name, known.get(name, float("nan"))

    @property
    def air_beats_all(self) -> bool:
        """Whether the air was foretold clearly better than by any simple guess."""
        return self.air_rmse_k < LEAST_GAIN * self.best_guess("air")[1]

    @property
    def dew_beats_all(self) -> bool:
        """Whether the dew point was."""
        return self.dew_rmse_k < LEAST_GAIN * self.best_guess("dew")[1]


@dataclass(frozen=True, eq=False)
class Misses:
    """Foretold minus measured, K, [s, l]; NaN where not measured; starts in UTC seconds."""

    start_s: NDArray[np.int64]
    lead_h: FloatArray
    air_k: FloatArray
    air_now_k: FloatArray
    air_out_k: FloatArray
    dew_k: FloatArray
    dew_now_k: FloatArray
    dew_out_k: FloatArray
    air_habit_k: FloatArray
    dew_habit_k: FloatArray


def misses(
    response: Response, record: Record, runs: Runs, apart: BoolArray | None = None
) -> Misses:
    """Return the misses of a response, dew point with modelled indoor air.

    `apart` [n] are the steps of the log from which habit may be learned; None judges no habit.
    """
    last = int(runs.ahead[-1])
    every = Runs(runs.starts, np.arange(1, last + 1))
    air = ahead.heat_ahead(response.thermal, record, every)
    dew = ahead.dew_ahead(levelled(response.moisture, record), record, runs, air)
    index, start = runs.index, runs.starts[:, None]
    was_air = np.where(record.air_known[index], record.air_c[index], np.nan)
    judged = record.dew_known[index] & record.dew_driven[index] & record.dew_known[start]
    was_dew = np.where(judged, record.dew_c[index], np.nan)
    return Misses(
        record.time_s[runs.starts],
        np.asarray(runs.ahead * record.step_h, dtype=np.float64),
        air[:, runs.ahead - 1] - was_air,
        record.air_c[start] - was_air,
        record.air_out_c[index] - was_air,
        dew - was_dew,
        record.dew_c[start] - was_dew,
        record.dew_out_c[index] - was_dew,
        _of_habit(record, runs, apart, (record.air_c, record.air_known)) - was_air,
        _of_habit(record, runs, apart, (record.dew_c, record.dew_known)) - was_dew,
    )


def _of_habit(
    record: Record, runs: Runs, apart: BoolArray | None, read: tuple[FloatArray, BoolArray]
) -> FloatArray:
    values, known = read
    if apart is None:
        return np.full(runs.index.shape, np.nan)
    habit = habit_of(record.time_s, values, known & apart, runs.ahead)
    return habit.ahead(record.time_s, values, runs)


def joined(parts: list[Misses]) -> Misses:
    """Return misses of several judgements with the same leads as one."""
    names = [name for name in Misses.__dataclass_fields__ if name.startswith(("air_", "dew_"))]
    columns = {name: np.concatenate([getattr(p, name) for p in parts]) for name in names}
    return Misses(np.concatenate([p.start_s for p in parts]), parts[0].lead_h, **columns)


def skill_of(missed: Misses) -> Skill:
    """Return the figures of misses."""
    return Skill(
        float(missed.lead_h[-1]),
        len(missed.start_s),
        rms(missed.air_k),
        rms(missed.air_now_k),
        rms(missed.air_out_k),
        rms(missed.dew_k),
        rms(missed.dew_now_k),
        rms(missed.dew_out_k),
        rms(missed.air_habit_k),
        rms(missed.dew_habit_k),
    )


def skill_on(
    response: Response,
    log: ShopLog,
    *,
    every_h: float = 4.0,
    horizon_h: float = 48.0,
    from_s: float | None = None,
    until_s: float | None = None,
) -> Skill:
    """Return the skill of a response on a log, the weather that came taken as the forecast.

    Starts every `every_h` hours from `from_s` on, none running past `until_s` (UTC seconds); the
    log before each start tells where the shop stands.
    """
    record = record_of(log)
    runs = kept(
        ahead.runs_in(record.air_known, record.air_driven, record.step_h, every_h, horizon_h),
        record,
        from_s,
        until_s,
    )
    if len(runs.starts) == 0:
        nan = float("nan")
        return Skill(horizon_h, 0, nan, nan, nan, nan, nan, nan)
    return skill_of(misses(response, record, runs))


def kept(runs: Runs, record: Record, from_s: float | None, until_s: float | None) -> Runs:
    """Return the runs whose start is not before `from_s` and whose end is not after `until_s`."""
    first = record.time_s[runs.starts]
    last = first + int(runs.ahead[-1]) * round(record.step_h * 3600.0)
    good = np.ones(len(first), bool)
    if from_s is not None:
        good &= first >= from_s
    if until_s is not None:
        good &= last <= until_s
    return Runs(runs.starts[good], runs.ahead)


def rms(miss: FloatArray) -> float:
    """Return the root mean square of what is known; NaN where nothing is."""
    some = miss[np.isfinite(miss)]
    return float(np.sqrt(np.mean(np.square(some)))) if some.size else float("nan")
