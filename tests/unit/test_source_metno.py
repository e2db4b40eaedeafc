"""MET Norway: what its data model says against what we make of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from advisor.climate.sources.source import BadAnswer
from advisor.physics import moist_air
from tests.helpers.forecast_answers import (
    GONE,
    at,
    changed,
    forecast,
    load,
    refused,
    step_at,
    value,
)

GLOBAL = "metno_complete_global.json"
PERCENTILES = "metno_complete_percentiles.json"
COMPACT = "metno_compact.json"


def metno(answer: Any, **more: Any) -> Any:
    return forecast("metno", "complete", answer, **more)


def series(answer: Any) -> list[Any]:
    return answer["properties"]["timeseries"]  # type: ignore[no-any-return]


def details(step: Any, block: str = "instant") -> Any:
    return step["data"][block]["details"]


def test_instants_keep_their_values_and_stamps() -> None:
    found = metno(GLOBAL)
    assert found.hourly.start_s == at("2031-05-04T14:00")
    assert found.hourly.end_s == at("2031-05-14T00:00")
    assert value(found, "air_temp_c", "2031-05-04T14:00") == 13.6
    assert value(found, "dew_point_c", "2031-05-04T14:00") == 9.0
    assert value(found, "wind_m_s", "2031-05-04T15:00") == 4.3
    assert found.issued_s == at("2031-05-04T13:49")
    assert "dew_point_c" not in found.hourly.derived


def test_pressure_is_brought_from_sea_level_to_the_place() -> None:
    # Standard atmosphere: 361 m are 0.9579 of sea level; 1014.2 hPa there.
    found = metno(GLOBAL)
    assert value(found, "pressure_hpa", "2031-05-04T14:00") == pytest.approx(971.5, abs=0.1)
    assert "pressure_hpa" in found.hourly.derived


def test_steps_are_read_from_the_time_stamps() -> None:
    found = metno(GLOBAL)
    assert step_at(found, "2031-05-07T00:00") == 1
    assert step_at(found, "2031-05-07T01:00") == 6
    assert step_at(found, "2031-05-14T00:00") == 6


def test_compact_has_its_dew_point_from_humidity() -> None:
    found = metno(COMPACT)
    assert "dew_point_c" in found.hourly.derived
    expected = moist_air.dew_point_c(13.6, 74.0)
    assert value(found, "dew_point_c", "2031-05-04T14:00") == pytest.approx(expected, abs=1e-9)


def test_percentiles_become_low_and_high() -> None:
    found = metno(PERCENTILES)
    assert set(found.low10) == set(found.high90) == {"air_temp_c", "wind_m_s"}
    assert (found.low10["air_temp_c"][0], found.high90["air_temp_c"][0]) == (13.0, 14.2)
    assert found.low10["air_temp_c"].shape == found.hourly.columns["air_temp_c"].shape
    assert metno(GLOBAL).low10 == {}


def test_the_night_minimum_that_six_hourly_instants_miss() -> None:
    """06:00 and 12:00 UTC are 23:34 and 05:34 solar there: the minimum lies between."""
    found = metno(GLOBAL)
    low = details(next(s for s in series(load(GLOBAL)) if s["time"] == "2031-05-08T06:00:00Z"),
                  "next_6_hours")["air_temperature_min"]  # fmt: skip
    night = [value(found, "air_temp_c", f"2031-05-08T{h:02d}:00") for h in range(6, 13)]
    assert min(night) == low == 2.9
    assert night.index(low) == 5  # 11:00 UTC, 04:34 solar
    dew = [value(found, "dew_point_c", f"2031-05-08T{h:02d}:00") for h in range(6, 13)]
    assert all(d <= a for d, a in zip(dew, night, strict=True))


def test_without_extremes_the_six_hourly_course_is_a_straight_line() -> None:
    found = metno(COMPACT)
    ends = [value(found, "air_temp_c", f"2031-05-08T{h:02d}:00") for h in (6, 12)]
    assert value(found, "air_temp_c", "2031-05-08T09:00") == pytest.approx(sum(ends) / 2)


def test_percentiles_move_with_the_minimum() -> None:
    plain, found = load(PERCENTILES), metno(PERCENTILES)
    for step in series(plain):
        for name in ("air_temperature_min", "air_temperature_max"):
            step["data"].get("next_6_hours", {}).get("details", {}).pop(name, None)
    before = metno(plain)
    moved = found.hourly.columns["air_temp_c"] - before.hourly.columns["air_temp_c"]
    assert moved.min() < -1.0
    shift = found.low10["air_temp_c"] - before.low10["air_temp_c"]
    assert shift == pytest.approx(moved, abs=1e-12)


def test_rain_belongs_to_the_hour_before_the_stamp() -> None:
    answer = load(GLOBAL)
    details(series(answer)[0], "next_1_hours")["precipitation_amount"] = 2.5
    found = metno(answer)
    assert value(found, "rain_mm", "2031-05-04T15:00") == 2.5
    assert np.isnan(value(found, "rain_mm", "2031-05-04T14:00"))


def test_six_hours_of_rain_are_shared_out_without_loss() -> None:
    answer = load(GLOBAL)
    step = next(s for s in series(answer) if s["time"] == "2031-05-07T06:00:00Z")
    amount = details(step, "next_6_hours")["precipitation_amount"]
    found = metno(answer)
    hours = [value(found, "rain_mm", f"2031-05-07T{h:02d}:00") for h in range(7, 13)]
    assert sum(hours) == pytest.approx(amount)
    assert len(set(hours)) == 1


def test_keys_that_stop_leave_holes_not_zeros() -> None:
    answer = load(GLOBAL)
    for step in series(answer)[30:]:
        details(step).pop("cloud_area_fraction")
    cloud = metno(answer).hourly.columns["cloud_pct"]
    assert np.isfinite(cloud[:30]).all()
    assert np.isnan(cloud[30:]).all()


def test_empty_details_are_a_hole_that_is_not_bridged() -> None:
    answer = load(GLOBAL)
    series(answer)[5]["data"]["instant"]["details"] = {}
    found = metno(answer)
    assert np.isnan(value(found, "air_temp_c", "2031-05-04T19:00"))
    assert np.isfinite(value(found, "air_temp_c", "2031-05-04T18:00"))


def test_a_missing_hour_in_the_hourly_part_is_a_hole() -> None:
    answer = load(GLOBAL)
    del series(answer)[5:8]
    found = metno(answer)
    for hour in (19, 20, 21):
        assert np.isnan(value(found, "air_temp_c", f"2031-05-04T{hour}:00"))


def test_a_missing_step_in_the_six_hourly_part_is_a_hole() -> None:
    answer = load(GLOBAL)
    steps = series(answer)
    steps.remove(next(s for s in steps if s["time"] == "2031-05-09T06:00:00Z"))
    found = metno(answer)
    assert np.isnan(value(found, "air_temp_c", "2031-05-09T06:00"))
    assert np.isfinite(value(found, "air_temp_c", "2031-05-09T12:00"))


def test_an_old_body_read_again_starts_in_its_past() -> None:
    """As from the archive: the time it was fetched goes with it."""
    found = metno(GLOBAL, now_s=at("2031-05-05T08:00"))
    assert found.hourly.start_s == at("2031-05-04T14:00")


def test_overshoot_of_humidity_counts_as_saturated() -> None:
    answer = load(COMPACT)
    details(series(answer)[0])["relative_humidity"] = 101.2
    assert value(metno(answer), "dew_point_c", "2031-05-04T14:00") == 13.6


def test_credit_is_what_the_licence_asks() -> None:
    credit = metno(GLOBAL).credit
    assert "MET Norway" in credit
    assert "CC BY 4.0" in credit
    assert "https://creativecommons.org/licenses/by/4.0/" in credit
    assert "Yr" not in credit


UNITS = "properties.meta.units."
SERIES = "properties.timeseries"
THIRD = f"{SERIES}.3.data.instant.details."


@pytest.mark.parametrize(
    ("path", "new", "where", "found", "accepted"),
    [
        (UNITS + "air_temperature", "m/s", "units.air_temperature", '"m/s"', "celsius"),
        (UNITS + "wind_speed", GONE, "units.wind_speed", "nothing", '"wind_speed"'),
        (SERIES + ".8.time", "2031-05-04T20:00:00Z", "timeseries[8]", "after", "rise"),
        (SERIES + ".7.time", "2031-05-04T20:00:00Z", "timeseries[7]", "after", "rise"),
        (SERIES + ".7.time", "2031-05-04T21:30:00Z", "timeseries[7]", "21:30", "full hour"),
        (SERIES + ".7.time", "2031-05-04T21:00:00", "timeseries[7].time", "21:00", "offset"),
        (SERIES + ".7.time", 7, "timeseries[7].time", "7", "a text"),
        (SERIES + ".7.time", GONE, "timeseries[7].time", "nothing", '"time"'),
        (SERIES + ".7.data", None, "timeseries[7].data", "null", "an object"),
        (THIRD + "air_temperature", 400.0, "details.air_temperature", "400", "-40 to 60"),
        (THIRD + "relative_humidity", 130.0, "details.relative_humidity", "130", "0 to 105"),
        (THIRD + "air_temperature", "13.6", "details.air_temperature", '"13.6"', "number"),
        (THIRD + "air_temperature", True, "details.air_temperature", "true", "number"),
        (THIRD + "air_temperature", 10**400, "details.air_temperature", "huge", "finite"),
        (THIRD + "dew_point_temperature", 30.0, "T17:00Z", "dew point 30.0", "below the air"),
        (SERIES, [], SERIES, "empty list", "at least one"),
        (SERIES, {"0": 1}, SERIES, "an object", "a list"),
        (SERIES, load(GLOBAL)["properties"]["timeseries"][:10], "hours", "10 hours", "24"),
        (SERIES + ".86.time", "2131-05-14T00:00:00Z", SERIES, "hours from", "4000 hours"),
        ("properties.meta.updated_at", "yesterday", "updated_at", "yesterday", "a time"),
        ("properties", GONE, "properties", "nothing", "properties"),
    ],
)
def test_corrupt_answers(path: str, new: Any, where: str, found: str, accepted: str) -> None:
    error = refused("metno", "complete", changed(GLOBAL, path, new))
    assert where in error.where
    assert found in error.found
    assert accepted in error.accepted


def test_all_null_is_refused() -> None:
    answer = load(GLOBAL)
    for step in series(answer):
        step["data"]["instant"]["details"] = dict.fromkeys(details(step))
    assert "0 hours with air and dew point" in refused("metno", "complete", answer).found


def test_an_answer_made_long_ago_is_stale() -> None:
    day = 86400
    assert metno(GLOBAL, now_s=at("2031-05-05T04:00")).notes[-1].startswith("Made 14 h before")
    with pytest.raises(BadAnswer, match="time of issue"):
        metno(GLOBAL, now_s=at("2031-05-04T14:00") + day)


def test_an_answer_made_after_it_was_fetched_is_of_no_known_age() -> None:
    """It would come before every good one until then. An hour's slack for clocks that differ."""
    assert metno(GLOBAL, now_s=at("2031-05-04T12:50")).issued_s == at("2031-05-04T13:49")
    for year in ("2031-05-04T15:30:00Z", "2099-01-01T00:00:00Z"):
        answer = changed(GLOBAL, "properties.meta.updated_at", year)
        error = refused("metno", "complete", answer)
        assert error.where == "time of issue"
        assert "after it was fetched" in error.found
        assert error.accepted == "at most 1 h"
