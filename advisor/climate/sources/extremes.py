"""Bringing known extremes into a course of air temperature whose instants miss them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from advisor.climate.sources.layers import HOUR_S, Axis, FloatArray

#: Coldest about dawn, warmest in mid-afternoon: hours of mean solar time (common practice).
COLDEST_SOLAR_H = 5.0
WARMEST_SOLAR_H = 15.0
#: An extreme is brought in when it is missed by this much in a span that holds its usual hour,
#: or by more than a front makes in any other.
_MISSED_K = 0.3
_FRONT_K = 2.5
_BESIDE_H = 1.0


@dataclass(frozen=True)
class Span:
    """Lowest and highest air temperature, °C, inside [start_s, end_s]; NaN where not told."""

    start_s: int
    end_s: int
    low_c: float
    high_c: float


def bounded(
    axis: Axis, air_temp_c: FloatArray, spans: Iterable[Span], lon_deg: float
) -> tuple[FloatArray, int]:
    """Return the course [n] reaching the extremes of its spans, and how many spans changed.

    Within a span the extreme stands at the inner hour nearest to its usual time of day, with
    straight lines to the ends. A span with a hole, or with no hour inside, stays as it is, and
    so does one far from the usual hour, where the ends are the extremes, unless a front passes.
    """
    course = np.array(air_temp_c)
    changed = 0
    for span in spans:
        first, last = axis.index(span.start_s), axis.index(span.end_s)
        if first < 0 or last >= axis.n or last - first < 2:
            continue
        inner = course[first : last + 1]
        knots = _knots(span, inner, axis.time_s[first : last + 1], lon_deg)
        if knots:
            ends = {0: float(inner[0]), len(inner) - 1: float(inner[-1])}
            places, values = zip(*sorted((ends | knots).items()), strict=True)
            course[first : last + 1] = np.interp(np.arange(len(inner)), places, values)
            changed += 1
    return course, changed


def _knots(span: Span, inner: FloatArray, time_s: np.ndarray, lon_deg: float) -> dict[int, float]:
    """Return the extremes the course misses, by place in the span."""
    if np.isnan(inner).any():
        return {}
    places = list(range(1, len(inner) - 1))
    solar_h = (time_s / HOUR_S + lon_deg / 15.0) % 24.0
    knots: dict[int, float] = {}
    wanted = (
        (span.low_c, COLDEST_SOLAR_H, inner.min() - span.low_c),
        (span.high_c, WARMEST_SOLAR_H, span.high_c - inner.max()),
    )
    for value, usual_h, missed_k in wanted:
        away = np.abs((solar_h - usual_h + 12.0) % 24.0 - 12.0)
        least_k = _MISSED_K if away.min() <= _BESIDE_H else _FRONT_K
        if missed_k > least_k and places:  # NaN fails
            knots[places.pop(int(np.argmin(away[places])))] = value
    return knots
