"""Conditions changed in mid-coat: where to stop, what is left of the batch, carry on or not.

Plain readings against the limits in force. What comes and goes within half an hour counts as one
trouble (common practice: a margin is believed once it has held that long).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.planning.limits import ON_THE_LIMIT
from advisor.planning.words import Words, duration
from advisor.record.bench_state import Going
from advisor.record.review_types import LimitInForce
from advisor.work.at_work import Rows
from advisor.work.live_views import CHANGED, ConditionsChanged

BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
Advice = Literal["carry on", "stop", "look"]

#: A value back inside must hold this long before it is believed, seconds (common practice).
DWELL_S = 1800.0
#: Rows that come at least this often come by themselves, seconds.
BY_ITSELF_S = 900.0
#: A sensor is lost after this many of its steps, and not before the least age, seconds.
LOST_STEPS, LOST_S = 5, 600.0

_COVER = "Cover the batch and keep it cool: it is not spoilt by this."


@dataclass(frozen=True, eq=False)
class Watch:
    """What is watched: the rows since the batch was mixed, the limits, how far the work is.

    `usable_until_s` of the batch in use; `going` None before the first patch.
    """

    rows: Rows
    limits: tuple[LimitInForce, ...]
    since_s: float
    going: Going | None
    usable_until_s: float | None


@dataclass(frozen=True, eq=False)
class _Trouble:
    """One limit and where rows [n] are outside it; `wet` where water stands on the work."""

    limit: LimitInForce
    name: str
    values: FloatArray
    outside: BoolArray
    wet: BoolArray


def changed(watch: Watch, now_s: float, words: Words) -> ConditionsChanged | None:
    """Return what changed, None where every limit holds and held for the last half hour."""
    found = [trouble for limit in watch.limits for trouble in _troubles(watch.rows, limit)]
    now = [trouble for trouble in found if _outside_now(trouble)]
    if now:
        return _left(watch, now, now_s, words)
    lost = _lost(watch, now_s, words)
    if lost is not None:
        return lost
    past = [trouble for trouble in found if trouble.outside.any()]
    return _back(watch, past, now_s, words) if past else None


def _troubles(rows: Rows, limit: LimitInForce) -> list[_Trouble]:
    """Return the tests of one limit; none for a limit that counts only later."""
    columns = {
        "air_temp": [("air", rows.air_temp_c, rows.air_temp_c)],
        "surface_temp": [("surface", rows.surface_temp_c, rows.hot_c)],
        "humidity": [("humidity", rows.rh_pct, rows.rh_pct)],
        "margin": [("above dew point", rows.margin_k, rows.margin_k)],
        "wind": [("wind", rows.wind_m_s, rows.wind_m_s)],
        "rain": [("rain", rows.rain_mm, rows.rain_mm)],
    }
    return [_trouble(limit, name, cold, hot) for name, cold, hot in columns.get(limit.rule, [])]


def _trouble(limit: LimitInForce, name: str, cold: FloatArray, hot: FloatArray) -> _Trouble:
    low = -np.inf if limit.low is None else limit.low - ON_THE_LIMIT
    high = np.inf if limit.high is None else limit.high + ON_THE_LIMIT
    with np.errstate(invalid="ignore"):
        under, over = cold < low, hot > high
        wet = {"margin": cold <= 0.0, "rain": over}.get(limit.rule, np.zeros(len(cold), bool))
    return _Trouble(limit, name, np.where(over, hot, cold), under | over, wet)


def _outside_now(trouble: _Trouble) -> bool:
    """Whether the newest value that is known lies outside."""
    known = np.flatnonzero(~np.isnan(trouble.values))
    return bool(len(known)) and bool(trouble.outside[known[-1]])


def _began_s(rows: Rows, outside: BoolArray) -> float:
    """When the last run outside began; short returns inside do not end it."""
    times = rows.time_s[outside]
    breaks = np.flatnonzero(np.diff(times) > DWELL_S)
    return float(times[int(breaks[-1]) + 1 if len(breaks) else 0])


def _left(watch: Watch, now: Sequence[_Trouble], now_s: float, words: Words) -> ConditionsChanged:
    since = min(_began_s(watch.rows, trouble.outside) for trouble in now)
    wet = any(_newest(trouble.wet, trouble.values) for trouble in now)
    softly = not wet and all(_soft(trouble) for trouble in now)
    advice: Advice = "look" if softly else "stop"
    why = [_why(watch, trouble, words) for trouble in now]
    if softly:
        line = "Lay shorter panels and keep the wet edge; finish the one in hand and look at it."
    else:
        line = stopping_line(watch.going, wet)
        why.append(_batch_words(watch, now_s))
    return ConditionsChanged(
        f"{CHANGED}: {_first(now, words)}",
        advice,
        line,
        _left_s(watch, now_s),
        tuple(w for w in why if w),
        since,
    )


def _first(now: Sequence[_Trouble], words: Words) -> str:
    worst = next((t for t in now if _newest(t.wet, t.values)), now[0])
    if worst.limit.rule == "rain":
        return "rain on the work"
    value = words.value(_last(worst.values), worst.limit.unit)
    if worst.limit.rule != "margin":
        return f"{worst.name} {value}, {_asked(worst, words)}"
    if _last(worst.values) <= 0:
        return "the surface is at the dew point, wet"
    return f"surface {value} above dew point, {_asked(worst, words)}"


def _asked(trouble: _Trouble, words: Words) -> str:
    limit, value = trouble.limit, _last(trouble.values)
    if limit.low is not None and value < limit.low:
        return f"asked at least {words.value(limit.low, limit.unit)}"
    high = limit.high if limit.high is not None else value
    return f"asked at most {words.value(high, limit.unit)}"


def _why(watch: Watch, trouble: _Trouble, words: Words) -> str:
    since = words.moment(_began_s(watch.rows, trouble.outside))
    value = words.value(_last(trouble.values), trouble.limit.unit)
    asked, whose = _asked(trouble, words), trouble.limit.whose
    return f"{trouble.name} {value}, {asked} ({whose}), outside since {since}"


def stopping_line(going: Going | None, wet: bool) -> str:
    """Say where to stop: at once on a wet surface, else where the edge will not be seen."""
    if going is None:
        return "Do not start: nothing is on yet."
    if wet:
        return "Stop where the brush is: lay off the wet edge, nothing goes over a wet surface."
    after = f" after {going.patches[-1].name}" if going.patches else ""
    return (
        f"Finish the panel in hand{after} to tape, a seam or a natural edge, lay it off "
        "and go no further."
    )


def _batch_words(watch: Watch, now_s: float) -> str:
    left = _left_s(watch, now_s)
    if left is None:
        return _COVER
    if left <= 0:
        return "The batch is past its pot life: discard it."
    return f"{_COVER} It lasts {duration(left / 3600)} more: that is the time to wait in."


def _left_s(watch: Watch, now_s: float) -> float | None:
    return None if watch.usable_until_s is None else max(0.0, watch.usable_until_s - now_s)


def _soft(trouble: _Trouble) -> bool:
    """Whether it spoils the wet edge rather than the film: dry air, and wind short of spray."""
    if trouble.limit.rule == "wind":
        return True
    low = trouble.limit.low
    return trouble.limit.rule == "humidity" and low is not None and _last(trouble.values) < low


def _lost(watch: Watch, now_s: float, words: Words) -> ConditionsChanged | None:
    """A sensor that fell silent in mid-coat; readings by hand have their own rounds."""
    times = watch.rows.whole_s
    if watch.going is None or len(times) < 3:
        return None
    step = float(np.median(np.diff(times[-10:])))
    if step > BY_ITSELF_S or now_s - times[-1] <= max(LOST_S, LOST_STEPS * step):
        return None
    last = float(times[-1])
    return ConditionsChanged(
        f"No reading since {words.moment(last)}: the sensor is silent",
        "look",
        "Finish the panel in hand, then read air, humidity and the coldest spot by hand.",
        _left_s(watch, now_s),
        ("What is not measured cannot be told: type a reading before the next panel.",),
        last,
    )


def _back(
    watch: Watch, past: Sequence[_Trouble], now_s: float, words: Words
) -> ConditionsChanged | None:
    """Back inside: believed after half an hour; told on while the work stands still."""
    since = max(_began_s(watch.rows, trouble.outside) for trouble in past)
    last = max(float(watch.rows.time_s[trouble.outside][-1]) for trouble in past)
    stopped = watch.going is not None and watch.going.stopped_s is not None
    held = now_s - last >= DWELL_S
    if held and not stopped:
        return None
    recent = [t for t in past if float(watch.rows.time_s[t.outside][-1]) > since - DWELL_S]
    wet = any(trouble.wet.any() for trouble in recent)
    left = _left_s(watch, now_s)
    advice: Advice = "carry on" if held and not wet and left != 0 else "look"
    return ConditionsChanged(
        f"Back inside the limits since {words.moment(last)}",
        advice,
        _line_back(advice, wet, left),
        left,
        tuple(_was(watch, trouble, words) for trouble in recent),
        since,
    )


def _line_back(advice: Advice, wet: bool, left: float | None) -> str:
    if left == 0:
        return "The batch is past its pot life: discard it and mix a new one."
    if wet:
        return "It was wet: dry and wipe what is bare, look at the film laid last, then carry on."
    if advice == "carry on":
        return "Carry on from where you stopped; look at the edge first."
    return "Let it hold for half an hour before the next panel, and read again."


def _was(watch: Watch, trouble: _Trouble, words: Words) -> str:
    times = watch.rows.time_s[trouble.outside]
    begun = words.moment(_began_s(watch.rows, trouble.outside))
    return (
        f"{trouble.name} was outside from {begun} to {words.moment(float(times[-1]))} "
        f"({trouble.limit.whose})"
    )


def _last(values: FloatArray) -> float:
    return float(values[np.flatnonzero(~np.isnan(values))[-1]])


def _newest(flags: BoolArray, values: FloatArray) -> bool:
    return bool(flags[np.flatnonzero(~np.isnan(values))[-1]])
