"""Items 5 and 6: units, languages, several channels, wide and long files, stations."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError, InputError
from advisor.climate.logs.header import describe_name
from advisor.climate.logs.importer import read_log
from advisor.climate.readings import ImportedFile


def read(tmp_path: Path, text: str, **told: object) -> ImportedFile:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    told.setdefault("time_zone", "UTC")
    return read_log(path, **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("header", "quantity"),
    [
        ("air_temp_c", "air_temp_c"),
        ("surface_temp_c", "surface_temp_c"),
        ("Temperature", "air_temp_c"),
        ("Temperatur", "air_temp_c"),
        ("Température (°C)", "air_temp_c"),
        ("Temperatura", "air_temp_c"),
        ("Lämpötila", "air_temp_c"),
        ("Teplota [°C]", "air_temp_c"),
        ("温度", "air_temp_c"),
        ("T1", "air_temp_c"),
        ("Temp, °C (S/N: 123, probe: 456)", "air_temp_c"),
        ("Lufttemperatur", "air_temp_c"),
        ("RH", "rh_pct"),
        ("Feuchte", "rh_pct"),
        ("rel. Luftfeuchtigkeit", "rh_pct"),
        ("Humidité", "rh_pct"),
        ("Umidità relativa", "rh_pct"),
        ("Humedad", "rh_pct"),
        ("Luftfuktighet", "rh_pct"),
        ("湿度", "rh_pct"),
        ("RH1", "rh_pct"),
        ("relHum", "rh_pct"),
        ("Dew Point (°C)", "dew_point_c"),
        ("Taupunkt", "dew_point_c"),
        ("Point de rosée", "dew_point_c"),
        ("Punto di rugiada", "dew_point_c"),
        ("露点温度", "dew_point_c"),
        ("dewp", "dew_point_c"),
        ("Hull temp", "surface_temp_c"),
        ("Keel temperature °C", "surface_temp_c"),
        ("Surface (°C)", "surface_temp_c"),
        ("Oberflächentemperatur", "surface_temp_c"),
        ("Floor temp", "surface_temp_c"),
        ("Object temperature", "surface_temp_c"),
        ("Pressure (inHg)", "pressure_hpa"),
        ("Luftdruck", "pressure_hpa"),
        ("wind_speed", "wind_m_s"),
        ("wind_gust", "gust"),
        ("wind_dir", "wind_dir"),
        ("Niederschlag mm", "rain_mm"),
        ("Absolute Feuchte (g/m³)", "abs_humidity"),
        ("Abs. humidity", "abs_humidity"),
        ("Wet bulb °C", "wet_bulb"),
        ("Frost point", "frost_point"),
        ("Ch1 °C", "air_temp_c"),
        ("Ch2 %", "rh_pct"),
        ("Event", None),
        ("evento", None),
        ("CO2", None),
        ("Light", None),
    ],
)
def test_what_a_header_names(header: str, quantity: str | None) -> None:
    assert describe_name(0, header).quantity == quantity


@pytest.mark.parametrize(
    ("header", "place"),
    [
        ("Outdoor temp", "outdoor"),
        ("Außentemperatur", "outdoor"),
        ("Temperature_Exterior_Sensor", "outdoor"),
        ("Weather_Temperature", "outdoor"),
        ("Indoor temp", "indoor"),
        ("Temperature_Comedor_Sensor", "indoor"),
        ("Workshop temp", "indoor"),
        ("Temp", ""),
    ],
)
def test_where_a_header_says_it_was_measured(header: str, place: str) -> None:
    assert describe_name(0, header).place == place


UNIT_CASES = [
    ("Temp (°F)", ["50", "59"], "air_temp_c", [10, 15]),
    ("Temp (K)", ["283.15", "288.15"], "air_temp_c", [10, 15]),
    ("Temp", ["60", "68"], "air_temp_c", [15.5555555556, 20]),  # over 50: not °C in a shop
    ("Temp", ["12", "15"], "air_temp_c", [12, 15]),
    ("Temp", ["70.7 °F", "21.5 °C"], "air_temp_c", [21.5, 21.5]),
    ("RH", ["0.45", "0.5"], "rh_pct", [45, 50]),
    ("Pressure mmHg", ["760", "750"], "pressure_hpa", [1013.25, 999.918]),
    ("Pressure", ["29.92", "29.53"], "pressure_hpa", [1013.2, 1000.0]),
    ("Pressure", ["101.3", "100"], "pressure_hpa", [1013, 1000]),
    ("Pressure (Pa)", ["101300", "100000"], "pressure_hpa", [1013, 1000]),
    ("Pressure mbar", ["1013", "1000"], "pressure_hpa", [1013, 1000]),
    ("Wind km/h", ["36", "18"], "wind_m_s", [10, 5]),
    ("Wind (kn)", ["10", "20"], "wind_m_s", [5.144444, 10.288889]),
    ("Wind mph", ["10", "20"], "wind_m_s", [4.4704, 8.9408]),
    ("Rain (in)", ["0.1", "0"], "rain_mm", [2.54, 0]),
]


@pytest.mark.parametrize(("header", "cells", "house", "values"), UNIT_CASES)
def test_units_to_house_units(
    tmp_path: Path, header: str, cells: list[str], house: str, values: list[float]
) -> None:
    text = f"Time;{header}\n2031-05-04 06:00;{cells[0]}\n2031-05-04 07:00;{cells[1]}\n"
    file = read(tmp_path, text)
    # 0.02: inches and millimetres of mercury are defined to 1e-6, the values typed to 4 digits.
    np.testing.assert_allclose(
        file.table.column(house), values, atol=0.02 if "ress" in header else 1e-6
    )
    assert header in file.report.mapping[house]


def test_unit_in_the_lines_above(tmp_path: Path) -> None:
    text = "Temperature unit: F\n\nTime,Temp,RH\n2031-05-04 06:00,41,71\n2031-05-04 07:00,50,72\n"
    file = read(tmp_path, text)
    np.testing.assert_allclose(file.table.column("air_temp_c"), [5, 10], atol=1e-12)


def test_humidity_and_dew_point_tell_the_unit_where_the_range_cannot(tmp_path: Path) -> None:
    # 41 °F, 71 % -> dew point 32.4 °F; read as °C the dew point would be 35 °C.
    rows = "".join(f"2031-05-04 0{hour}:00,41,71,32.4\n" for hour in range(5))
    file = read(tmp_path, "Time,Temp,RH,Dew point\n" + rows)
    assert "only agree in °F" in file.report.mapping["air_temp_c"]
    np.testing.assert_allclose(file.table.column("air_temp_c"), 5.0, atol=1e-12)


def test_a_silent_change_from_celsius_to_fahrenheit(tmp_path: Path) -> None:
    cells = ["18.0", "18.1", "18.2", "18.2", "64.8", "64.9", "65.1", "65.0", "64.9"]
    rows = "".join(f"2031-05-04 {6 + i:02d}:00,{cell}\n" for i, cell in enumerate(cells))
    file = read(tmp_path, "Time,Temp °C\n" + rows)
    # 0.5: the two units meet to within the drift between two readings.
    np.testing.assert_allclose(file.table.column("air_temp_c"), 18.2, atol=0.5)
    assert "unit changes to °F at line 6" in " ".join(file.report.notes)


WIDE = (
    "Time;Outdoor temp;Outdoor RH;Hull temp;Shop temp;Shop RH\n"
    "2031-05-04 06:00;5;90;9;11;70\n2031-05-04 06:15;5;91;9;12;69\n"
)


def test_indoor_sensors_are_preferred_and_the_choice_explained(tmp_path: Path) -> None:
    file = read(tmp_path, WIDE)
    assert file.table.column("air_temp_c").tolist() == [11, 12]
    assert file.table.column("rh_pct").tolist() == [70, 69]
    assert file.table.column("surface_temp_c").tolist() == [9, 9]
    why = file.report.mapping["air_temp_c"]
    assert "indoor" in why
    assert "Outdoor temp" in why


def test_indoor_air_is_never_paired_with_outdoor_humidity(tmp_path: Path) -> None:
    text = WIDE.replace("Shop RH", "Light")
    file = read(tmp_path, text)
    assert file.table.column("air_temp_c").tolist() == [11, 12]
    assert np.isnan(file.table.column("rh_pct")).all()
    assert "another place" in " ".join(file.report.notes)


def test_only_outdoor_columns_make_a_weather_file(tmp_path: Path) -> None:
    text = "Time;Outdoor temp;Outdoor RH\n2031-05-04 06:00;5;90\n2031-05-04 06:15;5;91\n"
    file = read(tmp_path, text)
    assert file.table.column("air_temp_c").tolist() == [5, 5]
    assert file.table.column("rh_pct").tolist() == [90, 91]


def test_channels_are_paired_by_number(tmp_path: Path) -> None:
    text = "Time,T1,T2,RH2,RH1\n2031-05-04 06:00,11,21,40,70\n2031-05-04 06:15,12,22,41,71\n"
    file = read(tmp_path, text)
    assert file.table.column("air_temp_c").tolist() == [11, 12]
    assert file.table.column("rh_pct").tolist() == [70, 71]
    told = read(tmp_path, text, columns={"air_temp_c": "T2"})
    assert told.table.column("air_temp_c").tolist() == [21, 22]
    assert told.table.column("rh_pct").tolist() == [40, 41]
    assert "chosen by you" in told.report.mapping["air_temp_c"]


def test_columns_may_be_told(tmp_path: Path) -> None:
    told = {"air_temp_c": "Outdoor temp", "surface_temp_c": "shop temp"}
    file = read(tmp_path, WIDE, columns=told)
    assert file.table.column("air_temp_c").tolist() == [5, 5]
    assert file.table.column("rh_pct").tolist() == [90, 91]
    assert file.table.column("surface_temp_c").tolist() == [11, 12]


@pytest.mark.parametrize(
    ("told", "found"),
    [({"air_temp_c": "Nowhere"}, "no column 'Nowhere'"), ({"air": "Shop temp"}, "'air'")],
)
def test_wrong_columns_are_told_with_the_right_ones(
    tmp_path: Path, told: dict[str, str], found: str
) -> None:
    with pytest.raises(InputError, match=found) as caught:
        read(tmp_path, WIDE, columns=told)
    assert "accepted" in str(caught.value)


def test_row_number_and_event_columns_are_no_obstacle(tmp_path: Path) -> None:
    text = (
        "No.,Date,Time,Temp °C,RH %,Event\n1,2031-05-04,06:00:00,,,Start\n"
        "2,2031-05-04,06:15:00,12,70,\n3,2031-05-04,06:30:00,12,71,\n4,2031-05-04,06:31:00,,,Stop\n"
    )
    file = read(tmp_path, text)
    assert file.table.column("air_temp_c").tolist() == [12, 12]
    assert "event 'Start'" in file.report.dropped[0].reason
    assert [row.line for row in file.report.dropped] == [2, 5]


def test_a_long_file_is_turned_wide(tmp_path: Path) -> None:
    text = "Time,Channel,Value\n" + "".join(
        f"2031-05-04 06:{minute:02d},{name},{value}\n"
        for minute in (0, 15)
        for name, value in (("Temperature", 12 + minute / 15), ("Humidity", 70), ("Battery", 3))
    )
    file = read(tmp_path, text)
    assert len(file.table) == 2
    assert file.table.column("air_temp_c").tolist() == [12, 13]
    assert file.table.column("rh_pct").tolist() == [70, 70]
    assert (file.report.rows_read, file.report.rows_used) == (6, 4)
    assert "channel 'Battery' not used" in file.report.dropped[0].reason


STATIONS = "Time,Station,Temp,RH\n" + "".join(
    f"2031-05-04 {hour:02d}:00,{name},{temp},70\n"
    for hour in range(3)
    for name, temp in (("Quay", 10), ("Loft", 15))
)


def test_a_file_of_several_stations_needs_a_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Loft, Quay"):
        read(tmp_path, STATIONS)
    with pytest.raises(InputError, match="Loft, Quay"):
        read(tmp_path, STATIONS, station="Pier")
    file = read(tmp_path, STATIONS, station="Loft")
    assert file.table.column("air_temp_c").tolist() == [15, 15, 15]
    assert file.report.rows_dropped == 3
    assert file.report.dropped[0].reason == "belongs to station 'Quay'"


def test_one_station_needs_no_name(tmp_path: Path) -> None:
    text = STATIONS.replace("Quay", "Loft")
    file = read(tmp_path, text)
    assert file.report.rows_used == 3
    assert "contradicts line 2" in file.report.dropped[0].reason


def test_station_told_where_there_is_none(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no station column"):
        read(tmp_path, WIDE, station="Loft")


def test_without_a_header_the_values_tell(tmp_path: Path) -> None:
    rows = "".join(f"{i},2031-05-04 {i:02d}:00,12.{i},70.{i},6.{i},1013.{i}\n" for i in range(5))
    file = read(tmp_path, rows)
    assert file.table.column("air_temp_c").tolist() == [12.0, 12.1, 12.2, 12.3, 12.4]
    assert file.table.column("rh_pct").tolist() == [70.0, 70.1, 70.2, 70.3, 70.4]
    assert file.table.column("dew_point_c").tolist() == [6.0, 6.1, 6.2, 6.3, 6.4]
    assert file.table.column("pressure_hpa")[0] == 1013.0
    assert "guessed" in file.report.mapping["header"]


def test_house_names_map_directly(tmp_path: Path) -> None:
    text = (
        "time,air_temp_c,rh_pct,dew_point_c,surface_temp_c\n"
        "2031-05-04T06:00:00Z,55.5,70,9,\n2031-05-04T06:15:00Z,55.5,71,9,10\n"
    )
    file = read(tmp_path, text, time_zone=None)
    assert file.table.column("air_temp_c").tolist() == [55.5, 55.5]  # never guessed as °F
    assert np.isnan(file.table.column("surface_temp_c")[0])


def test_surface_is_never_taken_from_air(tmp_path: Path) -> None:
    file = read(tmp_path, "Time,T1,T2,RH\n2031-05-04 06:00,11,9,70\n2031-05-04 06:15,12,9,71\n")
    assert "surface_temp_c" not in file.table.columns
    assert any("T2" in note for note in file.report.notes)


def test_error_names_the_file(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"log\.csv"):
        read(tmp_path, "Time,Depth\n2031-05-04 06:00,11\n2031-05-04 06:15,11\n")
