"""From a mixing time to the end of each phase, for many starts at once.

All positions are float indices of the series' grid. NaN means not known: past a hole in the
surface temperature, past the end, or a blank in the data sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import cast

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import Series
from advisor.coatings.clocks import Clock, snap
from advisor.coatings.tables import TimeTable
from advisor.planning.case import ROOM_C, Case
from advisor.planning.series_clocks import minimum_along

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Phase(StrEnum):
    """The stretch over which a rule holds; named as in the command line's JSON."""

    START = "start"
    APPLICATION = "application"
    TO_TACK_FREE = "to_tack_free"
    TO_DEW_SAFE = "to_dew_safe"
    HOLD = "hold"


@dataclass(frozen=True, eq=False)
class Span:
    """Grid points `low`..`high` inclusive for each start; empty where high < low.

    `complete` is false where the end is not known, so that only what is surely inside is there.
    """

    low: IntArray
    high: IntArray
    complete: NDArray[np.bool_]

    @cached_property
    def stop(self) -> IntArray:
        """One past the last grid point; `low` where the span is empty."""
        return np.maximum(self.high + 1, self.low)


@dataclass(frozen=True, eq=False)
class Timeline:
    """Milestones [m] of each start as float grid indices, and the spans the rules use."""

    starts: IntArray
    application: FloatArray
    application_end: FloatArray
    tack_free: FloatArray
    dew_safe: FloatArray
    spans: dict[Phase, Span]


def mix_temp_c(case: Case, air_temp_c: FloatArray) -> FloatArray:
    """Mix temperature: as entered, else the warmer of the air and a 20 °C room."""
    if case.mix_temp_c is not None:
        return np.full(len(air_temp_c), case.mix_temp_c)
    return np.maximum(air_temp_c, ROOM_C)


def mix_hours(case: Case, series: Series, table: TimeTable) -> FloatArray:
    """Hours of a column at the mix temperature of every grid point [n], looked up once."""
    key = ("mix", table.cells, table.runs_out, case.mix_temp_c)
    if key not in series.shared:
        series.shared[key] = table.at(mix_temp_c(case, series.air_temp_c))
    return cast(FloatArray, series.shared[key])


def timeline(case: Case, series: Series, starts: IntArray) -> Timeline:
    """Lay the phases of one coat out for every start [m] (grid indices)."""
    application = snap(starts + _induction_steps(case, series, starts))
    end = snap(application + case.apply_h / series.step_h)
    tack_free = _event(case, series, starts, end, case.dry_column)
    dew_safe = _dew_safe(case, series, starts, end, tack_free)
    spans = _spans(case, series, starts, (end, tack_free, dew_safe))
    return Timeline(starts, application, end, tack_free, dew_safe, spans)


def _induction_steps(case: Case, series: Series, starts: IntArray) -> FloatArray:
    table = case.table("induction_h")
    if table is None:
        return np.zeros(len(starts))
    return mix_hours(case, series, table)[starts] / series.step_h


def _clock(case: Case, series: Series, table: TimeTable) -> Clock:
    return minimum_along(series, table, case.cure_min_c)


def _event(
    case: Case, series: Series, starts: IntArray, end: FloatArray, column: str
) -> FloatArray:
    table = case.table(column)
    if table is None:
        return np.full(len(starts), np.nan)
    event = _clock(case, series, table).when(end)
    return _before_hole(series, starts, end, event)


def _dew_safe(
    case: Case, series: Series, starts: IntArray, end: FloatArray, tack_free: FloatArray
) -> FloatArray:
    if not case.has_hold:
        return tack_free
    table = case.dew_safe_table
    if table is None:
        return np.full(len(starts), np.nan)
    dry = case.table(case.dry_column)
    if dry is not None and table.same_as(dry):
        return tack_free
    event = _clock(case, series, table).when(end)
    return np.maximum(_before_hole(series, starts, end, event), tack_free)


def _before_hole(
    series: Series, starts: IntArray, since: FloatArray, event: FloatArray
) -> FloatArray:
    """Drop events that lie past the first surface hole after the start."""
    last = series.next_hole[starts] - 1
    with np.errstate(invalid="ignore"):
        return np.where((event <= last) & (since <= last), event, np.nan)


def _spans(
    case: Case, series: Series, starts: IntArray, ends: tuple[FloatArray, FloatArray, FloatArray]
) -> dict[Phase, Span]:
    end, tack_free, dew_safe = ends
    sure = np.maximum(starts, series.next_hole[starts] - 1)
    whole = np.ones(len(starts), dtype=bool)
    return {
        Phase.START: Span(starts, starts, whole),
        Phase.APPLICATION: _application(starts, end, len(series)),
        Phase.TO_TACK_FREE: _from_start(starts, tack_free, sure),
        Phase.TO_DEW_SAFE: _from_start(starts, dew_safe, sure),
        Phase.HOLD: _hold(case, tack_free, dew_safe, series.next_hole[starts] - 1),
    }


def _application(starts: IntArray, end: FloatArray, n: int) -> Span:
    known = ~np.isnan(end)
    high = np.where(known, np.minimum(end, n - 1), starts)
    with np.errstate(invalid="ignore"):
        return Span(starts, high.astype(np.int64), end <= n - 1)


def _from_start(starts: IntArray, event: FloatArray, sure: IntArray) -> Span:
    known = ~np.isnan(event)
    high = np.where(known, event, sure)
    return Span(starts, high.astype(np.int64), known)


def _hold(case: Case, tack_free: FloatArray, dew_safe: FloatArray, sure: IntArray) -> Span:
    dry, known = ~np.isnan(tack_free), ~np.isnan(dew_safe)
    if not case.has_hold:
        nothing = np.zeros(len(sure), dtype=np.int64)
        return Span(nothing, nothing - 1, np.ones(len(sure), dtype=bool))
    low = np.where(dry, np.ceil(tack_free), 0).astype(np.int64)
    high = np.where(known, dew_safe, np.where(dry, sure, -1))
    return Span(low, high.astype(np.int64), known)
