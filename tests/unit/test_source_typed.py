"""A forecast typed by hand, turned into hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.place import Place
from advisor.climate.sources.typed import TypedForecast, typed_forecast
from advisor.physics import moist_air
from tests.helpers.forecast_answers import at, value

ZONE = ZoneInfo("Europe/Berlin")  # +2 h in May
#: 0° east: solar time is UTC. 21 March: the sun rises at 6 everywhere.
EQUINOX_S = at("2031-03-21T16:20")
PLACE = Place(54.0, 0.0)
TYPED = TypedForecast((8.0, 6.0), (17.0, 15.0), dew_point_c=4.0, wind="light", cloud="overcast")


def course(
    typed: TypedForecast = TYPED, now_s: int = EQUINOX_S, place: Place | None = PLACE
) -> Any:
    return typed_forecast(typed, place, now_s, ZONE)


def test_coldest_at_dawn_and_warmest_in_mid_afternoon() -> None:
    found = course()
    air = found.hourly.columns["air_temp_c"]
    assert found.hourly.start_s == at("2031-03-21T16:00")
    assert found.hourly.end_s == at("2031-03-23T15:00")
    # The hours hold the extremes exactly: knots lie on full hours.
    for time, degrees in (("22T06", 8.0), ("22T15", 17.0), ("23T06", 6.0), ("23T15", 15.0)):
        assert value(found, "air_temp_c", f"2031-03-{time}:00") == pytest.approx(degrees)
    assert air.min() == pytest.approx(6.0)
    assert air.max() == pytest.approx(17.0)


def test_half_way_between_extremes_is_their_mean() -> None:
    # Half-cosine from 15:00 (17 °C) to 06:00 (6 °C): at 22:30 it is 11.5 °C.
    found = course()
    around = [value(found, "air_temp_c", f"2031-03-22T{h}:00") for h in (22, 23)]
    assert sum(around) / 2 == pytest.approx(11.5, abs=0.01)


def test_dawn_follows_the_season_and_the_longitude() -> None:
    june = course(now_s=at("2031-06-21T12:00"))
    # 54° N at midsummer: sunrise about 03:35 solar (almanac, from memory): hour 4.
    assert value(june, "air_temp_c", "2031-06-22T04:00") == pytest.approx(8.0)
    east = course(place=Place(54.0, 45.0))  # three hours ahead
    assert value(east, "air_temp_c", "2031-03-22T03:00") == pytest.approx(8.0)


@pytest.mark.parametrize("lat", [-89.9, -66.0, 0.0, 66.6, 80.0])
@pytest.mark.parametrize("month", [1, 6, 12])
def test_any_latitude_has_a_dawn(lat: float, month: int) -> None:
    found = course(place=Place(lat, 20.0), now_s=at(f"2031-{month:02d}-21T12:00"))
    assert np.isfinite(found.hourly.columns["air_temp_c"]).all()


def test_without_a_place_the_clock_on_the_wall_decides_and_it_is_said() -> None:
    found = course(place=None, now_s=at("2031-05-04T16:20"))
    assert value(found, "air_temp_c", "2031-05-05T04:00") == pytest.approx(8.0)  # 06:00 there
    assert any("No place is set" in note for note in found.notes)


def test_without_a_place_dawn_stays_at_six_when_the_clocks_change() -> None:
    """Summer time began on 30 March 2031 at 01:00 UTC and ends on 26 October at 01:00 UTC."""
    spring = course(place=None, now_s=at("2031-03-28T16:20"))
    assert value(spring, "air_temp_c", "2031-03-29T05:00") == pytest.approx(8.0)
    assert value(spring, "air_temp_c", "2031-03-30T04:00") == pytest.approx(6.0)
    assert spring.hourly.end_s == at("2031-03-30T13:00")
    autumn = course(place=None, now_s=at("2031-10-24T16:20"))
    assert value(autumn, "air_temp_c", "2031-10-25T04:00") == pytest.approx(8.0)
    assert value(autumn, "air_temp_c", "2031-10-26T05:00") == pytest.approx(6.0)


def test_after_midnight_the_running_night_is_tonight() -> None:
    found = course(now_s=at("2031-03-22T02:10"))
    assert value(found, "air_temp_c", "2031-03-22T06:00") == pytest.approx(8.0)


def test_the_present_temperature_bends_the_course_until_the_next_extreme() -> None:
    bent, plain = course(replace(TYPED, air_temp_now_c=11.0)), course()
    now = (
        value(bent, "air_temp_c", "2031-03-21T16:00"),
        value(bent, "air_temp_c", "2031-03-21T17:00"),
    )
    # The course bends at 16:20, between the two hours.
    assert now[0] + (now[1] - now[0]) / 3 == pytest.approx(11.0, abs=0.2)
    after = slice(14, None)  # 06:00 and later
    name = "air_temp_c"
    assert bent.hourly.columns[name][after] == pytest.approx(plain.hourly.columns[name][after])


def test_todays_high_where_it_is_told() -> None:
    found = course(replace(TYPED, high_today_c=22.0), now_s=at("2031-03-21T09:00"))
    assert value(found, "air_temp_c", "2031-03-21T15:00") == pytest.approx(22.0)
    plain = course(now_s=at("2031-03-21T09:00"))
    assert any("as warm as the next" in note for note in plain.notes)
    assert not any("as warm as the next" in note for note in found.notes)


def test_dew_point_never_above_the_air() -> None:
    found = course(replace(TYPED, dew_point_c=9.0))
    air, dew = found.hourly.columns["air_temp_c"], found.hourly.columns["dew_point_c"]
    assert (dew <= air).all()
    assert dew.max() == 9.0
    assert dew.min() == pytest.approx(6.0)
    assert any("saturated" in note for note in found.notes)


@pytest.mark.parametrize(("where", "air_c"), [("high", 17.0), ("low", 8.0)])
def test_humidity_belongs_to_an_hour_of_the_day(where: Any, air_c: float) -> None:
    typed = replace(TYPED, dew_point_c=None, rh_pct=50.0, rh_at=where)
    expected = moist_air.dew_point_c(air_c, 50.0)
    dew = course(typed).hourly.columns["dew_point_c"]
    assert dew.max() == pytest.approx(expected)


def test_words_for_wind_and_cloud() -> None:
    hourly = course().hourly
    # Light breeze is force 2, 1.6 to 3.3 m/s (WMO Beaufort table).
    assert 1.6 <= hourly.columns["wind_m_s"][0] <= 3.3
    assert hourly.columns["cloud_pct"][0] == 100.0
    assert "rain_mm" not in hourly.columns
    assert course(replace(TYPED, dry=True)).hourly.columns["rain_mm"].max() == 0.0
    numbers = course(replace(TYPED, wind=4.0, cloud=10.0)).hourly
    assert (numbers.columns["wind_m_s"][0], numbers.columns["cloud_pct"][0]) == (4.0, 10.0)


def test_it_is_marked_as_typed() -> None:
    found = course()
    assert found.source == "typed"
    assert found.credit == "Forecast typed by hand"
    assert found.hourly.derived == set(found.hourly.columns)
    assert (found.step_h == 6.0).all()
    assert any("coldest at dawn" in note and "assumed" in note for note in found.notes)


def test_times_in_notes_are_the_shops() -> None:
    note = course(now_s=at("2031-05-04T16:20"), place=Place(54.0, 10.0)).notes[0]
    day = datetime.fromtimestamp(at("2031-05-04T14:00"), ZONE)  # 15:00 solar is 14:20 UTC
    assert f"{day:%H:%M}" in note


@pytest.mark.parametrize(
    "change",
    [
        {"lows_c": ()},
        {"highs_c": ()},
        {"lows_c": (8.0,)},
        {"lows_c": (8.0, 6.0, 5.0, 4.0)},
        {"lows_c": tuple([5.0] * 11), "highs_c": tuple([15.0] * 11)},
        {"lows_c": (18.0, 6.0)},
        {"lows_c": (float("nan"), 6.0)},
        {"highs_c": (170.0, 15.0)},
        {"dew_point_c": None},
        {"rh_pct": 50.0},
        {"dew_point_c": None, "rh_pct": 0.0},
        {"dew_point_c": None, "rh_pct": 120.0},
        {"wind": "brisk"},
        {"wind": -1.0},
        {"cloud": "some"},
        {"cloud": 130.0},
        {"air_temp_now_c": 99.0},
        {"high_today_c": 99.0},
    ],
)
def test_what_cannot_be_turned_into_hours(change: dict[str, Any]) -> None:
    with pytest.raises(RangeError, match="accepted"):
        replace(TYPED, **change)
