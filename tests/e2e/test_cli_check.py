"""`advisor check`: keys, exit codes, and what one reading can and cannot tell."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.climate.readings import COLUMNS
from advisor.physics import moist_air
from tests.e2e.cli_shop import DAY, at, call, product, write_log

KEYS = [
    "verdict", "scope", "chance", "at", "dew_point_c", "frost_point_c", "margin_k", "margin_sd_k",
    "reasons", "milestones",
]  # fmt: skip
REASON_KEYS = ["rule", "phase", "holds", "measured", "limit", "unit", "at", "text"]
RULES = {
    "air_temp", "surface_temp", "table", "pot_life", "humidity", "margin", "hold_margin", "dry",
    "prepared", "trend", "previous_coat", "hours", "rain", "wind", "sun", "data",
}  # fmt: skip
GOOD = ("--air", 18.5, "--rh", 62, "--surface", 16)


def check(*argv: object, now: datetime = DAY):
    return call("check", "--json", *argv, now=now)


def test_documented_keys_come_first_and_in_order() -> None:
    done = check(*GOOD, "--product", product("two-part-gloss"), "--outdoors", "--trend", "rising")
    assert list(done.json)[: len(KEYS)] == KEYS
    assert all(list(reason) == REASON_KEYS for reason in done.json["reasons"])
    assert {reason["rule"] for reason in done.json["reasons"]} <= RULES
    assert all(list(m) == ["name", "at"] for m in done.json["milestones"])


@pytest.mark.parametrize(
    ("reading", "verdict", "code"),
    [
        (GOOD, "go", 0),
        ((*GOOD, "--surface-kind", "ir-gloss"), "borderline", 10),
        (("--air", 18.5, "--rh", 88, "--surface", 25), "wait", 11),
        (("--air", 18.5, "--rh", 75, "--surface", 16), "wait", 11),
        (("--air", 18.5, "--rh", 62), "unknown", 12),
        (("--surface", 16), "unknown", 12),
        (("--rh", 90), "unknown", 12),
    ],
)  # fmt: skip
def test_without_a_product_common_practice_decides(
    reading: tuple[object, ...], verdict: str, code: int
) -> None:
    done = check(*reading)
    assert (done.json["verdict"], done.code) == (verdict, code)
    assert done.json["scope"] == "now"


def test_limits_themselves_hold() -> None:
    """Exactly 3 K above the dew point and 85 % are inside (closed limits, 1e-9)."""
    dew = moist_air.dew_point_c(20.0, 85.0)
    assert check("--air", 20, "--rh", 85, "--surface", repr(dew + 3.0)).json["verdict"] == "go"
    assert check("--air", 20, "--rh", 85, "--surface", repr(dew + 2.999)).json["verdict"] == "wait"


@given(
    air=st.floats(-20, 45).map(lambda x: round(x, 1)), rh=st.integers(5, 100),
    surface=st.floats(-20, 45).map(lambda x: round(x, 1)),
)  # fmt: skip
def test_figures_agree_with_the_physics(air: float, rh: int, surface: float) -> None:
    told = check("--air", air, "--rh", rh, "--surface", surface).json
    # Nine decimals are printed.
    assert moist_air.rh_pct(air, told["dew_point_c"] - 1e-9) == pytest.approx(rh, abs=1e-6)
    wet = moist_air.frost_point_c(air, rh)
    assert told["margin_k"] == pytest.approx(surface - wet, abs=1e-8)
    icy = told["dew_point_c"] < 0.009  # the triple point is at 0.01 °C
    assert (told["frost_point_c"] is not None) == icy or told["dew_point_c"] < 0.011


def test_missing_surface_is_unknown_and_says_how_to_measure() -> None:
    done = check("--air", 18, "--rh", 60, "--product", product("two-part-gloss"))
    assert (done.code, done.json["verdict"]) == (12, "unknown")
    assert (done.json["margin_k"], done.json["margin_sd_k"]) == (None, None)
    assert "contact probe" in done.reason("data")["text"]


def test_a_broken_limit_is_wait_even_when_something_is_missing() -> None:
    done = check("--air", 5, "--rh", 60, "--product", product("two-part-gloss"))
    assert (done.code, done.json["verdict"]) == (11, "wait")


def test_now_leaves_untested_what_needs_the_coming_hours() -> None:
    done = check(*GOOD, "--product", product("two-part-gloss"), "--outdoors", "--trend", "rising",
                 "--wind-limit", 8)  # fmt: skip
    assert {"hold_margin", "trend", "rain", "wind", "dry"} <= done.rules(None)
    assert done.rules(False) == set()
    assert done.json["verdict"] == "go"
    last = datetime.fromisoformat(done.json["must_last_until"])
    # Tape-dry at 16 °C: 36 h at 15, 28 at 20, straight in ln(time) over 1/T: 34.2 h; and a
    # quarter of an hour of induction at 20 °C.
    assert (last - DAY) / timedelta(hours=1) == pytest.approx(34.2 + 0.25, abs=0.05)


def test_a_template_is_a_close_call_at_best() -> None:
    done = check(*GOOD, "--product", "two-part-gloss")
    assert (done.code, done.json["verdict"]) == (10, "borderline")
    assert "data" in done.rules(False)


@pytest.mark.parametrize(
    ("reading", "begins"),
    [
        ((*GOOD, "--surface-kind", "ir-gloss"), "Close call at {}, for this moment only: it must"),
        (("--air", 18.5, "--rh", 75, "--surface", 16), "Wait at {}, judged for this moment only"),
        (("--air", 18.5, "--rh", 62), "Can't tell at {}, judged for this moment only"),
    ],
)
def test_only_a_go_of_one_moment_is_said_to_be_less_in_the_window(
    reading: tuple[object, ...], begins: str
) -> None:
    out = call("check", *reading).out
    assert out.startswith(begins.format("2025-05-01T00:00:00+00:00"))
    assert "the window calls" not in out


def test_untaped_infrared_counts_three_kelvin() -> None:
    done = check(*GOOD, "--product", product("two-part-gloss"), "--surface-kind", "ir-metal")
    assert done.json["verdict"] == "borderline"
    assert done.json["margin_sd_k"] == pytest.approx((0.763**2 - 0.58**2 + 9) ** 0.5, abs=0.01)
    assert done.json["chance"] < 0.99


def test_certain_has_no_chance() -> None:
    done = check(*GOOD, "--product", product("two-part-gloss"), "--surface-kind", "ir-metal",
                 "--certain")  # fmt: skip
    assert (done.json["verdict"], done.json["chance"]) == ("go", None)


def test_makers_accuracies_narrow_the_margin() -> None:
    usual = check(*GOOD).json["margin_sd_k"]
    fine = check(*GOOD, "--air-accuracy", 0.2, "--rh-accuracy", 1, "--surface-accuracy", 0.2)
    # u = a/√3 (JCGM 100): 1 % RH is 0.25 K here, 0.2 K is 0.12 K twice.
    assert fine.json["margin_sd_k"] == pytest.approx(0.22, abs=0.02)
    assert usual == pytest.approx(0.76, abs=0.01)


@pytest.mark.parametrize("where", [("--pressure", 1013.25), ("--altitude", 0)])
def test_wet_bulb_instead_of_humidity(where: tuple[object, ...]) -> None:
    """Dry 20, wet 15 °C at sea level is 58.6 % (WMO-No. 8 formula, by hand: 58.5 to 59)."""
    done = check("--air", 20, "--wet-bulb", 15, *where, "--surface", 18)
    assert moist_air.rh_pct(20.0, done.json["dew_point_c"]) == pytest.approx(58.8, abs=0.4)


def test_fahrenheit_is_taken_where_it_says_so() -> None:
    celsius = check(*GOOD).json
    fahrenheit = check("--air", "65.3F", "--rh", 62, "--surface", "60.8 °F").json
    assert fahrenheit["margin_k"] == pytest.approx(celsius["margin_k"], abs=1e-6)


def test_us_units_change_the_text_alone() -> None:
    text = call("check", *GOOD, "--units", "us").out
    assert "8.8 F° ± 1.4 above dew point (52.0 °F)" in text
    assert check(*GOOD, "--units", "us").json["margin_k"] == check(*GOOD).json["margin_k"]


def test_working_hours_count_to_the_last_patch() -> None:
    """Start at 16:00 with 3 h of work ends after 18:00."""
    argv = (*GOOD, "--product", product("two-part-gloss"), "--working-hours", "08:00-18:00")
    noon = DAY + timedelta(hours=12)
    assert check(*argv, "--apply-hours", 3, now=noon).json["verdict"] == "go"
    late = check(*argv, "--apply-hours", 3, now=DAY + timedelta(hours=16))
    assert (late.json["verdict"], late.rules(False)) == ("wait", {"hours"})
    oslo = check(*argv, "--apply-hours", 3, "--time-zone", "Pacific/Auckland", now=noon)
    assert oslo.json["verdict"] == "wait"  # midnight there


def below(start: float, end: float) -> str:
    return f"{product('two-part-gloss')}@{at(start)}/{at(end)}"


@pytest.mark.parametrize(
    ("previous", "verdict", "closed"),
    [
        (below(-33, -31), "unknown", False),  # past 20 h, the maximum at 35 °C; not past 72
        (below(-29, -28), "unknown", False),  # past the minimum here, if it was never colder
        (below(-4, -3), "wait", False),  # under 22.6 h, the minimum at 16 °C
        (below(-100, -98), "wait", True),  # past 72 h, the maximum of the lowest row
    ],
)
def test_without_a_history_only_sure_bonds_are_told(
    previous: str, verdict: str, closed: bool
) -> None:
    done = check(*GOOD, "--product", product("two-part-gloss"), "--previous", previous)
    assert done.json["verdict"] == verdict
    assert done.json["sand_first"] is closed
    assert done.reason("previous_coat")["holds"] is (False if verdict == "wait" else None)


@pytest.mark.parametrize("hours", [40, 4000])
def test_hours_alone_never_prove_a_minimum(hours: float) -> None:
    """Filler under undercoat: 36 h at the lowest row, but it may have been colder all along."""
    previous = f"{product('epoxy-filler')}@{at(-hours - 2)}/{at(-hours)}"
    done = check(*GOOD, "--product", product("epoxy-undercoat"), "--previous", previous)
    reason = done.reason("previous_coat")
    assert (done.json["verdict"], reason["holds"]) == ("unknown", None)
    assert reason["text"].endswith(
        "the surface since the coat below is not known: give a log, or wait longer"
    )
    assert any("wash with warm water" in step for step in done.json["required_steps"])


@pytest.fixture
def log(tmp_path: Path) -> Path:
    columns = {"air_temp_c": 18.0, "dew_point_c": 8.0, "surface_temp_c": 16.0}
    return write_log(tmp_path / "log.csv", 96, columns)


def test_a_series_is_judged_until_the_film_can_take_dew(log: Path) -> None:
    done = check("--conditions", log, "--product", product("two-part-gloss"), "--at", at(40),
                 "--apply-hours", 2)  # fmt: skip
    assert (done.code, done.json["verdict"]) == (0, "go")
    assert done.json["scope"] == "through_dew_safe"
    assert done.json["at"] == at(40)
    assert done.rules(None) == set()
    assert done.json["latest_start"] is not None


def test_the_newest_readings_kept_count_while_they_are_fresh(tmp_path: Path) -> None:
    database = tmp_path / "db.sqlite3"
    columns = {"air_temp_c": 18.0, "rh_pct": 60.0, "surface_temp_c": 16.0}
    kept = write_log(tmp_path / "log.csv", 1, columns)
    call("readings", "import", kept, "--database", database, now=DAY + timedelta(hours=3))
    fresh = check("--database", database, now=DAY + timedelta(hours=1.5))
    assert (fresh.json["verdict"], fresh.json["scope"]) == ("go", "now")
    stale = check("--database", database, now=DAY + timedelta(hours=2.5))
    assert stale.json["verdict"] == "unknown"
    assert "1 h 30 min ago" in stale.reason("data")["text"]
    product_too = check("--database", database, "--product", product("two-part-gloss"),
                        now=DAY + timedelta(hours=1.5))  # fmt: skip
    assert product_too.json["verdict"] == "go"


def test_an_export_with_every_column_is_read_back_and_checked(tmp_path: Path) -> None:
    values = {
        "air_temp_c": 18.0, "rh_pct": 60.0, "dew_point_c": 10.1, "surface_temp_c": 16.0,
        "surface_hot_c": 17.0, "pressure_hpa": 1013.0, "wind_m_s": 2.0, "rain_mm": 0.0,
    }  # fmt: skip
    assert set(values) == set(COLUMNS)
    database, out = tmp_path / "db.sqlite3", tmp_path / "out.csv"
    kept = write_log(tmp_path / "log.csv", 2, values)
    late = DAY + timedelta(hours=3)
    call("readings", "import", kept, "--database", database, now=late)
    assert call("readings", "export", out, "--database", database, now=late).code == 0
    assert out.read_text(encoding="utf-8").splitlines()[1].split(",")[1:] == [
        str(values[name]) for name in out.read_text(encoding="utf-8").split("\n")[0].split(",")[1:]
    ]
    done = check("--conditions", out, "--at", at(1), now=late)
    assert (done.code, done.json["verdict"]) == (0, "go")


def test_past_the_end_of_the_file_is_unknown(log: Path) -> None:
    argv = ("--conditions", log, "--product", product("two-part-gloss"), "--at")
    assert check(*argv, at(80)).json["verdict"] == "unknown"  # dew-safe would be after 96 h
    gone = check(*argv, at(200))
    assert (gone.code, gone.json["verdict"], gone.json["dew_point_c"]) == (12, "unknown", None)
    assert "nothing is known at" in gone.reason("data")["text"]


def test_staleness_counts_for_now_only(log: Path) -> None:
    late = DAY + timedelta(hours=97, minutes=30)
    stale = check("--conditions", log, "--product", product("two-part-gloss"), now=late)
    assert stale.json["verdict"] == "unknown"
    assert "over 60 min ago" in " ".join(r["text"] for r in stale.json["reasons"])
    asked = check("--conditions", log, "--product", product("two-part-gloss"), "--at", at(30),
                  now=late)  # fmt: skip
    assert asked.json["verdict"] == "go"


def test_a_file_without_a_product_is_judged_at_the_instant(log: Path) -> None:
    done = check("--conditions", log, "--at", at(30))
    assert (done.json["verdict"], done.json["scope"], done.json["margin_k"]) == ("go", "now", 8.0)


def test_a_file_without_surface_cannot_tell_unless_a_lag_is_assumed(tmp_path: Path) -> None:
    columns = {"air_temp_c": 18.0, "dew_point_c": 8.0}
    bare = write_log(tmp_path / "air.csv", 96, columns)
    argv = ("--conditions", bare, "--product", product("two-part-gloss"), "--at", at(30))
    assert check(*argv).json["verdict"] == "unknown"
    assumed = check(*argv, "--surface-lag-h", 2)
    assert assumed.json["verdict"] == "go"
    assert any("lag of 2 h" in text for text in assumed.json["assumptions"])


@pytest.mark.parametrize(
    ("prepared", "verdict"), [(None, "go"), (-23.5, "go"), (-24.5, "wait"), (1.0, "wait")]
)
def test_preparation_stays_good_for_as_long_as_the_sheet_says(
    tmp_path: Path, prepared: float | None, verdict: str
) -> None:
    sheet = tmp_path / "sanded.toml"
    text = product("two-part-gloss").read_text(encoding="utf-8")
    sheet.write_text(text + "\n[prepare]\nsanded_within_h = 24\n", encoding="utf-8")
    given = () if prepared is None else ("--prepared", at(prepared))
    done = check(*GOOD, "--product", sheet, *given)
    assert done.json["verdict"] == verdict
    asked = "coat within 24 h of sanding" in done.json["required_steps"]
    assert asked == (prepared is None)
    assert ("prepared" in done.rules(False)) == (verdict == "wait")


def test_text_for_people_has_the_words_of_the_trade() -> None:
    out = call("check", *GOOD, "--product", product("two-part-gloss")).out
    first, second = out.splitlines()[:2]
    assert first.startswith("Go at 2025-05-01T00:00:00+00:00, for this moment only: it must stay")
    assert "until Fri 10:27, and no outlook says so" in first  # 34 h 27 min on, as above
    assert "the window calls this a close call" in second
    assert "can take dew" in out
    assert "The maker's data sheet comes first." in out
    assert "safe" not in out.lower()
