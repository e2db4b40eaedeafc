"""Cure clocks against the equivalent age of the maturity method (ASTM C1074).

te = Σ exp[-(E/R)(1/T - 1/Tr)] Δt with R = 8.314 J/molK. `maturity.csv` holds age factors
computed independently (its source column says so); no worked history of the standard could be
opened. A data sheet whose rows follow one activation energy must reproduce them exactly, since
ln(time) is linear in 1/T between its rows.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from advisor.coatings.clocks import STEP_H, Clock, minimum_clock
from advisor.coatings.tables import TimeTable

FILE = Path(__file__).parents[1] / "data" / "checks" / "maturity.csv"
TEMPS = (0, 5, 10, 15, 20, 25, 30, 35, 40)
#: Hours at °C, 48 h in all (computed: te 34.0036 h for E 41.5, 30.7024 h for E 55, at 20 °C).
HISTORY = ((4, 10.0), (6, 14.0), (5, 22.0), (9, 16.0), (24, 12.0))
#: No pause: the table's lowest row is under every temperature used here.
NO_FLOOR = -np.inf


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def factor(e_kj: float, temp_c: float, ref_c: float) -> float:
    """Age factor by the standard's formula, written out here a second time."""
    return math.exp(-e_kj * 1000 / 8.314 * (1 / (temp_c + 273.15) - 1 / (ref_c + 273.15)))


def table(e_kj: float, ref_c: float = 20.0, hours: float = 1.0) -> TimeTable:
    """A data sheet of two rows that follows one activation energy."""
    cells = [hours / factor(e_kj, t, ref_c) for t in (-5.0, 45.0)]
    return TimeTable.of((-5.0, 45.0), cells)


def age_h(clock: Clock, index: float) -> float:
    return float(clock.progress(np.array([index]))[0])


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['Ea_kJ_mol']}-{row['Tref_C']}")
def test_age_factor_of_every_temperature(row: dict[str, str]) -> None:
    e_kj, ref = float(row["Ea_kJ_mol"]), float(row["Tref_C"])
    for temp in TEMPS:
        printed = float(row[f"f_{temp}C"])
        # Five printed decimals; the clock itself is exact for a steady temperature.
        clock = minimum_clock(table(e_kj, ref), np.full(13, float(temp)), NO_FLOOR)
        assert age_h(clock, 12) == pytest.approx(printed, abs=6e-6)


@pytest.mark.parametrize(("e_kj", "published_h"), [(41.5, 34.0036), (55.0, 30.7024)])
def test_equivalent_age_of_a_history(e_kj: float, published_h: float) -> None:
    total = 0.0
    for hours, temp in HISTORY:
        clock = minimum_clock(table(e_kj), np.full(hours * 12 + 1, temp), NO_FLOOR)
        total += age_h(clock, hours * 12)
    assert total == pytest.approx(published_h, abs=6e-5)  # printed to four decimals


@pytest.mark.parametrize(("e_kj", "published_h"), [(41.5, 34.0036), (55.0, 30.7024)])
def test_one_clock_over_the_whole_history(e_kj: float, published_h: float) -> None:
    temps = np.repeat([t for _, t in HISTORY], [h * 12 for h, _ in HISTORY])
    clock = minimum_clock(table(e_kj), np.append(temps, 12.0), NO_FLOOR)
    # Each of the four jumps is spread over one step of the grid: at most half a step times the
    # difference of rates, about 0.02 h in all.
    assert age_h(clock, 48 * 12) == pytest.approx(published_h, abs=0.02)


@pytest.mark.parametrize(
    ("e_kj", "true_h", "by_mean_h"), [(41.5, 34.0036, 33.376), (55.0, 30.7024, 29.655)]
)
def test_the_mean_temperature_gives_another_answer(
    e_kj: float, true_h: float, by_mean_h: float
) -> None:
    """Jensen: averaging before Arrhenius reads low; the clock must not do it."""
    mean = sum(h * t for h, t in HISTORY) / 48
    assert 48 * factor(e_kj, mean, 20.0) == pytest.approx(by_mean_h, abs=6e-4)  # three decimals
    temps = np.append(np.repeat([t for _, t in HISTORY], [h * 12 for h, _ in HISTORY]), 12.0)
    found = age_h(minimum_clock(table(e_kj), temps, NO_FLOOR), 48 * 12)
    assert found > by_mean_h + 0.5
    assert abs(found - true_h) < 0.05 * abs(found - by_mean_h)


def test_event_comes_when_the_age_reaches_the_sheet_time() -> None:
    # At 10 °C with E 55 the published factor is 0.45069: 8 h at 20 °C take 17.7506 h.
    clock = minimum_clock(table(55.0, hours=8.0), np.full(300, 10.0), NO_FLOOR)
    event = float(clock.when(np.array([0.0]))[0]) * STEP_H
    assert event == pytest.approx(8.0 / 0.45069, rel=2e-5)  # five printed decimals


@pytest.mark.parametrize(
    ("low", "high", "published_kj"),
    [(0.0, 10.0, 44.6), (10.0, 20.0, 47.8), (20.0, 30.0, 51.2), (30.0, 40.0, 54.7)],
)
def test_doubling_per_ten_kelvin_is_no_single_activation_energy(
    low: float, high: float, published_kj: float
) -> None:
    # "Doubles per 10 °C" as rows of a data sheet: the energy read back between two rows.
    sheet = TimeTable.of((low, high), (2.0, 1.0))
    near, far = sheet.at_one(low + 1), sheet.at_one(high - 1)
    inverse = [1 / (t + 273.15) for t in (low + 1, high - 1)]
    energy = 8.314e-3 * math.log(near / far) / (inverse[0] - inverse[1])
    assert energy == pytest.approx(published_kj, abs=0.06)  # printed to one decimal


def test_doubling_history_of_a_single_row_data_sheet() -> None:
    # Q10 = 2 on the same history: 32.3071 h (computed). One row at 40 °C, so that every
    # temperature is colder and the times double per 10 K.
    sheet = TimeTable.of((40.0,), (0.25,))
    total = sum(
        age_h(minimum_clock(sheet, np.full(h * 12 + 1, t), NO_FLOOR), h * 12) for h, t in HISTORY
    )
    assert total == pytest.approx(32.3071, abs=6e-5)
