"""The coming days: a lane of windows for every coat still to do."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from advisor.climate.area_air import AreaAir
from advisor.climate.series import Series
from advisor.coatings.product import Limits, Product, Times
from advisor.physics.uncertainty import SensorSpread
from advisor.planning import explain
from advisor.planning.case import Case, Previous, Site
from advisor.planning.courses import Courses, lay
from advisor.planning.hours import parse_hours
from advisor.planning.job import Area, Coat, Job
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.windows import windows
from advisor.planning.words import Words
from advisor.work.milestones import milestones
from advisor.work.shop_air import PULL_NOTE
from advisor.work.views import ComingDays, Lane, StartDetail

DAY_S = 86400
#: Threads that work chances out: more than two gain little, NumPy holds the interpreter often.
SIDE_BY_SIDE = 2
#: Brush and roller lose the wet edge, spray goes dry, in more wind than this (from memory).
WIND_LIMIT_M_S = MappingProxyType({"brush": 8.0, "roll": 8.0, "spray": 5.0})


@dataclass(frozen=True, eq=False)
class Week:
    """What the lanes are made from.

    `series` is the shop's own; `areas` holds what is known better of single areas, on the same
    grid.
    """

    job: Job
    products: Mapping[str, Product]
    series: Series
    words: Words
    now_s: float
    days: int
    mix_temp_c: float | None = None
    sanded_s: Mapping[str, float] = field(default_factory=dict)
    areas: Mapping[str, AreaAir] = field(default_factory=dict)
    spread: SensorSpread = field(default_factory=SensorSpread)
    _laid: dict[int, Courses] = field(default_factory=dict, init=False, repr=False)

    def air(self, area_id: str) -> AreaAir:
        """Return what is known of one area."""
        return self.areas.get(area_id) or AreaAir(self.series)

    def courses(self, area_id: str) -> Courses | None:
        """Return the courses of one area, laid out once for all its coats and areas like it."""
        air = self.air(area_id)
        if air.scenarios is None:
            return None
        key = id(air)
        if key not in self._laid:
            self._laid[key] = lay(air.scenarios, air.series)
        return self._laid[key]

    @property
    def shown_area(self) -> str:
        """Return the area to draw: that of the next coat, else the first."""
        coats = self.job.next_coats()
        return coats[0].area_id if coats else self.job.areas[0].id

    @property
    def shown(self) -> Series:
        """Return the series to draw."""
        return self.air(self.shown_area).series


def coming_days(week: Week) -> ComingDays:
    """Judge every coat still to do, each over the one before it on its area."""
    series = week.shown
    first = max(0, int(np.floor(series.index_of(week.now_s))))
    count = min(len(series) - first, week.days * DAY_S // series.step_s)
    starts = np.arange(first, first + max(0, count), dtype=np.int64)
    lanes = _lanes(week, starts)
    note = "No outlook yet: import a log or weather file."
    if _anything(series, first):
        # The pull of a reading is told beside the reading itself.
        note = "; ".join(a for a in series.assumptions if a != PULL_NOTE).capitalize()
    nights = night_bands(series, week.words.zone)
    return ComingDays(week.now_s, series, lanes, nights, note)


def _lanes(week: Week, starts: NDArray[np.int64]) -> tuple[Lane, ...]:
    """Judge areas that share no air side by side where they have courses, which takes long."""
    by_air: dict[int, list[Coat]] = {}
    for coat in week.job.next_coats():
        by_air.setdefault(id(week.areas.get(coat.area_id)), []).append(coat)

    def along(coats: list[Coat]) -> dict[str, Lane]:
        lanes: dict[str, Lane] = {}
        for coat in coats:
            lanes[coat.id] = _lane(week, coat, starts, lanes)
        return lanes

    groups, found = list(by_air.values()), dict[str, Lane]()
    if len(groups) > 1 and any(air.scenarios is not None for air in week.areas.values()):
        with ThreadPoolExecutor(SIDE_BY_SIDE) as pool:
            parts = list(pool.map(along, groups))
    else:
        parts = [along(coats) for coats in groups]
    for part in parts:
        found |= part
    return tuple(found[coat.id] for coat in week.job.next_coats())


def _anything(series: Series, first: int) -> bool:
    return bool((~np.isnan(series.air_temp_c[first + 12 :])).any())


def _lane(week: Week, coat: Coat, starts: NDArray[np.int64], lanes: Mapping[str, Lane]) -> Lane:
    previous, after = previous_of(week, coat, lanes)
    air = week.air(coat.area_id)
    case = case_of(week.job, coat, week.products, air.series, previous=previous,
                   mix_temp_c=week.mix_temp_c, spread=week.spread)  # fmt: skip
    judged = judge(case, air.series, starts, week.courses(coat.area_id))
    area = week.job.area(coat.area_id)
    name = product_of(week.products, coat).name
    return Lane(coat, area, name, judged, tuple(windows(judged)), after)


def previous_of(week: Week, coat: Coat, lanes: Mapping[str, Lane]) -> tuple[Previous | None, str]:
    """Return the coat below: as laid, else assumed at its first good start."""
    below = week.job.below(coat)
    if below is None:
        return None, ""
    product = product_of(week.products, below)
    if below.laid is not None:
        when = week.words.moment(below.laid.end_s)
        sanded = week.sanded_s.get(coat.area_id, -np.inf) >= below.laid.end_s
        laid = Previous(product, below.laid.start_s, below.laid.end_s, coat.reverse, sanded)
        return laid, f"after {below.name}, {when}"
    lane = lanes.get(below.id)
    best = None if lane is None else first_good(lane.judged)
    if lane is None or best is None:
        end = float(week.series.end_s + DAY_S)
        return Previous(product, end, end), f"waits for {below.name}"
    line = lane.judged.timeline
    begin, end = (lane.judged.series.time_at(float(x[best])) for x in (
        line.application, line.application_end))  # fmt: skip
    text = f"after {below.name}, if laid {week.words.moment(begin)}"
    return Previous(product, begin, end, coat.reverse), text


def product_of(products: Mapping[str, Product], coat: Coat) -> Product:
    """Return a coat's product as applied; one that says nothing when it is not on the shelf."""
    found = products.get(coat.product_id)
    if found is None:
        name = f"{coat.product_id} (not on the shelf)"
        return Product(coat.product_id, name, "", "template", Limits(), Times((20.0,), {}))
    return found.by_method(coat.method)


