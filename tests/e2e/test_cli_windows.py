"""`advisor windows`: keys, figures worked by hand, and the same answer in any zone."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.e2e.cli_shop import DAY, Done, at, call, product, write_log

GLOSS = product("two-part-gloss")


def windows(log: Path, *more: object, name: Path | str = GLOSS) -> Done:
    return call("windows", "--json", "--conditions", log, "--product", name,
                "--apply-hours", 2, *more)  # fmt: skip


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """8 K above dew point for two days, then 2.5 K for ever."""
    columns = {
        "air_temp_c": 20.0, "surface_temp_c": 20.0,
        "dew_point_c": [(0, 12.0), (48, 12.0), (48 + 1 / 12, 17.5), (120, 17.5)],
    }  # fmt: skip
    return write_log(tmp_path / "log.csv", 120, columns)


def test_documented_keys(log: Path) -> None:
    told = windows(log, "--starts").json
    assert list(told)[:3] == ["grid_minutes", "windows", "starts"]
    assert told["grid_minutes"] == 5
    assert list(told["windows"][0]) == [
        "opens", "closes", "verdict", "chance", "tightest", "closes_because",
    ]  # fmt: skip
    assert list(told["windows"][0]["tightest"]) == ["rule", "at", "measured", "limit"]
    assert list(told["starts"][0]) == ["at", "verdict", "broken"]
    assert "starts" not in windows(log).json


def test_a_window_by_hand(log: Path) -> None:
    """Go while the film is tack-free by 48 h: 0.25 h induction, 2 h of work, 3 h at 20 °C.

    From then on the margin of 2.5 K carries it (2 K) but nothing may start. At 85.7 % no rule
    but humidity and margin is broken.
    """
    told = windows(log, "--starts").json
    first, second = told["windows"][:2]
    assert (first["verdict"], first["opens"]) == ("go", at(0))
    assert first["closes"] == at(48 - 5.25)
    assert first["closes_because"] == "humidity"
    assert second["verdict"] == "wait"
    assert first["tightest"]["rule"] in ("hold_margin", "humidity")
    broken = {tuple(s["broken"]) for s in told["starts"] if s["verdict"] == "wait"}
    assert broken == {("humidity", "margin")}
    assert {tuple(s["broken"]) for s in told["starts"] if s["verdict"] == "go"} == {()}


def test_starts_near_the_end_cannot_be_told(tmp_path: Path) -> None:
    columns = {"air_temp_c": 20.0, "dew_point_c": 10.0, "surface_temp_c": 20.0}
    told = windows(write_log(tmp_path / "log.csv", 60, columns), "--starts").json
    go, lost = told["windows"]
    # Induction 0.25 h, work 2 h, tape-dry 28 h at 20 °C.
    assert (go["closes"], go["closes_because"]) == (at(60 - 30.25), "data")
    assert (lost["verdict"], lost["chance"]) == ("unknown", None)
    assert {tuple(s["broken"]) for s in told["starts"] if s["verdict"] == "unknown"} == {("data",)}


def test_from_and_days_choose_starts_but_keep_what_lies_around(log: Path) -> None:
    whole = {s["at"]: s for s in windows(log, "--starts").json["starts"]}
    part = windows(log, "--starts", "--from", at(24), "--days", 1).json["starts"]
    assert (part[0]["at"], part[-1]["at"], len(part)) == (at(24), at(48), 289)
    assert all(whole[s["at"]] == s for s in part)


def test_chance_is_that_of_the_least_margin(tmp_path: Path) -> None:
    """Surface 3.5 K over the dew point at 20 °C: Φ(3.5 / 0.72)."""
    columns = {"air_temp_c": 20.0, "dew_point_c": 15.0, "surface_temp_c": 18.5}
    flat = write_log(tmp_path / "log.csv", 96, columns)
    sd = call("check", "--json", "--conditions", flat, "--at", at(1)).json["margin_sd_k"]
    told = windows(flat, "--surface-accuracy", 1).json["windows"][0]
    chance = 0.5 * (1 + math.erf(3.5 / sd / math.sqrt(2)))
    # The maker's ±1 K is 0.577 K against a default of 0.58.
    assert told["chance"] == pytest.approx(chance, abs=1e-6)
    assert windows(flat, "--certain").json["windows"][0]["chance"] is None


def test_drying_is_a_step_never_a_wait(tmp_path: Path) -> None:
    """Wet until 06:00; starts up to 06:00 the next day come within 24 h of it."""
    columns = {
        "air_temp_c": 20.0, "dew_point_c": 12.0,
        "surface_temp_c": [(0, 11.0), (6, 11.0), (6 + 1 / 12, 20.0), (96, 20.0)],
    }  # fmt: skip
    damp = write_log(tmp_path / "log.csv", 96, columns)
    told = windows(damp).json
    step = next(s for s in told["required_steps"] if s["rule"] == "dry")
    assert (step["from"], step["to"], step["wet_at"]) == (at(6 + 1 / 12), at(30), at(6))
    assert "dry" not in {w["closes_because"] for w in told["windows"]}
    dried = windows(damp, "--dried", at(6.5)).json["required_steps"]
    # Starts before the drying still need it.
    assert [(s["from"], s["to"]) for s in dried] == [(at(6 + 1 / 12), at(6.5 - 1 / 12))]


def test_template_never_goes(log: Path) -> None:
    told = windows(log, name="two-part-gloss").json["windows"]
    assert "go" not in {w["verdict"] for w in told}
    assert told[0]["verdict"] == "borderline"


def test_previous_coat_opens_and_closes_a_window(tmp_path: Path) -> None:
    """Gloss over gloss at 20 °C: 16 to 48 h; 2 h each, same order; induction 15 min."""
    columns = {"air_temp_c": 20.0, "dew_point_c": 10.0, "surface_temp_c": 20.0}
    log = write_log(tmp_path / "log.csv", 120, columns)
    told = windows(log, "--previous", f"{GLOSS}@{at(8)}/{at(10)}").json
    go = next(w for w in told["windows"] if w["verdict"] == "go")
    assert (go["opens"], go["closes"]) == (at(8 + 16 - 0.25), at(8 + 48 - 0.25))
    assert go["closes_because"] == "previous_coat"
    assert told["sand_first"] == [{"from": at(8 + 48 - 0.25 + 1 / 12), "to": at(119.75)}]


def dst_log(tmp_path: Path, day: datetime) -> Path:
    """Four days around a clock change, with a margin that opens and closes every day."""
    lines = ["time,air_temp_c,dew_point_c,surface_temp_c"]
    for k in range(4 * 24 * 4):
        moment = day + timedelta(minutes=15 * k)
        warm = 16 + 4 * math.sin((k / 4 - 9) / 24 * 2 * math.pi)
        lines.append(f"{moment:%Y-%m-%dT%H:%M:%SZ},{warm:.3f},9.5,{warm - 1:.3f}")
    path = tmp_path / f"{day:%m}.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def in_utc(told: Any) -> Any:
    """The same answer with every time as a moment."""
    if isinstance(told, dict):
        return {key: in_utc(value) for key, value in told.items()}
    if isinstance(told, list):
        return [in_utc(value) for value in told]
    try:
        return datetime.fromisoformat(told).timestamp()
    except (TypeError, ValueError):
        return told


@pytest.mark.parametrize("zone", ["Europe/Oslo", "America/New_York", "Australia/Lord_Howe"])
@pytest.mark.parametrize("month", [3, 4, 10, 11])
def test_the_zone_changes_print_alone(tmp_path: Path, month: int, zone: str) -> None:
    """Days of 23 and 25 hours: spring and autumn, both hemispheres."""
    changes = {3: (29, 8), 4: (4, 4), 10: (24, 3), 11: (1, 1)}[month]
    day = datetime(2025, month, max(1, changes[0] - 1), tzinfo=DAY.tzinfo)
    log = dst_log(tmp_path, day)
    argv = ("--starts", "--from", (day + timedelta(hours=6)).isoformat(), "--days", 2)
    utc, local = windows(log, *argv), windows(log, *argv, "--time-zone", zone)
    assert in_utc(local.json) == in_utc(utc.json)
    assert len(utc.json["starts"]) == 2 * 288 + 1
    assert local.out != utc.out


def test_working_hours_are_local(tmp_path: Path) -> None:
    """08:00-18:00 in Oslo on the day of 23 hours: from 06:00 UTC, the day before from 07:00."""
    day = datetime(2025, 3, 29, tzinfo=DAY.tzinfo)
    lines = ["time,air_temp_c,dew_point_c,surface_temp_c"]
    lines += [f"{day + timedelta(hours=k):%Y-%m-%dT%H:%M:%SZ},20,8,20" for k in range(100)]
    log = tmp_path / "flat.csv"
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = windows(log, "--working-hours", "08:00-18:00", "--time-zone", "Europe/Oslo").json
    opens = [w["opens"] for w in told["windows"] if w["verdict"] == "go"]
    assert opens[:2] == ["2025-03-29T08:00:00+01:00", "2025-03-30T08:00:00+02:00"]


def test_text_names_zone_and_limit(log: Path) -> None:
    out = call("windows", "--conditions", log, "--product", GLOSS, "--area-m2", 24,
               "--pace-m2-per-h", 12, "--time-zone", "Europe/Oslo").out  # fmt: skip
    assert "Gloss A, invented, 2 h of work; log.csv, times in Europe/Oslo" in out
    assert "Go          Thu 2025-05-01 02:00 to" in out
    assert "then humidity" in out
    assert "safe" not in out.lower()


def test_area_over_pace_is_the_same_as_hours(log: Path) -> None:
    by_area = call("windows", "--json", "--conditions", log, "--product", GLOSS, "--area-m2", 24,
                   "--pace-m2-per-h", 12)  # fmt: skip
    assert by_area.json == windows(log).json
