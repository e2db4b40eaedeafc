"""The cheapest change that opens a window the painter wants.

Never suggested: less fresh air, a flame of any kind, a tent over wet solvent. Each candidate
passes `may_suggest` before it is reckoned, and goes through the same chain as a what-if.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from advisor.climate.area_air import AreaAir
from advisor.climate.series import Series
from advisor.climate.shop.changed_air import until
from advisor.climate.shop.inputs import DEHUMIDIFIER_W_PER_L_DAY
from advisor.climate.shop.shop import Change
from advisor.planning.verdict import Verdict
from advisor.planning.windows import SHORTEST_S
from advisor.work import what_if_words as words
from advisor.work.days import DAY_S, Week, case_of, coming_days
from advisor.work.outlook_views import Suggestion
from advisor.work.views import Lane
from advisor.work.what_if import Setting, changed_week, kwh, setting_of

BoolArray = NDArray[np.bool_]
Span = tuple[float, float]
HOUR_S = 3600
#: What can be hired or plugged in: up to three sockets' worth of heat.
HEATERS_KW = (0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0, 9.0)
DEHUMIDIFIERS_L_PER_DAY = (10.0, 20.0, 40.0, 70.0)
DOORS = (2.0, 4.0, 8.0)
TENT_HEATERS_KW = (0.0, 0.25, 0.5, 1.0, 2.0)
#: Heat begins this long before the wanted hours, h.
BEFORE_H = (12, 4, 1, 0)
#: The powers tried first: hours none of them opens are not searched further.
PROBES_KW = (9.0, 3.0, 1.0)
#: Wanted hours longer than this are tried start by start, this far apart, h; and no more starts.
LONG_H, STARTS_APART_H, MOST_STARTS = 8.0, 4.0, 12
#: The week is reckoned this far past the wanted hours: a film dry later is not waited for.
AFTER_S = 3 * DAY_S
#: Outdoor dew point must be this far below the shop's for open doors to dry it, K.
DRIER_K = 0.3
#: A film whose time to dry cannot be told counts as drying this long, h.
USUAL_DRY_H = 24.0


def may_suggest(change: Change) -> bool:
    """Whether a change is one we ever suggest: no flame, never less fresh air, no moving."""
    no_flame = change.heater_kw == 0 or change.heater_kind == "electric"
    return no_flame and change.air_changes >= 1.0 and not change.move


def cheapest(setting: Setting, coat_id: str, wanted: Span) -> tuple[Suggestion, ...]:
    """Return changes that open at least 20 minutes of starts inside `wanted` (UTC seconds).

    The cheapest of each kind, by kWh and then by size: machines are tried from the least rated
    energy up, on a ladder of sizes and of hours round the wanted ones. None where the coat has
    a window there already, or where nothing opens one. KeyError when the coat is not to do.
    """
    span = (max(wanted[0], setting.week.now_s), min(wanted[1], setting.until_s))
    search = _Search(_narrowed(setting, coat_id, span), coat_id, span)
    if span[1] <= span[0] or search.opened(search.lane_now, None).any():
        return ()
    found = [s for s in search.by_kind() if s is not None]
    if not found and (both := search.first(search.both())) is not None:
        found = [both]
    return tuple(sorted(found, key=lambda s: (s.kwh, _size(s.change))))


def _size(change: Change) -> tuple[float, ...]:
    """Smaller machines first, then the tent, then the doors."""
    return (change.heater_kw, change.dehumidifier_l_per_day, change.tent_m3, change.air_changes)


def _narrowed(setting: Setting, coat_id: str, wanted: Span) -> Setting:
    """Return the setting with the coat and those below it alone, up to the wanted hours."""
    week = setting.week
    coat = next(c for c in (*week.job.next_coats(), None) if c is None or c.id == coat_id)
    if coat is None:
        raise KeyError(coat_id)
    at = week.job.coats.index(coat)
    kept = tuple(c for k, c in enumerate(week.job.coats)
                 if c.laid is not None or (k <= at and c.area_id == coat.area_id))  # fmt: skip
    days = max(1, int(np.ceil((wanted[1] - week.now_s) / DAY_S)))
    job = replace(week.job, coats=kept)
    last_s = wanted[1] + AFTER_S
    areas = {c.area_id: AreaAir(_until(week.air(c.area_id).series, last_s)) for c in kept}
    week = replace(week, job=job, days=min(week.days, days), areas=areas,
                   series=_until(week.series, last_s))  # fmt: skip
    return setting_of(week, until(setting.shop, last_s))


def _until(series: Series, last_s: float) -> Series:
    return series.part(series.start_s, last_s)


@dataclass(frozen=True, eq=False)
class _Search:
    setting: Setting
    coat_id: str
    wanted: Span

    # --- judging one change --------------------------------------------------------------

    @cached_property
    def lane_now(self) -> Lane:
        return self._lane(self.setting.week)

    def _lane(self, week: Week) -> Lane:
        return next(x for x in coming_days(week).lanes if x.coat.id == self.coat_id)

    def opened(self, lane: Lane, change: Change | None) -> BoolArray:
        """Starts [m] in a long enough window inside the wanted hours, the change allowing."""
        judged = lane.judged
        at_s = judged.series.start_s + judged.series.step_s * judged.timeline.starts
        ok = (at_s >= self.wanted[0]) & (at_s <= self.wanted[1])
        good = np.zeros(len(ok), dtype=bool)
        for window in lane.windows:
            if window.verdict <= Verdict.BORDERLINE:
                good[window.first : window.last + 1] = True
        if change is not None and change.tent_m3 > 0:
            ok &= self._dry_before(lane, change)
        return _long_runs(good & ok, SHORTEST_S // judged.series.step_s)

    def _dry_before(self, lane: Lane, change: Change) -> BoolArray:
        """Starts whose solvent is out of the film before the tent goes up."""
        series = lane.judged.series
        dry_s = series.start_s + series.step_s * lane.judged.timeline.tack_free
        assert change.from_s is not None
        with np.errstate(invalid="ignore"):
            return np.asarray(dry_s <= change.from_s)

    @cached_property
    def _tried(self) -> dict[Change, Suggestion | None]:
        return {}

    def suggestion(self, change: Change) -> Suggestion | None:
        """Return the change in words where it may be suggested and opens the window."""
        if change not in self._tried:
            self._tried[change] = self._suggestion(change) if may_suggest(change) else None
        return self._tried[change]

    def _suggestion(self, change: Change) -> Suggestion | None:
        week, air = changed_week(self.setting, change)
        if week is self.setting.week:
            return None
        lane = self._lane(week)
        opened = self.opened(lane, change)
        if not opened.any():
            return None
        series = lane.judged.series
        first = int(np.argmax(opened))
        last = first + int(np.argmin(np.append(opened[first:], False))) - 1
        begin, end = (series.time_at(int(lane.judged.timeline.starts[k])) for k in (first, last))
        drawn = kwh(replace(self.setting, week=self._whole_week), air)
        text = words.suggested(change, (begin, end), drawn, week.words)
        gained_h = float(np.count_nonzero(opened)) * series.step_s / HOUR_S
        return Suggestion(change, text, sum(drawn), gained_h)

    @cached_property
    def _whole_week(self) -> Week:
        """Energy counts to the end of the change, not of the wanted hours."""
        days = int(np.ceil((self.setting.shop.outdoor.end_s - self.setting.week.now_s) / DAY_S))
        return replace(self.setting.week, days=days)

    def first(self, changes: Iterable[Change]) -> Suggestion | None:
        """Return the first that opens the window."""
        found = (self.suggestion(change) for change in changes)
        return next((s for s in found if s is not None), None)

    def best(self, changes: Iterable[Change]) -> Suggestion | None:
        """Return the cheapest of all that open it, the smallest of equals."""
        found = [s for s in map(self.suggestion, changes) if s is not None]
        return min(found, key=lambda s: (s.kwh, _size(s.change)), default=None)

    # --- what to try ---------------------------------------------------------------------

    def by_kind(self) -> Iterator[Suggestion | None]:
        """Return the cheapest of each kind."""
        yield self.best(self.doors())
        yield self.first(self.heaters())
        yield self.first(self.dehumidifiers())
        yield self.best(self.tents())

    def heaters(self) -> list[Change]:
        """Heaters, the least energy first, so that the first to open is the cheapest."""
        spans = [s for s in self.spans if any(
            self.suggestion(_heater(kw, s)) is not None for kw in PROBES_KW)]  # fmt: skip
        found = [_heater(kw, span) for kw, span in product(HEATERS_KW, spans)]
        return sorted(found, key=lambda c: (_rated_kwh(c), c.heater_kw))

    def dehumidifiers(self) -> list[Change]:
        """Dehumidifiers, the least rated energy first; where the largest does nothing, none."""
        largest = DEHUMIDIFIERS_L_PER_DAY[-1]
        spans = [s for s in self.spans if self.suggestion(_drier(largest, s)) is not None]
        found = [_drier(size, span) for size, span in product(DEHUMIDIFIERS_L_PER_DAY, spans)]
        return sorted(found, key=lambda c: (_rated_kwh(c), c.dehumidifier_l_per_day))

    def both(self) -> list[Change]:
        """A heater and a dehumidifier together, the least rated energy first."""
        sizes = product((1.0, 3.0, 6.0), (20.0, 70.0), self.spans)
        found = [replace(_heater(kw, span), dehumidifier_l_per_day=size)
                 for kw, size, span in sizes]  # fmt: skip
        return sorted(found, key=lambda c: (_rated_kwh(c), c.heater_kw))

    def doors(self) -> list[Change]:
        return [Change(air_changes=factor, from_s=span[0], until_s=span[1])
                for factor, span in product(DOORS, self.dry_hours)]  # fmt: skip

    def tents(self) -> Iterator[Change]:
        """Tents over the film from tack-free until it can take dew."""
        volume = float(round(min(self.setting.shop.shop.volume_m3 / 2, max(8.0, 2.0 * self._m2))))
        if self._wet_until_s == np.inf:
            return
        for (begin, end), kw in product(self.hold_spans, TENT_HEATERS_KW):
            yield Change(heater_kw=kw, tent_m3=volume, from_s=begin, until_s=end)

    @property
    def _m2(self) -> float:
        return self.lane_now.area.area_m2

    @cached_property
    def _dry_h(self) -> tuple[float, float]:
        """Hours from start to tack-free and to dew-safe in the wanted hours, as things are."""
        judged = self.lane_now.judged
        line, step_h = judged.timeline, judged.series.step_s / HOUR_S
        found = []
        for event in (line.tack_free, line.dew_safe):
            took = (event - line.starts)[self._inside(self.lane_now)] * step_h
            known = took[~np.isnan(took)]
            found.append(float(np.median(known)) if len(known) else USUAL_DRY_H)
        return found[0], found[1]

    def _inside(self, lane: Lane) -> BoolArray:
        at_s = lane.judged.series.start_s + lane.judged.series.step_s * lane.judged.timeline.starts
        return np.asarray((at_s >= self.wanted[0]) & (at_s <= self.wanted[1]))

    @cached_property
    def spans(self) -> list[Span]:
        """Hours a machine may run: from before the wanted hours to the film's milestones."""
        low, high = self.wanted
        if high - low <= LONG_H * HOUR_S:
            return self._around(_hour(low), _hour(high), BEFORE_H, (0.0, *self._dry_h))
        apart = max(STARTS_APART_H * HOUR_S, (high - low) / MOST_STARTS)
        starts = np.arange(_hour(low), high - HOUR_S, apart)
        return [span for start in starts if self._anyone_there(start, start + apart)
                for span in self._around(_hour(start), _hour(start) + HOUR_S, (4, 0),
                                         self._dry_h)]  # fmt: skip

    def _around(
        self, low: float, high: float, before_h: tuple[int, ...], after_h: tuple[float, ...]
    ) -> list[Span]:
        now = self.setting.week.now_s
        begins = {max(now, low - h * HOUR_S) for h in before_h}
        ends = {high + HOUR_S * float(np.ceil(h)) for h in after_h}
        return [(b, e) for b, e in product(sorted(begins), sorted(ends)) if e > b]

    def _anyone_there(self, low: float, high: float) -> bool:
        """Whether the crew works in these hours at all."""
        judged = self.lane_now.judged
        mask, series = judged.case.hours_mask, judged.series
        if mask is None:
            return True
        a, b = (int(np.clip(series.index_of(t), 0, len(series))) for t in (low, high))
        return bool(mask[a : b + 1].any())

    @cached_property
    def dry_hours(self) -> list[Span]:
        """Runs of hours with drier air outdoors, before and in what is wanted."""
        at = self.setting.shop
        time_s = at.outdoor.time_s
        with np.errstate(invalid="ignore"):
            dry = at.outdoor.column("dew_point_c") < at.indoor.dew_point_c - DRIER_K
        last = self.wanted[1] + HOUR_S * self._dry_h[1]
        dry &= (time_s >= self.setting.week.now_s) & (time_s <= last)
        edges = np.flatnonzero(np.diff(np.concatenate(([False], dry, [False])).astype(np.int8)))
        runs = [(float(time_s[a]), float(time_s[b - 1])) for a, b in edges.reshape(-1, 2)]
        return [run for run in runs if run[1] - run[0] >= HOUR_S][-6:]

    @cached_property
    def hold_spans(self) -> list[Span]:
        """From tack-free to dew-safe (and an hour) of a few starts in the wanted hours."""
        judged = self.lane_now.judged
        line, series = judged.timeline, judged.series
        inside = np.flatnonzero(self._inside(self.lane_now) & ~np.isnan(line.tack_free))
        found = []
        for k in inside[:: max(1, len(inside) // 4)]:
            begin = max(_hour(series.time_at(float(line.tack_free[k]))), self._wet_until_s)
            safe = float(line.dew_safe[k])
            until = series.time_at(safe) if not np.isnan(safe) else begin + USUAL_DRY_H * HOUR_S
            found.append((begin, max(_hour(until), begin) + HOUR_S))
        return found

    @cached_property
    def _wet_until_s(self) -> float:
        """When solvent is out of every film already laid; infinite where that cannot be told."""
        return max((_tack_free_s(self.setting.week, c.id) for c in self.setting.week.job.coats
                    if c.laid is not None), default=-np.inf)  # fmt: skip


def _tack_free_s(week: Week, coat_id: str) -> float:
    """When a laid film is tack-free, UTC seconds; -inf long after, inf where not known."""
    coat = week.job.coat(coat_id)
    series = week.air(coat.area_id).series
    assert coat.laid is not None
    if coat.laid.end_s < week.now_s - 14 * DAY_S:
        return -np.inf
    case = case_of(week.job, coat, week.products, series, previous=None, spread=week.spread)
    table = case.table(case.dry_column)
    end = series.index_of(coat.laid.end_s)
    if table is None or not 0 <= end < len(series):
        return np.inf
    event = float(case.film_clock(table, series.surface_temp_c).when(np.array([end]))[0])
    return np.inf if np.isnan(event) else series.time_at(event)


def _heater(kw: float, span: Span) -> Change:
    return Change(heater_kw=kw, from_s=span[0], until_s=span[1])


def _drier(l_per_day: float, span: Span) -> Change:
    return Change(dehumidifier_l_per_day=l_per_day, from_s=span[0], until_s=span[1])


def _rated_kwh(change: Change) -> float:
    assert change.from_s is not None
    assert change.until_s is not None
    kw = change.heater_kw + DEHUMIDIFIER_W_PER_L_DAY / 1000.0 * change.dehumidifier_l_per_day
    return kw * (change.until_s - change.from_s) / HOUR_S


def _hour(time_s: float) -> float:
    """Return the next whole hour."""
    return float(np.ceil(time_s / HOUR_S) * HOUR_S)


def _long_runs(good: BoolArray, steps: int) -> BoolArray:
    """Keep runs of at least `steps` steps from first to last."""
    out = np.zeros(len(good), dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    for a, b in edges.reshape(-1, 2):
        if b - 1 - a >= steps:
            out[a:b] = True
    return out
