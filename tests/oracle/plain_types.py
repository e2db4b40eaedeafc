"""What the plain rules are asked about, the plain way: lists of numbers, NaN where one is missing.

Time is counted in steps of five minutes from the first point of the series; an event may fall
between two points, so it is a float.
"""

from dataclasses import dataclass, field

STEPS_PER_HOUR = 12
EXACT = 1e-9  # a value this close to its limit is on the limit
SNAP = 1e-6  # an event this close to a grid point (in steps) is on the point
SURE_99 = 2.3263478740408408  # 99 % of a normal distribution lies above minus this
MIX_AT_LEAST_C = 20.0
DRY_RAIN_MM = 0.05
STEADY_K_PER_H = 0.5
SUSTAINED_POINTS = 13  # one hour has thirteen points, both ends counted

HOLDS, CAUTION, UNKNOWN, BROKEN = 0, 1, 2, 3

TWO_PART_GLOSS = ["two-part-gloss", "two-part-clear", "waterborne-two-part", "non-skid"]
ONE_PART_GLOSS = ["one-part-polyurethane", "alkyd"]
FILLERS = ["epoxy-filler", "vinylester-filler", "polyester-filler"]
WATERBORNE = ["waterborne-two-part"]


@dataclass
class PlainNext:
    """What the previous product says about this one going over it."""

    min_h: list | None = None
    max_h: list | None = None
    forbidden: bool = False


@dataclass
class PlainProduct:
    """A data sheet: limits are None where the sheet gives none, columns may be absent."""

    product_class: str
    rows: list
    columns: dict
    air: tuple | None = None
    surface: tuple | None = None
    cure_min: float | None = None
    rh: tuple | None = None
    rh_floor_until: str = "application"
    margin_k: float = 3.0
    hold_margin_k: float = 2.0
    trend: str | None = None
    template: bool = False


@dataclass
class PlainSeries:
    """Lists as long as each other, five minutes apart; wind, rain and sun may be absent."""

    air: list
    dew: list
    rh: list
    margin: list
    surface: list
    surface_hot: list
    sd: list
    wind: list | None = None
    rain: list | None = None
    sun: list | None = None


@dataclass
class PlainPrevious:
    """The coat below: when it was painted (steps), in which order this coat follows."""

    product: PlainProduct
    first: float
    last: float
    order: str = "same"
    over: PlainNext | None = None


@dataclass
class PlainCase:
    """Everything that decides a start. `hours` is one True or False per point, or None."""

    product: PlainProduct
    series: PlainSeries
    apply_h: float
    mix_c: float | None = None
    previous: PlainPrevious | None = None
    hours: list | None = None
    outdoors: bool = False
    wind_limit: float | None = None
    certain: bool = False
    keep_out_of_sun: bool | None = None
    memo: dict = field(default_factory=dict, repr=False)


@dataclass
class Span:
    """Points from `first` to `last`, both tested; `complete` when that is the whole of it."""

    first: int
    last: int
    complete: bool


@dataclass
class Times:
    """The course of a coat mixed at a start; NaN where it cannot be told."""

    brush_on: float
    brush_off: float
    tack_free: float
    dew_safe: float
    apply: Span
    tack: Span
    dew: Span
    hold: Span
