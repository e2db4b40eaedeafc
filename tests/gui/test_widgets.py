"""Typed numbers and clock times, batches in words, reasons gathered."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import RangeError
from advisor.coatings.batch import plan_batches
from advisor.planning.explain import Reason
from advisor.planning.words import Words
from advisor.record.entry import number_of, quantity
from advisor.ui.panes.at_the_work import KINDS
from advisor.ui.panes.if_you_mix import batch_lines, batch_title
from advisor.ui.widgets.coat_on import clock_before
from advisor.ui.widgets.reading_box import parse_reading, shown_limits
from advisor.ui.widgets.reason_list import foremost, grouped, short

AIR, RH = KINDS["air_temp_c"], KINDS["rh_pct"]
NOON = datetime(2031, 5, 14, 12, 0, tzinfo=UTC).timestamp()
WORDS = Words("metric", ZoneInfo("UTC"), NOON)


@pytest.mark.parametrize(
    ("typed", "digits"),
    [("16.8", "16.8"), (" 16,8 ", "16.8"), ("-3", "-3"), ("−3", "-3"), ("3.", "3"),
     ("12.50", "12.50")],
)  # fmt: skip
def test_numbers_as_people_type_them(typed: str, digits: str) -> None:
    assert parse_reading(typed, AIR, "metric") == quantity(digits, "°C", "typed")


@pytest.mark.parametrize("typed", ["", "warm", "61", "-41", "nan", "inf", "1e9"])
def test_what_is_no_air_temperature(typed: str) -> None:
    with pytest.raises(RangeError, match="-40 to 60 °C"):
        parse_reading(typed, AIR, "metric")


@given(st.floats(-40, 60))
def test_units_do_not_move_a_reading(value_c: float) -> None:
    shown = value_c * 1.8 + 32
    low, high = shown_limits(AIR, "us")
    typed = f"{min(max(shown, low), high):.6f}"
    # Six decimals are kept: half a unit of the last one, and as much again from the typing.
    assert number_of(parse_reading(typed, AIR, "us")) == pytest.approx(value_c, abs=1e-6)


def test_humidity_of_nothing_is_refused() -> None:
    with pytest.raises(RangeError):
        parse_reading("0", RH, "metric")


def test_clock_times_are_the_last_ones_before() -> None:
    zone = ZoneInfo("UTC")
    assert clock_before("11:40", NOON, zone, "first patch") == NOON - 20 * 60
    assert clock_before("12.00", NOON, zone, "first patch") == NOON
    assert clock_before("12:05", NOON, zone, "first patch") == NOON + 5 * 60 - 86400
    for bad in ("", "9", "25:00", "noon", "9:99"):
        with pytest.raises(RangeError, match="first patch"):
            clock_before(bad, NOON, zone, "first patch")


def test_batch_in_words() -> None:
    plan = plan_batches(
        area_m2=10.0, pace_m2_per_h=10.0, wft_um=100.0, loss_pct=0.0, pot_life_h=4.0,
        induction_h=0.25, mix_temp_c=20.0, ratio=(2.0, 1.0), tray_life_h=0.5, open_time_h=0.5,
    )  # fmt: skip
    # 10 m² at 100 µm is one litre: two parts to one.
    assert batch_title(plan, "metric") == "One batch of 1.00 L"
    lines = batch_lines(plan, NOON, WORDS)
    assert lines[0] == "667 mL base + 333 mL hardener"
    assert "past use at 16:00, 4 h after mixing" in lines
    assert "fresh tray every 30 min" in lines


def test_a_batch_with_missing_figures_says_which() -> None:
    plan = plan_batches(area_m2=10.0, pace_m2_per_h=None, wft_um=None, ratio=(1.0, 1.0))
    assert batch_title(plan, "metric") == "Batch: can't tell"
    assert any("wet film" in line for line in batch_lines(plan, NOON, WORDS))


def reason(rule: str, measured: float, limit: float, title: str) -> Reason:
    return Reason(rule, "x", True, measured, limit, "°C", NOON, "data sheet", "whole", title)


def test_two_limits_of_one_thing_share_a_row() -> None:
    both = [
        reason("surface_temp", 17.8, 30.0, "Surface inside limits"),
        reason("surface_temp", 13.1, 12.0, "Surface inside limits"),
    ]
    assert len(grouped(both)) == 1
    assert short(both, WORDS) == "13.1 to 17.8 °C, limits 12.0 to 30.0 °C"
    assert short(both[:1], WORDS) == "17.8 °C at 12:00, limit 30.0 °C"


def test_margins_come_first_and_air_shares_a_line() -> None:
    air = reason("air_temp", 15.0, 30.0, "Air inside limits")
    dew = reason("margin", 3.8, 3.0, "Clear of dew until tack-free")
    assert [group[0].rule for group in grouped([air, dew])] == ["margin", "air_temp"]
    assert foremost(dew)
    assert not foremost(air)
