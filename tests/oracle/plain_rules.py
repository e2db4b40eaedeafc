"""When may a coat start? The rules again, in plain loops, to check the program against.

Written from the rules on paper and from nothing else: no import from the program, no arrays.
Time is counted in steps of five minutes from the first point of the series; an event may fall
between two points, so it is a float. NaN in a list is a hole: nobody measured there.
One function per rule; each answers HOLDS, CAUTION, UNKNOWN or BROKEN.
"""

import math
from dataclasses import dataclass, field

from tests.oracle.plain_table import MINIMUM, RUNNING_OUT, is_blank, table_value

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
    """Lists as long as each other, five minutes apart; wind and rain may be absent."""

    air: list
    dew: list
    rh: list
    margin: list
    surface: list
    surface_hot: list
    sd: list
    wind: list | None = None
    rain: list | None = None


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


def judge(case, start, times=None):
    """Verdict of a start with the rules broken, unknown and only just held.

    `times` spares the work where the course of the coat is known already.
    """
    times = times or course(case, start)
    found = {BROKEN: set(), UNKNOWN: set(), CAUTION: set(), HOLDS: set()}
    for name, rule in RULES.items():
        found[rule(case, start, times)].add(name)
    return verdict(found), found[BROKEN], found[UNKNOWN], found[CAUTION]


def verdict(found):
    """One broken rule is enough to wait; what is not known is never go."""
    if found[BROKEN]:
        return "wait"
    if found[UNKNOWN]:
        return "unknown"
    if found[CAUTION]:
        return "borderline"
    return "go"


# --- the course of a coat ----------------------------------------------------------------


def course(case, start):
    """When the brush goes on and off, when it is tack-free, when it can take dew."""
    on = snap(start + induction_steps(case, start))
    off = snap(on + case.apply_h * STEPS_PER_HOUR)
    tack_free = event(case, "tack free", off, start)
    dew_safe = dew_safe_event(case, off, tack_free, start)
    hole = first_hole(case, start)
    return Times(
        on,
        off,
        tack_free,
        dew_safe,
        apply_span(case, start, off),
        until(start, tack_free, hole),
        until(start, dew_safe, hole),
        hold_span(case, tack_free, dew_safe, hole),
    )


def snap(x):
    """A hair beside a grid point is the grid point."""
    if is_blank(x) or math.isinf(x):
        return x
    return float(round(x)) if abs(x - round(x)) <= SNAP else x


def points(case):
    """How many points the series has."""
    return len(case.series.surface)


def has(product, column):
    """Whether the sheet has the column at all; its cells may still be blank."""
    return column in product.columns


def mix_temp(case, k):
    """The mix is as warm as was entered, else as the shop, but no colder than 20 °C."""
    if case.mix_c is not None:
        return case.mix_c
    air = case.series.air[k]
    return air if is_blank(air) else max(air, MIX_AT_LEAST_C)


def induction_hours(case, k):
    """Standing time of a batch mixed at k; none where the sheet has no such column."""
    product = case.product
    if not has(product, "induction_h"):
        return 0.0
    return table_value(product.rows, product.columns["induction_h"], mix_temp(case, k), MINIMUM)


def induction_steps(case, k):
    """The same in steps."""
    return induction_hours(case, k) * STEPS_PER_HOUR


def first_hole(case, start):
    """First point from `start` on where the surface was not measured; else the end."""
    holes = case.memo.get("holes")
    if holes is None:
        holes = case.memo["holes"] = list_of_next_holes(case.series.surface)
    return holes[min(start, len(holes) - 1)]


def list_of_next_holes(surface):
    """For each point the first hole at it or after it."""
    count = len(surface)
    holes = [count] * (count + 1)
    for k in range(count - 1, -1, -1):
        holes[k] = k if is_blank(surface[k]) else holes[k + 1]
    return holes


# --- clocks ------------------------------------------------------------------------------


def event(case, name, x0, since):
    """When a minimum-type clock started at x0 has run its time; NaN when not known.

    Nothing is known past the first hole at or after the point `since`.
    """
    rates = clock_rates(case, name)
    if is_blank(x0) or rates is None:
        return math.nan
    return run_clock(rates, x0, first_hole(case, since) - 1)


