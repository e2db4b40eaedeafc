"""Chances over all courses at once against a plain loop that judges every course alone."""

import math
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.climate.scenarios import Scenarios
from advisor.climate.series import Series
from advisor.coatings.product import Limits, NextCoat, Product, Times
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning.case import Case, Previous, Site
from advisor.planning.chance import chances
from advisor.planning.courses import lay
from advisor.planning.timeline import Phase
from advisor.planning.verdict import Verdict, judge
from tests.oracle import adapter, cases

START_S = adapter.START_S
COLUMNS = ("air_temp_c", "dew_point_c", "surface_temp_c", "surface_hot_c", "wind_m_s", "rain_mm",
           "sun_on_patch")  # fmt: skip
WEEKS = settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


# --- the plain loop ----------------------------------------------------------------------


def course_alone(scenarios, central, k):
    """The k-th course as a series of its own, after the past on the same grid; points of past."""
    step, n = scenarios.step_s, len(scenarios)
    times = []
    t = scenarios.start_s - step
    while t >= central.start_s:
        times.insert(0, t)
        t -= step
    past = len(times)
    times += [scenarios.start_s + i * step for i in range(n)]
    found = {}
    for name in COLUMNS:
        ours, given_ = getattr(central, name), getattr(scenarios, name)
        if name == "surface_hot_c" and (ours is not None or given_ is not None):
            ours = central.hot_c
            given_ = scenarios.surface_temp_c if given_ is None else given_
        if ours is None and given_ is None:
            continue
        column = [at_time(central, ours, t) for t in times]
        if given_ is not None:
            column[past:] = [float(v) for v in given_[k]]
        found[name] = np.array(column)
    return Series(times[0], **found, step_s=step), past


def at_time(central, values, time_s):
    """The central series' value at a moment on its grid; NaN where it has none."""
    at = (time_s - central.start_s) // central.step_s
    return float(values[at]) if values is not None and 0 <= at < len(central) else math.nan


def case_alone(case, central, series):
    """The same coat with its working hours on the grid of the course, chances aside."""
    mask = case.hours_mask
    if mask is not None:
        mask = np.array([at_time(central, mask, int(t)) == 1.0 for t in series.time_s])
    product = replace(case.product, status="from data sheet")
    return replace(case, product=product, hours_mask=mask, certain=True)


def plain_chances(case, scenarios, central):
    """Both chances of every point of the courses, one course and one start after the other."""
    holds, dry = np.zeros(len(scenarios)), np.zeros(len(scenarios))
    for k in range(scenarios.count):
        series, past = course_alone(scenarios, central, k)
        starts = np.arange(past, len(series), dtype=np.int64)
        judged = judge(case_alone(case, central, series), series, starts)
        sd = margin_sd_k(series.air_temp_c, series.rh_pct, case.spread)
        span = judged.timeline.spans[Phase.TO_DEW_SAFE]
        for j in range(len(starts)):
            holds[j] += judged.verdict(j) is Verdict.GO
            if span.complete[j]:
                inside = range(int(span.low[j]), int(span.high[j]) + 1)
                dry[j] += phi(min_or_nan([series.margin_k[i] / sd[i] for i in inside]))
    return holds / scenarios.count, dry / scenarios.count


def min_or_nan(values):
    return math.nan if any(math.isnan(v) for v in values) else min(values)


def phi(errors):
    return 0.0 if math.isnan(errors) else 0.5 * (1.0 + math.erf(errors / math.sqrt(2.0)))


# --- invented weather --------------------------------------------------------------------


@st.composite
def columns(draw, length, values, absent=False):
    """Stretches of the same value, some of them holes; at times no column at all."""
    if absent and draw(st.booleans()):
        return None
    found = []
    while len(found) < length:
        value = draw(st.sampled_from([*values, *values, math.nan]) if draw(st.integers(0, 3)) == 0
                     else st.sampled_from(values))  # fmt: skip
        found += [value] * draw(st.integers(1, 20))
    return np.array(found[:length])


MIN_HOURS = st.sampled_from([0.5, 1.0, 1.0, 2.0, 3.0, 6.0, 0.0, math.nan])
MAX_HOURS = st.sampled_from([4.0, 6.0, 8.0, 12.0, 24.0, 24.0, math.inf, math.nan])
TEMPS = [9.9, 10.0, 14.0, 15.0, 15.1, 16.0, 18.0, 20.0, 20.0, 25.0, 30.1]


