"""What stands beside a live batch: the air at the work now, and what can hurt at it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from advisor.climate.reading_store import LatestValue
from advisor.climate.readings import DOUBTFUL
from advisor.work.kept import NEEDED
from advisor.work.views import Reading

if TYPE_CHECKING:
    from advisor.coatings.cautions import Caution, Stage
    from advisor.work.workbench import Workbench


@dataclass(frozen=True)
class AirNow:
    """Dew or frost point in °C, and how far the coldest spot is above it in K; None not known.

    `margin_sd_k` is the instruments' standard uncertainty of the margin.
    """

    dew_point_c: float | None = None
    frost_point_c: float | None = None
    margin_k: float | None = None
    margin_sd_k: float | None = None


@dataclass(frozen=True)
class AirKept:
    """The newest value of each quantity, and what they come to together."""

    latest: Mapping[str, LatestValue]
    air: AirNow


def air_kept(
    bench: Workbench, now_s: float, reading: Reading | None = None, area_id: str = ""
) -> AirKept:
    """Return the air at the work; `reading` is what is in the boxes and not kept yet.

    `area_id`: as read in the zone of that area where this is newer than the shop's.
    """
    latest = bench.latest_values(now_s, area_id)
    told = {name: latest[name] for name in NEEDED if name in latest}
    # From a value in doubt no margin is told: it would read like any other.
    values = {name: one.value for name, one in told.items() if not one.flags & DOUBTFUL}
    if reading is not None:
        typed = {name: getattr(reading, name) for name in NEEDED}
        values |= {name: value for name, value in typed.items() if value is not None}
    return AirKept(latest, _air_of(bench, values))


def _air_of(bench: Workbench, values: Mapping[str, float]) -> AirNow:
    from advisor.physics import moist_air
    from advisor.physics.uncertainty import margin_sd_k

    if "air_temp_c" not in values or "rh_pct" not in values:
        return AirNow()
    air, rh = values["air_temp_c"], values["rh_pct"]
    dew = moist_air.dew_point_c(air, rh)
    wet = moist_air.wet_point_c(air, dew)
    frost = wet if wet > dew else None
    if "surface_temp_c" not in values:
        return AirNow(dew, frost)
    spread = margin_sd_k(np.array([air]), np.array([rh]), bench.instruments().spread)
    return AirNow(dew, frost, values["surface_temp_c"] - wet, float(spread[0]))


def work_cautions(bench: Workbench, coat_id: str, stage: Stage) -> tuple[Caution, ...]:
    """Return what can hurt at a stage of this coat's work, each with its source."""
    from advisor.coatings.cautions import cautions

    coat = bench.job_in_hand().coat(coat_id)
    return cautions(bench.products().get(coat.product_id), coat.method, stage)