def run_clock(rates, x0, last):
    """Walk step by step until the share of the time used up is one.

    No time at all is an event at once; but after the last point nothing happens any more.
    """
    if x0 > last:
        return math.nan
    k = math.floor(x0)
    if x0 == k and math.isinf(rates[k]) and k + 1 < len(rates):
        return x0
    done = 0.0
    here = x0
    while k < last:
        rate = (rates[k] + rates[k + 1]) / 2.0
        if math.isinf(rate):
            return snap(here)
        more = rate * (k + 1 - here)
        if done + more >= 1.0 - 1e-12:
            return snap(here + (1.0 - done) / rate)
        done += more
        k += 1
        here = float(k)
    return math.nan


def clock_rates(case, name):
    """Share of the time used up per step at each point, kept for the next start."""
    key = "rates of " + name
    if key not in case.memo:
        case.memo[key] = CLOCKS[name](case)
    return case.memo[key]


def rates_of(product, cells, surface, factor=1.0):
    """One over the time of the table, in steps; nothing moves on where it is too cold."""
    rates = []
    for temp in surface:
        hours = table_value(product.rows, cells, temp, MINIMUM) * factor
        if is_blank(hours) or math.isinf(hours) or is_paused(product, temp):
            rates.append(0.0)
        elif hours == 0:
            rates.append(math.inf)
        else:
            rates.append(1.0 / (hours * STEPS_PER_HOUR))
    return rates


def is_paused(product, temp):
    """Under the lowest row of a table, or under the least curing temperature, cure stands."""
    if len(product.rows) > 1 and temp < product.rows[0]:
        return True
    lowest = cure_min(product)
    return lowest is not None and temp < lowest


def cure_min(product):
    """Least curing temperature; the lower surface limit where the sheet does not say."""
    if product.cure_min is not None:
        return product.cure_min
    return None if product.surface is None else product.surface[0]


def tack_column(product):
    """Tack-free, or sandable for what never is tack-free; None where the sheet has neither."""
    for column in ("tack_free_h", "sandable_h"):
        if has(product, column):
            return column
    return None


def tack_rates(case):
    """Clock to tack-free."""
    column = tack_column(case.product)
    if column is None:
        return None
    return rates_of(case.product, case.product.columns[column], case.series.surface)


def dew_rates(case):
    """Clock to the time the film can take dew; None where the sheet leaves it open."""
    product = case.product
    surface = case.series.surface
    if has(product, "dew_safe_h"):
        return rates_of(product, product.columns["dew_safe_h"], surface)
    if product.product_class in TWO_PART_GLOSS:
        if not has(product, "tape_dry_h"):
            return None
        return rates_of(product, product.columns["tape_dry_h"], surface)
    column = tack_column(product)
    if column is None:
        return None
    factor = 2.0 if product.product_class in ONE_PART_GLOSS else 1.0
    return rates_of(product, product.columns[column], surface, factor)


def minimum_rates(case):
    """Clock of the coat below to its minimum overcoating time."""
    previous = case.previous
    return rates_of(previous.product, previous.over.min_h, case.series.surface)


CLOCKS = {"tack free": tack_rates, "dew safe": dew_rates, "minimum": minimum_rates}


def dew_safe_event(case, off, tack_free, start):
    """Never before tack-free; fillers have no gloss to lose."""
    if case.product.product_class in FILLERS:
        return tack_free
    dew = event(case, "dew safe", off, start)
    if is_blank(tack_free) or is_blank(dew):
        return math.nan
    return max(tack_free, dew)


# --- intervals ---------------------------------------------------------------------------


def apply_span(case, start, off):
    """From mixing to the last brush stroke."""
    if is_blank(off):
        return Span(start, start, False)
    end = points(case) - 1
    return Span(start, math.floor(min(off, end)), off <= end)


def until(start, x, hole):
    """From mixing to an event; to the next hole when the event is not known."""
    if is_blank(x):
        return Span(start, max(start, hole - 1), False)
    return Span(start, math.floor(x), True)