def first_good(judged: Judged) -> int | None:
    """Position of the first go, else of the first close call."""
    for verdict in (Verdict.GO, Verdict.BORDERLINE):
        found = np.flatnonzero(judged.verdicts == verdict)
        if len(found):
            return int(found[0])
    return None


def case_of(
    job: Job,
    coat: Coat,
    products: Mapping[str, Product],
    series: Series,
    *,
    previous: Previous | None,
    mix_temp_c: float | None = None,
    spread: SensorSpread | None = None,
) -> Case:
    """Put one coat of the job to the test on a series; `spread` None: fair instruments."""
    area = job.area(coat.area_id)
    mask = None
    if job.working_hours:
        grid = (series.start_s, series.step_s, len(series))
        mask = _hours_mask(job.working_hours, job.time_zone, grid)
    return Case(
        product_of(products, coat),
        job.apply_h(coat),
        previous,
        _site(area, coat),
        mask,
        mix_temp_c,
        SensorSpread() if spread is None else spread,
    )


@lru_cache(maxsize=16)
def _hours_mask(hours: str, zone: str, grid: tuple[int, int, int]) -> NDArray[np.bool_]:
    """Return the crew's hours on a grid of start, step and length: the same for every coat."""
    start_s, step_s, n = grid
    empty = np.empty(n)
    mask = parse_hours(hours).mask(Series(start_s, empty, empty, empty, step_s=step_s),
                                   ZoneInfo(zone))  # fmt: skip
    mask.setflags(write=False)
    return mask


def _site(area: Area, coat: Coat) -> Site:
    limit = WIND_LIMIT_M_S[coat.method] if area.outdoors else None
    return Site(area.outdoors, limit, area.trend)


def night_bands(series: Series, zone: ZoneInfo) -> NDArray[np.float64]:
    """Return nights as pairs [k, 2] of UTC seconds, 20:00 to 06:00 local (for orientation)."""
    if len(series) == 0:
        return np.empty((0, 2))
    day = datetime.fromtimestamp(series.start_s, zone).date() - timedelta(days=1)
    bands = []
    while (evening := datetime(day.year, day.month, day.day, 20, tzinfo=zone)).timestamp() < (
        series.end_s
    ):
        day += timedelta(days=1)
        morning = datetime(day.year, day.month, day.day, 6, tzinfo=zone)
        bands.append((evening.timestamp(), morning.timestamp()))
    return np.array(bands)


def strength(at_s: float, now_s: float) -> str:
    """How firmly to speak: days 1–2 plainly, day 3 "likely", later "outlook"."""
    day = int((at_s - now_s) // DAY_S) + 1
    return "" if day <= 2 else "likely" if day == 3 else "outlook"


def start_detail(lane: Lane, j: int, words: Words, now_s: float) -> StartDetail:
    """Tell one start in a lane, with its reasons."""
    judged = lane.judged
    at = judged.series.time_at(int(judged.timeline.starts[j]))
    told = explain.reasons(judged, j, words)
    first = next((r for r in told if r.holds is not True), None)
    end = judged.timeline.dew_safe[j]
    headline = (
        first.text
        if first is not None
        else (f"can take dew {words.moment(judged.series.time_at(float(end)))}")
    )
    return StartDetail(
        at,
        judged.verdict(j),
        judged.sand_first(j),
        strength(at, now_s),
        headline,
        told,
        milestones(judged, j),
        explain.what_would_turn(judged, j, words),
        judged.chance(j),
    )
