"""Rules made wrong one by one: on other points, compared otherwise, limits a little off."""

import math
from dataclasses import replace

import pytest

from tests.oracle import plain_rules
from tests.oracle.cases import fresh
from tests.oracle.mutant import Mutant, put_everywhere
from tests.oracle.plain_rules import RULES
from tests.oracle.plain_types import EXACT, HOLDS, Span

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
    "sun": ["apply"],
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
                   "hold_margin", "trend", "hours", "wind", "rain", "sun", "chance"],
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
              "hold_margin", "trend", "wind", "rain", "sun", "previous_coat"]  # fmt: skip
    for name in strict:
        # pot life must stay under one, so there the mutant is the one that allows it
        yield Mutant(f"{name}: on the limit decides otherwise",
                     rules={name: with_globals(name, EXACT=-EXACT)})  # fmt: skip
    turned = {"at_least": plain_rules.at_most, "at_most": plain_rules.at_least}
    for name in ("air_temp", "surface_temp", "humidity", "margin", "hold_margin", "trend",
                 "wind", "rain", "sun"):  # fmt: skip
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


def sun_asked(asked):
    """The site's wish about the sun misheard."""
    return lambda case: fresh(case, keep_out_of_sun=asked)


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
    for asked in (None, True, False):
        table.append((f"keep out of sun taken as {asked}", sun_asked(asked)))
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


def mutants():
    """Every mutant of a single rule or limit."""
    return [*span_mutants(), *unseen_mutants(), *comparison_mutants(), *limit_mutants()]
