"""What a data sheet says, as frozen types. Reading the file is `product_file`'s work."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

Span = tuple[float, float]
Status = Literal["template", "from data sheet"]
Trend = Literal["rising", "falling"]
Until = Literal["application", "tack_free"]

#: Columns of `[times]`, in hours, that a class may have. NaN inside a column is a blank cell.
TIME_COLUMNS = (
    "induction_h",
    "pot_life_h",
    "open_time_h",
    "tray_life_h",
    "scatter_h",
    "tack_free_h",
    "tape_dry_h",
    "dew_safe_h",
    "sandable_h",
    "handle_h",
    "full_cure_h",
)

#: The generic classes of the trade, by id, with their plain names.
CLASSES: Mapping[str, str] = MappingProxyType(
    {
        "two-part-gloss": "two-part polyurethane gloss",
        "two-part-clear": "two-part clear varnish",
        "one-part-polyurethane": "one-part polyurethane enamel",
        "alkyd": "alkyd enamel or spar varnish",
        "epoxy-undercoat": "epoxy primer-undercoat, high build",
        "epoxy-barrier": "epoxy barrier primer",
        "epoxy-filler": "epoxy fairing filler",
        "vinylester-filler": "vinyl-ester filler",
        "polyester-filler": "polyester filler",
        "gelcoat": "polyester gelcoat",
        "epoxy-resin": "epoxy laminating or coating resin",
        "waterborne-two-part": "waterborne two-part polyurethane",
        "antifouling": "one-part antifouling",
        "zinc-epoxy": "zinc-rich epoxy primer",
        "non-skid": "non-skid in topcoat",
    }
)

TWO_PART_GLOSS = frozenset({"two-part-gloss", "two-part-clear", "waterborne-two-part", "non-skid"})
ONE_PART_GLOSS = frozenset({"one-part-polyurethane", "alkyd"})
FILLERS = frozenset({"epoxy-filler", "vinylester-filler", "polyester-filler"})
WATERBORNE = frozenset({"waterborne-two-part"})
EPOXIES = frozenset(
    {"epoxy-undercoat", "epoxy-barrier", "epoxy-filler", "epoxy-resin", "zinc-epoxy"}
)


@dataclass(frozen=True)
class Source:
    """Where the numbers come from."""

    title: str = ""
    revision: str = ""
    issued: str = ""


@dataclass(frozen=True)
class Mix:
    """Parts and thinner. `ratio` is base first; one part alone is `(1.0,)`."""

    ratio: tuple[float, ...] = (1.0,)
    ratio_by: Literal["volume", "mass"] = "volume"
    thinner_max_pct: float = 0.0
    density_kg_per_l: float | None = None


@dataclass(frozen=True)
class Limits:
    """Limits of the data sheet; None means the sheet gives none.

    `margin_k` and `hold_margin_k` are temperature differences. `margin_given` tells
    a sheet's own figure from the common-practice default.
    """

    air_temp_c: Span | None = None
    surface_temp_c: Span | None = None
    cure_min_c: float | None = None
    rh_pct: Span | None = None
    rh_floor_until: Until = "application"
    margin_k: float = 3.0
    hold_margin_k: float = 2.0
    surface_trend: Trend | None = None
    margin_given: bool = False
    hold_given: bool = False


@dataclass(frozen=True)
class Film:
    """Film build: solids by volume in %, dry film per coat in µm, loss in %."""

    volume_solids_pct: float | None = None
    dft_um: Span | None = None
    loss_pct: float = 10.0


@dataclass(frozen=True)
class Times:
    """Rows by temperature. Column arrays are as long as `temp_c`; NaN is a blank cell."""

    temp_c: tuple[float, ...]
    columns: Mapping[str, tuple[float, ...]]


@dataclass(frozen=True)
class NextCoat:
    """What may go over this product and when. `over` names what goes over it.

    `over` is "same", "water", a class id or a product id. Hours are rows of the product's
    `temp_c`; NaN is blank, infinity is "unlimited" (still clean and dry).
    """

    over: str
    min_h: tuple[float, ...] = ()
    max_h: tuple[float, ...] = ()
    after_max: tuple[str, ...] = ()
    prepare: str = ""
    forbidden: bool = False


@dataclass(frozen=True)
class Prepare:
    """How long preparation stays good before the start; None where the sheet asks nothing."""

    bare_steel_within_h: float | None = None
    sanded_within_h: float | None = None
    wipe_flash_off_h: float | None = None
    timber_moisture_max_pct: float | None = None
    tins_above_dew_point_k: float | None = None


@dataclass(frozen=True)
class Hazards:
    """What can hurt; drives the cautions."""

    isocyanate: bool = False
    flammable: bool = False
    peroxide: bool = False
    styrene: bool = False
    exotherm_over_kg: float | None = None
    dust: bool = False


@dataclass(frozen=True)
class Method:
    """What changes with brush, roll or spray; empty mapping or None means as the product."""

    times: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    thinner_max_pct: float | None = None
    limits: Limits | None = None
    loss_pct: float | None = None


@dataclass(frozen=True)
class Product:
    """One product of a data sheet, or a template with typical values."""

    id: str
    name: str
    product_class: str
    status: Status
    limits: Limits
    times: Times
    source: Source = Source()
    mix: Mix = Mix()
    film: Film = Film()
    next_coats: tuple[NextCoat, ...] = ()
    methods: Mapping[str, Method] = field(default_factory=dict)
    prepare: Prepare = Prepare()
    hazards: Hazards = Hazards()

    @property
    def is_template(self) -> bool:
        """Whether its numbers are typical values rather than a data sheet's."""
        return self.status == "template"

    def has(self, column: str) -> bool:
        """Whether the data sheet has this milestone at all (not the same as a blank cell)."""
        return any(not math.isnan(value) for value in self.times.columns.get(column, ()))

    def by_method(self, method: str | None) -> Product:
        """Return the product as applied by brush, roll or spray."""
        change = self.methods.get(method or "")
        if change is None:
            return self
        columns = {**self.times.columns, **change.times}
        mix, film = self.mix, self.film
        if change.thinner_max_pct is not None:
            mix = replace(mix, thinner_max_pct=change.thinner_max_pct)
        if change.loss_pct is not None:
            film = replace(film, loss_pct=change.loss_pct)
        return replace(
            self,
            times=replace(self.times, columns=columns),
            limits=change.limits or self.limits,
            mix=mix,
            film=film,
        )

    def next_over(self, other: Product) -> NextCoat | None:
        """Find the row for `other` going over this: its id, "same", its class, own class."""
        wanted = [other.id, "same" if other.id == self.id else "", other.product_class]
        if other.product_class == self.product_class:
            wanted.append("same")
        for key in filter(None, wanted):
            for row in self.next_coats:
                if row.over == key:
                    return row
        return None
