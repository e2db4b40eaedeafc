"""The limits in force for a coat, as an entry keeps them: numbers as text, and whose they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.coatings.product import Limits, Product
from advisor.planning.job import Area
from advisor.planning.rules import ASSUMED, DEAD_BAND_K, NO_RAIN_MM, PRACTICE, SHEET
from advisor.record.canonical import Json
from advisor.record.entry import Data
from advisor.record.review_types import LimitInForce

#: Whose the limits of a template are.
TYPICAL = "typical values"
#: Label of the lower limit that holds on until the film is tack-free.
CURE = "Surface until it is tack-free"
#: Labels of what is asked before the first patch.
MOISTURE, TINS = "Timber moisture", "Tins above dew point"
BARE_STEEL, SANDED_FOR = "Time since the steel was bare", "Time since sanding"
#: Whose a trend is that the job asks for, not the data sheet.
JOB = "the job"


def limits_of(
    product: Product, method: str, area: Area, wind_m_s: float | None = None
) -> tuple[LimitInForce, ...]:
    """Return every limit that a coat is held against, by the way it goes on and where."""
    applied = product.by_method(method)
    whose = whose_figures(product)
    found = [*_spans(applied.limits, whose), *_cure(applied.limits, whose)]
    found += [*_margins(applied.limits, whose), *_trend(applied.limits, area, whose)]
    found += _asked_before(applied, area, whose)
    if area.outdoors:
        found.append(LimitInForce("rain", "Rain", None, NO_RAIN_MM, "mm", PRACTICE))
        if wind_m_s is not None:
            found.append(LimitInForce("wind", "Wind", None, wind_m_s, "m/s", PRACTICE))
    return tuple(found)


def whose_figures(product: Product) -> str:
    """Return whose a product's figures are: its data sheet's, or typical of its class."""
    return TYPICAL if product.is_template else SHEET


def _spans(limits: Limits, whose: str) -> list[LimitInForce]:
    spans = (
        ("air_temp", "Air", limits.air_temp_c, "°C"),
        ("surface_temp", "Surface", limits.surface_temp_c, "°C"),
        ("humidity", "Humidity", limits.rh_pct, "%"),
    )
    return [
        LimitInForce(rule, label, span[0], span[1], unit, whose)
        for rule, label, span, unit in spans
        if span is not None
    ]


def _cure(limits: Limits, whose: str) -> list[LimitInForce]:
    """Return the data sheet's own limit of cure; without one the surface limit stands for it."""
    if limits.cure_min_c is None:
        return []
    return [LimitInForce("surface_temp", CURE, limits.cure_min_c, None, "°C", whose)]


def _margins(limits: Limits, whose: str) -> list[LimitInForce]:
    first = whose if limits.margin_given else PRACTICE
    then = whose if limits.hold_given else ASSUMED
    return [
        LimitInForce("margin", "Above dew point", limits.margin_k, None, "K", first),
        LimitInForce("hold_margin", "Above dew point until it can take dew",
                     limits.hold_margin_k, None, "K", then),
    ]  # fmt: skip


def _trend(limits: Limits, area: Area, whose: str) -> list[LimitInForce]:
    """Return which way the surface may not go, over an hour and with a dead band."""
    asked = limits.surface_trend or area.trend
    if asked is None:
        return []
    low, high = (-DEAD_BAND_K, None) if asked == "rising" else (None, DEAD_BAND_K)
    source = whose if limits.surface_trend else JOB
    return [LimitInForce("trend", "Surface change in an hour", low, high, "K", source)]


def _asked_before(product: Product, area: Area, whose: str) -> list[LimitInForce]:
    """Return what the data sheet asks of surface and tins before the first patch."""
    asked, timber, steel = product.prepare, area.substrate == "timber", area.substrate == "steel"
    rows = (
        (MOISTURE, None, asked.timber_moisture_max_pct if timber else None, "%"),
        (BARE_STEEL, None, asked.bare_steel_within_h if steel else None, "h"),
        (SANDED_FOR, None, asked.sanded_within_h, "h"),
        (TINS, asked.tins_above_dew_point_k, None, "K"),
    )
    return [
        LimitInForce("prepared", label, low, high, unit, whose)
        for label, low, high, unit in rows
        if low is not None or high is not None
    ]


def as_known(limits: Sequence[LimitInForce]) -> list[dict[str, Json]]:
    """Return limits in the form of an entry's `known`."""
    return [
        {
            "rule": limit.rule,
            "label": limit.label,
            "low": number_text(limit.low),
            "high": number_text(limit.high),
            "unit": limit.unit,
            "whose": limit.whose,
        }
        for limit in limits
    ]


def from_known(known: Data) -> tuple[LimitInForce, ...]:
    """Return the limits an entry was kept with; none where it has none."""
    rows = known.get("limits", ())
    if not isinstance(rows, Sequence) or isinstance(rows, str):
        return ()
    return tuple(
        LimitInForce(
            str(row.get("rule", "")),
            str(row.get("label", "")),
            _number(row.get("low")),
            _number(row.get("high")),
            str(row.get("unit", "")),
            str(row.get("whose", "")),
        )
        for row in rows
        if isinstance(row, Mapping)
    )


def number_text(value: float | None, decimals: int = 6) -> str:
    """Return a number as text without an exponent or idle zeros; empty for None."""
    if value is None:
        return ""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _number(value: Json) -> float | None:
    return float(value) if isinstance(value, str) and value else None
