"""Numbers and moments as the reader sees them."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from advisor.planning.words import Words, duration
from tests.helpers.products import DAY_S, HOUR_S, MONDAY_S

METRIC = Words("metric", ZoneInfo("Europe/London"), MONDAY_S)
US = Words("us", ZoneInfo("America/New_York"), MONDAY_S)


@pytest.mark.parametrize(
    ("value", "unit", "metric", "us"),
    [
        (12.0, "°C", "12.0 °C", "53.6 °F"),
        (3.0, "K", "3.0 K", "5.4 F°"),  # a difference: no 32° offset
        (-1.0, "K", "-1.0 K", "-1.8 F°"),
        (62.0, "%", "62%", "62%"),
        (5.0, "m/s", "5.0 m/s", "11.2 mph"),
        (25.4, "mm", "25.4 mm", "1.00 in"),
        (0.5, "share", "0.50 share", "0.50 share"),
        (0.5, "", "0.50", "0.50"),
    ],
)
def test_values(value: float, unit: str, metric: str, us: str) -> None:
    assert METRIC.value(value, unit) == metric
    assert US.value(value, unit) == us


def test_moments_of_today_need_no_day() -> None:
    assert METRIC.moment(MONDAY_S + 8 * HOUR_S) == "09:00"  # summer time
    assert METRIC.moment(MONDAY_S + DAY_S) == "Tue 01:00"
    assert METRIC.moment(MONDAY_S - 2 * HOUR_S) == "Sun 23:00"


def test_today_is_the_readers_day() -> None:
    # 00:00 UTC on Monday is still Sunday evening in New York.
    assert US.moment(MONDAY_S + 3 * HOUR_S) == "23:00"
    assert US.moment(MONDAY_S + 5 * HOUR_S) == "Mon 01:00"


def test_without_a_now_the_date_is_told() -> None:
    assert Words("metric", ZoneInfo("UTC")).moment(MONDAY_S + HOUR_S) == "Mon 1 01:00"


def test_moments_are_rounded_to_the_second() -> None:
    assert METRIC.moment(MONDAY_S + 8 * HOUR_S - 0.4) == "09:00"


def test_iso_carries_the_offset() -> None:
    assert METRIC.iso(MONDAY_S) == "2026-06-01T01:00:00+01:00"
    assert US.iso(MONDAY_S + 0.2) == "2026-05-31T20:00:00-04:00"


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (0.0, "0 min"), (0.5, "30 min"), (59.4 / 60, "59 min"), (59.6 / 60, "1 h"), (1.0, "1 h"),
        (1.25, "1 h 15 min"), (35.0, "35 h"), (36.0, "1.5 days"), (60.0, "2.5 days"),
    ],
)  # fmt: skip
def test_duration(hours: float, text: str) -> None:
    assert duration(hours) == text
