"""A batch as it is offered and typed, what looks wrong in it, and the entry it becomes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from advisor.base.errors import InputError, RangeError
from advisor.climate.readings import Origin
from advisor.coatings.product import Product
from advisor.planning.case import ROOM_C, column_table
from advisor.planning.job import Coat
from advisor.record.as_entered import digits_of
from advisor.record.canonical import Json
from advisor.record.entry import quantity
from advisor.record.expiry import last_day
from advisor.record.in_force import number_text, whose_figures
from advisor.record.ratio import RATIO_OFF, THINNER, UNITS, off
from advisor.work.live_views import BatchForm, PartMixed

if TYPE_CHECKING:
    from advisor.coatings.batch import BatchPlan

#: How a use-by date is written, in the words of the form and of its warnings.
DATES = "accepted: a month such as 2027-03 or a day such as 2027-03-31"
_COLDEST_C, _WARMEST_C = -40.0, 60.0


def offered(product: Product, coat: Coat, plan: BatchPlan | None, mix_temp_c: str) -> BatchForm:
    """Return the form of the next batch with the amounts of its plan; `product` by its method."""
    amounts = [("", _unit(product))] * len(product.mix.ratio)
    if plan is not None and plan.batches and plan.batches[0].parts:
        amounts = [(f"{part.amount:.3g}", part.unit) for part in plan.batches[0].parts]
    parts = [
        PartMixed(name, amount=amount, unit=unit)
        for name, (amount, unit) in zip(_part_names(product), amounts, strict=True)
    ]
    if product.mix.thinner_max_pct > 0:
        parts.append(PartMixed(THINNER))
    return BatchForm(
        coat.id,
        product.name,
        tuple(parts),
        ratio_words(product),
        product.mix.ratio_by,
        mix_temp_c=mix_temp_c,
    )


def ratio_words(product: Product) -> str:
    """Return the ratio of the data sheet in words, such as "2 : 1 by volume"."""
    if len(product.mix.ratio) == 1:
        return "one can"
    return f"{' : '.join(f'{part:g}' for part in product.mix.ratio)} by {product.mix.ratio_by}"


def _part_names(product: Product) -> tuple[str, ...]:
    count = len(product.mix.ratio)
    if count <= 2:
        return ("paint",) if count == 1 else ("base", "hardener")
    return ("base", "hardener", *(f"part {n}" for n in range(3, count + 1)))


def _unit(product: Product) -> str:
    return "kg" if product.mix.ratio_by == "mass" else "L"


# --- what looks wrong ----------------------------------------------------------------------


def warned(form: BatchForm, product: Product, today: date) -> BatchForm:
    """Return the form with what looks wrong in it; `product` by its method, `today` the shop's."""
    found = [
        *_mixed_up(form),
        *_ratio_off(form, product),
        *_expired(form, today),
        *_thinner_over(form, product),
        *_too_much(form, product),
        *_too_cold(form, product),
    ]
    return replace(form, warnings=tuple(found))


def _components(form: BatchForm) -> list[PartMixed]:
    return [part for part in form.parts if part.part != THINNER]


def _mixed_up(form: BatchForm) -> list[str]:
    """Volume and mass exchanged: 2 : 1 by volume is not 2 : 1 on the scale."""
    if len(_components(form)) < 2:
        return []
    wrong = [part for part in _components(form)
             if part.amount and UNITS.get(part.unit, ("", 0.0))[0] != form.ratio_by]  # fmt: skip
    if not wrong:
        return []
    names = " and ".join(f"{part.part} in {part.unit}" for part in wrong)
    return [f"The ratio is by {form.ratio_by}, but {names}: measure by {form.ratio_by}"]


def mixed_amounts(form: BatchForm) -> list[float] | None:
    """Return components in L or kg, None where one is missing or they measure two things."""
    amounts, kinds = [], set()
    for part in _components(form):
        number, (kind, size) = _number(part.amount), UNITS.get(part.unit, ("", 0.0))
        if number is None or number <= 0 or not size:
            return None
        amounts.append(number * size)
        kinds.add(kind)
    return amounts if len(kinds) == 1 else None


def _ratio_off(form: BatchForm, product: Product) -> list[str]:
    amounts, ratio = mixed_amounts(form), product.mix.ratio
    if amounts is None or len(amounts) != len(ratio) or len(ratio) == 1:
        return []
    worst, share = off(ratio, amounts)
    if abs(share) <= RATIO_OFF:
        return []
    much = "too much" if share > 0 else "too little"
    name = _components(form)[worst].part
    return [f"Ratio {mixed_words(form)}, asked {form.ratio_asked}: "
            f"{abs(share):.0%} {much} {name}"]  # fmt: skip


