"""Conditions changed in mid-coat. Invented readings on round limits; nothing from outside.

The last row of the notes' cases: two parts in the tray, fog rolls in. A naive rule says wait; the
right answer is a stopping line, the batch left, carry on or stop, and why.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.record.bench_state import Going, Patch
from advisor.record.review_types import LimitInForce
from advisor.work.at_work import Rows, filled, thinned
from advisor.work.live_alarms import alarms
from advisor.work.live_changed import Watch, changed
from advisor.work.live_views import ConditionsChanged
from tests.helpers.live_bench import MIN, NOW
from tests.helpers.products import NAN, UTC_WORDS

SHEET, PRACTICE = "data sheet", "common practice"
LIMITS = (
    LimitInForce("air_temp", "Air", 10.0, 30.0, "°C", SHEET),
    LimitInForce("surface_temp", "Surface", 10.0, 30.0, "°C", SHEET),
    LimitInForce("humidity", "Humidity", 30.0, 85.0, "%", SHEET),
    LimitInForce("margin", "Above dew point", 3.0, None, "K", PRACTICE),
    LimitInForce("hold_margin", "Above dew point until it can take dew", 2.0, None, "K", "x"),
    LimitInForce("wind", "Wind", None, 8.0, "m/s", PRACTICE),
    LimitInForce("rain", "Rain", None, 0.05, "mm", PRACTICE),
)
GOING = Going("first", NOW, NOW, None, (Patch("the bow", NOW + 5 * MIN),), (), (1,))
FINE = {"air_temp_c": 20.0, "rh_pct": 50.0, "surface_temp_c": 20.0}


def rows(minutes: list[float], flags: int = 0, **columns: list[float] | float) -> Rows:
    """Rows at minutes after the start; a column is one value or one for each row."""
    n = len(minutes)
    values = {k: np.broadcast_to(np.asarray(v, float), n).copy()
              for k, v in {**FINE, **columns}.items()}  # fmt: skip
    time_s = np.array([NOW + m * MIN for m in minutes], dtype=np.int64)
    table = ReadingTable(time_s, values, np.full(n, flags, dtype=np.uint16), Origin.MEASURED)
    return filled(thinned(table))


def look(found: Rows, minute: float, going: Going | None = GOING, life_min: float | None = 90.0,
         limits: tuple[LimitInForce, ...] = LIMITS) -> ConditionsChanged | None:  # fmt: skip
    until = None if life_min is None else NOW + life_min * MIN
    return changed(Watch(found, limits, NOW, going, until), NOW + minute * MIN, UTC_WORDS)


def must(found: ConditionsChanged | None) -> ConditionsChanged:
    assert found is not None
    return found


def test_all_inside_nothing_is_said() -> None:
    assert look(rows([0, 10, 20]), 20) is None
    assert look(rows([]), 20) is None


def test_fog_rolls_in_with_two_parts_in_the_tray() -> None:
    """Humidity 98 %: the dew point comes within 3 K of the surface, the ceiling is passed."""
    found = must(look(rows([0, 10, 20], rh_pct=[50.0, 60.0, 98.0]), 20))
    assert found.advice == "stop"
    assert found.since_s == NOW + 20 * MIN
    assert found.batch_left_s == 70 * MIN
    assert "after the bow" in found.stopping_line
    assert "natural edge" in found.stopping_line
    why = " ".join(found.why)
    assert "98%" in why
    assert SHEET in why
    assert PRACTICE in why
    assert "not spoilt" in why
    assert "1 h 10 min" in why


def test_a_surface_falling_under_the_margin() -> None:
    """Dew point of 20 °C and 50 % is 9.3 °C: 12 °C of surface is 2.7 K above it."""
    found = must(look(rows([0, 10], surface_temp_c=[20.0, 12.0]), 12))
    assert found.advice == "stop"
    assert "2.7 K above dew point" in found.headline
    assert "at least 3.0 K" in found.headline


def test_the_alarm_says_once_that_conditions_changed() -> None:
    found = must(look(rows([0, 10], surface_temp_c=[20.0, 12.0]), 12))
    (alarm,) = alarms((), (), found, UTC_WORDS)
    assert alarm.title == "Conditions changed"
    assert alarm.text.startswith("Surface 2.7 K above dew point")
    assert found.stopping_line in alarm.text


def test_a_wet_surface_stops_where_the_brush_is() -> None:
    found = must(look(rows([0, 10], surface_temp_c=[20.0, 9.0]), 10, limits=LIMITS[3:]))
    assert found.advice == "stop"
    assert "where the brush is" in found.stopping_line
    assert "wet" in found.headline


def test_rain_outdoors() -> None:
    found = must(look(rows([0, 10], rain_mm=[0.0, 0.4]), 10))
    assert found.advice == "stop"
    assert found.headline.endswith("rain on the work")
    assert "where the brush is" in found.stopping_line


def test_wind_spoils_the_edge_not_the_film() -> None:
    found = must(look(rows([0, 10], wind_m_s=[2.0, 11.0]), 10))
    assert found.advice == "look"
    assert "shorter panels" in found.stopping_line


def test_dry_air_is_a_look_and_never_hides_a_stop() -> None:
    assert must(look(rows([0, 10], rh_pct=[50.0, 20.0]), 10)).advice == "look"
    both = must(look(rows([0, 10], rh_pct=[50.0, 20.0], air_temp_c=[20.0, 33.0]), 10))
    assert both.advice == "stop"


@pytest.mark.parametrize(
    ("column", "value", "word"),
    [("air_temp_c", 31.0, "air"), ("air_temp_c", 9.0, "air"), ("surface_hot_c", 31.0, "surface")],
)
def test_each_limit_is_named(column: str, value: float, word: str) -> None:
    found = must(look(rows([0, 10], **{column: [20.0, value]}), 10))
    assert any(why.startswith(word) for why in found.why)


def test_on_the_limit_is_inside() -> None:
    assert look(rows([0, 10], rh_pct=[50.0, 85.0], surface_temp_c=30.0), 10) is None


def test_not_begun_the_batch_waits() -> None:
    found = must(look(rows([0, 10], rh_pct=[50.0, 98.0]), 10, going=None))
    assert found.advice == "stop"
    assert "Do not start" in found.stopping_line


def test_a_spent_batch_is_not_waited_for() -> None:
    found = must(look(rows([0, 100], rh_pct=[50.0, 98.0]), 100))
    assert found.batch_left_s == 0.0
    assert any("discard it" in why for why in found.why)


def test_a_batch_of_unknown_life_is_still_covered() -> None:
    found = must(look(rows([0, 10], rh_pct=[50.0, 98.0]), 10, life_min=None))
    assert found.batch_left_s is None
    assert any("Cover the batch" in why for why in found.why)


def test_a_short_return_inside_is_the_same_trouble() -> None:
    """Flicker about a limit is one alarm: it began at the first step outside."""
    flicker = rows([0, 10, 20, 30, 40], rh_pct=[50.0, 90.0, 80.0, 90.0, 90.0])
    assert must(look(flicker, 40)).since_s == NOW + 10 * MIN


def test_back_inside_must_hold_half_an_hour() -> None:
    back = rows([0, 10, 20, 30, 45, 60], rh_pct=[50.0, 98.0, 50.0, 50.0, 50.0, 50.0])
    stopped = replace(GOING, stopped_s=NOW + 11 * MIN)
    assert must(look(back, 20, stopped)).advice == "look"
    assert must(look(back, 39, stopped)).advice == "look"
    found = must(look(back, 41, stopped))
    assert found.advice == "carry on"
    assert "outside from" in found.why[0]
    # Nobody stopped: after half an hour inside there is nothing left to say.
    assert look(back, 41) is None


def test_after_a_wet_surface_it_is_dried_first() -> None:
    back = rows([0, 10, 20, 45], surface_temp_c=[20.0, 5.0, 20.0, 20.0])
    found = must(look(back, 60, replace(GOING, stopped_s=NOW + 11 * MIN), limits=LIMITS[3:]))
    assert found.advice == "look"
    assert "dry and wipe" in found.stopping_line


def test_carry_on_never_with_a_spent_batch() -> None:
    back = rows([0, 10, 20, 100], rh_pct=[50.0, 98.0, 50.0, 50.0])
    found = must(look(back, 100, replace(GOING, stopped_s=NOW + 11 * MIN)))
    assert found.advice != "carry on"
    assert "discard" in found.stopping_line


def test_a_sensor_lost_in_mid_coat() -> None:
    alive = rows([float(m) for m in range(10)])
    assert look(alive, 12) is None
    found = must(look(alive, 25))
    assert found.advice == "look"
    assert "silent" in found.headline
    assert "by hand" in found.stopping_line


def test_readings_by_hand_are_no_sensor() -> None:
    """Three readings an hour apart: the next is due after four hours, nothing is lost."""
    assert look(rows([0, 60, 120]), 200) is None


@pytest.mark.parametrize("flag", [Flag.STUCK, Flag.SPIKE, Flag.SWAPPED])
def test_a_doubtful_row_says_nothing(flag: Flag) -> None:
    assert look(rows([0, 10], int(flag), rh_pct=[50.0, 98.0]), 10) is None


def test_a_surface_read_now_and_then_meets_the_air_of_now() -> None:
    """The probe was read at the start, the sensor goes on: fog is seen all the same."""
    surface = [20.0] + [NAN] * 5
    humidity = [50.0, 50.0, 60.0, 70.0, 80.0, 84.0]
    fog = rows([0, 5, 10, 15, 20, 25], rh_pct=humidity, surface_temp_c=surface)
    found = must(look(fog, 25))
    assert "above dew point" in found.headline
    assert list(fog.whole_s) == [NOW]


def test_a_surface_read_too_long_ago_is_not_known() -> None:
    fog = rows([0, 70], rh_pct=[50.0, 84.0], surface_temp_c=[20.0, NAN])
    assert np.isnan(fog.margin_k[1])
