"""A weather file as the forecast."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.place import Place
from advisor.climate.readings import ReadingTable
from advisor.climate.sources.table import from_table
from advisor.physics import moist_air
from tests.helpers.forecast_answers import HOUR_S, at

PLACE = Place(54.0, 0.0)
START_S = at("2031-05-04T00:00")
NAN = float("nan")


def table(minutes: list[int], **columns: list[float]) -> ReadingTable:
    time_s = START_S + 60 * np.array(minutes, dtype=np.int64)
    arrays = {name: np.array(values) for name, values in columns.items()}
    return ReadingTable(time_s, arrays, np.zeros(len(minutes), dtype=np.uint16))


def test_hourly_rows_are_kept() -> None:
    found = from_table(table([0, 60, 120], air_temp_c=[9, 8, 7], dew_point_c=[3, 3, 4]), PLACE, 0,
                       label="year.epw")  # fmt: skip
    assert found.hourly.start_s == START_S
    assert found.hourly.columns["air_temp_c"].tolist() == [9, 8, 7]
    assert found.step_h.tolist() == [1, 1, 1]
    assert found.source == "file"
    assert "year.epw" in found.notes[0]
    assert found.hourly.derived == frozenset()


def test_rows_off_the_hour_are_joined_by_lines() -> None:
    found = from_table(
        table([-10, 50, 110], air_temp_c=[0, 6, 12], dew_point_c=[0, 0, 0]), PLACE, 0
    )
    assert found.hourly.start_s == START_S
    assert found.hourly.columns["air_temp_c"] == pytest.approx([1.0, 7.0])


def test_three_hourly_files_are_bridged_and_marked() -> None:
    rows = [0, 180, 360, 540]
    found = from_table(table(rows, air_temp_c=[0, 3, 6, 9], dew_point_c=[0] * 4), PLACE, 0)
    assert found.hourly.columns["air_temp_c"] == pytest.approx(np.arange(10.0))
    assert found.step_h.tolist() == [1] + [3] * 9


def test_a_gap_in_an_hourly_file_is_a_hole() -> None:
    rows = [0, 60, 240, 300]
    found = from_table(table(rows, air_temp_c=[0, 1, 4, 5], dew_point_c=[0] * 4), PLACE, 0)
    assert (
        np.isnan(found.hourly.columns["air_temp_c"]).tolist()
        == [False] * 2 + [True] * 2 + [False] * 2
    )


def test_dew_point_from_humidity_is_marked() -> None:
    found = from_table(table([0, 60], air_temp_c=[10, 10], rh_pct=[50, 60]), PLACE, 0)
    assert found.hourly.columns["dew_point_c"][0] == pytest.approx(
        moist_air.dew_point_c(10.0, 50.0)
    )
    assert found.hourly.derived == {"dew_point_c"}


def test_rain_of_odd_steps_is_shared_without_loss() -> None:
    rows = list(range(0, 241, 20))
    rain = [0.0] + [0.5] * 12
    found = from_table(
        table(rows, air_temp_c=[9] * 13, dew_point_c=[3] * 13, rain_mm=rain), PLACE, 0
    )
    assert found.hourly.columns["rain_mm"][1:] == pytest.approx([1.5] * 4)
    rain[5] = NAN
    found = from_table(
        table(rows, air_temp_c=[9] * 13, dew_point_c=[3] * 13, rain_mm=rain), PLACE, 0
    )
    assert np.isnan(found.hourly.columns["rain_mm"]).tolist() == [False, False, True, False, False]


@pytest.mark.parametrize(
    "given",
    [
        table([], air_temp_c=[]),
        table([0], air_temp_c=[9], dew_point_c=[3]),
        table([5, 50], air_temp_c=[9, 9], dew_point_c=[3, 3]),
        table([0, 60], air_temp_c=[9, 9]),
        table([0, 60], air_temp_c=[NAN, NAN], dew_point_c=[3, 3]),
        table([0, 400 * 525_600], air_temp_c=[9, 9], dew_point_c=[3, 3]),
    ],
)
def test_what_is_no_weather(given: ReadingTable) -> None:
    with pytest.raises(RangeError, match="weather file"):
        from_table(given, PLACE, 0)


def test_hours_are_whole() -> None:
    found = from_table(table([7, 67, 127], air_temp_c=[9, 8, 7], dew_point_c=[3] * 3), PLACE, 0)
    assert found.hourly.start_s % HOUR_S == 0