def mixed_words(form: BatchForm) -> str:
    """Return the ratio as it was mixed, the least part as 1; empty where not known."""
    amounts = mixed_amounts(form)
    if amounts is None or len(amounts) < 2:
        return ""
    least = min(amounts)
    return " : ".join(f"{amount / least:.3g}" for amount in amounts)


def _expired(form: BatchForm, today: date) -> list[str]:
    found = []
    for part in form.parts:
        if not part.expiry:
            continue
        day = last_day(part.expiry)
        if day is None:
            found.append(f"{part.part}: use by {part.expiry!r} is no date; {DATES}")
        elif day < today:
            found.append(f"{part.part}: expired on {day.isoformat()}: ask the maker before use")
    return found


def _thinner_over(form: BatchForm, product: Product) -> list[str]:
    number, most = _number(form.thinner_pct), product.mix.thinner_max_pct
    if number is None or number <= most:
        return []
    return [f"Thinner {number:g} %: the limit is {most:g} % ({whose_figures(product)}); "
            "thinner never makes the pot life longer"]  # fmt: skip


def _too_much(form: BatchForm, product: Product) -> list[str]:
    amounts, most = mixed_amounts(form), product.hazards.exotherm_over_kg
    if amounts is None or most is None:
        return []
    unit = UNITS[_components(form)[0].unit][0]
    density = 1.0 if unit == "mass" else product.mix.density_kg_per_l
    if density is None or sum(amounts) * density <= most:
        return []
    return [f"Over {most:g} kg in one pot: it heats itself up; mix less, spread it out"]


def _too_cold(form: BatchForm, product: Product) -> list[str]:
    temp, rows = _number(form.mix_temp_c), product.times.temp_c
    if temp is None or len(rows) == 1 or temp >= rows[0]:
        return []
    return [f"Mix at {temp:g} °C: the table begins at {rows[0]:g} °C; warm the parts first"]


# --- the entry -----------------------------------------------------------------------------


def batch_data(form: BatchForm, product: Product) -> dict[str, Json]:
    """Return the data of the batch entry; RangeError for a number that is none."""
    data: dict[str, Json] = {
        "product": form.product_name,
        "parts": _rows(form.parts),
        "ratio_asked": form.ratio_asked,
        "ratio_by": form.ratio_by,
    }
    texts = {"colour": form.colour, "ratio_mixed": mixed_words(form), "strained": form.strained}
    data |= {key: text for key, text in texts.items() if text}
    if form.thinner_pct:
        data["thinner"] = _typed("thinner", form.thinner_pct, "%", (0.0, 100.0))
    if form.mix_temp_c:
        span = (_COLDEST_C, _WARMEST_C)
        temp = _typed("mix temperature", form.mix_temp_c, "°C", span)
        entered = {"entered": form.mix_temp_entered} if form.mix_temp_entered else {}
        data["mix_temp"] = temp | entered
    return data | _sheet_times(form, product)


def _rows(parts: Sequence[PartMixed]) -> list[Json]:
    rows: list[Json] = []
    for part in parts:
        amount = _checked(part.part, part.amount, (0.0, 1e6)) if part.amount else ""
        if part.expiry and last_day(part.expiry) is None:
            raise InputError(f"{part.part}, use by: found {part.expiry!r}; {DATES}")
        row = {"part": part.part, "batch": part.batch, "expiry": part.expiry,
               "value": amount, "unit": part.unit if amount else ""}  # fmt: skip
        if any((part.batch, part.expiry, part.amount)):
            rows.append({key: text for key, text in row.items() if text})
    return rows


def _sheet_times(form: BatchForm, product: Product) -> dict[str, Json]:
    """What the data sheet gives at the mix temperature, or at 20 °C where none was entered."""
    temp = _number(form.mix_temp_c)
    found: dict[str, Json] = {}
    for key, column in (("induction", "induction_h"), ("pot_life", "pot_life_h")):
        table = column_table(product, column)
        hours = math.nan if table is None else table.at_one(ROOM_C if temp is None else temp)
        if math.isfinite(hours):
            found[key] = quantity(number_text(hours, 4), "h", whose_figures(product))
    return found


def _typed(name: str, text: str, unit: str, span: tuple[float, float]) -> dict[str, Json]:
    return quantity(_checked(name, text, span), unit, Origin.TYPED)


def _checked(name: str, text: str, span: tuple[float, float]) -> str:
    digits = digits_of(text, name)
    if not span[0] <= float(digits) <= span[1]:
        raise RangeError(name, text, f"{span[0]:g} to {span[1]:g}")
    return digits


def _number(text: str) -> float | None:
    try:
        return float(digits_of(text, ""))
    except RangeError:
        return None
