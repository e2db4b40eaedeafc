"""What a look back says of a coat: plain readings against the limits in force, nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.record.entry import Entry

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Standing = Literal["inside", "outside", "not known"]


@dataclass(frozen=True)
class LimitInForce:
    """One limit as it was in force: rule name, words, house unit, whose limit it is."""

    rule: str
    label: str
    low: float | None
    high: float | None
    unit: str
    whose: str


@dataclass(frozen=True)
class TimeSpan:
    """From and to, UTC seconds."""

    from_s: float
    to_s: float

    @property
    def hours(self) -> float:
        """Length in hours."""
        return (self.to_s - self.from_s) / 3600.0


@dataclass(frozen=True)
class LimitReview:
    """How a limit was kept over its phase. `outside` spans, `worst` value and when; None: no value.

    `hours_known` of `hours_asked` were covered by readings; the rest is gap.
    """

    limit: LimitInForce
    phase: str
    standing: Standing
    outside: tuple[TimeSpan, ...]
    worst: float | None
    worst_at_s: float | None
    worst_source: str
    hours_known: float
    hours_asked: float

    @property
    def hours_outside(self) -> float:
        """Hours outside the limit."""
        return sum(span.hours for span in self.outside)


@dataclass(frozen=True)
class IntervalReview:
    """The time to the previous coat: by the clock in hours, and the table's window for it."""

    previous_coat_id: str
    previous_name: str
    clock_h: float
    min_h: float | None
    max_h: float | None
    standing: Standing
    text: str


@dataclass(frozen=True)
class FilmReview:
    """Film readings of one kind in µm: how many, least, mean, most, and the target."""

    film: Literal["wet", "dry"]
    count: int
    low_um: float
    mean_um: float
    high_um: float
    target_um: tuple[float | None, float | None]
    standing: Standing


@dataclass(frozen=True)
class BatchReview:
    """One batch: its entry, when mixed, pot life limit and when it was last used or ended."""

    entry: Entry
    mixed_s: float
    usable_until_s: float | None
    last_used_s: float | None
    standing: Standing
    text: str


@dataclass(frozen=True, eq=False)
class ReadingsOfCoat:
    """What was read from the first mixing to dew-safe. Arrays [n], °C, K, %; NaN where no value.

    `source` [n] of Origin values; times strictly increasing, UTC seconds. Only observed rows.
    """

    time_s: IntArray
    air_temp_c: FloatArray
    rh_pct: FloatArray
    dew_point_c: FloatArray
    surface_temp_c: FloatArray
    margin_k: FloatArray
    source: tuple[str, ...]
    doubtful: NDArray[np.bool_]


@dataclass(frozen=True)
class Decision:
    """What was decided then against what the rules say now, with the readings that came."""

    then_verdict: str
    then_at_s: float | None
    now_verdict: str
    text: str


@dataclass(frozen=True, eq=False)
class CoatReview:
    """Was this coat inside the limits? `summary` is the one line; times UTC seconds.

    `dips` are the spans with the surface at or below the dew point between preparation and
    dew-safe; each asks for drying and re-preparation unless that was logged after it.
    """

    coat_id: str
    coat_name: str
    area_id: str
    area_name: str
    product_name: str
    product_revision: str
    started_s: float
    ended_s: float
    tack_free_s: float | None
    dew_safe_s: float | None
    standing: Standing
    summary: str
    limits: tuple[LimitReview, ...]
    interval: IntervalReview | None
    batches: tuple[BatchReview, ...]
    films: tuple[FilmReview, ...]
    gaps: tuple[TimeSpan, ...]
    dips: tuple[TimeSpan, ...]
    decision: Decision | None
    readings: ReadingsOfCoat
    entries: tuple[Entry, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Evidence:
    """One fact of the coat's own record for or against a cause."""

    supports: bool
    text: str
    entry_number: int | None = None


@dataclass(frozen=True)
class Cause:
    """A possible cause of a defect, ranked. `weight` is for sorting only; `next_step` the cure."""

    name: str
    weight: float
    for_it: tuple[Evidence, ...]
    against: tuple[Evidence, ...]
    not_known: tuple[str, ...]
    next_step: str
    source: str


@dataclass(frozen=True, eq=False)
class JobReview:
    """All coats that were laid, in order, with the head of the record they were read from."""

    job_id: str
    job_name: str
    coats: tuple[CoatReview, ...]
    entries: tuple[Entry, ...]
    head: str
    made_s: float
    problems: tuple[str, ...] = field(default_factory=tuple)
