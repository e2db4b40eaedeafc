"""What the use cases answer; the window and the command line only show these."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from advisor.climate.readings import Origin

# The window is drawn before what judges is imported; its answers are only shown here.
if TYPE_CHECKING:
    from advisor.climate.series import Series
    from advisor.coatings.batch import BatchPlan
    from advisor.coatings.cautions import Caution
    from advisor.planning.explain import Reason
    from advisor.planning.job import Area, Coat
    from advisor.planning.verdict import Judged, Verdict
    from advisor.planning.windows import Window
    from advisor.record.canonical import Json

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Reading:
    """One reading at the work; None where nothing was read. `taken_s` UTC seconds.

    `entered` holds the numbers a person typed as they are kept, by the name of the value.
    """

    taken_s: float
    air_temp_c: float | None = None
    rh_pct: float | None = None
    surface_temp_c: float | None = None
    surface_hot_c: float | None = None
    origin: Origin = Origin.TYPED
    entered: Mapping[str, Mapping[str, Json]] = field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class Milestone:
    """A moment of the film's life. `name` is the JSON name, `label` the words on screen."""

    name: str
    label: str
    at_s: float | None
    note: str = ""


@dataclass(frozen=True)
class BeforeMixing:
    """The answer to "may I mix now?".

    `at_s` is what every time in it is reckoned from: the last grid point up to now, UTC seconds.
    """

    coat: Coat
    area: Area
    product_name: str
    at_s: float
    verdict: Verdict
    sand_first: bool
    scope: str
    chance: float | None
    headline: str
    dew_point_c: float | None
    frost_point_c: float | None
    margin_k: float | None
    margin_sd_k: float | None
    reasons: tuple[Reason, ...]
    latest_start_s: float | None
    latest_because: str
    next_start_s: float | None
    would_turn: str
    milestones: tuple[Milestone, ...]
    batch: BatchPlan | None
    warnings: tuple[str, ...]
    required_steps: tuple[str, ...]
    cautions: tuple[Caution, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class FilmTonight:
    """A film already down and what the night does to it."""

    coat: Coat
    area: Area
    product_name: str
    tack_free_s: float | None
    dew_safe_s: float | None
    wet_at_s: float | None
    short_by_h: float | None
    carry_k: float | None
    carry_until_s: float | None
    headline: str
    advice: str
    next_from_s: float | None
    next_until_s: float | None
    next_likely_s: float | None
    next_text: str
    trouble: bool


@dataclass(frozen=True, eq=False)
class Lane:
    """One coat's windows over the coming days."""

    coat: Coat
    area: Area
    product_name: str
    judged: Judged
    windows: tuple[Window, ...]
    after: str


@dataclass(frozen=True)
class SourceView:
    """One forecast source and how it stands.

    `state`: "off" (not chosen), "waiting" (never fetched), "fresh", "old", "failed" (last try
    failed; an older good forecast may still be used). `text` is the one line for the user;
    `credit` the licence line; `terms` what must be agreed to before it is used, else empty.
    """

    id: str
    name: str
    state: str
    text: str
    credit: str
    terms: str = ""
    fetched_s: int | None = None
    issued_s: int | None = None
    ends_s: int | None = None
    next_try_s: int | None = None
    chosen: bool = False


@dataclass(frozen=True, eq=False)
class Band:
    """10th and 90th percentile round both lines, on the grid of the week's series.

    Arrays [n] in °C, NaN where there are no courses (the measured past); `dew` is the higher of
    dew and frost point, as the line is.
    """

    surface_low_c: FloatArray
    surface_high_c: FloatArray
    dew_low_c: FloatArray
    dew_high_c: FloatArray


@dataclass(frozen=True, eq=False)
class ComingDays:
    """The picture of the week: one series and a lane per coat still to do.

    `source` is the forecast the week rests on, None without one; `band` its spread, and `bands`
    the spread of each area by its id.
    """

    now_s: float
    series: Series
    lanes: tuple[Lane, ...]
    nights: NDArray[np.float64]
    note: str = ""
    band: Band | None = None
    source: SourceView | None = None
    bands: Mapping[str, Band] = field(default_factory=dict)


@dataclass(frozen=True)
class StartDetail:
    """One start in a lane, as shown on hover or by keyboard.

    `chance`: the share of the outlook's courses in which every rule holds, None without courses.
    """

    at_s: float
    verdict: Verdict
    sand_first: bool
    strength: str
    headline: str
    reasons: tuple[Reason, ...]
    milestones: tuple[Milestone, ...]
    would_turn: str
    chance: float | None = None
