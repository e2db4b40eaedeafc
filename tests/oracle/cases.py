"""Invented cases for the plain rules and the program; only `random.Random` decides.

So a seed or Hypothesis can drive them. The small cases have every value on a limit or beside it.
"""

import math
from dataclasses import replace
from random import Random

from hypothesis import strategies as st

from tests.oracle.plain_types import (
    FILLERS,
    PlainCase,
    PlainNext,
    PlainPrevious,
    PlainProduct,
    PlainSeries,
)
from tests.oracle.sheets import (
    CLASSES,
    mend_pot_life,
)
from tests.oracle.troubles import (
    SECONDS_PER_STEP,
    TROUBLES,
    Draft,
    trouble_sun,
)
from tests.oracle.weather import (
    magnus_hpa,
)


def random_case(rng):
    """One case with one trouble, at times with two or three."""
    draft = Draft(rng)
    names = list(TROUBLES)
    how_many = rng.choice([1, 1, 1, 2, 3])
    for name in rng.sample(names, how_many):
        TROUBLES[name](draft)
    return draft.build()


def case_list(seed, how_many):
    """The same cases for the same seed."""
    rng = Random(seed)
    names = [name for name in TROUBLES if name != "sun"]
    turns = [*names, "night", "night", "chance", "previous", "previous"]
    turns += ["surface", "trend", "rain", "wind", "cells"]
    found = []
    for k in range(how_many):
        draft = Draft(rng)
        TROUBLES[turns[k % len(turns)]](draft)
        if rng.random() < 0.3:
            TROUBLES[rng.choice(names)](draft)
        if turns[k % len(turns)] in ("calm", "hours", "chance"):
            in_the_sun(draft, Random(k))
        found.append(draft.build())
    return found


def in_the_sun(draft, rng):
    """Sun on top of the trouble, by dice of its own, so that the other cases stay as they are."""
    draft.rng, kept = rng, draft.rng
    trouble_sun(draft)
    draft.rng = kept


