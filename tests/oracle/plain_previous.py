"""Is the coat below old enough to be painted over, and young enough to bond? In plain loops."""

import math

from tests.oracle.plain_course import (
    event,
    first_hole,
    points,
)
from tests.oracle.plain_table import (
    RUNNING_OUT,
    is_blank,
    table_value,
)
from tests.oracle.plain_types import (
    BROKEN,
    CAUTION,
    EXACT,
    HOLDS,
    STEPS_PER_HOUR,
    SUSTAINED_POINTS,
    UNKNOWN,
)


def previous_coat(case, start, times):
    """Old enough to carry this coat, young enough to bond with it, at both ends of the job."""
    previous = case.previous
    if previous is None:
        return HOLDS
    if previous.over is None:
        return UNKNOWN
    if previous.over.forbidden:
        return BROKEN
    worst = HOLDS
    for painted, reached in patches(previous, times):
        if is_seen(case, painted, reached):
            worst = max(worst, old_enough(case, painted, reached))
            worst = max(worst, young_enough(case, painted, reached))
        else:
            worst = max(worst, UNKNOWN)
    return worst


def patches(previous, times):
    """First and last patch of the coat below with the time the brush comes back to it."""
    if previous.order == "same":
        return [(previous.first, times.brush_on), (previous.last, times.brush_off)]
    return [(previous.first, times.brush_off), (previous.last, times.brush_on)]


def is_seen(case, painted, reached):
    """Whether the surface is known from the painting of a patch until the brush is back.

    A patch that is not painted yet is known not to be ready.
    """
    if is_blank(reached) or painted < 0 or reached > points(case) - 1:
        return False
    return reached <= first_hole(case, math.floor(painted)) - 1


def old_enough(case, painted, reached):
    """The minimum on the clock of this patch."""
    if case.previous.over.min_h is None:
        return UNKNOWN
    ready = event(case, "minimum", painted, math.floor(painted))
    if is_blank(ready):
        return BROKEN
    return HOLDS if reached >= ready - EXACT else BROKEN


def young_enough(case, painted, reached):
    """The maximum twice: by the hottest hour (sure) and by the clock (likely)."""
    cells = case.previous.over.max_h
    if cells is None:
        return HOLDS
    if reached < painted:
        return HOLDS
    used = maximum_used(case, painted, reached)
    allowed = maximum_hours(case, hottest_hour(case, painted, reached))
    if is_blank(used) or is_blank(allowed):
        return UNKNOWN
    if (reached - painted) / STEPS_PER_HOUR <= allowed + EXACT:
        return HOLDS
    return CAUTION if used <= 1.0 + EXACT else BROKEN


def maximum_hours(case, temp):
    """The maximum by the table of the coat below."""
    previous = case.previous
    return table_value(previous.product.rows, previous.over.max_h, temp, RUNNING_OUT)


def hottest_hour(case, painted, reached):
    """Highest temperature held for a whole hour since the patch was painted."""
    hot = case.series.surface_hot
    first, last = math.ceil(painted), math.floor(reached)
    if last < first:
        return hot[math.floor(painted)]
    if last - first + 1 < SUSTAINED_POINTS:
        return max(hot[first : last + 1])
    held = hourly_lows(case)
    return max(held[first : last - SUSTAINED_POINTS + 2])


def hourly_lows(case):
    """Lowest of the thirteen points from each point on; kept for the next start."""
    if "hourly lows" not in case.memo:
        hot = case.series.surface_hot
        case.memo["hourly lows"] = [
            min(hot[k : k + SUSTAINED_POINTS]) for k in range(len(hot) - SUSTAINED_POINTS + 1)
        ]
    return case.memo["hourly lows"]


def maximum_used(case, painted, reached):
    """Share of the maximum used up between two times; NaN over a blank cell."""
    rates = maximum_rates(case)
    used = 0.0
    here = painted
    k = math.floor(painted)
    while here < reached:
        there = min(k + 1.0, reached)
        used += share_of_step(rates, k, here, there)
        here = there
        k += 1
    return used


def share_of_step(rates, k, here, there):
    """Progress inside one step: the mean rate of its ends, evenly."""
    return (rates[k] + rates[k + 1]) / 2.0 * (there - here)


def maximum_rates(case):
    """One over the maximum, in steps; it never pauses. NaN over a blank cell or in a hole."""
    if "maximum rates" not in case.memo:
        rates = []
        for temp in case.series.surface_hot:
            hours_left = maximum_hours(case, temp)
            rates.append(math.inf if hours_left == 0 else 1.0 / (hours_left * STEPS_PER_HOUR))
        case.memo["maximum rates"] = rates
    return case.memo["maximum rates"]
