"""Moments of one start in words, and the chance that dew leaves the film alone."""

from __future__ import annotations

import math
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from advisor.physics.uncertainty import chance_above, margin_errors
from advisor.planning import explain
from advisor.planning.case import column_table, dew_safe_assumption
from advisor.planning.timeline import Phase
from advisor.planning.verdict import Judged
from advisor.work.views import Milestone

LABELS = MappingProxyType(
    {
        "mix": "mix",
        "first_patch": "first patch",
        "last_patch": "last patch",
        "batch_dead": "batch past use",
        "tack_free": "tack-free",
        "sandable": "can be sanded",
        "dew_safe": "can take dew",
    }
)


def milestones(judged: Judged, j: int, mix_c: float | None = None) -> tuple[Milestone, ...]:
    """Moments of one start in time order, with the batch's end."""
    found = [Milestone(name, LABELS[name], at) for name, at in explain.milestones(judged, j)]
    product = judged.case.product
    if not judged.case.has_hold:
        found = [m for m in found if m.name != "dew_safe"]
    note = dew_safe_assumption(product)
    found = [replace(m, note=note) if m.name == "dew_safe" else m for m in found]
    life = column_table(product, "pot_life_h")
    if life is not None and mix_c is not None and found[0].at_s is not None:
        hours = life.at_one(mix_c)
        if math.isfinite(hours):
            dead = found[0].at_s + hours * 3600
            found.append(Milestone("batch_dead", LABELS["batch_dead"], dead))
    return tuple(sorted(found, key=lambda m: math.inf if m.at_s is None else m.at_s))


def chance_dry(judged: Judged, j: int) -> float | None:
    """Chance that the surface stays above the dew point until the film can take dew."""
    span = judged.timeline.spans[Phase.TO_DEW_SAFE]
    if not span.complete[j]:
        return None
    part = slice(int(span.low[j]), int(span.high[j]) + 1)
    series = judged.series
    errors = margin_errors(series.margin_k[part], series.air_temp_c[part], series.rh_pct[part],
                           judged.case.spread)  # fmt: skip
    worst = float(np.min(errors))
    return chance_above(worst)
