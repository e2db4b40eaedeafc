"""Wetting the floor against dust: how humid it gets, for how long, and when it is dry enough."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.climate.series import Series
from advisor.climate.shop.shop import Change
from advisor.planning.words import Words, duration
from advisor.work.days import product_of
from advisor.work.what_if import Setting, changed_week

#: Humidity counts as raised while it is this far above what it would have been, points.
RAISED_PCT = 3.0
#: A smaller rise is the fabric giving back what it took up, not the floor: it breaks no limit.
TELLING_PCT = 1.0
#: Ceiling where the data sheet gives none (common practice).
USUAL_CEILING_PCT = 85.0


@dataclass(frozen=True)
class DampFloor:
    """What `litres` on `area_m2` do from `at_s` on.

    `rise_pct` is the greatest rise in humidity (points), `peak_pct` the greatest humidity while
    raised, `raised_h` how long it is raised. `floor_dry_s` is when the water is gone,
    `dry_enough_s` from when on the air keeps every limit it would have kept without the water
    (`at_s` where none is broken); None where that is past the outlook.
    """

    litres: float
    area_m2: float
    at_s: float
    rise_pct: float
    peak_pct: float
    raised_h: float
    floor_dry_s: float | None
    dry_enough_s: float | None
    text: str


def damp_floor(
    setting: Setting, coat_id: str, litres: float, area_m2: float, at_s: float | None = None
) -> DampFloor:
    """Wet the floor at `at_s` (now where None) before a coat; KeyError for a coat not to do."""
    if not litres > 0:
        raise RangeError("litres", f"{litres:g}", "more than 0")
    week = setting.week
    at_s = week.now_s if at_s is None else max(at_s, week.now_s)
    change = Change(damp_litres=litres, damp_m2=area_m2, from_s=at_s)
    wetted, air = changed_week(setting, change)
    coat = next((c for c in week.job.next_coats() if c.id == coat_id), None)
    if coat is None:
        raise KeyError(coat_id)
    dry, wet = (w.air(coat.area_id).series for w in (week, wetted))
    limits = product_of(week.products, coat).limits
    ceiling = USUAL_CEILING_PCT if limits.rh_pct is None else limits.rh_pct[1]
    rise = np.nan_to_num(wet.rh_pct - dry.rh_pct)
    raised = rise >= RAISED_PCT
    peak = float(np.max(wet.rh_pct, where=raised, initial=0.0)) if raised.any() else float("nan")
    floor_dry = None if air.dry_at is None else float(setting.shop.outdoor.time_s[air.dry_at])
    found = DampFloor(
        litres, area_m2, at_s, float(rise.max(initial=0.0)), peak,
        float(np.count_nonzero(raised)) * dry.step_h, floor_dry,
        _dry_enough_s(dry, wet, (ceiling, limits.margin_k), at_s), "",
    )  # fmt: skip
    with np.errstate(invalid="ignore"):
        fine = (dry.rh_pct <= ceiling) & (dry.margin_k >= limits.margin_k)
    return _told(found, week.words, bool((fine & raised).any()) or not raised.any())


def _dry_enough_s(
    dry: Series, wet: Series, limits: tuple[float, float], at_s: float
) -> float | None:
    """When the water has broken its last limit; None where it still does at the end."""
    ceiling, margin_k = limits
    with np.errstate(invalid="ignore"):
        kept = (dry.rh_pct <= ceiling) & (dry.margin_k >= margin_k)
        telling = wet.rh_pct - dry.rh_pct >= TELLING_PCT
        broken = kept & telling & ((wet.rh_pct > ceiling) | (wet.margin_k < margin_k))
    known = np.flatnonzero(~np.isnan(wet.rh_pct + wet.margin_k))
    at = np.flatnonzero(broken)
    if len(at) == 0:
        return at_s
    return None if at[-1] >= known[-1] else float(wet.time_at(int(at[-1]) + 1))


def _told(found: DampFloor, words: Words, kept: bool) -> DampFloor:
    water, floor = (u.format_volume(found.litres, words.units),
                    u.format_area(found.area_m2, words.units))  # fmt: skip
    head = f"wetting the floor with {water} over {floor}"
    if found.raised_h == 0:
        text = f"{head} raises humidity by less than {RAISED_PCT:g} points"
    else:
        text = (f"{head} raises humidity by up to {found.rise_pct:.0f} points "
                f"(to {found.peak_pct:.0f}%) for {duration(found.raised_h)}")  # fmt: skip
    if not kept:
        text += "; the air is outside the coat's limits all that time as it is"
    elif found.dry_enough_s is None:
        text += "; not dry enough again within the outlook"
    elif found.dry_enough_s > found.at_s:
        text += f"; dry enough again at {words.moment(found.dry_enough_s)}"
    else:
        text += "; no limit of the coat is broken by it"
    return replace(found, text=f"{text}. Read the air again before mixing.")
