"""Times at any temperature: rows, between, above, below, blanks, unlimited, zero, one row."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.coatings.tables import RUNS_OUT, TimeTable
from tests.helpers.products import INF, NAN, ROWS


def minimum(*hours: float) -> TimeTable:
    return TimeTable.of(ROWS, hours)


def lasting(*hours: float) -> TimeTable:
    return TimeTable.of(ROWS, hours, runs_out=True)


def test_a_row_gives_its_cell_exactly() -> None:
    table = minimum(8.0, 3.0, 0.7)
    # exp(log(x)) may differ in the last digit: 1e-12 relative.
    assert table.at(np.array(ROWS)) == pytest.approx([8.0, 3.0, 0.7], rel=1e-12)


def test_between_rows_ln_time_is_linear_in_inverse_kelvin() -> None:
    inverse = [1 / (t + 273.15) for t in (10.0, 14.0, 20.0)]
    share = (inverse[1] - inverse[0]) / (inverse[2] - inverse[0])
    expected = math.exp(math.log(8.0) + share * (math.log(3.0) - math.log(8.0)))
    assert minimum(8.0, 3.0, 1.0).at_one(14.0) == pytest.approx(expected, rel=1e-12)
    # And not linear in temperature, nor ln(time) linear in temperature (traps).
    assert abs(expected - (8.0 + 0.4 * (3.0 - 8.0))) > 0.3
    assert abs(expected - 8.0 * (3.0 / 8.0) ** 0.4) > 0.02


def test_a_zero_row_makes_it_linear_in_temperature() -> None:
    table = minimum(0.5, 0.25, 0.0)
    assert table.at_one(25.0) == pytest.approx(0.125, rel=1e-12)
    assert table.at_one(30.0) == 0.0
    # The pair without a zero keeps the Arrhenius line.
    assert table.at_one(15.0) < 0.375


@pytest.mark.parametrize("runs_out", [False, True])
def test_a_blank_refuses_from_row_to_row(runs_out: bool) -> None:
    table = TimeTable.of(ROWS, (8.0, NAN, 2.0), runs_out)
    assert np.isnan(table.at(np.array([10.1, 15.0, 20.0, 25.0, 29.9]))).all()
    assert table.at_one(10.0) == 8.0
    assert table.at_one(30.0) == 2.0


def test_a_blank_top_row_stays_blank_above_and_a_blank_bottom_row_below() -> None:
    assert math.isnan(lasting(8.0, 4.0, NAN).at_one(35.0))
    assert math.isnan(minimum(NAN, 4.0, 2.0).at_one(5.0))


def test_unlimited_to_a_number_is_the_number() -> None:
    table = lasting(INF, 48.0, INF)
    assert table.at(np.array([10.0, 15.0, 20.0, 25.0, 30.0])).tolist() == [
        INF, 48.0, 48.0, 48.0, INF,
    ]  # fmt: skip
    assert table.at_one(5.0) == INF
    assert table.at_one(40.0) == INF  # half of unlimited


def test_unlimited_to_unlimited_and_to_blank() -> None:
    assert lasting(INF, INF, 1.0).at_one(15.0) == INF
    assert math.isnan(lasting(INF, NAN, 1.0).at_one(15.0))


def test_unlimited_to_zero_is_zero() -> None:
    # "Unlimited to number is the number", also where the number is 0.
    assert lasting(INF, 0.0, 1.0).at_one(15.0) == 0.0


def test_above_the_top_row_a_minimum_keeps_it() -> None:
    assert minimum(8.0, 4.0, 2.0).at_one(45.0) == pytest.approx(2.0, rel=1e-12)


@pytest.mark.parametrize(("temp", "hours"), [(30.0, 2.0), (35.0, 2.0**0.5), (40.0, 1.0), (50, 0.5)])
def test_above_the_top_row_what_runs_out_halves_per_ten_kelvin(temp: float, hours: float) -> None:
    assert lasting(8.0, 4.0, 2.0).at_one(temp) == pytest.approx(hours, rel=1e-12)


@pytest.mark.parametrize("runs_out", [False, True])
def test_below_the_lowest_row_the_cell_is_kept(runs_out: bool) -> None:
    assert TimeTable.of(ROWS, (8.0, 4.0, 2.0), runs_out).at_one(-5.0) == pytest.approx(8.0)


@pytest.mark.parametrize(
    ("runs_out", "temp", "hours"),
    [
        (False, 23.0, 4.0), (False, 13.0, 8.0), (False, 3.0, 16.0), (False, 33.0, 4.0),
        (True, 23.0, 4.0), (True, 13.0, 8.0), (True, 33.0, 2.0),
    ],
)  # fmt: skip
def test_one_row_doubles_in_the_cold_and_halves_only_what_runs_out(
    runs_out: bool, temp: float, hours: float
) -> None:
    assert TimeTable.of((23.0,), (4.0,), runs_out).at_one(temp) == pytest.approx(hours, rel=1e-12)


@pytest.mark.parametrize(("cell", "expected"), [(NAN, NAN), (INF, INF), (0.0, 0.0)])
def test_one_row_blank_unlimited_or_zero_stays_so(cell: float, expected: float) -> None:
    for runs_out in (False, True):
        table = TimeTable.of((23.0,), (cell,), runs_out)
        found = table.at(np.array([3.0, 23.0, 33.0]))
        assert np.array_equal(found, np.full(3, expected), equal_nan=True)


def test_a_missing_temperature_is_a_missing_time() -> None:
    tables = (
        minimum(8.0, 4.0, 2.0), lasting(8.0, 4.0, 2.0), minimum(8.0, NAN, 2.0),
        lasting(INF, INF, INF), minimum(1.0, 0.5, 0.0), TimeTable.of((23.0,), (4.0,)),
    )  # fmt: skip
    for table in tables:
        assert math.isnan(table.at_one(NAN))


def test_two_equal_cells_are_flat_between() -> None:
    assert minimum(4.0, 4.0, 2.0).at_one(13.0) == pytest.approx(4.0, rel=1e-12)


def test_which_columns_run_out() -> None:
    assert {"pot_life_h", "open_time_h", "tray_life_h", "scatter_h"} == RUNS_OUT
    assert TimeTable.of((23.0,), (4.0,)).one_row
    assert not minimum(1.0, 1.0, 1.0).one_row