@st.composite
def series_columns(draw, length, steady):
    """The seven columns, mostly mild and dry."""
    temps = [15.0, 16.0] if steady else TEMPS
    return {
        "air_temp_c": draw(columns(length, temps)),
        "dew_point_c": draw(columns(length, [2.0, 5.0, 9.0, 11.9])),
        "surface_temp_c": draw(columns(length, temps)),
        "surface_hot_c": draw(columns(length, [15.0, 20.0, 25.1], absent=True)),
        "wind_m_s": draw(columns(length, [0.0, 8.0, 8.5], absent=True)),
        "rain_mm": draw(columns(length, [0.0, 0.0, 0.2], absent=True)),
        "sun_on_patch": draw(columns(length, [0.0, 0.0, 1.0], absent=True)),
    }


@st.composite
def weeks(draw):
    """A coat, the central series, and a few courses from some point of it on."""
    over_another = draw(st.booleans())
    steady = over_another or draw(st.booleans())
    length = draw(st.integers(100, 400) if over_another else st.integers(1, 150))
    central = Series(START_S, **draw(series_columns(length, steady)))
    step = draw(st.sampled_from([900, 900, 900, 300, 1800]))
    first = START_S + 300 * draw(st.integers(-3, length + 3))
    least = 15 if over_another else 1
    scenarios = draw(courses_of(first, step, draw(st.integers(least, 40)), steady))
    coat = coat_over_another if over_another else coats
    return draw(coat(central, first + step * len(scenarios))), scenarios, central


@st.composite
def courses_of(draw, first_s, step_s, n, steady):
    """One to four courses."""
    count = draw(st.integers(1, 4))
    each = [draw(series_columns(n, steady)) for _ in range(count)]
    rows = {
        name: None if each[0][name] is None else np.array(
            [one[name] if one[name] is not None else np.full(n, np.nan) for one in each])
        for name in COLUMNS
    }  # fmt: skip
    return Scenarios(first_s, step_s, **rows)


@st.composite
def coats(draw, central, end_s):
    """A coat with short times, often over another painted in the past or still to come."""
    product = adapter.product_of(draw(cases.small_products()), "this-coat")
    if draw(st.booleans()):  # limits off, so that what is left decides
        product = replace(product, limits=replace(product.limits, air_temp_c=None, rh_pct=None))
    previous = None
    if draw(st.booleans()):
        plain = draw(cases.small_previous(len(central)))
        first = draw(st.integers(START_S - 600, end_s))
        last = first + draw(st.sampled_from([0, 150, 900, 3600]))
        previous = replace(adapter.previous_of(plain), start_s=first, end_s=last)
        previous = replace(previous, sanded=draw(st.booleans()))
    mask = draw(st.none() | st.just(np.arange(len(central)) % 40 > 7))
    return Case(
        product,
        draw(st.sampled_from([0.0, 0.25, 0.3, 0.5, 1.0])),
        previous,
        draw(sites()),
        mask,
        draw(st.sampled_from([None, None, 15.0])),
    )


@st.composite
def sites(draw):
    """Indoors or outdoors, with or without a limit to the wind and a wish for shade."""
    limit, shade = (draw(st.sampled_from(v)) for v in ([None, 8.0], [None, None, True, False]))
    return Site(draw(st.booleans()), limit, keep_out_of_sun=shade)


