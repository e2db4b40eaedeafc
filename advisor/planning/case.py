"""One coat put to the test: the product, how long it takes, what it goes over, and where."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.coatings import product as products
from advisor.coatings.clocks import Clock, minimum_clock
from advisor.coatings.product import NextCoat, Product, Trend
from advisor.coatings.tables import RUNS_OUT, TimeTable
from advisor.physics.uncertainty import SensorSpread

FloatArray = NDArray[np.float64]

#: A mix whose temperature nobody entered is at least as warm as a room (design, section 4).
ROOM_C = 20.0


@dataclass(frozen=True)
class Previous:
    """The coat below: its product and when its first and last patch were painted (UTC s).

    `sanded` means it has been keyed since, so that no maximum is left to miss.
    """

    product: Product
    start_s: float
    end_s: float
    reverse: bool = False
    sanded: bool = False


@dataclass(frozen=True)
class Site:
    """What the place and the work add to the data sheet.

    `keep_out_of_sun` outdoors: True asks for shade and for knowing of it, False lets the sun
    on the patch; None asks for shade wherever the series can tell.
    """

    outdoors: bool = False
    wind_limit_m_s: float | None = None
    trend: Trend | None = None
    keep_out_of_sun: bool | None = None


@dataclass(frozen=True, eq=False)
class Case:
    """A coat to be judged. `hours_mask` [n of the series] is true inside working hours."""

    product: Product
    apply_h: float
    previous: Previous | None = None
    site: Site = Site()
    hours_mask: NDArray[np.bool_] | None = None
    mix_temp_c: float | None = None
    spread: SensorSpread = field(default_factory=SensorSpread)
    certain: bool = False

    @property
    def cure_min_c(self) -> float:
        """Temperature below which the film does not cure."""
        return cure_min_c(self.product)

    @property
    def dry_column(self) -> str:
        """The milestone that ends the open phase: tack-free, or sandable for a filler."""
        return "tack_free_h" if "tack_free_h" in self.product.times.columns else "sandable_h"

    @property
    def has_hold(self) -> bool:
        """Whether the film must still be kept off the dew after it is tack-free."""
        return self.product.product_class not in products.FILLERS

    @property
    def trend(self) -> Trend | None:
        """Surface trend asked for by the data sheet or the substrate."""
        return self.product.limits.surface_trend or self.site.trend

    @property
    def next_row(self) -> NextCoat | None:
        """The previous data sheet's row for this product going over it."""
        return self.previous.product.next_over(self.product) if self.previous else None

    def table(self, column: str) -> TimeTable | None:
        """Return a column of the product, None where it does not apply."""
        return column_table(self.product, column)

    @cached_property
    def dew_safe_table(self) -> TimeTable | None:
        """When the film can take dew; None when the data sheet does not let us tell."""
        return dew_safe_table(self.product)

    def film_clock(self, table: TimeTable, surface_c: FloatArray) -> Clock:
        """Minimum clock of this film along a surface history in steps of five minutes."""
        return minimum_clock(table, surface_c, self.cure_min_c)

    @property
    def pause_point_c(self) -> float:
        """Surface temperature under which the film stops drying."""
        rows = self.product.times.temp_c
        return self.cure_min_c if len(rows) == 1 else max(self.cure_min_c, rows[0])


def cure_min_c(product: Product) -> float:
    """Lower cure limit: as given, else the lower surface limit, else none."""
    limits = product.limits
    if limits.cure_min_c is not None:
        return limits.cure_min_c
    return limits.surface_temp_c[0] if limits.surface_temp_c else -np.inf


def column_table(product: Product, column: str) -> TimeTable | None:
    """Return one column of a product's times, None where the class has none."""
    hours = product.times.columns.get(column)
    if hours is None:
        return None
    return TimeTable.of(product.times.temp_c, hours, column in RUNS_OUT)


def next_table(product: Product, hours: tuple[float, ...], runs_out: bool) -> TimeTable | None:
    """Return the minimum or maximum of a next-coat row, None where it has none."""
    return TimeTable.of(product.times.temp_c, hours, runs_out) if hours else None


def dew_safe_table(product: Product) -> TimeTable | None:
    """Time until the film can take dew, by the sheet or the assumption for its class."""
    given = column_table(product, "dew_safe_h")
    if given is not None:
        return given
    if product.product_class in products.TWO_PART_GLOSS:
        return column_table(product, "tape_dry_h")
    dry = column_table(product, "tack_free_h") or column_table(product, "sandable_h")
    if dry is None or product.product_class not in products.ONE_PART_GLOSS:
        return dry
    return TimeTable(dry.temp_c, 2.0 * dry.hours, False)


def dew_safe_assumption(product: Product) -> str:
    """How the time to take dew was assumed; empty where the data sheet gives it."""
    if product.has("dew_safe_h"):
        return ""
    if product.product_class in products.TWO_PART_GLOSS:
        return "assumed: tape-dry"
    if product.product_class in products.ONE_PART_GLOSS:
        return "assumed: twice tack-free"
    return "assumed: tack-free"
