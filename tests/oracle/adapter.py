"""From a plain case to the program's types, and the program's answer in plain words."""

from dataclasses import dataclass, replace

import numpy as np

from advisor.climate.series import Series
from advisor.coatings.product import Limits, NextCoat, Product, Times
from advisor.physics.uncertainty import margin_sd_k
from advisor.planning.case import Case, Previous, Site
from advisor.planning.verdict import Verdict, judge
from advisor.planning.windows import merge_short, runs

SECONDS_PER_STEP = 300
START_S = 1_700_000_100  # a whole multiple of five minutes
#: The program's names for what the plain rules keep apart.
NAMES = {"chance": "margin", "template": "data"}


@dataclass
class Answer:
    """What the program says of one start, in the words of the plain rules."""

    verdict: str
    broken: set
    unknown: set
    caution: set


def with_spread(plain):
    """The spread of the margin is an input of the rules: both sides take the program's."""
    series, case = series_of(plain.series), case_of(plain)
    sd = margin_sd_k(series.air_temp_c, series.rh_pct, case.spread)
    return replace(plain, series=replace(plain.series, sd=[float(v) for v in sd]), memo={})


def answers(plain, starts):
    """The program's answer to each start."""
    judged = judge(case_of(plain), series_of(plain.series), np.array(starts, dtype=np.int64))
    return [
        Answer(
            judged.verdict(j).json,
            set(judged.broken(j)),
            set(judged.unknowns(j)),
            set(judged.cautions(j)),
        )
        for j in range(len(starts))
    ]


def changes(plain):
    """Starts at which some finding of the program changes, and those just before them."""
    judged = judge(case_of(plain), series_of(plain.series))
    flags = [o.broken for o in judged.outcomes] + [o.unknown for o in judged.outcomes]
    flags += [o.caution for o in judged.outcomes if o.caution is not None]
    turned = np.flatnonzero(np.any(np.diff(np.array(flags), axis=1), axis=0))
    return sorted({int(k) for k in turned} | {int(k) + 1 for k in turned})


def windows(verdicts):
    """The program's windows over a list of verdicts in plain words."""
    codes = np.array([Verdict[name.upper()] for name in verdicts], dtype=np.int8)
    return [(run.first, run.last, run.verdict.json) for run in merge_short(runs(codes))]


def series_of(plain):
    """Arrays; humidity and margin are handed over, so moist air is not under test here."""
    series = Series(
        START_S,
        np.array(plain.air),
        np.array(plain.dew),
        np.array(plain.surface),
        np.array(plain.surface_hot),
        None if plain.wind is None else np.array(plain.wind),
        None if plain.rain is None else np.array(plain.rain),
        sun_on_patch=None if plain.sun is None else np.array(plain.sun),
    )
    vars(series).update(rh_pct=np.array(plain.rh), margin_k=np.array(plain.margin))
    return series


def case_of(plain):
    """The coat and its surroundings."""
    product = product_of(plain.product, "this-coat")
    return Case(
        product=product,
        apply_h=plain.apply_h,
        previous=None if plain.previous is None else previous_of(plain.previous),
        site=Site(
            outdoors=plain.outdoors,
            wind_limit_m_s=plain.wind_limit,
            keep_out_of_sun=plain.keep_out_of_sun,
        ),
        hours_mask=None if plain.hours is None else np.array(plain.hours),
        mix_temp_c=plain.mix_c,
        certain=plain.certain,
    )


def product_of(plain, name, next_coats=()):
    """A data sheet."""
    limits = Limits(
        air_temp_c=plain.air,
        surface_temp_c=plain.surface,
        cure_min_c=plain.cure_min,
        rh_pct=plain.rh,
        rh_floor_until=plain.rh_floor_until,
        margin_k=plain.margin_k,
        hold_margin_k=plain.hold_margin_k,
        surface_trend=plain.trend,
    )
    columns = {column: tuple(cells) for column, cells in plain.columns.items()}
    return Product(
        id=name,
        name=name,
        product_class=plain.product_class,
        status="template" if plain.template else "from data sheet",
        limits=limits,
        times=Times(tuple(plain.rows), columns),
        next_coats=next_coats,
    )


def previous_of(plain):
    """The coat below, in UTC seconds."""
    row = ()
    if plain.over is not None:
        row = (
            NextCoat(
                "this-coat",
                tuple(plain.over.min_h or ()),
                tuple(plain.over.max_h or ()),
                forbidden=plain.over.forbidden,
            ),
        )
    return Previous(
        product_of(plain.product, "coat-below", row),
        START_S + plain.first * SECONDS_PER_STEP,
        START_S + plain.last * SECONDS_PER_STEP,
        reverse=plain.order == "reverse",
    )