@st.composite
def coat_over_another(draw, central, end_s):
    """A coat that nothing but the one below can stop, painted at any time since the start."""
    times = Times((10.0, 20.0), {"tack_free_h": (0.5, draw(st.sampled_from([0.25, 0.0])))})
    limits = Limits(margin_k=draw(st.sampled_from([0.0, 5.0])), hold_margin_k=0.0)
    top = Product("this-coat", "top", "epoxy-barrier", "from data sheet", limits, times)
    most = draw(st.lists(MAX_HOURS, min_size=2, max_size=2).map(tuple))
    row = NextCoat("this-coat", draw(st.lists(MIN_HOURS, min_size=2, max_size=2).map(tuple)), most)
    rows = draw(st.sampled_from([(10.0, 20.0), (15.5, 30.0)]))
    cure = Limits(cure_min_c=draw(st.sampled_from([None, None, 15.5])))
    below = Product("below", "below", "epoxy-barrier", "from data sheet", cure,
                    Times(rows, {"tack_free_h": (0.5, 0.5)}), next_coats=(row,))  # fmt: skip
    first = draw(st.integers(central.start_s // 60, end_s // 60)) * 60
    last = first + draw(st.sampled_from([0, 300, 1800, 3600]))
    previous = Previous(below, first, last, draw(st.booleans()), draw(st.integers(0, 4)) == 4)
    return Case(top, draw(st.sampled_from([0.25, 0.3, 1.0])), previous)


def bond_week(rng):
    """A coat over another of hours or days ago, in weather that takes the bond to its limits."""
    central_n, n, step = rng.randrange(1, 500), rng.randrange(12, 60), rng.choice([900, 900, 300])
    base, swing = rng.choice([14.0, 18.0, 20.0]), rng.choice([0.0, 3.0, 8.0])

    def course(points, per_day):
        phase = rng.random() * 6.3
        wave = np.sin(2 * np.pi * np.arange(points) / per_day + phase)
        surface = np.round(base + swing * wave + rng.choice([-1.0, 0.0, 1.0]), rng.choice([0, 1]))
        hot = surface.copy()
        for _ in range(rng.choice([0, 1, 3])):
            first, hour = rng.randrange(points), 3600 * per_day // 86400
            hot[first : first + hour + rng.choice([0, 1, 4])] += rng.choice([5.0, 10.0])
        if rng.random() < 0.2:
            hot[rng.randrange(points)] = np.nan
        if rng.random() < 0.1:
            surface[rng.randrange(points)] = np.nan
        return surface, hot

    def falling(at_20, blanks):
        cells = [at_20 * 2.0 ** ((20.0 - row) / 10.0) for row in (10.0, 20.0, 30.0)]
        if rng.random() < blanks:
            cells[rng.randrange(3)] = rng.choice([math.nan, math.inf, 0.0])
        return tuple(cells)

    surface, hot = course(central_n, 288)
    both = [course(n, 86400 // step) for _ in range(3)]
    with_hot = rng.random() < 0.7
    central = Series(START_S, surface, surface - 8.0, surface, hot if with_hot else None)
    ahead = np.array([b[0] for b in both])
    first = START_S + 300 * rng.randrange(central_n + 1)
    scenarios = Scenarios(
        first, step, ahead, ahead - 8.0, ahead, np.array([b[1] for b in both]) if with_hot else None
    )
    row = NextCoat("this-coat", falling(rng.choice([0.5, 2.0, 6.0, 18.0]), 0.15),
                   falling(rng.choice([3.0, 6.0, 12.0, 24.0]), 0.15))  # fmt: skip
    limits = Limits(cure_min_c=rng.choice([None, base]))
    times = Times((10.0, 20.0, 30.0), {"tack_free_h": (0.5,) * 3})
    below = Product("below", "below", "epoxy-barrier", "from data sheet", limits, times,
                    next_coats=(row,))  # fmt: skip
    quick = Product("this-coat", "top", "epoxy-barrier", "from data sheet", Limits(margin_k=0.0),
                    Times((20.0,), {"tack_free_h": (0.5,)}))  # fmt: skip
    near = first - rng.choice([0, 900, 3600, 7200, 3600 * 30, -3600])
    painted = max(START_S, near + rng.choice([0, 77, 300, -450]))
    previous = Previous(below, painted, painted + rng.choice([0, 900, 2000]), rng.random() < 0.3)
    return Case(quick, rng.choice([0.25, 0.3]), previous), scenarios, central


# --- the comparison ----------------------------------------------------------------------


@WEEKS
@given(week=weeks())
def test_all_courses_at_once_say_what_each_says_alone(week):
    check_all_at_once(*week)


@pytest.mark.parametrize("seed", range(12))
def test_bonds_in_all_courses_at_once_are_those_of_each_alone(seed):
    rng = Random(seed)
    for _ in range(50):
        check_all_at_once(*bond_week(rng))


def check_all_at_once(case, scenarios, central):
    """The program's chances against the plain loop's, at every point."""
    starts = scenarios.start_s + scenarios.step_s * np.arange(len(scenarios))
    found = chances(case, lay(scenarios, central), starts)
    holds, dry = plain_chances(case, scenarios, central)
    assert found.holds.tolist() == holds.tolist()
    # scipy's ndtr and math.erf agree to rounding
    assert found.dry == pytest.approx(dry, abs=1e-12)
