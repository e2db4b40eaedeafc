"""When may a coat start? The rules again, in plain loops, to check the program against.

Written from the rules on paper and from nothing else: no import from the program, no arrays.
One function per rule; each answers HOLDS, CAUTION, UNKNOWN or BROKEN.
"""

import math

from tests.oracle.plain_course import (
    course,
    cure_min,
    has,
    induction_hours,
    mix_temp,
    points,
    tack_column,
)
from tests.oracle.plain_previous import (
    previous_coat,
)
from tests.oracle.plain_table import (
    MINIMUM,
    RUNNING_OUT,
    is_blank,
    table_value,
)
from tests.oracle.plain_types import (
    BROKEN,
    CAUTION,
    DRY_RAIN_MM,
    EXACT,
    HOLDS,
    STEADY_K_PER_H,
    STEPS_PER_HOUR,
    SURE_99,
    UNKNOWN,
    WATERBORNE,
)


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


def sun(case, start, times):
    """Outdoors: no sun on the wet patch while painting.

    Where nobody knows where the sun is, only those who asked to keep out of it are told so.
    """
    if not case.outdoors or case.keep_out_of_sun is False:
        return HOLDS
    if case.series.sun is None:
        values = all_blank(case)
        return at_most(values, 0.0, times.apply) if case.keep_out_of_sun else HOLDS
    return at_most(case.series.sun, 0.0, times.apply)


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
    "sun": sun,
    "chance": chance,
    "template": template,
}
