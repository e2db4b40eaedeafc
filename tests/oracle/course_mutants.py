"""Clocks, tables, overcoating, classes and the order of verdicts made wrong one by one."""

import math

from tests.oracle import plain_course, plain_previous, plain_table
from tests.oracle.mutant import Mutant
from tests.oracle.plain_types import BROKEN, CAUTION, HOLDS, UNKNOWN


def never_paused(product, temp):
    """A cure that goes on in the cold."""
    return False


def paused_by_rows_only(product, temp):
    """A cure that forgets the least curing temperature."""
    return len(product.rows) > 1 and temp < product.rows[0]


def never_a_hole(case, start):
    """Events believed past a hole."""
    return plain_course.points(case)


def left_end(rates, x0, last):
    """The rate of the step's first point instead of the mean."""
    right = [(rates[k] + rates[max(0, k - 1)]) / 2.0 for k in range(len(rates))]
    return RUN_CLOCK(right, x0, last)


RUN_CLOCK = plain_course.run_clock


def straight_lines(low_row, low_cell, high_row, high_cell, temp_c):
    """Hours linear in temperature."""
    share = (temp_c - low_row) / (high_row - low_row)
    return low_cell + share * (high_cell - low_cell)


def blank_takes_the_other(low_row, low_cell, high_row, high_cell, temp_c):
    """A blank beside a number read as the number."""
    if math.isnan(low_cell):
        return high_cell
    if math.isnan(high_cell):
        return low_cell
    return BETWEEN(low_row, low_cell, high_row, high_cell, temp_c)


def unlimited_wins(low_row, low_cell, high_row, high_cell, temp_c):
    """Unlimited beside a number read as unlimited."""
    found = BETWEEN(low_row, low_cell, high_row, high_cell, temp_c)
    return max(low_cell, high_cell) if math.isinf(max(low_cell, high_cell)) else found


BETWEEN = plain_table.between


def top_kept(top, cell, temp_c, kind):
    """Nothing gets shorter above the top row."""
    return cell


def top_halved(top, cell, temp_c, kind):
    """A minimum that gets shorter above the top row."""
    return cell * 2.0 ** (-(temp_c - top) / 10.0)


def row_kept(row, cell, temp_c, kind):
    """One row for all temperatures."""
    return cell


def row_halved(row, cell, temp_c, kind):
    """A minimum of one row that gets shorter in the warm."""
    return cell * 2.0 ** (-(temp_c - row) / 10.0)


def broken_only_if_seen(found):
    """Unknown before wait."""
    if found[UNKNOWN]:
        return "unknown"
    return "wait" if found[BROKEN] else "borderline" if found[CAUTION] else "go"


def care_before_unknown(found):
    """Close call before can't tell."""
    if found[BROKEN]:
        return "wait"
    if found[CAUTION]:
        return "borderline"
    return "unknown" if found[UNKNOWN] else "go"


def one_patch(place):
    """Only the first or the last patch."""
    return lambda previous, times: [PATCHES(previous, times)[place]]


PATCHES = plain_previous.patches


def hottest_moment(case, painted, reached):
    """The highest point, not the highest sustained for an hour."""
    hot = case.series.surface_hot
    return max(hot[math.floor(painted) : math.floor(reached) + 1])


def judged_by(answer_past_sure):
    """The maximum by the row alone."""

    def mutated(case, painted, reached):
        found = YOUNG_ENOUGH(case, painted, reached)
        return answer_past_sure if found == CAUTION else found

    return mutated


YOUNG_ENOUGH = plain_previous.young_enough


def maximum_pauses(case):
    """A maximum that stands still in the cold like a minimum."""
    previous = case.previous
    rates = MAXIMUM_RATES(case)
    return [
        0.0 if plain_course.is_paused(previous.product, temp) else rate
        for rate, temp in zip(rates, case.series.surface_hot, strict=True)
    ]


MAXIMUM_RATES = plain_previous.maximum_rates


def two_hours(case):
    """Change over two hours."""
    surface = case.series.surface
    return [math.nan if k < 24 else surface[k] - surface[k - 24] for k in range(len(surface))]


def early_trend(case):
    """A trend believed before there is an hour of it."""
    surface = case.series.surface
    return [surface[k] - surface[max(0, k - 12)] for k in range(len(surface))]


def course_mutants():
    """Clocks, tables, classes, the coat below, the order of verdicts."""
    for name, patches in {
        "cure never pauses": {"is_paused": never_paused},
        "pause forgets the cure minimum": {"is_paused": paused_by_rows_only},
        "holes overlooked": {"first_hole": never_a_hole},
        "a step takes an older rate": {"run_clock": left_end},
        "events rounded to points": {"snap": lambda x: float(round(x)) if math.isfinite(x) else x},
        "straight lines in the table": {"between": straight_lines},
        "blank beside a number is the number": {"between": blank_takes_the_other},
        "unlimited beside a number is unlimited": {"between": unlimited_wins},
        "pot life kept above the top row": {"_above_top": top_kept},
        "minimum halved above the top row": {"_above_top": top_halved},
        "one row kept": {"_one_row": row_kept},
        "one row halves a minimum": {"_one_row": row_halved},
        "wait hides behind unknown": {"verdict": broken_only_if_seen},
        "unknown hides behind a close call": {"verdict": care_before_unknown},
        "first patch only": {"patches": one_patch(0)},
        "last patch only": {"patches": one_patch(1)},
        "hottest moment": {"hottest_hour": hottest_moment},
        "bond likely is enough": {"young_enough": judged_by(HOLDS)},
        "bond must be sure": {"young_enough": judged_by(BROKEN)},
        "maximum pauses in the cold": {"maximum_rates": maximum_pauses},
        "maximum forgotten": {"young_enough": lambda case, painted, reached: HOLDS},
        "minimum forgotten": {"old_enough": lambda case, painted, reached: HOLDS},
        "trend over two hours": {"hourly_change": two_hours},
        "trend without an hour": {"hourly_change": early_trend},
        "two-part gloss takes dew at tack-free": {"TWO_PART_GLOSS": []},
        "one-part gloss takes dew at tack-free": {"ONE_PART_GLOSS": []},
        "fillers hold like paint": {"FILLERS": []},
        "waterborne dries like the rest": {"WATERBORNE": []},
        "top row ends the table": {"highest_temp": lambda product: product.rows[-1]},
        "mix as cold as the shop": {"MIX_AT_LEAST_C": -40.0},
        "cure minimum is not the surface limit": {"cure_min": lambda product: product.cure_min},
        "induction left out": {"induction_steps": lambda case, k: 0.0},
    }.items():
        yield Mutant(name, patches=patches)
