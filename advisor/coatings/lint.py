"""Looks a product file over: contradictions, blanks to ask the maker about, limits off the table.

Reading a file already refuses what cannot be used; these findings are about what can be read and
still be wrong or missing. Severities: "error" contradicts itself, "warning" needs a look, "ask"
is a blank to ring the maker about, "note" tells.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from advisor.coatings.product import (
    CLASSES,
    FILLERS,
    TWO_PART_GLOSS,
    Limits,
    NextCoat,
    Product,
    Span,
)
from advisor.coatings.schema import nearest

Severity = Literal["error", "warning", "ask", "note"]
Row = tuple[float, ...]

ASK = "ask the maker"
ONE_PART = frozenset({"one-part-polyurethane", "alkyd", "antifouling"})
ISOCYANATES = TWO_PART_GLOSS
#: Pairs of columns where the first can never come after the second.
_ORDER: tuple[tuple[str, str, Severity], ...] = (
    ("induction_h", "pot_life_h", "error"),
    ("tack_free_h", "dew_safe_h", "error"),
    ("tack_free_h", "tape_dry_h", "error"),
    ("tack_free_h", "handle_h", "error"),
    ("tack_free_h", "full_cure_h", "error"),
    ("tape_dry_h", "full_cure_h", "error"),
    ("sandable_h", "full_cure_h", "error"),
    ("tack_free_h", "sandable_h", "warning"),
)


@dataclass(frozen=True)
class Finding:
    """One remark on a product file: the key it is about, a sentence, how bad."""

    key: str
    message: str
    severity: Severity


def lint(product: Product) -> list[Finding]:
    """Return all findings on a product, errors first, else in the order of the file."""
    found = [
        *_template(product),
        *_margins(product.limits, "limits"),
        *_two_parts(product),
        *_rows(product),
        *_off_table(product),
        *_columns(product, "times", product.times.columns),
        *_gloss(product),
        *_next_coats(product),
        *_methods(product),
        *_blanks(product),
    ]
    rank: Mapping[str, int] = {"error": 0, "warning": 1, "ask": 2, "note": 3}
    return sorted(dict.fromkeys(found), key=lambda each: rank[each.severity])


def _template(product: Product) -> Iterator[Finding]:
    if product.is_template:
        yield Finding("status", "typical values: enter your data sheet's", "note")


def _margins(limits: Limits, where: str) -> Iterator[Finding]:
    if limits.hold_margin_k > limits.margin_k:
        whose = "" if limits.hold_given else " (the default)"
        message = (
            f"{limits.hold_margin_k:g} K{whose} is over margin_k {limits.margin_k:g} K: "
            "the hold may not ask for more than the start"
        )
        yield Finding(f"{where}.hold_margin_k", message, "error")
    if limits.cure_min_c is not None and limits.surface_temp_c is not None:
        high = limits.surface_temp_c[1]
        if limits.cure_min_c > high:
            message = f"{limits.cure_min_c:g} °C is over the surface limit of {high:g} °C"
            yield Finding(f"{where}.cure_min_c", message, "error")


def _two_parts(product: Product) -> Iterator[Finding]:
    one_can = len(product.mix.ratio) == 1
    if one_can and product.has("pot_life_h") and product.product_class not in ONE_PART:
        yield Finding("mix.ratio", f"no ratio, but there is a pot life: {ASK}", "ask")
    if not one_can and product.product_class in ONE_PART:
        yield Finding("mix.ratio", "a ratio in a one-part class: check the class", "warning")
    if product.product_class in ISOCYANATES and not product.hazards.isocyanate:
        message = "this class usually has an isocyanate hardener: check the hazard sheet"
        yield Finding("hazards.isocyanate", message, "warning")


def _rows(product: Product) -> Iterator[Finding]:
    rows = product.times.temp_c
    if len(rows) == 1:
        message = (
            f"only one row ({rows[0]:g} °C): colder doubles and warmer halves per 10 K, "
            "an assumption; ask the maker for more rows"
        )
        yield Finding("times.temp_c", message, "note")


def _off_table(product: Product) -> Iterator[Finding]:
    """Surface limits that reach past the table; one row is meant to be stretched."""
    span, rows = product.limits.surface_temp_c, product.times.temp_c
    if span is None or len(rows) == 1:
        return
    if span[0] < rows[0]:
        message = f"{span[0]:g} °C is below the lowest row ({rows[0]:g} °C): there it says wait"
        yield Finding("limits.surface_temp_c", message, "warning")
    if span[1] > rows[-1]:
        message = (
            f"{span[1]:g} °C is above the top row ({rows[-1]:g} °C): there minimum times keep "
            "the top row and pot life and maximum halve per 10 K, an assumption"
        )
        yield Finding("limits.surface_temp_c", message, "warning")


def _columns(product: Product, where: str, own: Mapping[str, Row]) -> Iterator[Finding]:
    """Judge the columns `own` by themselves and against the product's others."""
    known = product.times.columns
    for name, row in own.items():
        yield from _falls(row, f"{where}.{name}", product.times.temp_c)
    for early, late, severity in _ORDER:
        if early in known and late in known and {early, late} & own.keys():
            yield from _in_order(product, early, late, Finding(f"{where}.{late}", "", severity))