def hold_span(case, tack_free, dew_safe, hole):
    """From tack-free until dew does no harm."""
    if case.product.product_class in FILLERS:
        return Span(0, -1, True)
    if is_blank(tack_free):
        return Span(0, -1, False)
    if is_blank(dew_safe):
        return Span(math.ceil(tack_free), hole - 1, False)
    return Span(math.ceil(tack_free), math.floor(dew_safe), True)


# --- one limit over one interval ---------------------------------------------------------


def at_most(values, limit, span):
    """No value above the limit."""
    missing = not span.complete
    for k in range(span.first, span.last + 1):
        value = values[k]
        if is_blank(value):
            missing = True
        elif value > limit + EXACT:
            return BROKEN
    return UNKNOWN if missing else HOLDS


def at_least(values, limit, span):
    """No value below the limit."""
    missing = not span.complete
    for k in range(span.first, span.last + 1):
        value = values[k]
        if is_blank(value):
            missing = True
        elif value < limit - EXACT:
            return BROKEN
    return UNKNOWN if missing else HOLDS


def all_blank(case):
    """A column nobody measured."""
    return [math.nan] * points(case)


# --- the rules ---------------------------------------------------------------------------


def air_temp(case, start, times):
    """Air inside its limits until the brush is down."""
    limits = case.product.air
    if limits is None:
        return HOLDS
    air = case.series.air
    return max(at_least(air, limits[0], times.apply), at_most(air, limits[1], times.apply))


def table(case, start, times):
    """Mix and film inside the rows of the table, and no blank cell that is needed."""
    worst = UNKNOWN if not times.apply.complete else HOLDS
    if not is_blank(mix_temp(case, start)) and is_blank(induction_hours(case, start)):
        return BROKEN
    blank = blank_points(case)
    for k in range(times.apply.first, times.apply.last + 1):
        for answer in (
            in_rows(case.product, case.series.surface[k]),
            in_rows(case.product, mix_temp(case, k)),
            blank[k],
        ):
            worst = max(worst, answer)
    return worst


def in_rows(product, temp):
    """Not under the lowest row, not over the top row unless the surface limit allows it."""
    lowest = product.rows[0] if len(product.rows) > 1 else -math.inf
    highest = highest_temp(product)
    if math.isinf(lowest) and math.isinf(highest):
        return HOLDS
    if is_blank(temp):
        return UNKNOWN
    return BROKEN if temp < lowest - EXACT or temp > highest + EXACT else HOLDS


def highest_temp(product):
    """The top row, or the upper surface limit where that is higher; without one, no end."""
    if product.surface is None:
        return math.inf
    return max(product.rows[-1], product.surface[1])


def blank_points(case):
    """Points where the pot life or the tack-free time is blank; kept for the next start."""
    if "blank points" not in case.memo:
        case.memo["blank points"] = [blank_at(case, k) for k in range(points(case))]
    return case.memo["blank points"]


def blank_at(case, k):
    """BROKEN where a temperature is there and its cell is blank."""
    pot_blank = blank_cell(case.product, "pot_life_h", mix_temp(case, k), RUNNING_OUT)
    column = tack_column(case.product)
    film_blank = blank_cell(case.product, column, case.series.surface[k], MINIMUM)
    return BROKEN if pot_blank or film_blank else HOLDS


def blank_cell(product, column, temp, kind):
    """Whether the sheet has the column but nothing in it at a temperature that is known."""
    if column not in product.columns or is_blank(temp):
        return False
    return is_blank(table_value(product.rows, product.columns[column], temp, kind))


def pot_life(case, start, times):
    """A batch must outlive its own standing time, whenever it is mixed."""
    if not has(case.product, "pot_life_h"):
        return HOLDS
    worst = HOLDS if times.apply.complete else UNKNOWN
    answers = pot_life_points(case)
    for k in range(times.apply.first, times.apply.last + 1):
        worst = max(worst, answers[k])
    return worst


def pot_life_points(case):
    """The same for each point alone; kept for the next start."""
    if "pot life" not in case.memo:
        case.memo["pot life"] = [pot_life_at(case, k) for k in range(points(case))]
    return case.memo["pot life"]


def pot_life_at(case, k):
    """Share of the pot life the standing time uses up."""
    product = case.product
    pot = table_value(product.rows, product.columns["pot_life_h"], mix_temp(case, k), RUNNING_OUT)
    standing = induction_hours(case, k)
    if is_blank(pot) or is_blank(standing):
        return UNKNOWN
    if pot == 0:
        return BROKEN
    return HOLDS if standing / pot < 1.0 - EXACT else BROKEN