def some_starts(case, rng, how_many, beside=()):
    """Starts in order: some at points named, the rest all over the series."""
    count = len(case.series.air)
    named = list(beside)
    chosen = set(rng.sample(named, min(how_many // 2, len(named))))
    others = [k for k in range(count) if k not in chosen]
    chosen.update(rng.sample(others, min(how_many - len(chosen), len(others))))
    return sorted(chosen)


def fresh(case, **changes):
    """A copy with changes and nothing remembered."""
    return replace(case, memo={}, **changes)


@st.composite
def cases(draw):
    """The cases above, with Hypothesis deciding and shrinking."""
    return random_case(draw(st.randoms(use_true_random=False)))


TEMPS = st.sampled_from([-1.0, 0.0, 4.9, 5.0, 9.9, 10.0, 14.0, 15.0, 15.1, 20.0, 25.0, 30.1])
HOURS = st.sampled_from([0.0, 0.25, 0.5, 0.5, 1.0, 1.0, 1.5, 2.0, math.nan, math.inf])
ROW_SETS = st.sampled_from([[20.0], [10.0, 20.0], [5.0, 10.0, 15.0], [10.0, 15.0, 20.0, 30.0]])


@st.composite
def small_cases(draw):
    """A few hours only, every value on or beside a limit or a row."""
    series = draw(small_series())
    product = draw(small_products())
    count = len(series.air)
    return PlainCase(
        product=product,
        series=series,
        apply_h=draw(st.sampled_from([0.0, 1.0 / 12.0, 0.25, 0.3, 0.5, 1.0])),
        mix_c=draw(st.sampled_from([None, None, 9.9, 15.0, 30.1])),
        previous=draw(st.none() | small_previous(count)),
        hours=draw(st.none() | st.lists(st.booleans(), min_size=count, max_size=count)),
        outdoors=draw(st.booleans()),
        wind_limit=draw(st.sampled_from([None, 8.0])),
        certain=draw(st.booleans()),
        keep_out_of_sun=draw(st.sampled_from([None, None, True, False])),
    )


@st.composite
def small_series(draw):
    """Up to forty points in stretches of the same weather, with holes."""
    lists = [[], [], [], []]
    for _ in range(draw(st.integers(1, 4))):
        length = draw(st.integers(1, 10))
        values = [draw(TEMPS), draw(TEMPS) - 4.0, draw(TEMPS), draw(st.sampled_from([0.0, 8.5]))]
        hole = draw(st.sampled_from([None, None, None, 0, 1, 2, 3]))
        for place, column in enumerate(lists):
            value = math.nan if place == hole else values[place]
            column.extend([value] * length)
    air, dew, surface, wind = lists
    rh = [min(100.0, 100.0 * magnus_hpa(d) / magnus_hpa(a)) for a, d in zip(air, dew, strict=True)]
    margin = [s - d for s, d in zip(surface, dew, strict=True)]
    hot = [s + draw(st.sampled_from([0.0, 0.1])) for s in surface]
    blank = [math.nan] * len(air)
    rain = draw(st.none() | st.just([w / 100.0 for w in wind]))
    sun = draw(st.none() | st.just([w if math.isnan(w) else float(w > 0) for w in wind]))
    wind = draw(st.none() | st.just(wind))
    return PlainSeries(air, dew, rh, margin, surface, hot, blank, wind, rain, sun)


@st.composite
def small_products(draw):
    """Short times, limits among the temperatures of the small series."""
    rows = draw(ROW_SETS)
    cells = st.lists(HOURS, min_size=len(rows), max_size=len(rows))
    product_class = draw(st.sampled_from(CLASSES))
    names = ["induction_h", "pot_life_h", "tape_dry_h"]
    columns = {name: draw(cells) for name in names if draw(st.booleans())}
    if "induction_h" in columns:
        columns["induction_h"] = [0.25 if math.isinf(h) else h for h in columns["induction_h"]]
    columns["sandable_h" if product_class in FILLERS else "tack_free_h"] = draw(cells)
    if product_class not in FILLERS and draw(st.booleans()):
        columns["dew_safe_h"] = draw(cells)
    spans = st.sampled_from([None, (5.0, 20.0), (10.0, 25.0), (0.0, 30.0)])
    product = PlainProduct(
        product_class=product_class,
        rows=rows,
        columns=columns,
        air=draw(spans),
        surface=draw(spans),
        cure_min=draw(st.sampled_from([None, 4.9, 10.0, 15.0])),
        rh=draw(st.sampled_from([None, (40.0, 85.0)])),
        rh_floor_until=draw(st.sampled_from(["application", "tack_free"])),
        margin_k=draw(st.sampled_from([3.0, 4.0])),
        hold_margin_k=draw(st.sampled_from([2.0, 3.0])),
        trend=draw(st.sampled_from([None, None, "rising", "falling"])),
        template=draw(st.booleans()),
    )
    mend_pot_life(product)
    return product


@st.composite
def small_previous(draw, count):
    """A coat below, painted anywhere in the series or a little before it."""
    below = draw(small_products())
    cells = st.lists(HOURS, min_size=len(below.rows), max_size=len(below.rows))
    first = draw(st.integers(-2 * SECONDS_PER_STEP, (count - 1) * SECONDS_PER_STEP))
    last = first + draw(st.sampled_from([0, 150, 300, 900]))
    last = max(first, min(last, (count - 1) * SECONDS_PER_STEP))
    over = draw(
        st.none()
        | st.just(PlainNext(forbidden=True))
        | st.builds(PlainNext, st.none() | cells, st.none() | cells)
    )
    order = draw(st.sampled_from(["same", "reverse"]))
    return PlainPrevious(below, first / SECONDS_PER_STEP, last / SECONDS_PER_STEP, order, over)
