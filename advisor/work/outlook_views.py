"""What the outlook's use cases answer; the window and the command line only show these."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from advisor.climate.shop.shop import Change, Shop
from advisor.work.views import ComingDays
from advisor.work.views import SourceView as SourceView  # noqa: PLC0414 (also found here)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SkillView:
    """Past forecast of the shop against what happened, with its figures.

    `time_s` [n] UTC seconds; arrays [n] in °C, NaN where nothing is known. RMSE in K over 48 h,
    beside "same as now" and "same as outdoors".
    """

    time_s: FloatArray
    air_was_c: FloatArray
    air_said_c: FloatArray
    dew_was_c: FloatArray
    dew_said_c: FloatArray
    air_rmse_k: float
    dew_rmse_k: float
    air_same_as_now_k: float
    dew_same_as_now_k: float
    air_same_as_outdoors_k: float
    dew_same_as_outdoors_k: float


@dataclass(frozen=True)
class NightScore:
    """One past night: the coldest the shed was said to be the evening before, and was."""

    dawn_s: int
    said_c: float
    was_c: float
    text: str


@dataclass(frozen=True, eq=False)
class ShopView:
    """Everything the Shop pane shows.

    `response_text` says what the shop's response rests on ("fitted to 11 days of log" or
    "usual for a stone shed until three days are logged"); `facts` are label and value pairs;
    `changed_text` says when the shop seems to have changed, else empty.
    """

    shop: Shop
    sources: tuple[SourceView, ...]
    response_text: str
    fitted: bool
    facts: tuple[tuple[str, str], ...] = ()
    skill: SkillView | None = None
    nights: tuple[NightScore, ...] = ()
    changed_text: str = ""
    log_days: float = 0.0


@dataclass(frozen=True)
class Suggestion:
    """One change that opens the wanted window: in words, with what it costs."""

    change: Change
    text: str
    kwh: float
    gained_h: float


@dataclass(frozen=True, eq=False)
class WhatIf:
    """The week as it would be under a change, against as it is.

    `go_h` and `go_h_now` are hours of go or close-call starts in the days shown, summed over the
    coats that can start; `gained_h` the hours gained by coat id; `notes` are cautions (an
    unvented heater adds water and CO2).
    """

    change: Change
    week: ComingDays
    go_h: float
    go_h_now: float
    kwh: float
    text: str
    notes: tuple[str, ...] = ()
    gained_h: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, eq=False)
class OutlookView:
    """The outlook of one area: hour by hour with its spread, for people and JSON.

    `time_s` [n] hourly; `low` and `high` are the 10th and 90th percentiles [n].
    """

    area_id: str
    area_name: str
    time_s: NDArray[np.int64]
    columns: dict[str, FloatArray]
    low: dict[str, FloatArray] = field(default_factory=dict)
    high: dict[str, FloatArray] = field(default_factory=dict)
    origin: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class OutlookAnswer:
    """The outlook of every area of a job, and what it rests on. `made_s` UTC seconds."""

    made_s: float
    source: SourceView | None
    response_text: str
    fitted: bool
    areas: tuple[OutlookView, ...]
    notes: tuple[str, ...] = ()