def surface_temp(case, start, times):
    """Hot side until the brush is down, cold side until tack-free (waterborne: dew-safe)."""
    product = case.product
    surface = case.series.surface
    answers = [HOLDS]
    if product.surface is not None:
        answers.append(at_most(case.series.surface_hot, product.surface[1], times.apply))
        answers.append(at_least(surface, product.surface[0], times.apply))
    film = times.dew if product.product_class in WATERBORNE else times.tack
    if cure_min(product) is not None:
        answers.append(at_least(surface, cure_min(product), film))
    if len(product.rows) > 1:
        answers.append(at_least(surface, product.rows[0], film))
    return max(answers)


def humidity(case, start, times):
    """Not too damp until tack-free; not too dry while the film needs the air's water."""
    product = case.product
    if product.rh is None:
        return HOLDS
    long_floor = product.rh_floor_until == "tack_free" or product.product_class in WATERBORNE
    floor_span = times.tack if long_floor else times.apply
    low, high = product.rh
    rh = case.series.rh
    return max(at_least(rh, low, floor_span), at_most(rh, high, times.tack))


def margin(case, start, times):
    """Surface far enough above the dew point until tack-free."""
    return at_least(case.series.margin, case.product.margin_k, times.tack)


def hold_margin(case, start, times):
    """Surface above the dew point by a little less until the film can take dew."""
    return at_least(case.series.margin, case.product.hold_margin_k, times.hold)


def trend(case, start, times):
    """Surface rising (or falling) over the last hour where the sheet asks for it."""
    asked = case.product.trend
    if asked is None:
        return HOLDS
    change = hourly_change(case)
    if asked == "rising":
        return at_least(change, -STEADY_K_PER_H, times.apply)
    return at_most(change, STEADY_K_PER_H, times.apply)


def hourly_change(case):
    """Surface now less surface an hour ago; kept for the next start."""
    if "hourly change" not in case.memo:
        surface = case.series.surface
        change = [math.nan] * min(STEPS_PER_HOUR, len(surface))
        for k in range(STEPS_PER_HOUR, len(surface)):
            change.append(surface[k] - surface[k - STEPS_PER_HOUR])
        case.memo["hourly change"] = change
    return case.memo["hourly change"]


def hours(case, start, times):
    """Only while somebody works."""
    if case.hours is None:
        return HOLDS
    for k in range(times.apply.first, times.apply.last + 1):
        if not case.hours[k]:
            return BROKEN
    return HOLDS if times.apply.complete else UNKNOWN


def wind(case, start, times):
    """Outdoors: no more wind than allowed until tack-free."""
    if not case.outdoors or case.wind_limit is None:
        return HOLDS
    values = all_blank(case) if case.series.wind is None else case.series.wind
    return at_most(values, case.wind_limit, times.tack)


def rain(case, start, times):
    """Outdoors: dry until the film can take water."""
    if not case.outdoors:
        return HOLDS
    values = all_blank(case) if case.series.rain is None else case.series.rain
    return at_most(values, DRY_RAIN_MM, times.dew)


def chance(case, start, times):
    """So far above the dew point that 99 of 100 such days stay dry; else a close call."""
    if case.certain:
        return HOLDS
    worst = HOLDS if times.dew.complete else UNKNOWN
    for k in range(times.dew.first, times.dew.last + 1):
        value = case.series.margin[k] / case.series.sd[k]
        if is_blank(value):
            worst = UNKNOWN
        elif value < SURE_99 - EXACT:
            worst = max(worst, CAUTION)
    return worst


def template(case, start, times):
    """Typical values are not a data sheet."""
    return CAUTION if case.product.template else HOLDS


# --- the coat below ----------------------------------------------------------------------


def previous_coat(case, start, times):
    """Old enough to carry this coat, young enough to bond with it, at both ends of the job."""
    previous = case.previous
    if previous is None:
        return HOLDS
    if previous.over is None:
        return UNKNOWN
    if previous.over.forbidden:
        return BROKEN
    worst = HOLDS
    for painted, reached in patches(previous, times):
        if is_seen(case, painted, reached):
            worst = max(worst, old_enough(case, painted, reached))
            worst = max(worst, young_enough(case, painted, reached))
        else:
            worst = max(worst, UNKNOWN)
    return worst


