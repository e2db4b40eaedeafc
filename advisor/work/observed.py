"""A milestone seen on a film recalibrates its product's clock for this job, and says so.

Seen later than the table says, every time of that product that is to be reached is stretched by
as much. Seen earlier, the data sheet's times stand: a minimum is never shortened below it. Pot
life, open time and maximum overcoating are not touched, so nothing that runs out is lengthened.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from advisor.coatings.clocks import minimum_clock
from advisor.coatings.product import Product, Times
from advisor.coatings.tables import RUNS_OUT
from advisor.planning.case import column_table, cure_min_c
from advisor.planning.words import duration
from advisor.record import chain
from advisor.record.effective import counting
from advisor.record.entry import Entry, number_of
from advisor.work.live_rounds import GAP_S, STEP_S, surface_course

if TYPE_CHECKING:
    from advisor.planning.job import Coat
    from advisor.work.at_work import Rows
    from advisor.work.kept import Kept

#: The column of a product's times that an observation speaks of.
COLUMNS = MappingProxyType(
    {
        "tack-free": "tack_free_h",
        "tape-dry": "tape_dry_h",
        "sandable": "sandable_h",
        "hard": "handle_h",
    }
)
#: A film is not believed to be slower than this: whoever looks late sees it late (assumption).
SLOWEST = 2.0
#: Columns of a data sheet that begin with the mixing, not with the film.
_OF_THE_MIX = frozenset({"induction_h"})


@dataclass(frozen=True)
class Calibration:
    """How much slower a product's films are here than its data sheet says, at least 1.

    `share` is what was seen: 1.4 when the film took 1.4 times the table's time.
    """

    product_id: str
    what: str
    share: float
    entry: Entry

    @property
    def factor(self) -> float:
        """By how much times to be reached are stretched."""
        return min(SLOWEST, max(1.0, self.share))

    def note(self, name: str) -> str:
        """Say what was seen and what it changes."""
        seen = f"{self.what} was seen after {self.share:.0%} of the data sheet's time"
        if self.factor == 1.0:
            return f"{name}: {seen}; the data sheet's times stand"
        return (
            f"{name}: {seen}: its drying times and minimum overcoating times {self.factor:.2g} "
            "as long in this job"
        )


def calibrations(bench: Kept) -> Mapping[str, Calibration]:
    """Return the newest observation that counts for each product, by product id."""
    job = bench.job()
    if job is None:
        return {}
    kinds = ("observation", "correction")
    products = {coat.id: coat.product_id for coat in job.coats}
    found: dict[str, Calibration] = {}
    for entry in counting(chain.entries(bench.store, job.id, kinds=kinds)):
        share, what = number_of(entry.data.get("share")), str(entry.data.get("what", ""))
        product_id = products.get(entry.coat_id)
        if share is not None and share > 0 and what in COLUMNS and product_id is not None:
            found[product_id] = Calibration(product_id, what, share, entry)
    return found


def as_observed(
    products: Mapping[str, Product], found: Mapping[str, Calibration]
) -> dict[str, Product]:
    """Return the products with their clocks as they were seen to run in this job."""
    return {
        key: stretched(product, found[key].factor) if key in found else product
        for key, product in products.items()
    }


def stretched(product: Product, factor: float) -> Product:
    """Return a product whose times to be reached are `factor` as long; what runs out stays."""
    if factor == 1.0:
        return product
    methods = {
        key: replace(method, times=_longer(method.times, factor))
        for key, method in product.methods.items()
    }
    rows = tuple(
        replace(row, min_h=tuple(hours * factor for hours in row.min_h))
        for row in product.next_coats
    )
    times = Times(product.times.temp_c, _longer(product.times.columns, factor))
    return replace(product, times=times, methods=methods, next_coats=rows)


def _longer(
    columns: Mapping[str, tuple[float, ...]], factor: float
) -> Mapping[str, tuple[float, ...]]:
    return MappingProxyType(
        {
            name: hours
            if name in RUNS_OUT | _OF_THE_MIX
            else tuple(value * factor for value in hours)
            for name, hours in columns.items()
        }
    )


def share_seen(product: Product, coat: Coat, what: str, rows: Rows, at_s: float) -> float | None:
    """Return which share of the table's time a film had behind it by the surface since it was
    laid; None where it is not laid, the table has no such time or the surface is not known.
    """
    table = column_table(product, COLUMNS.get(what, ""))
    if table is None or coat.laid is None or at_s <= coat.laid.end_s:
        return None
    since = rows.since(coat.laid.end_s - GAP_S)
    known = ~np.isnan(since.surface_temp_c)
    if not known.any():
        return None
    steps = max(1, math.ceil((at_s - coat.laid.end_s) / STEP_S))
    times = coat.laid.end_s + STEP_S * np.arange(steps + 1, dtype=float)
    surface = surface_course(since.time_s[known], since.surface_temp_c[known], times)
    clock = minimum_clock(table, surface, cure_min_c(product), STEP_S / 3600.0)
    share = float(clock.progress((at_s - coat.laid.end_s) / STEP_S))
    return share if share > 0 else None


def seen_text(share: float | None, laid_end_s: float, at_s: float) -> str:
    """Put what was seen into words for the entry."""
    after = duration((at_s - laid_end_s) / 3600)
    if share is None:
        return f"{after} after the last patch; the table's share of it is not known"
    return f"{after} after the last patch, {share:.0%} of the data sheet's time"
