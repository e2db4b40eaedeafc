"""One coat as the command line describes it: product, pace, what is below, where and when."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from advisor.climate.series import Series
from advisor.coatings.product import Product
from advisor.physics.uncertainty import SensorSpread
from advisor.planning.case import ROOM_C, Case, Previous, Site, dew_safe_assumption
from advisor.planning.hours import WorkingHours
from advisor.planning.words import duration


@dataclass(frozen=True)
class CoatSetup:
    """Everything but the air: `product` is as applied by `method`.

    `dried_s` is when the surface was last dried and wiped, `prepared_s` when it was last
    sanded or blasted (UTC s).
    """

    product: Product
    apply_h: float = 0.0
    previous: Previous | None = None
    site: Site = field(default_factory=Site)
    hours: WorkingHours | None = None
    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))
    mix_temp_c: float | None = None
    spread: SensorSpread = field(default_factory=SensorSpread)
    certain: bool = False
    method: str | None = None
    burner: bool = False
    fast_thinner: bool = False
    bare_steel: bool = False
    dried_s: float | None = None
    prepared_s: float | None = None
    timber_moisture_pct: float | None = None
    tin_temp_c: float | None = None

    def case(self, series: Series) -> Case:
        """Put the coat to the test along a series."""
        return Case(
            self.product,
            self.apply_h,
            previous=self.previous,
            site=self.site,
            hours_mask=None if self.hours is None else self.hours.mask(series, self.zone),
            mix_temp_c=self.mix_temp_c,
            spread=self.spread,
            certain=self.certain,
        )

    def dry_moments_s(self) -> tuple[float, ...]:
        """When the surface was dry for certain: dried and wiped, or just painted over."""
        moments = (self.dried_s, self.previous.end_s if self.previous else None)
        return tuple(moment for moment in moments if moment is not None)

    def below_needs(self) -> str:
        """What the data sheet of the coat below asks for before this one; empty if nothing."""
        row = self.previous.product.next_over(self.product) if self.previous else None
        return row.prepare if row is not None and not row.forbidden else ""

    def again(self) -> str:
        """What a wet surface asks for."""
        return "dry it and prepare it again" if self.bare_steel else "dry and wipe first"

    def assumptions(self, series: Series) -> tuple[str, ...]:
        """What was taken for granted, in sentences."""
        product = self.product
        taken = [*series.assumptions]
        if dew_safe := dew_safe_assumption(product):
            taken.append(f"when the film can take dew is not on the data sheet; {dew_safe}")
        if self.mix_temp_c is None and {"pot_life_h", "induction_h"} & product.times.columns.keys():
            taken.append(f"mix as warm as the shop, at least {ROOM_C:g} °C; enter it if colder")
        if len(product.times.temp_c) == 1:
            taken.append(
                f"the data sheet has one row ({product.times.temp_c[0]:g} °C): times double per "
                "10 K colder, pot life and maximum halve per 10 K warmer"
            )
        if not product.limits.margin_given:
            taken.append(f"{product.limits.margin_k:g} K above dew point is common practice")
        if self.spread.defaults and not self.certain:
            taken.append(instruments_as_counted(self.spread))
        return tuple(taken)


def instruments_as_counted(spread: SensorSpread) -> str:
    """Return the ± of each instrument, stated or of common practice, as makers write it."""
    air, rh, surface = (
        f"{math.sqrt(3.0) * sd:.{places}f}".removesuffix(".0")
        for sd, places in ((spread.air_k, 1), (spread.rh_pct, 0), (spread.surface_k, 1))
    )
    return f"instruments taken as ±{air} K air, ±{rh} % RH, ±{surface} K surface"


@dataclass(frozen=True)
class AskedStep:
    """Preparation a data sheet asks for; `kind` is what would tell that it was done."""

    kind: str
    text: str


def steps_asked(setup: CoatSetup) -> tuple[AskedStep, ...]:
    """Return the preparation the data sheets ask for before the start."""
    prepare, below = setup.product.prepare, setup.below_needs()
    asked = (
        ("time", prepare.bare_steel_within_h, "coat bare steel within {} of preparing it"),
        ("time", prepare.sanded_within_h, "coat within {} of sanding"),
        ("time", prepare.wipe_flash_off_h, "let the wipe flash off for {}"),
        ("moisture", prepare.timber_moisture_max_pct, "timber moisture at most {:g} %"),
        ("tins", prepare.tins_above_dew_point_k, "tins {:g} K above dew point before opening"),
    )
    over = (AskedStep("below", f"over the coat below: {below}"),) if below else ()
    return (
        *over,
        *(
            AskedStep(kind, text.format(duration(v) if kind == "time" else v))
            for kind, v, text in asked
            if v is not None
        ),
    )
