"""US National Weather Service: the traps of its grid, periods and observations."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from advisor.climate.outdoor import Forecast
from advisor.climate.sources.nws import WeatherService
from advisor.climate.sources.source import BadAnswer, FollowUp
from advisor.physics import moist_air
from tests.helpers.forecast_answers import (
    GONE,
    NOW_S,
    PLACE,
    at,
    changed,
    forecast,
    load,
    parse,
    refused,
    step_at,
    value,
)

GRID = "nws_gridpoint.json"
HOURLY = "nws_hourly.json"
OBSERVED = "nws_observations.json"


def nws(answer: Any, kind: str = "grid", **more: Any) -> Forecast:
    return forecast("nws", kind, answer, **more)


# --- the way to the grid ----------------------------------------------------------------


def test_a_point_leads_to_grid_then_another_copy_then_hourly() -> None:
    found = parse("nws", "points", "nws_points.json")
    assert isinstance(found, FollowUp)
    grid, stations = found.asks
    assert grid.kind == "grid"
    assert grid.url == "https://api.weather.gov/gridpoints/OAX/11,22"
    assert grid.headers["Accept"] == "application/geo+json"
    assert not grid.optional
    assert grid.instead is not None
    assert grid.instead.url == grid.url
    assert grid.instead.headers["Accept"] == "*/*"  # reaches another copy when one is stale
    hourly = grid.instead.instead
    assert hourly is not None
    assert (hourly.kind, dict(hourly.params)) == ("hourly", {"units": "us"})
    assert hourly.url.endswith("/forecast/hourly")
    assert (stations.kind, stations.optional) == ("stations", True)


def test_nothing_unknown_is_added_to_an_address() -> None:
    """Unknown parameters are answered with 400."""
    (ask,) = WeatherService().requests(PLACE, NOW_S)
    assert ask.url == "https://api.weather.gov/points/41.23,-96.54"
    assert dict(ask.params) == {}


def test_a_point_without_a_grid_is_refused() -> None:
    error = refused("nws", "points", "nws_points_null_grid.json")
    assert error.where == "properties.forecastGridData"


@pytest.mark.parametrize(
    "address",
    [
        "http://api.weather.gov/gridpoints/OAX/11,22",
        "https://api.weather.gov.example.org/gridpoints/OAX/11,22",
        "https://someone@api.weather.gov/gridpoints",
        "https://[",
        "file:///etc/passwd",
        "https://api.weather.gov/grid points",
        7,
    ],
)
def test_only_addresses_of_the_service_are_followed(address: object) -> None:
    answer = changed("nws_points.json", "properties.forecastGridData", address)
    assert refused("nws", "points", answer).where == "properties.forecastGridData"


def test_the_nearest_station_is_asked_for_three_days() -> None:
    found = parse("nws", "stations", "nws_stations.json")
    assert isinstance(found, FollowUp)
    (ask,) = found.asks
    assert ask.url == "https://api.weather.gov/stations/KXMP/observations"
    assert dict(ask.params) == {"start": "2031-05-01T00:00:00Z", "limit": "500"}
    assert ask.optional


# --- the grid ---------------------------------------------------------------------------


def test_the_grid_starts_in_the_past_and_the_running_hour_is_kept() -> None:
    found = nws(GRID)
    assert found.hourly.start_s == at("2031-05-04T14:00")
    assert found.hourly.end_s == at("2031-05-12T00:00")
    assert found.issued_s == at("2031-05-04T13:32")
    # 14:00 and 15:00 of the fixture in °F: 56 and 59.
    assert value(found, "air_temp_c", "2031-05-04T14:00") == pytest.approx((56 - 32) / 1.8)


def test_each_layer_has_its_own_steps() -> None:
    found = nws(GRID)
    # Dew point 12:00 PT3H, then 15:00 PT5H; temperature changes hourly there.
    dew = [value(found, "dew_point_c", f"2031-05-04T{h}:00") for h in range(14, 20)]
    assert dew[0] == pytest.approx(8.8888888888889)
    assert len({round(d, 6) for d in dew[1:]}) == 1
    air = [value(found, "air_temp_c", f"2031-05-04T{h}:00") for h in range(14, 18)]
    assert len(set(air)) == 4


def test_a_run_that_could_be_one_long_step_counts_as_one() -> None:
    found = nws(GRID)
    assert step_at(found, "2031-05-04T16:00") == 1
    assert step_at(found, "2031-05-08T04:00") == 3
    answer = changed(GRID, "properties.temperature.values.92.validTime",
                     "2031-05-12T00:00:00+00:00/PT6H")  # fmt: skip
    assert step_at(nws(answer), "2031-05-12T03:00") == 6


def test_wind_is_given_in_km_per_h() -> None:
    assert value(nws(GRID), "wind_m_s", "2031-05-04T14:00") == pytest.approx(14.816 / 3.6)


def test_rain_sums_are_never_merged_and_share_their_six_hours() -> None:
    found = nws(GRID)
    hours = [value(found, "rain_mm", f"2031-05-07T{h:02d}:00") for h in range(7, 13)]
    assert sum(hours) == pytest.approx(8.42)
    assert np.isnan(value(found, "rain_mm", "2031-05-07T13:00"))  # told for three days only


def without(layer: str) -> Any:
    return changed(GRID, f"properties.{layer}", GONE)


def test_the_hole_in_the_dew_point_is_filled_from_humidity_only() -> None:
    hole = "2031-05-06T05:00"
    found = nws(GRID)
    layer = load(GRID)["properties"]["relativeHumidity"]["values"]
    rh = next(v["value"] for v in layer if v["validTime"].startswith("2031-05-06T05:00"))
    expected = moist_air.dew_point_c(value(found, "air_temp_c", hole), rh)
    assert value(found, "dew_point_c", hole) == pytest.approx(expected, abs=1e-9)
    assert "Dew point of 1 hour from humidity." in found.notes
    alone = nws(without("relativeHumidity"))
    assert np.isnan(value(alone, "dew_point_c", hole))
    assert np.isfinite(value(alone, "dew_point_c", "2031-05-06T04:00"))


def test_without_a_dew_point_layer_it_is_derived() -> None:
    assert "dew_point_c" in nws(without("dewpoint")).hourly.derived


def test_pressure_is_ignored() -> None:
    inches = {"values": [{"validTime": "2031-05-04T06:00:00+00:00/P7D", "value": 29.9}]}
    found = nws(changed(GRID, "properties.pressure", inches))
    assert "pressure_hpa" not in found.hourly.columns


def test_quantised_values_are_noted() -> None:
    assert any("0.6 K" in note for note in nws(GRID).notes)


@pytest.mark.parametrize("unit", ["unit:degC", "wmoUnit:degC", "degC"])
def test_units_under_any_namespace(unit: str) -> None:
    answer = changed(GRID, "properties.temperature.uom", unit)
    assert value(nws(answer), "air_temp_c", "2031-05-04T16:00") == pytest.approx(
        62 / 1.8 - 32 / 1.8
    )


def test_layers_may_be_absent_null_empty_or_unknown() -> None:
    answer = changed(GRID, "properties.skyCover", {"uom": "wmoUnit:percent", "values": []})
    answer["properties"]["windSpeed"] = None
    answer["properties"]["somethingNew"] = {"values": "?"}
    answer["properties"]["dewpoint"]["values"][20]["value"] = None
    found = nws(answer)
    assert "cloud_pct" not in found.hourly.columns
    assert "wind_m_s" not in found.hourly.columns


def test_grid_numbers_may_be_text() -> None:
    assert isinstance(load(GRID)["properties"]["gridX"], str)
    assert nws(changed(GRID, "properties.gridX", 11)).hourly.start_s == nws(GRID).hourly.start_s


@pytest.mark.parametrize(
    ("hours", "length"),
    [(54, "P2DT6H"), (54, "PT54H"), (48, "P2D"), (48, "PT2880M"), (168, "P1W"), (30, "PT108000S")],
)
def test_lengths_of_intervals(hours: int, length: str) -> None:
    layer = {
        "uom": "wmoUnit:degC",
        "values": [{"validTime": f"2031-05-04T14:00:00+00:00/{length}", "value": 20.0}],
    }
    found = nws(changed(GRID, "properties.temperature", layer))
    assert len(found.hourly) == hours


T = "properties.temperature."
FIRST = T + "values.0."


@pytest.mark.parametrize(
    ("path", "new", "where", "found", "accepted"),
    [
        (T + "uom", GONE, "temperature.uom", "nothing", '"uom"'),
        (T + "uom", "wmoUnit:percent", "temperature.uom", '"wmoUnit:percent"', "degc"),
        (T + "uom", 3, "temperature.uom", "3", "a text"),
        (FIRST + "value", 400, "values[0].value", "400", "-40 to 60"),
        (FIRST + "validTime", "2031-05-04T06:00:00+00:00", "validTime", "2031", "an interval"),
        (FIRST + "validTime", "2031-05-04T06:00:00+00:00/PT0H", "validTime", "PT0H", "an interval"),
        (FIRST + "validTime", "2031-05-04T06:00:00+00:00/P1Y", "validTime", "P1Y", "an interval"),
        (FIRST + "validTime", "2031-05-04T06:00:00/PT1H", "validTime", "06:00", "offset"),
        (FIRST + "validTime", "2031-05-04T09:00:00+00:00/PT1H", "values[1]", "after", "rise"),
        (T + "values", [], "properties.temperature", "no value", "at least one"),
        ("properties.temperature", GONE, "properties.temperature", "no value", "at least one"),
        ("properties.dewpoint", None, "hours", "hours with air", "24"),
        ("properties.relativeHumidity.values.5.value", 130, "values[5].value", "130", "105"),
        ("properties.updateTime", None, "updateTime", "null", "a text"),
        ("properties.updateTime", "2031-05-03T13:32:00+00:00", "time of issue", "25 h", "24 h"),
    ],
)
def test_corrupt_grids(path: str, new: Any, where: str, found: str, accepted: str) -> None:
    answer = changed(GRID, path, new)
    if path == "properties.dewpoint":
        del answer["properties"]["relativeHumidity"]
    error = refused("nws", "grid", answer)
    assert where in error.where
    assert found in error.found
    assert accepted in error.accepted


def test_a_grid_that_ended_before_now_is_refused() -> None:
    with pytest.raises(BadAnswer, match="before it was fetched"):
        nws(changed(GRID, "properties.updateTime", "2031-05-14T00:00:00+00:00"),
            now_s=at("2031-05-14T01:00"))  # fmt: skip


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("nws_error_503_grid_expired.json", "has expired"),
        ("nws_error_500_unexpected.json", "unexpected problem"),
        ("nws_error_404_marine.json", "marine areas"),
        ("nws_error_404_invalid_point.json", "requested point"),
    ],
)
def test_the_reason_of_a_refusal_is_handed_on(name: str, reason: str) -> None:
    for kind in ("points", "grid", "hourly"):
        assert reason in refused("nws", kind, name).found


def test_three_equal_hours_off_the_three_hourly_clock_are_hours() -> None:
    # 2031-05-05T20:00 PT3H: 3-hourly values begin at 18 and 21 UTC.
    assert step_at(nws(GRID), "2031-05-05T21:00") == 1


def test_a_dew_point_rounded_above_the_air_is_set_to_it() -> None:
    """Whole °F and unlike steps put it there in fog; half a step must not refuse the answer."""
    values = load(GRID)["properties"]["dewpoint"]["values"]
    place = next(i for i, v in enumerate(values) if v["validTime"].startswith("2031-05-08T09"))
    found = nws(changed(GRID, f"properties.dewpoint.values.{place}.value", 3.3333333333333))
    assert value(found, "air_temp_c", "2031-05-08T09:00") == pytest.approx(2.7777777777778)
    assert value(found, "dew_point_c", "2031-05-08T09:00") == pytest.approx(2.7777777777778)
    assert "Dew point up to 0.6 K above the air in 3 hours: set to the air." in found.notes


# --- hourly periods ---------------------------------------------------------------------


def test_hourly_periods_have_local_offsets() -> None:
    found = nws(HOURLY, "hourly")
    assert found.hourly.start_s == at("2031-05-04T14:00")  # 09:00-05:00
    assert len(found.hourly) == 156
    assert value(found, "air_temp_c", "2031-05-04T14:00") == pytest.approx((56 - 32) / 1.8)
    assert not {"cloud_pct", "rain_mm"} & found.hourly.columns.keys()
    assert any("instead of the raw grid" in note for note in found.notes)


def test_wind_in_words_is_the_middle_of_its_range() -> None:
    # "5 to 9 mph": 7 × 0.44704.
    assert value(nws(HOURLY, "hourly"), "wind_m_s", "2031-05-04T14:00") == pytest.approx(3.12928)
    one = changed(HOURLY, "properties.periods.0.windSpeed", "10 mph")
    assert value(nws(one, "hourly"), "wind_m_s", "2031-05-04T14:00") == pytest.approx(4.4704)


def test_quantity_objects_say_the_same() -> None:
    text, objects = nws(HOURLY, "hourly"), nws("nws_hourly_qv.json", "hourly")
    air = [f.hourly.columns["air_temp_c"] for f in (text, objects)]
    assert air[0] == pytest.approx(air[1], abs=1e-9)
    # {minValue 12.49, maxValue 14.99} km/h
    assert value(objects, "wind_m_s", "2031-05-04T14:00") == pytest.approx(13.74 / 3.6)


def test_periods_of_older_answers_have_no_dew_point() -> None:
    answer = load(HOURLY)
    for period in answer["properties"]["periods"]:
        del period["dewpoint"]
    assert "dew_point_c" in nws(answer, "hourly").hourly.derived
    for period in answer["properties"]["periods"]:
        del period["relativeHumidity"]
    assert "0 hours" in refused("nws", "hourly", answer).found


def test_a_missing_period_is_a_hole() -> None:
    found = nws(changed(HOURLY, "properties.periods.4", GONE), "hourly")
    assert np.isnan(value(found, "air_temp_c", "2031-05-04T18:00"))


@pytest.mark.parametrize(
    ("path", "new", "where"),
    [
        ("properties.periods.3.windSpeed", "a stiff breeze", "periods[3].windSpeed"),
        ("properties.periods.3.temperatureUnit", "furlong", "periods[3].temperatureUnit"),
        ("properties.periods.3.temperature", 400, "periods[3].temperature"),
        ("properties.periods.3.dewpoint.unitCode", GONE, "periods[3].dewpoint.unitCode"),
        ("properties.periods.3.startTime", "2031-05-04T09:00:00-05:00", "properties.periods[3]"),
        ("properties.periods", [], "properties.periods"),
    ],
)
def test_corrupt_periods(path: str, new: Any, where: str) -> None:
    assert where in refused("nws", "hourly", changed(HOURLY, path, new)).where


# --- observations -----------------------------------------------------------------------


def observed(answer: Any = OBSERVED) -> Forecast:
    return nws(answer, "observations", earlier=nws(GRID))


def test_observations_become_the_past() -> None:
    found = observed()
    assert found.hourly.start_s == at("2031-05-02T15:00")
    assert found.hourly.end_s == at("2031-05-12T00:00")
    assert len(found.step_h) == len(found.hourly)
    # 10:53 9.4 °C, 11:53 10.0 °C: seven of sixty minutes on.
    expected = 9.4 + 7 / 60 * 0.6
    assert value(found, "air_temp_c", "2031-05-04T11:00") == pytest.approx(expected)
    assert value(found, "pressure_hpa", "2031-05-04T11:00") == pytest.approx(1014.0)
    now = "2031-05-04T14:00"
    assert value(found, "air_temp_c", now) == value(nws(GRID), "air_temp_c", now)
    assert any("KXMP" in note for note in found.notes)


def test_a_null_report_is_a_hole() -> None:
    # 09:53 is null, so neither 09:53 nor what lies beside it tells 10:00.
    assert np.isnan(value(observed(), "air_temp_c", "2031-05-04T10:00"))
    assert np.isfinite(value(observed(), "wind_m_s", "2031-05-04T10:00"))


def test_values_that_failed_the_checks_of_the_service_are_left_out() -> None:
    answer = changed(OBSERVED, "features.3.properties.temperature.qualityControl", "X")
    found = observed(answer)
    assert np.isnan(value(found, "air_temp_c", "2031-05-04T11:00"))
    assert any("1 value left out" in note for note in found.notes)


def test_an_empty_list_with_status_200_changes_nothing() -> None:
    found = observed({"features": []})
    assert found.hourly.start_s == nws(GRID).hourly.start_s


def test_observations_alone_are_no_forecast() -> None:
    assert "observations alone" in refused("nws", "observations", OBSERVED).found


def test_corrupt_observations() -> None:
    path = "features.3.properties.temperature.value"
    error = refused("nws", "observations", changed(OBSERVED, path, 400), nws(GRID))
    assert "features[3].properties.temperature.value" in error.where
