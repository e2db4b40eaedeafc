"""Soft rules: they warn without blocking. The hard ones are in `rules`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from advisor.base.units import Units, format_difference, format_humidity, format_temperature
from advisor.coatings import product as products
from advisor.planning.timeline import Phase
from advisor.planning.verdict import Judged
from advisor.planning.words import Words

#: Amine blush on epoxy: under this surface with more humidity than that (common practice).
BLUSH_UNDER_C = 18.0
BLUSH_OVER_PCT = 65.0
#: Evaporation chills a sprayed film, or one with fast thinner, by about 2 K (common practice).
THIN_MARGIN_K = 5.0
#: Gloss may dull above this until it can take dew (common practice).
DULL_OVER_PCT = 85.0


@dataclass(frozen=True, eq=False)
class Look:
    """One start and how the work is done."""

    judged: Judged
    j: int
    method: str | None
    burner: bool
    fast_thinner: bool
    words: Words | None

    @property
    def product_class(self) -> str:
        """Class of the product."""
        return self.judged.case.product.product_class

    def inside(self, phase: Phase) -> slice:
        """Grid points surely inside a phase of this start."""
        span = self.judged.timeline.spans[phase]
        return slice(int(span.low[self.j]), int(span.high[self.j]) + 1)

    def when(self, index: int) -> str:
        """Moment of a grid point, empty without a reader's clock."""
        if self.words is None:
            return ""
        return f" at {self.words.moment(self.judged.series.time_at(index))}"

    @property
    def units(self) -> Units:
        """The reader's units."""
        return self.words.units if self.words else "metric"


SoftRule = Callable[[Look], Iterator[str]]


def warnings(
    judged: Judged,
    j: int,
    method: str | None,
    burner: bool = False,
    *,
    fast_thinner: bool = False,
    words: Words | None = None,
) -> tuple[str, ...]:
    """Return the warnings for the j-th start as sentences, none of which blocks it.

    `burner` is an unvented flame in the shop; `words` adds moments and the reader's units.
    """
    look = Look(judged, j, method, burner, fast_thinner, words)
    return tuple(text for rule in SOFT for text in rule(look))


def blush(look: Look) -> Iterator[str]:
    """Epoxy blushes when cool and damp, or in the fumes of a burner."""
    if look.product_class not in products.EPOXIES:
        return
    wash = "wash with water first, then sand"
    part = look.inside(Phase.TO_TACK_FREE)
    surface, rh = look.judged.series.surface_temp_c[part], look.judged.series.rh_pct[part]
    with np.errstate(invalid="ignore"):
        found = np.flatnonzero((surface < BLUSH_UNDER_C) & (rh > BLUSH_OVER_PCT))
    if len(found):
        k = int(found[0])
        units = look.units
        yield (
            f"blush likely: surface {format_temperature(float(surface[k]), units)} with "
            f"{format_humidity(float(rh[k]))} humidity{look.when(part.start + k)} "
            f"(common practice: under {format_temperature(BLUSH_UNDER_C, units)} over "
            f"{format_humidity(BLUSH_OVER_PCT)}); {wash}"
        )
    elif look.burner:
        yield f"blush likely: an unvented burner feeds it; {wash}"


def thin_margin(look: Look) -> Iterator[str]:
    """Spray and fast thinner chill the film below the surface."""
    spray = look.method == "spray"
    if not (spray or look.fast_thinner):
        return
    part = look.inside(Phase.APPLICATION)
    margin = look.judged.series.margin_k[part]
    if np.isnan(margin).all():
        return
    k = int(np.nanargmin(margin))
    if float(margin[k]) < THIN_MARGIN_K:
        units = look.units
        how = "spraying" if spray else "fast thinner"
        yield (
            f"{how} chills the film: only {format_difference(float(margin[k]), units)} above dew "
            f"point{look.when(part.start + k)}, under {format_difference(THIN_MARGIN_K, units)} "
            "(common practice)"
        )


def dull(look: Look) -> Iterator[str]:
    """Two-part gloss in very damp air before it can take dew."""
    if look.product_class not in products.TWO_PART_GLOSS:
        return
    part = look.inside(Phase.TO_DEW_SAFE)
    rh = look.judged.series.rh_pct[part]
    with np.errstate(invalid="ignore"):
        found = np.flatnonzero(rh > DULL_OVER_PCT)
    if len(found):
        k = int(found[0])
        yield (
            f"the gloss may dull: {format_humidity(float(rh[k]))} humidity"
            f"{look.when(part.start + k)}, over {format_humidity(DULL_OVER_PCT)} before it can "
            "take dew (common practice)"
        )


#: In the order of telling.
SOFT: tuple[SoftRule, ...] = (blush, thin_margin, dull)
