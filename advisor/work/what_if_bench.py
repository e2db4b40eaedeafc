"""What if, as the window asks it: prepared once, then answered for every move of a slider."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from advisor.climate.area_air import AreaAir
from advisor.climate.shop.shop import Change
from advisor.work.cheapest import cheapest
from advisor.work.damp_floor import damp_floor
from advisor.work.days import DAY_S, Week, coming_days
from advisor.work.outlook_basis import Basis
from advisor.work.outlook_views import Suggestion, WhatIf
from advisor.work.spread_band import band_of
from advisor.work.what_if import Setting, changed_week, prepare, what_if
from advisor.work.what_if_move import elsewhere

#: A window is looked for in the two days of which one speaks plainly.
WANTED_S = 2 * DAY_S


@dataclass(frozen=True, eq=False)
class Prepared:
    """All that stays the same while a slider is dragged, and the week with its spread.

    Another place is laid out when first asked for, and kept.
    """

    setting: Setting
    week: Week
    basis: Basis
    _laid: dict[tuple[str, bool], Mapping[str, AreaAir]] = field(
        default_factory=dict, init=False, repr=False
    )
    _last: dict[Change, WhatIf] = field(default_factory=dict, init=False, repr=False)

    def answered(self, change: Change) -> WhatIf:
        """Return the week under a change by its central values; the last one is remembered."""
        found = self._last.get(change)
        if found is None:
            found = what_if(self.setting, change, self.elsewhere(change, spread=False))
            self._last.clear()
            self._last[change] = found
        return found

    def elsewhere(self, change: Change, *, spread: bool) -> Mapping[str, AreaAir]:
        """Return the areas a change moves, as they are where it moves them."""
        key = (change.move, spread)
        if key not in self._laid:
            self._laid[key] = elsewhere(self.week, self.basis, change.move, spread=spread)
        return self._laid[key]


def prepared(week: Week, basis: Basis) -> Prepared:
    """Lay out what every change of this week starts from."""
    at = prepare(week, basis.shop, basis.response, basis.weather.central, basis.state)
    return Prepared(at, week, basis)


def answered(at: Prepared, change: Change) -> WhatIf:
    """Return the week under a change, by its central values."""
    return at.answered(change)


def with_chances(at: Prepared, change: Change) -> WhatIf:
    """Return the same with every course moved as the central values are. Slow."""
    plain = at.answered(change)
    doubtful = replace(at.setting, week=at.week)
    week, _ = changed_week(doubtful, change, at.elsewhere(change, spread=True))
    shown = replace(coming_days(week), band=band_of(week.air(week.shown_area)))
    return replace(plain, week=shown, notes=(*plain.notes, *_floor(at, change)))


def _floor(at: Prepared, change: Change) -> tuple[str, ...]:
    """Say how long a wetted floor keeps the air damp, for the next coat."""
    coats = at.week.job.next_coats()
    if change.damp_litres <= 0 or not coats:
        return ()
    found = damp_floor(at.setting, coats[0].id, change.damp_litres, change.damp_m2, change.from_s)
    return (found.text,)


def suggested(at: Prepared, coat_id: str) -> tuple[Suggestion, ...]:
    """Return the cheapest changes that open a window for a coat in the next two days."""
    now_s = at.week.now_s
    return cheapest(at.setting, coat_id, (now_s, now_s + WANTED_S))
