"""Bright Sky: observed and forecast hours, null humidity, kWh/m² and km/h."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from advisor.climate.sources.brightsky import BrightSky
from advisor.physics import moist_air
from tests.helpers.forecast_answers import (
    GONE,
    NOW_S,
    PLACE,
    at,
    changed,
    forecast,
    load,
    refused,
    value,
)

WEATHER = "brightsky_weather.json"


def brightsky(answer: Any) -> Any:
    return forecast("brightsky", "weather", answer)


def test_past_and_future_come_in_one_answer() -> None:
    found = brightsky(WEATHER)
    assert found.hourly.start_s == at("2031-05-04T00:00")
    assert found.hourly.end_s == at("2031-05-13T23:00")
    observed, told = found.notes
    assert observed == "Observed at Musterfeld, 4 km away, until 2031-05-04T14:00Z."
    assert told.startswith("Forecast at Musterfeld")


def test_sun_and_wind_in_house_units() -> None:
    found = brightsky(WEATHER)
    # 0.338 kWh/m² in the hour before is 338 W/m² in its mean; 8.2 km/h is 2.28 m/s.
    assert value(found, "sun_w_m2", "2031-05-04T00:00") == pytest.approx(338.0)
    assert value(found, "wind_m_s", "2031-05-04T00:00") == pytest.approx(8.2 / 3.6)
    assert "sun_w_m2" not in found.hourly.derived


def test_forecast_hours_have_a_dew_point_without_humidity() -> None:
    assert load(WEATHER)["weather"][20]["relative_humidity"] is None
    assert value(brightsky(WEATHER), "dew_point_c", "2031-05-04T20:00") == 9.0


def test_dew_point_from_humidity_where_only_that_is_there() -> None:
    answer = changed(WEATHER, "weather.2.dew_point", None)
    found = brightsky(answer)
    expected = moist_air.dew_point_c(17.4, 53.0)
    assert value(found, "dew_point_c", "2031-05-04T02:00") == pytest.approx(expected, abs=1e-9)
    assert "Dew point of 1 hour from humidity." in found.notes


@pytest.mark.parametrize("field", ["temperature", "wind_speed", "solar", "cloud_cover"])
def test_any_field_may_be_null_and_is_a_hole(field: str) -> None:
    column = {
        "temperature": "air_temp_c",
        "wind_speed": "wind_m_s",
        "solar": "sun_w_m2",
        "cloud_cover": "cloud_pct",
    }[field]
    found = brightsky(changed(WEATHER, f"weather.30.{field}", None))
    assert np.isnan(value(found, column, "2031-05-05T06:00"))
    assert np.isfinite(value(found, column, "2031-05-05T05:00"))


def test_a_missing_row_is_a_hole() -> None:
    found = brightsky(changed(WEATHER, "weather.30", GONE))
    assert np.isnan(value(found, "air_temp_c", "2031-05-05T06:00"))


def test_both_days_are_asked_for() -> None:
    """Without `last_date` the answer would be one day long."""
    (ask,) = BrightSky().requests(PLACE, NOW_S)
    assert (ask.params["date"], ask.params["last_date"]) == ("2031-05-01", "2031-05-15")
    assert (ask.params["units"], ask.params["tz"]) == ("dwd", "Etc/UTC")


def test_a_far_station_is_said() -> None:
    found = brightsky(changed(WEATHER, "sources.1.distance", 41_000))
    assert any("41 km away" in note and "far" in note for note in found.notes)


def test_no_station_near() -> None:
    error = refused("brightsky", "weather", "brightsky_error_404.json")
    assert "No sources match" in error.found


def test_credit_names_the_service_behind_it() -> None:
    assert "Deutscher Wetterdienst" in brightsky(WEATHER).credit


@pytest.mark.parametrize(
    ("path", "new", "where", "found"),
    [
        ("weather", [], "weather", "empty list"),
        ("weather", None, "weather", "null"),
        ("weather.5.temperature", 400, "weather[5].temperature", "400"),
        ("weather.5.relative_humidity", 130, "weather[5].relative_humidity", "130"),
        ("weather.5.solar", 4.0, "weather[5].solar", "4"),
        ("weather.5.wind_speed", -1, "weather[5].wind_speed", "-1"),
        ("weather.5.timestamp", "2031-05-04T01:00:00+00:00", "weather[5]", "after"),
        ("weather.5.timestamp", "2031-05-04T05:20:00+00:00", "weather[5]", "05:20"),
        ("weather.5.timestamp", "2031-05-04T05:00:00", "weather[5].timestamp", "05:00"),
        ("weather.5.timestamp", None, "weather[5].timestamp", "null"),
        ("weather.5.dew_point", 40.0, "hour 2031-05-04T05:00Z", "above air"),
        ("sources.0.distance", "near", "sources[0].distance", "near"),
    ],
)
def test_corrupt_answers(path: str, new: Any, where: str, found: str) -> None:
    error = refused("brightsky", "weather", changed(WEATHER, path, new))
    assert where in error.where
    assert found in error.found


def test_all_null_is_refused() -> None:
    answer = load(WEATHER)
    for row in answer["weather"]:
        row.update(dict.fromkeys(set(row) - {"timestamp"}))
    assert "0 hours" in refused("brightsky", "weather", answer).found
