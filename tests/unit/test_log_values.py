"""Items 3, 9 and 11: decimals, marks for missing and broken, spreadsheet damage."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.climate.logs.bytecolumn import cut_text
from advisor.climate.logs.quality import find_spikes, find_stuck, looks_swapped, mark_faults
from advisor.climate.logs.units import split_header, unit_of
from advisor.climate.logs.values import (
    DAMAGED,
    FAULT,
    GOOD,
    MISSING,
    Decimal,
    decide_decimal,
    parse_cell,
    to_cells,
)
from advisor.climate.readings import Flag


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("21.4", ".", 21.4),
        ("21,4", ",", 21.4),
        ("21,4", ".", 21.4),
        ("+21.4", ".", 21.4),
        ("21.4C", ".", 21.4),
        ("21,4 °C", ",", 21.4),
        ("45%", ".", 45.0),
        ("45 ％", ".", 45.0),
        (".5", ".", 0.5),
        ("5.", ".", 5.0),
        ("1.2E+01", ".", 12.0),
        ("−3.5", ".", -3.5),
        ("  6.4333", ".", 6.4333),
        ("1,013.2", ".", 1013.2),
        ("1.013,2", ",", 1013.2),
        ("1.013,2", ".", 1013.2),
        ("1,013", ".", 1013.0),
        ("1.013", ",", 1013.0),
        ("0,125", ".", 0.125),
        ("1\u2009013.2", ".", 1013.2),
        ("1\u00a0013,2", ",", 1013.2),
        ("101 325", ".", 101325.0),
        ("=21.4", ".", 21.4),
        ('="21.4"', ".", 21.4),
        ("'21.4", ".", 21.4),
        ("-0", ".", 0.0),
    ],
)
def test_numbers_in_every_dress(text: str, decimal: Decimal, value: float) -> None:
    found, state, _ = parse_cell(text, decimal)
    assert (found, state) == (value, GOOD)


@pytest.mark.parametrize(
    ("text", "state"),
    [(text, MISSING) for text in ("", " ", "-", "--", "---.-", "NA", "NaN", "NULL", "#N/A", "n/a")]
    + [
        (text, FAULT)
        for text in ("ERR", "Error", "OL", "LO", "HI", "Open", "short", "inf", "#VALUE!")
    ]
    + [
        (text, DAMAGED)
        for text in ("Mar 21", "02-Jan", "12:30", "21.4.3", "12,34,5", "2 1.4", "21.4 bananas")
    ],
)
def test_cells_without_a_number(text: str, state: int) -> None:
    value, found, _ = parse_cell(text, ".")
    assert found == state
    assert math.isnan(value)


@pytest.mark.parametrize(
    ("cells", "decimal"),
    [
        (["21,4", "45,2"], ","),
        (["21.4", "45"], "."),
        (["1,013.2", "21.4"], "."),
        (["1.013,2", "21,4"], ","),
        (["21,437", "45,120"], ","),  # three decimals and nothing to tell against it
        (["1,013", "21.4"], "."),  # the thousands mark does not outvote a decimal
        (["21", "45"], "."),
        (["21,4 °C", "45,2 %"], ","),
    ],
)
def test_decimal_mark_is_decided_by_the_file(cells: list[str], decimal: str) -> None:
    found, why = decide_decimal(cells)
    assert found == decimal
    assert why


def test_a_unit_in_the_cell_is_kept_with_its_row() -> None:
    cells = to_cells(["21.4 °C", "70.2 °F", "21.5"], ".")
    assert cells.units == {0: "°C", 1: "°F"}


def test_a_column_of_bytes_gives_exactly_what_float_gives() -> None:
    texts = ["15.07", "15.1", "15", "-3.2", "0", "-0.5", ".5", "5.", "12345678", "1234.567"]
    texts += ["-12345.67", "100", "-.5", "00.10", "-12345678"]
    columns = cut_text("\n".join(f"{text},x" for text in texts), ",", 2)
    assert columns is not None
    values, good = columns[0].floats(".")
    assert good.all()
    assert values.tolist() == [float(text) for text in texts]


@pytest.mark.parametrize(
    "text", ["1.2.3", ".", "-", "", "1e3", "+4", "NA", "123456789", "/1", "1:", "1/2", "1,5", " 5"]
)
def test_what_the_byte_reader_cannot_read_it_leaves(text: str) -> None:
    columns = cut_text(f"{text};1\n2;3", ";", 2)
    assert columns is not None
    _, good = columns[0].floats(".")
    assert good.tolist() == [False, True]
    assert to_cells(columns[0], ".").values[1] == 2.0


def test_bytes_and_texts_are_read_alike() -> None:
    texts = ["1.5", "NA", "", "ERR", "70.1 F", "1,013.2", "-40", "1.2E+01", "Mar 21", "12345678.5"]
    columns = cut_text("\n".join(f"{text};1" for text in texts), ";", 2)
    assert columns is not None
    one, other = to_cells(columns[0], "."), to_cells(texts, ".")
    np.testing.assert_array_equal(one.values, other.values)
    np.testing.assert_array_equal(one.state, other.state)
    assert (one.units, one.odd) == (other.units, other.odd)


@pytest.mark.parametrize(
    ("header", "unit", "rest"),
    [
        ("Temp(°F)", "°F", "Temp"),
        ("Temperature [C]", "°C", "Temperature"),
        ("RH %", "%", "RH"),
        ("T_degC", "°C", "T_"),
        ("Temperatur in °C", "°C", "Temperatur"),
        ("temp_f", "°F", "temp"),
        ("TempC", "°C", "Temp"),
        ("Pressure (inHg)", "inHg", "Pressure"),
        ("wind_m_s", "m/s", "wind"),
        ("Abs. Feuchte g/m³", "g/m³", "Abs. Feuchte"),
        ("Humidity", None, "Humidity"),
    ],
)
def test_unit_in_a_header(header: str, unit: str | None, rest: str) -> None:
    named = split_header(header)
    assert (named.unit, named.rest) == (unit, rest)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("°C", "°C"), ("℃", "°C"), ("Â°C", "°C"), ("?C", "°C"), ("%rF", "%"), ("banana", None)],
)
def test_unit_alone(text: str, unit: str | None) -> None:
    assert unit_of(text) == unit


FAULT_CASES = [
    ("air_temp_c", -40.0),
    ("air_temp_c", -127.0),
    ("air_temp_c", 85.0),
    ("air_temp_c", -999.0),
    ("air_temp_c", 327.67),
    ("dew_point_c", -46.85),
    ("surface_temp_c", 9999.0),
    ("rh_pct", 0.0),
    ("rh_pct", 105.1),
    ("rh_pct", -3.0),
    ("rh_pct", 65535.0),
    ("pressure_hpa", 0.0),
    ("wind_m_s", 468.0),  # 1048 mph, as once in the New York weather of 2013
    ("rain_mm", -9900.0),
]


@pytest.mark.parametrize(("house", "value"), FAULT_CASES)
def test_fault_codes_become_nan_and_are_flagged(house: str, value: float) -> None:
    values, flags = np.array([value, 20.0 if house != "pressure_hpa" else 999.0]), np.zeros(2, "u2")
    mark_faults(house, values, flags)
    assert math.isnan(values[0])
    assert flags.tolist() == [Flag.FAULT, 0]
    assert not math.isnan(values[1])


def test_humidity_over_100_is_clamped_and_flagged() -> None:
    values, flags = np.array([100.0, 100.1, 105.0]), np.zeros(3, np.uint16)
    mark_faults("rh_pct", values, flags)
    assert values.tolist() == [100.0, 100.0, 100.0]
    assert flags.tolist() == [0, Flag.CLAMPED, Flag.CLAMPED]


def test_a_spike_leaves_both_neighbours() -> None:
    time_s = np.arange(5) * 900
    assert find_spikes(time_s, np.array([10.0, 10, 25, 10, 10]), 8.0).tolist() == [0, 0, 1, 0, 0]
    assert not find_spikes(time_s, np.array([10.0, 10, 25, 25, 25]), 8.0).any()
    assert not find_spikes(time_s * 10, np.array([10.0, 10, 25, 10, 10]), 8.0).any()


def test_stuck_needs_six_hours_and_twelve_rows() -> None:
    values = np.concatenate((np.full(25, 50.0), [51.0]))
    assert find_stuck(np.arange(26) * 900, values).sum() == 25
    assert not find_stuck(np.arange(26) * 600, values).any()
    assert not find_stuck(np.arange(6) * 7200, np.full(6, 50.0)).any()


def test_swapped_temperature_and_humidity() -> None:
    assert looks_swapped(np.array([70.0, 72, 71]), np.array([18.0, 18, 19]))
    assert not looks_swapped(np.array([18.0, 18, 19]), np.array([70.0, 72, 71]))
