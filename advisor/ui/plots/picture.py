"""The week as numbers ready to be drawn; made in the background, so drawing computes nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import GRID_S
from advisor.planning.verdict_words import Verdict
from advisor.ui.widgets.parts import capital
from advisor.ui.widgets.verdict_mark import Kind
from advisor.work.views import Band, ComingDays, Lane, SourceView

if TYPE_CHECKING:
    from advisor.planning.verdict import Judged

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Bar:
    """Starts `first_s`..`last_s` (UTC seconds) of one kind."""

    first_s: float
    last_s: float
    kind: Kind


@dataclass(frozen=True)
class Trail:
    """What a film lives through, UTC seconds; None where not known."""

    first_patch_s: float | None
    last_patch_s: float | None
    tack_free_s: float | None
    dew_safe_s: float | None


@dataclass(frozen=True, eq=False)
class LanePicture:
    """One coat: its names, bars, and the moment of each start [m]."""

    lane: Lane
    title: str
    under: str
    bars: tuple[Bar, ...]
    starts_s: FloatArray
    band: Band | None = None

    def nearest(self, at_s: float) -> int | None:
        """Return the position of the start nearest to a moment, None without starts."""
        if len(self.starts_s) == 0:
            return None
        return int(np.abs(self.starts_s - at_s).argmin())

    def kind(self, j: int) -> Kind:
        """Return the kind of the window around the j-th start."""
        at_s = float(self.starts_s[j])
        return next((b.kind for b in self.bars if b.first_s <= at_s <= b.last_s), "wait")

    def trail(self, j: int) -> Trail:
        """Return what the film of the j-th start lives through."""
        line, series = self.lane.judged.timeline, self.lane.judged.series

        def moment(index: float) -> float | None:
            return None if np.isnan(index) else series.time_at(float(index))

        return Trail(
            moment(line.application[j]),
            moment(line.application_end[j]),
            moment(line.tack_free[j]),
            moment(line.dew_safe[j]),
        )


@dataclass(frozen=True, eq=False)
class WeekPicture:
    """Both lines [n] with their times, nights [k, 2], the lanes. `limit_k` is the margin asked."""

    now_s: float
    time_s: FloatArray
    surface_c: FloatArray
    wet_c: FloatArray
    nights: FloatArray
    lanes: tuple[LanePicture, ...]
    limit_k: float
    note: str
    band: Band | None = None
    source: SourceView | None = None

    def of_lane(self, k: int) -> WeekPicture:
        """Return the picture with the lines of the k-th lane's area."""
        if k >= len(self.lanes):
            return self
        lane = self.lanes[k]
        series = lane.lane.judged.series
        if series.surface_temp_c is self.surface_c:
            return self
        return replace(
            self,
            time_s=series.time_s.astype(np.float64),
            surface_c=series.surface_temp_c,
            wet_c=series.wet_point_c,
            band=lane.band,
        )

    @property
    def empty(self) -> bool:
        """Whether there is nothing to draw."""
        return len(self.time_s) == 0 or bool(np.isnan(self.wet_c).all())


def week_picture(week: ComingDays) -> WeekPicture:
    """Gather everything the drawing needs; the only costly step is the wet point."""
    series = week.series
    limits = [lane.judged.case.product.limits.margin_k for lane in week.lanes]
    return WeekPicture(
        week.now_s,
        series.time_s.astype(np.float64),
        series.surface_temp_c,
        series.wet_point_c,
        np.asarray(week.nights, dtype=np.float64).reshape(-1, 2),
        tuple(_lane(lane, week.bands.get(lane.area.id)) for lane in week.lanes),
        max(limits, default=3.0),
        week.note,
        week.band,
        week.source,
    )


def _lane(lane: Lane, band: Band | None) -> LanePicture:
    judged = lane.judged
    starts = judged.series.start_s + GRID_S * judged.timeline.starts.astype(np.float64)
    return LanePicture(
        lane,
        capital(f"{lane.coat.name}, {lane.area.name}"),
        lane.after,
        tuple(_bars(lane, starts)),
        starts,
        band,
    )


def _bars(lane: Lane, starts_s: FloatArray) -> list[Bar]:
    sand = _sand_mask(lane.judged)
    kinds: dict[Verdict, Kind] = {
        Verdict.GO: "go",
        Verdict.BORDERLINE: "close",
        Verdict.UNKNOWN: "unknown",
    }
    bars = []
    for window in lane.windows:
        kind = kinds.get(window.verdict)
        if kind is not None:
            first, last = float(starts_s[window.first]), float(starts_s[window.last])
            bars.append(Bar(first, last, kind))
        else:
            bars += _sand_bars(sand, window.first, window.last, starts_s)
    return bars


def _sand_bars(sand: NDArray[np.bool_], first: int, last: int, starts_s: FloatArray) -> list[Bar]:
    part = np.concatenate(([False], sand[first : last + 1], [False])).astype(np.int8)
    edges = np.flatnonzero(np.diff(part))
    return [
        Bar(float(starts_s[first + a]), float(starts_s[first + b - 1]), "sand")
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _sand_mask(judged: Judged) -> NDArray[np.bool_]:
    from advisor.planning.limits import AtStart  # the window is drawn before the rules are there

    mask = np.zeros(len(judged.verdicts), dtype=bool)
    for test in judged.tests:
        if isinstance(test, AtStart) and test.past_maximum is not None:
            mask |= test.past_maximum
    return mask
