"""What must be true before the start: a dry surface, fresh preparation, tins that do not sweat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from advisor.climate.series import GRID_S, Series
from advisor.planning.explain import Reason
from advisor.planning.wetness import LOOK_BACK_S, last_wet_s
from advisor.planning.words import Words, duration
from advisor.work.coat_setup import CoatSetup, steps_asked

#: Tins this far above the dew point do not sweat when opened (common practice).
TINS_ABOVE_K = 3.0
ON_THE_LIMIT = 1e-9


class StartClock(Protocol):
    """When the start is, and whether it is still to come."""

    @property
    def at_s(self) -> float:
        """UTC seconds of the start."""

    @property
    def later(self) -> bool:
        """Whether that is after now."""


@dataclass(frozen=True)
class Preparation:
    """Reasons about the time before the start, and the steps still required."""

    reasons: tuple[Reason, ...]
    steps: tuple[str, ...]

    @property
    def broken(self) -> bool:
        """Whether one of them means wait."""
        return any(reason.holds is False for reason in self.reasons)


def preparation(setup: CoatSetup, series: Series, clock: StartClock, words: Words) -> Preparation:
    """Look at what happened to the surface, the preparation and the tins before a start."""
    dry, dry_steps = _dry(setup, series, clock, words)
    tested, asked = _prepared(setup, series, clock, words)
    return Preparation((*dry, *tested), (*dry_steps, *asked))


def _dry(
    setup: CoatSetup, series: Series, clock: StartClock, words: Words
) -> tuple[tuple[Reason, ...], tuple[str, ...]]:
    since = max((s for s in setup.dry_moments_s() if s <= clock.at_s), default=None)
    wet = last_wet_s(series, clock.at_s, since, outdoors=setup.site.outdoors)
    again = setup.again()
    if wet is not None:
        text = f"it was wet at {words.moment(wet)}: {again}"
        if clock.later:
            return (_reason("dry", None, text, wet),), (text,)
        return (_reason("dry", False, text, wet),), ()
    if (known_s := _seen_from(series, clock.at_s)) is None or known_s > _look_from(clock, since):
        text = "whether it was wet in the day before is not known: look, and if in doubt " + again
        return (_reason("dry", None, text, None),), (text,)
    return (_reason("dry", True, "no dew or rain on it in the day before", None),), ()


def _look_from(clock: StartClock, since_s: float | None) -> float:
    day = clock.at_s - LOOK_BACK_S
    return day if since_s is None else max(day, since_s)


def _seen_from(series: Series, at_s: float) -> float | None:
    """From when on the margin is known without a hole up to a moment; None if not at all."""
    last = int(np.floor(series.index_of(at_s)))
    if not 0 <= last < len(series) or np.isnan(series.margin_k[last]):
        return None
    holes = np.flatnonzero(np.isnan(series.margin_k[: last + 1]))
    first = int(holes[-1]) + 1 if len(holes) else 0
    # The grid point before it may be up to five minutes earlier.
    return series.time_at(first) - GRID_S


def _prepared(
    setup: CoatSetup, series: Series, clock: StartClock, words: Words
) -> tuple[tuple[Reason, ...], tuple[str, ...]]:
    tested = [*_fresh(setup, clock, words), *_moisture(setup), *_tins(setup, series, clock, words)]
    open_steps = _not_told(setup)
    return tuple(tested), open_steps


def _fresh(setup: CoatSetup, clock: StartClock, words: Words) -> list[Reason]:
    if setup.prepared_s is None:
        return []
    age_h = (clock.at_s - setup.prepared_s) / 3600.0
    prepare, found = setup.product.prepare, []
    limits = (
        (prepare.bare_steel_within_h, "bare steel prepared", "prepare it again"),
        (prepare.sanded_within_h, "sanded", "sand it again"),
    )
    for limit_h, what, todo in limits:
        if limit_h is not None:
            holds = -ON_THE_LIMIT <= age_h <= limit_h + ON_THE_LIMIT
            text = f"{what} {_ago(age_h)}, good for {duration(limit_h)} (data sheet)"
            found.append(_measured(holds, age_h, limit_h, text if holds else f"{text}: {todo}"))
    flash_h = prepare.wipe_flash_off_h
    if flash_h is not None:
        holds = age_h >= flash_h - ON_THE_LIMIT
        text = f"wiped {_ago(age_h)}, must flash off for {duration(flash_h)} (data sheet)"
        found.append(_measured(holds, age_h, flash_h, text))
    return found


def _ago(age_h: float) -> str:
    return f"{duration(age_h)} before" if age_h >= 0 else "only after the start"


def _moisture(setup: CoatSetup) -> list[Reason]:
    limit, found = setup.product.prepare.timber_moisture_max_pct, setup.timber_moisture_pct
    if limit is None or found is None:
        return []
    holds = found <= limit + ON_THE_LIMIT
    text = f"timber moisture {found:g} %, limit {limit:g} % (data sheet)"
    return [_reason("prepared", holds, text, None, (found, limit, "%"))]


def _tins(setup: CoatSetup, series: Series, clock: StartClock, words: Words) -> list[Reason]:
    """Tins colder than the dew point sweat when opened: water in the hardener."""
    asked = setup.product.prepare.tins_above_dew_point_k
    tin = setup.tin_temp_c if setup.tin_temp_c is not None else setup.mix_temp_c
    if tin is None or (asked is None and setup.tin_temp_c is None):
        return []
    k = int(np.floor(series.index_of(clock.at_s)))
    if not 0 <= k < len(series) or np.isnan(series.dew_point_c[k]):
        return []
    need = TINS_ABOVE_K if asked is None else asked
    above = tin - float(series.dew_point_c[k])
    holds = above >= need - ON_THE_LIMIT
    whose = "common practice" if asked is None else "data sheet"
    text = f"tins {words.value(above, 'K')} above dew point, needs {words.value(need, 'K')}"
    if above < 0:
        text = f"tins {words.value(-above, 'K')} below dew point: they sweat when opened"
    if not holds:
        text += f"; warm them to {words.value(tin - above + need, '°C')} first"
    return [_reason("prepared", holds, f"{text} ({whose})", None, (above, need, "K"))]


def _not_told(setup: CoatSetup) -> tuple[str, ...]:
    """Steps the data sheets ask for and nobody has told us of."""
    told = {
        "time": setup.prepared_s is not None,
        "moisture": setup.timber_moisture_pct is not None,
        "tins": setup.tin_temp_c is not None or setup.mix_temp_c is not None,
    }
    return tuple(step.text for step in steps_asked(setup) if not told.get(step.kind, False))


def _measured(holds: bool, age_h: float, limit_h: float, text: str) -> Reason:
    return _reason("prepared", holds, text, None, (age_h, limit_h, "h"))


def _reason(
    rule: str,
    holds: bool | None,
    text: str,
    at_s: float | None,
    figures: tuple[float | None, float | None, str] = (None, None, ""),
) -> Reason:
    measured, limit, unit = figures
    title = "Dry surface" if rule == "dry" else "Preparation"
    return Reason(rule, "start", holds, measured, limit, unit, at_s, "data sheet", text, title)
