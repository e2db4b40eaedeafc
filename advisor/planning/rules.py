"""The rules, one function each; hard rules and those that ask for care listed apart.

Every function takes the coat, the series and the timeline of its starts, and returns the
tests that must hold. A rule with nothing to ask returns none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.climate.series import Series
from advisor.coatings import product as products
from advisor.coatings.tables import TimeTable
from advisor.physics.uncertainty import margin_errors
from advisor.planning.case import Case
from advisor.planning.limits import Along, AtStart, Test
from advisor.planning.previous import previous_coat
from advisor.planning.timeline import Phase, Timeline, mix_hours, mix_temp_c

FloatArray = NDArray[np.float64]

SHEET = "data sheet"
PRACTICE = "common practice"
ASSUMED = "assumption"
#: Rain in a gauge that counts as none, mm; half of the usual tip of 0.1 mm.
NO_RAIN_MM = 0.05
#: Change over 60 minutes that counts as steady, K.
DEAD_BAND_K = 0.5
#: 0.99 quantile of the normal distribution: chance asked that the surface stays dry.
SURE_DRY_SD = 2.3263478740408408


@dataclass(frozen=True, eq=False)
class Setting:
    """What a rule looks at."""

    case: Case
    series: Series
    timeline: Timeline

    @property
    def limits(self) -> products.Limits:
        """The product's limits."""
        return self.case.product.limits

    @property
    def waterborne(self) -> bool:
        """Whether the film dries by losing water."""
        return self.case.product.product_class in products.WATERBORNE


Rule = Callable[[Setting], Iterator[Test]]


def air_temp(at: Setting) -> Iterator[Test]:
    """Air stays inside the data sheet's limits to the end of application."""
    if at.limits.air_temp_c is not None:
        yield from _band(
            "air_temp", "air", at.series.air_temp_c, at.limits.air_temp_c, Phase.APPLICATION
        )


def table(at: Setting) -> Iterator[Test]:
    """Mix and film stay inside the rows of the time tables, and off the blank cells."""
    rows = at.case.product.times.temp_c
    mix = mix_temp_c(at.case, at.series.air_temp_c)
    surface = at.series.surface_temp_c
    top = max(rows[-1], at.limits.surface_temp_c[1]) if at.limits.surface_temp_c else np.inf
    low = rows[0] if len(rows) > 1 else -np.inf
    yield from _band("table", "film", surface, (low, top), Phase.APPLICATION)
    yield from _band("table", "mix", mix, (low, top), Phase.APPLICATION)
    yield from _blank(at.case.table("induction_h"), "induction", mix, Phase.START)
    yield from _blank(at.case.table("pot_life_h"), "pot life", mix, Phase.APPLICATION)
    dry = at.case.dry_column
    yield from _blank(at.case.table(dry), _plain(dry), surface, Phase.APPLICATION)


def pot_life(at: Setting) -> Iterator[Test]:
    """A batch mixed at any time during the coat outlives its own induction."""
    life, induction = at.case.table("pot_life_h"), at.case.table("induction_h")
    if life is None or induction is None:
        return
    standing, lasting = (mix_hours(at.case, at.series, column) for column in (induction, life))
    with np.errstate(divide="ignore", invalid="ignore"):
        used = standing / lasting
    # A batch that gels the moment it may be used is no batch: hence under, not at, one.
    limit = 1.0 - 2e-9
    yield Along("pot_life", Phase.APPLICATION, "pot life used up by induction", "share",
                used, limit, False, SHEET)  # fmt: skip


def surface_temp(at: Setting) -> Iterator[Test]:
    """Hottest spot under the upper limit; coldest over the lower, and the cure never pauses."""
    span, surface = at.limits.surface_temp_c, at.series.surface_temp_c
    if span is not None:
        yield Along("surface_temp", Phase.APPLICATION, "hottest spot", "°C",
                    at.series.hot_c, span[1], False, SHEET)  # fmt: skip
        yield Along("surface_temp", Phase.APPLICATION, "coldest spot", "°C",
                    surface, span[0], True, SHEET)  # fmt: skip
    pause = at.case.pause_point_c
    if np.isfinite(pause):
        phase = Phase.TO_DEW_SAFE if at.waterborne else Phase.TO_TACK_FREE
        yield Along("surface_temp", phase, "coldest spot", "°C", surface, pause, True, SHEET)


def humidity(at: Setting) -> Iterator[Test]:
    """Humidity under its ceiling to tack-free, over its floor while applying."""
    span, rh = at.limits.rh_pct, at.series.rh_pct
    if span is None:
        return
    long_floor = at.waterborne or at.limits.rh_floor_until == "tack_free"
    floor_phase = Phase.TO_TACK_FREE if long_floor else Phase.APPLICATION
    if span[1] < 100:
        yield Along("humidity", Phase.TO_TACK_FREE, "humidity", "%", rh, span[1], False, SHEET)
    if span[0] > 0:
        yield Along("humidity", floor_phase, "humidity", "%", rh, span[0], True, SHEET)


def margin(at: Setting) -> Iterator[Test]:
    """Surface stays clear of the dew point until the film is tack-free."""
    whose = SHEET if at.limits.margin_given else PRACTICE
    yield Along("margin", Phase.TO_TACK_FREE, "above dew point", "K",
                at.series.margin_k, at.limits.margin_k, True, whose)  # fmt: skip


