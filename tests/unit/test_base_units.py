"""Display units: exact factors, differences without offset, round trips."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base import units
from advisor.base.errors import RangeError

QUANTITIES = [
    units.TEMPERATURE,
    units.TEMPERATURE_DIFFERENCE,
    units.AREA,
    units.VOLUME,
    units.SMALL_VOLUME,
    units.FILM,
    units.SPEED,
    units.RAIN,
    units.LENGTH,
    units.PACE,
    units.COVERAGE,
    units.PRESSURE,
    units.MASS,
    units.HUMIDITY,
]

# House value, what a US reader sees. Source: definitions in NIST SP 811 (2008) appendix B.
US_VALUES = [
    (units.TEMPERATURE, 0.0, 32.0),
    (units.TEMPERATURE, 100.0, 212.0),
    (units.TEMPERATURE, -40.0, -40.0),
    (units.TEMPERATURE_DIFFERENCE, 3.0, 5.4),
    (units.TEMPERATURE_DIFFERENCE, 0.0, 0.0),
    (units.AREA, 0.09290304, 1.0),
    (units.VOLUME, 3.785411784, 1.0),
    (units.SMALL_VOLUME, 3.785411784, 128.0),
    (units.FILM, 25.4, 1.0),
    (units.SPEED, 0.44704, 1.0),
    (units.RAIN, 25.4, 1.0),
    (units.LENGTH, 0.3048, 1.0),
    (units.PACE, 0.09290304, 1.0),
    (units.COVERAGE, 1.0, 10.763910416709722 * 3.785411784),
    (units.PRESSURE, 33.86389, 1.0),
    (units.MASS, 0.45359237, 1.0),
]


@pytest.mark.parametrize(("quantity", "house", "shown"), US_VALUES)
def test_us_values(quantity: units.Quantity, house: float, shown: float) -> None:
    # 1e-12 relative: the factors are exact, only binary rounding is left.
    assert units.to_display(house, quantity, "us") == pytest.approx(shown, rel=1e-12, abs=1e-12)


@given(
    value=st.floats(-1e6, 1e6),
    quantity=st.sampled_from(QUANTITIES),
    system=st.sampled_from(units.UNIT_SYSTEMS),
)
def test_round_trip(value: float, quantity: units.Quantity, system: units.Units) -> None:
    shown = units.to_display(value, quantity, system)
    # 1e-9: one rounding each way; absolute because the offset of 32 cancels near 0 °F.
    back = units.from_display(shown, quantity, system)
    assert back == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(a=st.floats(-40, 60), b=st.floats(-40, 60))
def test_difference_of_temperatures_is_the_temperature_difference(a: float, b: float) -> None:
    shown = units.to_display(a, units.TEMPERATURE, "us") - units.to_display(
        b, units.TEMPERATURE, "us"
    )
    # 1e-9 F°: binary rounding of numbers around 100.
    expected = units.to_display(a - b, units.TEMPERATURE_DIFFERENCE, "us")
    assert shown == pytest.approx(expected, abs=1e-9)


def test_arrays_keep_their_holes() -> None:
    shown = units.to_display(np.array([0.0, np.nan, 10.0]), units.TEMPERATURE, "us")
    np.testing.assert_allclose(shown, [32.0, np.nan, 50.0], rtol=1e-15)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (units.format_difference(3.0, "us"), "5.4 F°"),
        (units.format_difference(3.0, "metric"), "3.0 K"),
        (units.format_temperature(3.0, "us"), "37.4 °F"),
        (units.format_temperature(-0.04, "metric"), "0.0 °C"),
        (units.format_temperature(-1.25, "metric"), "-1.2 °C"),
        (units.format_difference_with_sd(3.4, 0.7, "metric"), "3.4 K ± 0.7"),
        (units.format_difference_with_sd(3.4, None, "metric"), "3.4 K"),
        (units.format_humidity(62.0), "62%"),
        (units.format_area(24.0, "us"), "258 ft²"),
        (units.format_volume(0.35, "metric"), "350 mL"),
        (units.format_volume(1.25, "metric"), "1.25 L"),
        (units.format_volume(0.35, "us"), "11.8 fl oz"),
        (units.format_volume(4.0, "us"), "1.06 US gal"),
        (units.format_volume(None, "us"), "–"),
        (units.format_film(50.0, "us"), "2.0 mil"),
        (units.format_speed(4.2, "us"), "9.4 mph"),
        (units.format_rain(1.2, "us"), "0.05 in"),
        (units.format_length(10.0, "us"), "32.8 ft"),
        (units.format_pace(8.0, "us"), "86 ft²/h"),
        (units.format_value(1.0, units.TEMPERATURE, "us", with_label=False), "33.8"),
        (units.format_value(1.0, units.TEMPERATURE, "metric", decimals=2), "1.00 °C"),
        (units.label(units.FILM, "us"), "mil"),
    ],
)
def test_formats(text: str, expected: str) -> None:
    assert text == expected


@pytest.mark.parametrize("value", [None, math.nan])
def test_unknown_is_a_dash_never_a_zero(value: float | None) -> None:
    assert units.format_temperature(value, "metric") == units.NOT_KNOWN
    assert units.format_difference_with_sd(value, 0.7, "us") == units.NOT_KNOWN


def test_unknown_unit_system_is_refused() -> None:
    with pytest.raises(RangeError, match="accepted: metric or us"):
        units.to_display(1.0, units.AREA, "imperial")  # type: ignore[arg-type]
