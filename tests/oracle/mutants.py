"""Wrong rules on purpose: each must be noticed on the starts of the oracle test.

A mutant changes the plain rules (never the program): a rule on other points, a limit a little
off, a comparison turned, a clock that runs differently. `patches` are functions or numbers put
in place of those in the plain files; `rules` stand in for single rules;
`change` alters the case itself.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import pytest

from tests.oracle import plain_course, plain_previous, plain_rules, plain_table
from tests.oracle.cases import fresh
from tests.oracle.plain_rules import RULES
from tests.oracle.plain_types import BROKEN, CAUTION, EXACT, HOLDS, UNKNOWN, Span


@dataclass
class Mutant:
    """One way to be wrong."""

    name: str
    patches: dict = field(default_factory=dict)
    rules: dict = field(default_factory=dict)
    change: Callable = lambda case: case


# --- a rule on other points --------------------------------------------------------------

#: Which points each rule looks at.
SPANS = {
    "air_temp": ["apply"],
    "table": ["apply"],
    "pot_life": ["apply"],
    "surface_temp": ["apply", "tack"],
    "humidity": ["apply", "tack"],
    "margin": ["tack"],
    "hold_margin": ["hold"],
    "trend": ["apply"],
    "hours": ["apply"],
    "wind": ["tack"],
    "rain": ["dew"],
    "chance": ["dew"],
}
INSTEAD = {"apply": ["tack"], "tack": ["apply", "dew"], "dew": ["tack"], "hold": ["tack", "dew"]}


def on_span(name, **spans):
    """The rule with its spans made anew by functions of the case, the start and the times."""
    rule = RULES[name]

    def mutated(case, start, times):
        made = {key: make(case, start, times) for key, make in spans.items()}
        return rule(case, start, replace(times, **made))

    return mutated


def moved(which, first, last):
    """A span with its ends moved by whole points, kept inside the series."""

    def make(case, start, times):
        span = getattr(times, which)
        end = min(len(case.series.air) - 1, span.last + last)
        return Span(span.first + first, end, span.complete)

    return make


def other(which):
    """Another span of the same start."""
    return lambda case, start, times: getattr(times, which)


def span_mutants():
    """Every rule with each of its spans moved or mistaken for another."""
    for name, spans in SPANS.items():
        for which in spans:
            for label, first, last in (
                ("starts one point late", 1, 0),
                ("ends one point early", 0, -1),
                ("ends one point late", 0, 1),
            ):
                wrong = on_span(name, **{which: moved(which, first, last)})
                yield Mutant(f"{name} ({which}) {label}", rules={name: wrong})
            for instead in INSTEAD[which]:
                wrong = on_span(name, **{which: other(instead)})
                yield Mutant(f"{name} tested over {instead}, not {which}", rules={name: wrong})


def incomplete_holds(name):
    """The rule taking an interval it cannot see the end of for a whole one."""

    def whole(which):
        def make(case, start, times):
            span = getattr(times, which)
            return Span(span.first, span.last, True)

        return make

    return on_span(name, **{which: whole(which) for which in ("apply", "tack", "hold", "dew")})


def unseen_mutants():
    """All rules that end at the same event, taking it as known."""
    for names in (["air_temp", "table", "pot_life", "surface_temp", "humidity", "margin",
                   "hold_margin", "trend", "hours", "wind", "rain", "chance"],
                  ["hold_margin", "rain", "chance"]):  # fmt: skip
        rules = {name: incomplete_holds(name) for name in names}
        yield Mutant("unknown ends taken as known: " + ", ".join(names), rules=rules)


# --- comparisons -------------------------------------------------------------------------


def with_globals(name, **values):
    """The rule with other numbers or helpers in force while it runs."""
    rule = RULES[name]

    def mutated(case, start, times):
        with pytest.MonkeyPatch.context() as patch:
            for key, value in values.items():
                put_everywhere(patch, key, value)
            return rule(case, start, times)

    return mutated


def comparison_mutants():
    """On the limit counts as broken; at most for at least; rules left out."""
    strict = ["air_temp", "table", "pot_life", "surface_temp", "humidity", "margin",
              "hold_margin", "trend", "wind", "rain", "previous_coat"]  # fmt: skip
    for name in strict:
        # pot life must stay under one, so there the mutant is the one that allows it
        yield Mutant(f"{name}: on the limit decides otherwise",
                     rules={name: with_globals(name, EXACT=-EXACT)})  # fmt: skip
    turned = {"at_least": plain_rules.at_most, "at_most": plain_rules.at_least}
    for name in ("air_temp", "surface_temp", "humidity", "margin", "hold_margin", "trend",
                 "wind", "rain"):  # fmt: skip
        yield Mutant(f"{name}: comparison turned", rules={name: with_globals(name, **turned)})
    for name in RULES:
        yield Mutant(f"{name} left out", rules={name: lambda case, start, times: HOLDS})


# --- limits a little off -----------------------------------------------------------------


def product_change(**makers):
    """Change fields of the product; a field that is None stays None."""

    def change(case):
        product = case.product
        new = {
            key: make(getattr(product, key))
            for key, make in makers.items()
            if getattr(product, key) is not None
        }
        return fresh(case, product=replace(product, **new))

    return change


def low(by):
    """Move the lower limit."""
    return lambda span: (span[0] + by, span[1])


def high(by):
    """Move the upper limit."""
    return lambda span: (span[0], span[1] + by)


def plus(by):
    """Move a number."""
    return lambda value: value + by


def moved_hours(cells, by_h):
    """Hours a little longer or shorter, never under 0; blanks stay blank."""
    return [h if math.isnan(h) else max(0.0, h + by_h) for h in cells]


def column(name, by_h):
    """Move the hours of one column."""

    def make(columns):
        if name not in columns:
            return columns
        return {**columns, name: moved_hours(columns[name], by_h)}

    return make


def case_change(field_name, make):
    """Change a field of the case; None stays None."""

    def change(case):
        value = getattr(case, field_name)
        return case if value is None else fresh(case, **{field_name: make(value)})

    return change


def over_change(field_name, by_h):
    """Move the overcoating hours of the coat below."""

    def change(case):
        previous = case.previous
        if previous is None or previous.over is None:
            return case
        cells = getattr(previous.over, field_name)
        if cells is None:
            return case
        over = replace(previous.over, **{field_name: moved_hours(cells, by_h)})
        return fresh(case, previous=replace(previous, over=over))

    return change


def previous_change(**makers):
    """Change fields of the coat below."""

    def change(case):
        if case.previous is None:
            return case
        new = {key: make(getattr(case.previous, key)) for key, make in makers.items()}
        return fresh(case, previous=replace(case.previous, **new))

    return change


def later(mask):
    """Working hours one point late."""
    return [mask[0], *mask[:-1]]


def limit_mutants():
    """Each limit moved both ways by as little as the readings can tell."""
    table = []
    for by in (0.5, -0.5):
        table += [
            (f"air low {by:+}", product_change(air=low(by))),
            (f"air high {by:+}", product_change(air=high(by))),
            (f"surface low {by:+}", product_change(surface=low(by))),
            (f"surface high {by:+}", product_change(surface=high(by))),
            (f"cure minimum {by:+}", product_change(cure_min=plus(by))),
            (f"RH floor {by:+}", product_change(rh=low(by))),
            (f"RH ceiling {by:+}", product_change(rh=high(by))),
            (f"wind limit {by:+}", case_change("wind_limit", plus(by))),
            (f"mix {by:+}", case_change("mix_c", plus(by))),
            (f"rows {by:+}", product_change(rows=lambda rows, by=by: [r + by for r in rows])),
        ]
    for by in (0.1, -0.1):
        table += [
            (f"margin {by:+}", product_change(margin_k=plus(by))),
            (f"hold margin {by:+}", product_change(hold_margin_k=plus(by))),
        ]
    for by in (1.0 / 12.0, -1.0 / 12.0):
        table += [
            (f"application {by:+.2f} h", case_change("apply_h", plus(by))),
            (f"minimum {by:+.2f} h", over_change("min_h", by)),
            (f"maximum {by:+.2f} h", over_change("max_h", by)),
            (f"painted {by:+.2f} h", previous_change(first=plus(by * 12), last=plus(by * 12))),
        ]
        for name in ("induction_h", "pot_life_h", "tack_free_h", "sandable_h", "tape_dry_h",
                     "dew_safe_h"):  # fmt: skip
            table.append((f"{name} {by:+.2f} h", product_change(columns=column(name, by))))
    table.append(("hours one point late", case_change("hours", later)))
    table.append(("other order", previous_change(
        order=lambda order: "reverse" if order == "same" else "same")))  # fmt: skip
    for name, change in table:
        yield Mutant(name, change=change)
    for name, values in {
        "MIX_AT_LEAST_C": (19.5, 20.5),
        "DRY_RAIN_MM": (0.04, 0.1),
        "STEADY_K_PER_H": (0.4, 0.6),
        "SURE_99": (2.25, 2.4),
        "SUSTAINED_POINTS": (12, 14),
    }.items():
        for value in values:
            yield Mutant(f"{name} = {value}", patches={name: value})


# --- clocks, tables, the coat below ------------------------------------------------------


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


def all_mutants():
    """Every mutant once."""
    return [
        *span_mutants(),
        *unseen_mutants(),
        *comparison_mutants(),
        *limit_mutants(),
        *course_mutants(),
    ]


def put_everywhere(monkeypatch, name, value):
    """Set a function or number in every plain file that uses it by that name."""
    for module in (plain_course, plain_previous, plain_rules, plain_table):
        if hasattr(module, name):
            monkeypatch.setattr(module, name, value)


def put_in_place(mutant, monkeypatch):
    """Set the mutant's functions, numbers and rules in the plain files until the test ends."""
    for name, value in mutant.patches.items():
        put_everywhere(monkeypatch, name, value)
    for name, rule in mutant.rules.items():
        monkeypatch.setitem(RULES, name, rule)