def hold_margin(at: Setting) -> Iterator[Test]:
    """Then stays a little clear until the film can take dew."""
    whose = SHEET if at.limits.hold_given else ASSUMED
    yield Along("hold_margin", Phase.HOLD, "above dew point", "K",
                at.series.margin_k, at.limits.hold_margin_k, True, whose)  # fmt: skip


def trend(at: Setting) -> Iterator[Test]:
    """Surface rising (steel) or not rising (timber), where specification or substrate asks."""
    asked = at.case.trend
    if asked is None:
        return
    change = np.full(len(at.series), np.nan)
    surface = at.series.surface_temp_c
    hour = at.series.hour_steps
    change[hour:] = surface[hour:] - surface[:-hour]
    rising = asked == "rising"
    yield Along("trend", Phase.APPLICATION, "change over the hour", "K", change,
                -DEAD_BAND_K if rising else DEAD_BAND_K, rising, SHEET)  # fmt: skip


def hours(at: Setting) -> Iterator[Test]:
    """The crew is there from mixing to the last patch."""
    if at.case.hours_mask is not None:
        there = at.case.hours_mask.astype(float)
        yield Along("hours", Phase.APPLICATION, "working hours", "", there, 1.0, True, "your hours")


def wind(at: Setting) -> Iterator[Test]:
    """Outdoors: wind under the limit to tack-free."""
    limit = at.case.site.wind_limit_m_s
    if at.case.site.outdoors and limit is not None:
        values = _or_missing(at.series.wind_m_s, len(at.series))
        yield Along("wind", Phase.TO_TACK_FREE, "wind", "m/s", values, limit, False, PRACTICE)


def rain(at: Setting) -> Iterator[Test]:
    """Outdoors: no rain until the film can take it."""
    if at.case.site.outdoors:
        values = _or_missing(at.series.rain_mm, len(at.series))
        yield Along("rain", Phase.TO_DEW_SAFE, "rain", "mm", values, NO_RAIN_MM, False, PRACTICE)


def sun(at: Setting) -> Iterator[Test]:
    """Outdoors: no direct sun on the patch until the last of it is on.

    A place of which nobody can tell where the sun is (no column at all) is not asked, unless
    the work is to be kept out of the sun; a hole in a column that is there is unknown.
    """
    asked, known = at.case.site.keep_out_of_sun, at.series.sun_on_patch
    if at.case.site.outdoors and (asked or (asked is None and known is not None)):
        values = _or_missing(known, len(at.series))
        yield Along("sun", Phase.APPLICATION, "sun on the patch", "", values, 0.0, False, PRACTICE)


def over_previous(at: Setting) -> Iterator[Test]:
    """The coat below is ready, and its bond still open, at the first and the last patch."""
    if at.case.previous is not None:
        yield previous_coat(at.case, at.series, at.timeline)


def sure_dry(at: Setting) -> Iterator[Test]:
    """Chance of 0.99 that the surface stays above the dew point, sensor error included."""
    if at.case.certain:
        return
    series = at.series
    errors = margin_errors(series.margin_k, series.air_temp_c, series.rh_pct, at.case.spread)
    yield Along("margin", Phase.TO_DEW_SAFE, "above dew point, in standard errors", "",
                errors, SURE_DRY_SD, True, ASSUMED, soft=True)  # fmt: skip


def typical_values(at: Setting) -> Iterator[Test]:
    """A template's numbers are typical values: a close call at best."""
    if at.case.product.is_template:
        m = len(at.timeline.starts)
        none, every = np.zeros(m, dtype=bool), np.ones(m, dtype=bool)
        yield AtStart("data", Phase.START, none, none, every, "template, typical values")


#: A broken hard rule is a wait. Order is the order in which reasons are told.
HARD: tuple[Rule, ...] = (
    air_temp, table, pot_life, surface_temp, humidity, margin, hold_margin, trend,
    over_previous, hours, wind, rain, sun,
)  # fmt: skip
#: These only turn a go into a close call.
CARE: tuple[Rule, ...] = (sure_dry, typical_values)

#: Every name a rule may have in JSON.
NAMES = (
    "air_temp", "table", "pot_life", "surface_temp", "humidity", "margin", "hold_margin",
    "dry", "prepared", "trend", "previous_coat", "hours", "wind", "rain", "sun", "data",
)  # fmt: skip


def tests_of(setting: Setting) -> list[Test]:
    """Every test of every rule, hard ones first."""
    return [test for rule in HARD + CARE for test in rule(setting)]


def _band(
    rule: str, quantity: str, values: FloatArray, span: tuple[float, float], phase: Phase
) -> Iterator[Test]:
    if np.isfinite(span[1]):
        yield Along(rule, phase, quantity, "°C", values, span[1], False, SHEET)
    if np.isfinite(span[0]):
        yield Along(rule, phase, quantity, "°C", values, span[0], True, SHEET)


def _blank(column: TimeTable | None, name: str, temp_c: FloatArray, phase: Phase) -> Iterator[Test]:
    """A blank cell refuses: 1 where the cell is filled, 0 where blank."""
    if column is None or not np.isnan(column.hours).any():
        return
    filled = np.where(np.isnan(temp_c), np.nan, ~np.isnan(column.at(temp_c)))
    yield Along("table", phase, f"{name} given", "", filled, 1.0, True, SHEET)


def _plain(column: str) -> str:
    return column.removesuffix("_h").replace("_", "-")


def _or_missing(values: FloatArray | None, n: int) -> FloatArray:
    return np.full(n, np.nan) if values is None else values
