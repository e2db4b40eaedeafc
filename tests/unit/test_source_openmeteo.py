"""Open-Meteo: time zones, nulls, members, keys and own servers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.sources.openmeteo import OpenMeteo
from tests.helpers.forecast_answers import (
    GONE,
    NOW_S,
    PLACE,
    at,
    changed,
    forecast,
    load,
    refused,
    step_at,
    value,
)

GMT = "openmeteo_forecast_gmt.json"
UNIX = "openmeteo_forecast_unixtime.json"
LOCAL = "openmeteo_forecast_local_dst.json"
ENSEMBLE = "openmeteo_ensemble.json"


def openmeteo(answer: Any, kind: str = "forecast", **more: Any) -> Any:
    return forecast("openmeteo", kind, answer, **more)


# --- what is asked ----------------------------------------------------------------------


def test_asked_in_gmt_and_house_units() -> None:
    first, second = OpenMeteo().requests(PLACE, NOW_S)
    assert first.url == "https://api.open-meteo.com/v1/forecast"
    assert second.url == "https://ensemble-api.open-meteo.com/v1/ensemble"
    assert second.optional
    for ask in (first, second):
        assert ask.params["timezone"] == "GMT"
        assert ask.params["wind_speed_unit"] == "ms"
        assert "apikey" not in ask.params
    assert first.params["past_days"] == "3"


def test_an_own_key_goes_to_the_paid_hosts() -> None:
    first, second = OpenMeteo().requests(PLACE, NOW_S, "k3y")
    assert first.url.startswith("https://customer-api.open-meteo.com/")
    assert second.url.startswith("https://customer-ensemble-api.open-meteo.com/")
    assert first.params["apikey"] == second.params["apikey"] == "k3y"


def test_an_own_server_is_asked_instead() -> None:
    asks = OpenMeteo(server="https://weather.example.org/om/").requests(PLACE, NOW_S)
    assert [ask.url for ask in asks] == [
        "https://weather.example.org/om/v1/forecast",
        "https://weather.example.org/om/v1/ensemble",
    ]
    assert OpenMeteo(server="https://127.0.0.1:8080").requests(PLACE, NOW_S)


@pytest.mark.parametrize(
    "server",
    [
        "http://weather.example.org",
        "weather.example.org",
        "https://",
        "ftp://example.org",
        "https://[",
        "https://example.org/?x=1",
    ],
)
def test_other_servers_are_refused(server: str) -> None:
    with pytest.raises(RangeError):
        OpenMeteo(server=server).requests(PLACE, NOW_S)


def test_terms_come_before_use() -> None:
    source = OpenMeteo()
    assert source.opt_in
    assert "non-commercial" in source.terms
    assert "https://open-meteo.com/" in source.credit
    assert "CC BY 4.0" in source.credit


# --- times ------------------------------------------------------------------------------


def test_stamps_without_offset_are_gmt() -> None:
    found = openmeteo(GMT)
    assert found.hourly.start_s == at("2031-05-02T00:00")
    assert value(found, "air_temp_c", "2031-05-04T14:00") == 13.6
    assert value(found, "sun_w_m2", "2031-05-02T00:00") == 328.1


def test_unix_times_are_utc_whatever_the_offset() -> None:
    found = openmeteo(UNIX)
    assert found.hourly.start_s == at("2031-05-04T00:00")
    shifted = changed(UNIX, "utc_offset_seconds", 7200)
    assert openmeteo(shifted).hourly.start_s == found.hourly.start_s


def test_a_named_zone_keeps_one_offset_across_the_clock_change() -> None:
    """Summer time ends 2031-10-26 01:00 UTC; the answer stays at +2 h to its end."""
    found = openmeteo(LOCAL, now_s=at("2031-10-24T08:00"))
    assert found.hourly.start_s == at("2031-10-23T22:00")
    assert found.hourly.end_s == at("2031-10-27T21:00")
    assert np.isfinite(found.hourly.columns["air_temp_c"]).all()
    first, last = (
        load(LOCAL)["hourly"]["temperature_2m"][0],
        load(LOCAL)["hourly"]["temperature_2m"][-1],
    )
    assert value(found, "air_temp_c", "2031-10-23T22:00") == first
    assert value(found, "air_temp_c", "2031-10-27T21:00") == last


def test_an_offset_of_half_hours_is_refused() -> None:
    error = refused("openmeteo", "forecast", changed(GMT, "utc_offset_seconds", 19800))
    assert "full hour" in error.accepted


# --- values -----------------------------------------------------------------------------


def test_trailing_nulls_end_the_forecast() -> None:
    found = openmeteo(GMT)
    assert found.hourly.end_s == at("2031-05-13T06:00")
    assert np.isfinite(found.hourly.columns["air_temp_c"]).all()


def test_a_null_inside_is_a_hole() -> None:
    found = openmeteo(changed(GMT, "hourly.temperature_2m.70", None))
    assert np.isnan(value(found, "air_temp_c", "2031-05-04T22:00"))


def test_a_column_all_null_is_left_out() -> None:
    answer = load(GMT)
    answer["hourly"]["shortwave_radiation"] = [None] * 288
    assert "sun_w_m2" not in openmeteo(answer).hourly.columns


def test_rain_of_nothing_past_the_end_of_the_model_is_unknown() -> None:
    answer = load(GMT)
    answer["hourly"]["temperature_2m"][70] = None
    answer["hourly"]["precipitation"][70] = 0.0
    assert np.isnan(value(openmeteo(answer), "rain_mm", "2031-05-04T22:00"))


def test_pressure_is_that_at_the_place() -> None:
    found = openmeteo(GMT)
    assert value(found, "pressure_hpa", "2031-05-02T00:00") == 970.7
    assert "pressure_hpa" not in found.hourly.derived


def test_units_are_read_not_assumed() -> None:
    answer = changed(GMT, "hourly_units.wind_speed_10m", "km/h")
    asked = value(openmeteo(GMT), "wind_m_s", "2031-05-04T14:00")
    assert value(openmeteo(answer), "wind_m_s", "2031-05-04T14:00") == pytest.approx(asked / 3.6)


def test_hours_drawn_from_longer_steps_are_marked() -> None:
    found = openmeteo(GMT)
    assert step_at(found, "2031-05-07T00:00") == 1
    assert step_at(found, "2031-05-09T00:00") == 3
    assert step_at(found, "2031-05-12T00:00") == 6


# --- members ----------------------------------------------------------------------------


def test_control_and_members_join_the_forecast() -> None:
    found = openmeteo(ENSEMBLE, "ensemble", earlier=openmeteo(GMT))
    air, dew = found.members["air_temp_c"], found.members["dew_point_c"]
    assert air.shape == dew.shape == (6, len(found.hourly))
    at_first = (at("2031-05-04T00:00") - found.hourly.start_s) // 3600
    assert air[:, at_first].tolist() == [20.1, 19.9, 20.0, 20.1, 20.2, 20.3]
    assert np.isnan(air[:, :at_first]).all()  # the ensemble starts later
    assert np.isnan(air[:, -1]).all()  # and ends earlier
    assert not (dew > air).any()
    assert any("6 ensemble members" in note for note in found.notes)
    assert set(found.hourly.columns) == set(openmeteo(GMT).hourly.columns)


def test_an_ensemble_alone_is_a_forecast_from_its_control() -> None:
    found = openmeteo(ENSEMBLE, "ensemble")
    assert value(found, "air_temp_c", "2031-05-04T00:00") == 20.1
    assert found.members["air_temp_c"].shape[0] == 6


def renamed(suffix: str) -> Any:
    answer = load(ENSEMBLE)
    for part in ("hourly", "hourly_units"):
        answer[part] = {k if k == "time" else k + suffix: v for k, v in answer[part].items()}
    return answer


def test_a_model_name_behind_the_members() -> None:
    found = openmeteo(renamed("_one_model"), "ensemble", earlier=openmeteo(GMT))
    assert found.members["air_temp_c"].shape[0] == 6


def test_members_get_their_dew_point_from_humidity() -> None:
    answer = load(ENSEMBLE)
    answer["hourly"] = {k: v for k, v in answer["hourly"].items() if not k.startswith("dew")}
    found = openmeteo(answer, "ensemble", earlier=openmeteo(GMT))
    whole = openmeteo(ENSEMBLE, "ensemble", earlier=openmeteo(GMT))
    # Humidity is in whole percents: 0.5 % are about 0.2 K of dew point.
    miss = found.members["dew_point_c"] - whole.members["dew_point_c"]
    assert np.nanmax(np.abs(miss)) < 0.3


def test_a_column_without_all_members_is_left_out() -> None:
    answer = load(ENSEMBLE)
    del answer["hourly"]["dew_point_2m_member03"]
    del answer["hourly"]["relative_humidity_2m_member03"]
    assert openmeteo(answer, "ensemble", earlier=openmeteo(GMT)).members == {}


def test_a_member_never_has_its_dew_point_above_its_air() -> None:
    answer = changed(ENSEMBLE, "hourly.dew_point_2m_member02.30", 25.0)
    found = openmeteo(answer, "ensemble", earlier=openmeteo(GMT))
    k = (at("2031-05-05T06:00") - found.hourly.start_s) // 3600
    assert found.members["dew_point_c"][2, k] == found.members["air_temp_c"][2, k]


# --- what is refused --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("openmeteo_error_400.json", "dewpoint_nonsense"),
        ("openmeteo_error_429_day.json", "Daily"),
        ("openmeteo_error_429_minute.json", "Minutely"),
    ],
)
def test_the_reason_of_a_refusal_is_handed_on(name: str, reason: str) -> None:
    for kind in ("forecast", "ensemble"):
        assert reason in refused("openmeteo", kind, name).found


@pytest.mark.parametrize(
    ("path", "new", "where", "found"),
    [
        ("hourly.temperature_2m.3", 400, "hourly.temperature_2m[3]", "400"),
        ("hourly.relative_humidity_2m.3", 130, "hourly.relative_humidity_2m[3]", "130"),
        ("hourly.temperature_2m.3", GONE, "hourly.temperature_2m", "287 values"),
        ("hourly.temperature_2m", GONE, "hourly.temperature_2m", "no value"),
        ("hourly.temperature_2m", [None] * 288, "hourly.temperature_2m", "no value"),
        ("hourly.temperature_2m", "warm", "hourly.temperature_2m", "warm"),
        ("hourly.time.3", "2031-05-02T02:00", "hourly.time[3]", "after"),
        ("hourly.time.3", "tomorrow", "hourly.time[3]", "tomorrow"),
        ("hourly.time", [], "hourly.time", "empty list"),
        ("hourly_units.temperature_2m", "undefined", "hourly_units.temperature_2m", "undefined"),
        ("hourly_units.temperature_2m", GONE, "hourly_units.temperature_2m", "nothing"),
        ("hourly_units.time", "unixtime", "hourly.time[0]", "2031-05-02T00:00"),
        ("utc_offset_seconds", GONE, "utc_offset_seconds", "nothing"),
        ("utc_offset_seconds", 1e9, "utc_offset_seconds", "1000000000"),
        ("hourly", None, "hourly", "null"),
    ],
)
def test_corrupt_answers(path: str, new: Any, where: str, found: str) -> None:
    error = refused("openmeteo", "forecast", changed(GMT, path, new))
    assert where in error.where
    assert found in error.found
