"""The course of a coat: brush on, brush off, tack-free, able to take dew, in plain loops.

A clock walks along the surface temperatures step by step; nothing is known past a hole.
"""

import math

from tests.oracle.plain_table import (
    MINIMUM,
    is_blank,
    table_value,
)
from tests.oracle.plain_types import (
    FILLERS,
    MIX_AT_LEAST_C,
    ONE_PART_GLOSS,
    SNAP,
    STEPS_PER_HOUR,
    TWO_PART_GLOSS,
    Span,
    Times,
)


def course(case, start):
    """When the brush goes on and off, when it is tack-free, when it can take dew."""
    on = snap(start + induction_steps(case, start))
    off = snap(on + case.apply_h * STEPS_PER_HOUR)
    tack_free = event(case, "tack free", off, start)
    dew_safe = dew_safe_event(case, off, tack_free, start)
    hole = first_hole(case, start)
    return Times(
        on,
        off,
        tack_free,
        dew_safe,
        apply_span(case, start, off),
        until(start, tack_free, hole),
        until(start, dew_safe, hole),
        hold_span(case, tack_free, dew_safe, hole),
    )


def snap(x):
    """A hair beside a grid point is the grid point."""
    if is_blank(x) or math.isinf(x):
        return x
    return float(round(x)) if abs(x - round(x)) <= SNAP else x


def points(case):
    """How many points the series has."""
    return len(case.series.surface)


def has(product, column):
    """Whether the sheet has the column at all; its cells may still be blank."""
    return column in product.columns


def mix_temp(case, k):
    """The mix is as warm as was entered, else as the shop, but no colder than 20 °C."""
    if case.mix_c is not None:
        return case.mix_c
    air = case.series.air[k]
    return air if is_blank(air) else max(air, MIX_AT_LEAST_C)


def induction_hours(case, k):
    """Standing time of a batch mixed at k; none where the sheet has no such column."""
    product = case.product
    if not has(product, "induction_h"):
        return 0.0
    return table_value(product.rows, product.columns["induction_h"], mix_temp(case, k), MINIMUM)


def induction_steps(case, k):
    """The same in steps."""
    return induction_hours(case, k) * STEPS_PER_HOUR


def first_hole(case, start):
    """First point from `start` on where the surface was not measured; else the end."""
    holes = case.memo.get("holes")
    if holes is None:
        holes = case.memo["holes"] = list_of_next_holes(case.series.surface)
    return holes[min(start, len(holes) - 1)]


def list_of_next_holes(surface):
    """For each point the first hole at it or after it."""
    count = len(surface)
    holes = [count] * (count + 1)
    for k in range(count - 1, -1, -1):
        holes[k] = k if is_blank(surface[k]) else holes[k + 1]
    return holes


def event(case, name, x0, since):
    """When a minimum-type clock started at x0 has run its time; NaN when not known.

    Nothing is known past the first hole at or after the point `since`.
    """
    rates = clock_rates(case, name)
    if is_blank(x0) or rates is None:
        return math.nan
    return run_clock(rates, x0, first_hole(case, since) - 1)


def run_clock(rates, x0, last):
    """Walk step by step until the share of the time used up is one.

    No time at all is an event at once; but after the last point nothing happens any more.
    """
    if x0 > last:
        return math.nan
    k = math.floor(x0)
    if x0 == k and math.isinf(rates[k]) and k + 1 < len(rates):
        return x0
    done = 0.0
    here = x0
    while k < last:
        rate = (rates[k] + rates[k + 1]) / 2.0
        if math.isinf(rate):
            return snap(here)
        more = rate * (k + 1 - here)
        if done + more >= 1.0 - 1e-12:
            return snap(here + (1.0 - done) / rate)
        done += more
        k += 1
        here = float(k)
    return math.nan


def clock_rates(case, name):
    """Share of the time used up per step at each point, kept for the next start."""
    key = "rates of " + name
    if key not in case.memo:
        case.memo[key] = CLOCKS[name](case)
    return case.memo[key]


def rates_of(product, cells, surface, factor=1.0):
    """One over the time of the table, in steps; nothing moves on where it is too cold."""
    rates = []
    for temp in surface:
        hours = table_value(product.rows, cells, temp, MINIMUM) * factor
        if is_blank(hours) or math.isinf(hours) or is_paused(product, temp):
            rates.append(0.0)
        elif hours == 0:
            rates.append(math.inf)
        else:
            rates.append(1.0 / (hours * STEPS_PER_HOUR))
    return rates


def is_paused(product, temp):
    """Under the lowest row of a table, or under the least curing temperature, cure stands."""
    if len(product.rows) > 1 and temp < product.rows[0]:
        return True
    lowest = cure_min(product)
    return lowest is not None and temp < lowest


def cure_min(product):
    """Least curing temperature; the lower surface limit where the sheet does not say."""
    if product.cure_min is not None:
        return product.cure_min
    return None if product.surface is None else product.surface[0]


def tack_column(product):
    """Tack-free, or sandable for what never is tack-free; None where the sheet has neither."""
    for column in ("tack_free_h", "sandable_h"):
        if has(product, column):
            return column
    return None


def tack_rates(case):
    """Clock to tack-free."""
    column = tack_column(case.product)
    if column is None:
        return None
    return rates_of(case.product, case.product.columns[column], case.series.surface)


def dew_rates(case):
    """Clock to the time the film can take dew; None where the sheet leaves it open."""
    product = case.product
    surface = case.series.surface
    if has(product, "dew_safe_h"):
        return rates_of(product, product.columns["dew_safe_h"], surface)
    if product.product_class in TWO_PART_GLOSS:
        if not has(product, "tape_dry_h"):
            return None
        return rates_of(product, product.columns["tape_dry_h"], surface)
    column = tack_column(product)
    if column is None:
        return None
    factor = 2.0 if product.product_class in ONE_PART_GLOSS else 1.0
    return rates_of(product, product.columns[column], surface, factor)


def minimum_rates(case):
    """Clock of the coat below to its minimum overcoating time."""
    previous = case.previous
    return rates_of(previous.product, previous.over.min_h, case.series.surface)


CLOCKS = {"tack free": tack_rates, "dew safe": dew_rates, "minimum": minimum_rates}


def dew_safe_event(case, off, tack_free, start):
    """Never before tack-free; fillers have no gloss to lose."""
    if case.product.product_class in FILLERS:
        return tack_free
    dew = event(case, "dew safe", off, start)
    if is_blank(tack_free) or is_blank(dew):
        return math.nan
    return max(tack_free, dew)


def apply_span(case, start, off):
    """From mixing to the last brush stroke."""
    if is_blank(off):
        return Span(start, start, False)
    end = points(case) - 1
    return Span(start, math.floor(min(off, end)), off <= end)


def until(start, x, hole):
    """From mixing to an event; to the next hole when the event is not known."""
    if is_blank(x):
        return Span(start, max(start, hole - 1), False)
    return Span(start, math.floor(x), True)


def hold_span(case, tack_free, dew_safe, hole):
    """From tack-free until dew does no harm."""
    if case.product.product_class in FILLERS:
        return Span(0, -1, True)
    if is_blank(tack_free):
        return Span(0, -1, False)
    if is_blank(dew_safe):
        return Span(math.ceil(tack_free), hole - 1, False)
    return Span(math.ceil(tack_free), math.floor(dew_safe), True)
