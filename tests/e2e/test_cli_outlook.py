"""`advisor outlook` on a job file, a shop log and weather outdoors, run as a user would."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.e2e.cli_shop import DAY, Done, call

JOB = """schema = 1
id = "shed"
name = "Shed"
time_zone = "UTC"
[shop]
kind = "stone shed"
volume_m3 = 300
latitude_deg = 52.5
longitude_deg = 0.75
[[area]]
id = "hull"
name = "hull side"
area_m2 = 8
[[area]]
id = "trailer"
name = "trailer outside"
area_m2 = 4
substrate = "steel"
outdoors = true
[[coat]]
id = "gloss"
name = "gloss"
area = "hull"
product = "typical-two-part-gloss"
pace_m2_per_h = 8
"""
NOW = DAY + timedelta(days=5, hours=9)


def weather(path: Path, days: float, *, columns: str = "time,air_temp_c,dew_point_c") -> Path:
    """Outdoors: 4 to 16 °C by day, dew point 3, hourly from the first day on."""
    lines = [columns]
    for hour in range(int(days * 24) + 1):
        at = DAY + timedelta(hours=hour)
        air = 10 + 6 * math.cos((hour % 24 - 15) / 12 * math.pi)
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{air:.2f},3.0")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def log(path: Path) -> Path:
    """In the shed, up to an hour before now: 11 to 13 °C, dew point 4.5, surface as the air."""
    lines = ["time,air_temp_c,dew_point_c,surface_temp_c"]
    for hour in range(5 * 24 + 9):
        at = DAY + timedelta(hours=hour)
        air = 12 + math.cos((hour % 24 - 17) / 12 * math.pi)
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{air:.2f},4.5,{air - 0.3:.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "shed.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def ask(tmp_path: Path, job: Path, *argv: object) -> Done:
    database = tmp_path / "shop.sqlite3"
    return call("outlook", "--job", job, "--database", database, *argv, now=NOW)


def test_every_area_hour_by_hour_with_its_spread(tmp_path: Path, job: Path) -> None:
    database = tmp_path / "shop.sqlite3"
    call("readings", "import", log(tmp_path / "log.csv"), "--database", database, now=NOW)
    file = weather(tmp_path / "out.csv", 9)
    found = ask(tmp_path, job, "--weather", file, "--days", "3", "--json").json
    assert found["source"]["id"] == "file"
    assert found["response"]["fitted"] is False
    hull, trailer = found["areas"]
    assert [a["id"] for a in found["areas"]] == ["hull", "trailer"]
    assert len(hull["hours"]) == 3 * 24 + 1
    first, night = hull["hours"][0], hull["hours"][18]
    assert datetime.fromisoformat(first["at"]) == NOW
    # The shed starts where it was measured and stays steadier than the weather (4 to 16 °C).
    assert first["air_temp_c"] == pytest.approx(11.5, abs=1.0)
    assert 6 < night["air_temp_c"] < 14
    for hour in hull["hours"][1:]:
        assert hour["origin"] == "forecast"
        for name in ("air_temp_c", "surface_temp_c", "dew_point_c"):
            assert hour["low"][name] < hour["high"][name]
        assert hour["dew_point_c"] <= hour["air_temp_c"]
        assert hour["margin_k"] == pytest.approx(
            # Two values rounded to 0.01 K each, and the frost point above the dew point.
            hour["surface_temp_c"] - hour["dew_point_c"], abs=0.5,
        )  # fmt: skip
    # Outdoors the air is the weather's own.
    assert min(h["air_temp_c"] for h in trailer["hours"]) == pytest.approx(4.0, abs=0.05)


def test_nothing_is_known_past_the_end_of_the_weather(tmp_path: Path, job: Path) -> None:
    file = weather(tmp_path / "out.csv", 6.5)  # ends in 27 hours
    hours = ask(tmp_path, job, "--weather", file, "--days", "3", "--json").json["areas"][0]["hours"]
    known = [h for h in hours if h["air_temp_c"] is not None]
    assert len(known) == 28
    assert all(h["origin"] == "unknown" and h["margin_k"] is None for h in hours[28:])


def test_without_weather_it_says_so_and_knows_nothing(tmp_path: Path, job: Path) -> None:
    done = ask(tmp_path, job, "--json")
    assert done.code == 0
    assert done.json["source"] is None
    assert "there is no forecast" in done.json["notes"][0]
    assert all(h["air_temp_c"] is None for h in done.json["areas"][0]["hours"])


def test_the_picture_has_both_lines_and_no_hole_is_bridged(tmp_path: Path, job: Path) -> None:
    file = weather(tmp_path / "out.csv", 6.5)
    out = tmp_path / "outlook.svg"
    done = ask(tmp_path, job, "--weather", file, "--days", "3", "--picture", out)
    assert done.code == 0
    assert "An outlook, not a measurement" in done.out
    svg = ET.fromstring(out.read_text(encoding="utf-8"))
    lines = svg.findall("{http://www.w3.org/2000/svg}polyline")
    assert len(lines) == 2
    # 28 known hours of 73: the lines end where the weather ends, not at the right edge.
    last_x = [float(line.attrib["points"].split()[-1].split(",")[0]) for line in lines]
    assert max(last_x) < 64 + (1180 - 64) * 0.45
    assert (tmp_path / "outlook-trailer.svg").exists()


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (("--weather", "none.csv"), ("none.csv", "no such file")),
        (("--days", "17"), ("17", "16")),
        (("--picture", "no-folder/x.svg"), ("x.svg", "accepted")),
    ],
)
def test_bad_input_is_one_line(
    tmp_path: Path, job: Path, argv: tuple[str, str], told: tuple[str, str]
) -> None:
    words = [str(tmp_path / w) if "/" in w or w.endswith(".csv") else w for w in argv]
    done = ask(tmp_path, job, *words)
    assert done.code == 2
    assert done.err.count("\n") == 1
    for word in told:
        assert word in done.err


def test_no_job_at_all(tmp_path: Path) -> None:
    done = call("outlook", "--database", tmp_path / "x.sqlite3", now=NOW)
    assert done.code == 2
    assert "job: found none" in done.err


def test_us_units_for_people(tmp_path: Path, job: Path) -> None:
    file = weather(tmp_path / "out.csv", 9)
    told = ask(tmp_path, job, "--weather", file, "--days", "1", "--units", "us").out
    assert "°F" in told
    assert "°C" not in told


def test_given_files_are_not_kept(tmp_path: Path, job: Path) -> None:
    file = weather(tmp_path / "out.csv", 9)
    ask(tmp_path, job, "--weather", file, "--json")
    again = call("outlook", "--database", tmp_path / "shop.sqlite3", "--json", now=NOW)
    assert again.code == 2