def _falls(row: Row, key: str, temp_c: Row) -> Iterator[Finding]:
    """Times never rise with temperature; blanks between are passed over."""
    given = [(t, hours) for t, hours in zip(temp_c, row, strict=False) if not math.isnan(hours)]
    for (colder, longer), (warmer, shorter) in pairwise(given):
        if shorter > longer:
            message = (
                f"rises from {longer:g} h at {colder:g} °C to {shorter:g} h at {warmer:g} °C: "
                "times fall with temperature"
            )
            yield Finding(key, message, "error")


def _in_order(product: Product, early: str, late: str, base: Finding) -> Iterator[Finding]:
    known = product.times.columns
    for t, first, second in zip(product.times.temp_c, known[early], known[late], strict=False):
        if first > second:  # false where either is blank
            message = f"{second:g} h at {t:g} °C is before {early} ({first:g} h)"
            yield replace(base, message=message)


def _gloss(product: Product) -> Iterator[Finding]:
    if product.product_class not in TWO_PART_GLOSS:
        return
    if not product.has("tape_dry_h") and not product.has("dew_safe_h"):
        message = (
            "a two-part gloss with neither tape_dry_h nor dew_safe_h: when the film can take "
            f"dew can't be told; {ASK}"
        )
        yield Finding("times.tape_dry_h", message, "warning")


def _next_coats(product: Product) -> Iterator[Finding]:
    if not any(row.over == "same" for row in product.next_coats):
        message = f'no row for a further coat of the same (over = "same"): {ASK}'
        yield Finding("next", message, "ask")
    for index, row in enumerate(product.next_coats):
        yield from _one_next(product, row, f"next[{index}]")


def _one_next(product: Product, row: NextCoat, where: str) -> Iterator[Finding]:
    if row.over not in CLASSES and row.over not in {"same", "water"}:
        yield from _maybe_misspelt(row.over, f"{where}.over")
    if row.forbidden:
        if row.min_h or row.max_h:
            yield Finding(where, f'"{row.over}" is forbidden and has hours: which?', "warning")
        return
    temp_c = product.times.temp_c
    yield from _falls(row.min_h, f"{where}.min_h", temp_c)
    yield from _falls(row.max_h, f"{where}.max_h", temp_c)
    for t, low, high in zip(temp_c, row.min_h, row.max_h, strict=False):
        if high != 0 and low > high:  # a maximum of 0 means: always sand first
            message = f"{low:g} h at {t:g} °C is over max_h ({high:g} h): the window never opens"
            yield Finding(f"{where}.min_h", message, "error")
    if not row.after_max and any(math.isfinite(hours) for hours in row.max_h):
        message = f'what to do past the maximum of "{row.over}" is blank: {ASK}'
        yield Finding(f"{where}.after_max", message, "ask")


def _maybe_misspelt(over: str, key: str) -> Iterator[Finding]:
    close = nearest(over, [*CLASSES, "same", "water"])
    message = f'"{over}" is no class: taken as a product id (the nearest class is "{close}")'
    yield Finding(key, message, "note")


def _methods(product: Product) -> Iterator[Finding]:
    for name, method in product.methods.items():
        if method.limits is not None:
            yield from _margins(method.limits, f"method.{name}.limits")
        applied = product.by_method(name)
        yield from _columns(applied, f"method.{name}.times", method.times)


def _blanks(product: Product) -> Iterator[Finding]:
    limits, film = product.limits, product.film
    wanted = {
        "limits.air_temp_c": limits.air_temp_c,
        "limits.rh_pct": limits.rh_pct,
        "film.volume_solids_pct": film.volume_solids_pct,
        "film.dft_um": film.dft_um,
    }
    for key, value in wanted.items():
        if value is None:
            yield Finding(key, f"blank: {ASK}", "ask")
    for column in _expected(product):
        if not product.has(column):
            yield Finding(f"times.{column}", f"blank: {ASK}", "ask")
    yield from _blank_cells(product)


def _expected(product: Product) -> list[str]:
    """Columns the class usually has."""
    columns = ["sandable_h" if product.product_class in FILLERS else "tack_free_h"]
    if product.product_class not in ONE_PART:
        columns.append("pot_life_h")
    if product.product_class == "non-skid":
        columns.append("scatter_h")
    elif product.product_class in TWO_PART_GLOSS:
        columns.append("open_time_h")
    return columns


def _blank_cells(product: Product) -> Iterator[Finding]:
    """Blank cells in rows that the surface limits allow."""
    rows: dict[str, Row] = {f"times.{name}": row for name, row in product.times.columns.items()}
    for index, coat in enumerate(product.next_coats):
        if not coat.forbidden:
            blank = (math.nan,) * len(product.times.temp_c)
            rows[f"next[{index}].min_h"] = coat.min_h or blank
            rows[f"next[{index}].max_h"] = coat.max_h or blank
    for key, row in rows.items():
        temps = _blank_temps(row, product.times.temp_c, product.limits.surface_temp_c)
        if temps:
            listed = ", ".join(f"{t:g}" for t in temps)
            yield Finding(key, f"blank at {listed} °C: {ASK}", "ask")


def _blank_temps(row: Row, temp_c: Row, span: Span | None) -> Sequence[float]:
    low, high = span or (-math.inf, math.inf)
    pairs = zip(temp_c, row, strict=False)
    return [t for t, hours in pairs if math.isnan(hours) and low <= t <= high]