def patches(previous, times):
    """First and last patch of the coat below with the time the brush comes back to it."""
    if previous.order == "same":
        return [(previous.first, times.brush_on), (previous.last, times.brush_off)]
    return [(previous.first, times.brush_off), (previous.last, times.brush_on)]


def is_seen(case, painted, reached):
    """Whether the surface is known from the painting of a patch until the brush is back.

    A patch that is not painted yet is known not to be ready.
    """
    if is_blank(reached) or painted < 0 or reached > points(case) - 1:
        return False
    return reached <= first_hole(case, math.floor(painted)) - 1


def old_enough(case, painted, reached):
    """The minimum on the clock of this patch."""
    if case.previous.over.min_h is None:
        return UNKNOWN
    ready = event(case, "minimum", painted, math.floor(painted))
    if is_blank(ready):
        return BROKEN
    return HOLDS if reached >= ready - EXACT else BROKEN


def young_enough(case, painted, reached):
    """The maximum twice: by the hottest hour (sure) and by the clock (likely)."""
    cells = case.previous.over.max_h
    if cells is None:
        return HOLDS
    if reached < painted:
        return HOLDS
    used = maximum_used(case, painted, reached)
    allowed = maximum_hours(case, hottest_hour(case, painted, reached))
    if is_blank(used) or is_blank(allowed):
        return UNKNOWN
    if (reached - painted) / STEPS_PER_HOUR <= allowed + EXACT:
        return HOLDS
    return CAUTION if used <= 1.0 + EXACT else BROKEN


def maximum_hours(case, temp):
    """The maximum by the table of the coat below."""
    previous = case.previous
    return table_value(previous.product.rows, previous.over.max_h, temp, RUNNING_OUT)


def hottest_hour(case, painted, reached):
    """Highest temperature held for a whole hour since the patch was painted."""
    hot = case.series.surface_hot
    first, last = math.ceil(painted), math.floor(reached)
    if last < first:
        return hot[math.floor(painted)]
    if last - first + 1 < SUSTAINED_POINTS:
        return max(hot[first : last + 1])
    held = hourly_lows(case)
    return max(held[first : last - SUSTAINED_POINTS + 2])


def hourly_lows(case):
    """Lowest of the thirteen points from each point on; kept for the next start."""
    if "hourly lows" not in case.memo:
        hot = case.series.surface_hot
        case.memo["hourly lows"] = [
            min(hot[k : k + SUSTAINED_POINTS]) for k in range(len(hot) - SUSTAINED_POINTS + 1)
        ]
    return case.memo["hourly lows"]


def maximum_used(case, painted, reached):
    """Share of the maximum used up between two times; NaN over a blank cell."""
    rates = maximum_rates(case)
    used = 0.0
    here = painted
    k = math.floor(painted)
    while here < reached:
        there = min(k + 1.0, reached)
        used += share_of_step(rates, k, here, there)
        here = there
        k += 1
    return used


def share_of_step(rates, k, here, there):
    """Progress inside one step: the mean rate of its ends, evenly."""
    return (rates[k] + rates[k + 1]) / 2.0 * (there - here)


def maximum_rates(case):
    """One over the maximum, in steps; it never pauses. NaN over a blank cell or in a hole."""
    if "maximum rates" not in case.memo:
        rates = []
        for temp in case.series.surface_hot:
            hours_left = maximum_hours(case, temp)
            rates.append(math.inf if hours_left == 0 else 1.0 / (hours_left * STEPS_PER_HOUR))
        case.memo["maximum rates"] = rates
    return case.memo["maximum rates"]


RULES = {
    "air_temp": air_temp,
    "table": table,
    "pot_life": pot_life,
    "surface_temp": surface_temp,
    "humidity": humidity,
    "margin": margin,
    "hold_margin": hold_margin,
    "trend": trend,
    "previous_coat": previous_coat,
    "hours": hours,
    "wind": wind,
    "rain": rain,
    "chance": chance,
    "template": template,
}
