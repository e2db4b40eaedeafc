"""Each area's outlook: its air, its surface pulled to what was measured, what is filled in.

No numbers from outside: the weather is invented, and what must come of it is worked out by hand
beside each check (half-lives, straight lines, sums).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.outlook import (
    PULL_HALF_H,
    Ahead,
    AirAhead,
    Weather,
    filled,
    indoor_area,
    outdoor_area,
    scenarios,
)
from advisor.climate.place import Place
from advisor.climate.series import Series
from advisor.climate.shop.response import State, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.skin import Skin
from advisor.planning.job import Area, Coat, Job
from advisor.work.outlook import Measured, areas_air
from advisor.work.outlook_basis import Basis
from advisor.work.shop_air import pulled
from advisor.work.views import Reading

FloatArray = NDArray[np.float64]
NOW = 1_779_840_000  # a whole hour, 27 May 2026 00:00 UTC
HOUR, DAY, STEP = 3600, 86400, 900
NAN = float("nan")
TIMBER = Skin("timber")
PLACE = Place(54.0, 0.0)


def past(hours: float = 24.0, ahead_h: float = 24.0, **columns: float) -> Series:
    """A five-minute series: measured values, all through, up to now; nothing after it."""
    n_past, n = int(hours * 12) + 1, int((hours + ahead_h) * 12) + 1
    given = {"air_temp_c": 10.0, "dew_point_c": 5.0, "surface_temp_c": NAN} | columns
    laid = {name: np.full(n, NAN) for name in given}
    for name, value in given.items():
        laid[name][:n_past] = value
    air, dew, surface = laid["air_temp_c"], laid["dew_point_c"], laid["surface_temp_c"]
    return Series(NOW - int(hours * HOUR), air, dew, surface, lead_from_s=NOW)


def level(air_c: float = 10.0, dew_c: float = 5.0, hours: int = 24, courses: int = 0) -> AirAhead:
    """Air of the shop that stands still; course k is k tenths of a kelvin warmer."""
    n = hours * 4 + 1
    many = np.arange(courses)[:, None] * 0.1 + np.zeros(n)
    return AirAhead(
        NOW, STEP, np.full(n, air_c), np.full(n, dew_c),
        air_c + many if courses else None, dew_c + many if courses else None,
    )  # fmt: skip


def at(series: Series, time_s: float, name: str = "surface_temp_c") -> float:
    return float(getattr(series, name)[int(series.index_of(time_s))])


# --- the surface is pulled to what was measured ----------------------------------------------


def measured_at(series: Series, time_s: float, surface_c: float) -> Series:
    values = series.surface_temp_c.copy()
    values[int(series.index_of(time_s))] = surface_c
    return replace(series, surface_temp_c=values)


def test_the_surface_passes_the_last_measured_one_and_forgets_it() -> None:
    """In still air of 10 °C the model is 10 °C; 7 °C measured now: half the 3 K is gone in 6 h."""
    before = measured_at(measured_at(past(), NOW - 6 * HOUR, 20.0), NOW, 7.0)
    surface = indoor_area(TIMBER, level(), before).central["surface_temp_c"]
    for hours, left_k in ((0, 3.0), (6, 1.5), (12, 0.75), (24, 0.1875)):
        assert surface[hours * 4] == pytest.approx(10.0 - left_k, abs=1e-9), hours
    assert PULL_HALF_H == 6.0


def test_a_surface_measured_hours_ago_pulls_less() -> None:
    before = measured_at(past(), NOW - 6 * HOUR, 7.0)
    surface = indoor_area(TIMBER, level(), before).central["surface_temp_c"]
    assert surface[0] == pytest.approx(8.5, abs=1e-9)


def test_nothing_measured_is_the_model_alone() -> None:
    surface = indoor_area(TIMBER, level(), past()).central["surface_temp_c"]
    assert surface == pytest.approx(np.full(97, 10.0), abs=1e-9)


def test_every_course_passes_the_measured_surface() -> None:
    before = measured_at(past(), NOW, 7.0)
    ahead = indoor_area(TIMBER, level(courses=5), before)
    many = ahead.courses["surface_temp_c"]
    assert many.shape == (5, 97)
    assert many[:, 0] == pytest.approx(np.full(5, 7.0), abs=1e-9)
    assert np.ptp(many[:, -1]) > 0.2  # by the end they follow airs 0.4 K apart


def test_the_surface_starts_warm_from_the_measured_air() -> None:
    """After a day at 10 °C and a drop to 4 °C, timber lags; without that day it starts at 4 °C."""
    cold = level(air_c=4.0)
    lagged = indoor_area(Skin("concrete"), cold, past()).central["surface_temp_c"]
    alone = indoor_area(Skin("concrete"), cold, past(air_temp_c=NAN)).central["surface_temp_c"]
    assert alone == pytest.approx(np.full(97, 4.0), abs=1e-9)
    assert lagged[1] > 9.0
    assert 4.0 < lagged[-1] < lagged[1]


def test_the_hottest_spot_outdoors_moves_with_the_coldest() -> None:
    given = weather()
    plain = outdoor_area(Skin(outdoors=True), Weather(given), PLACE, past())
    moved = outdoor_area(Skin(outdoors=True), Weather(given), PLACE, measured_at(past(), NOW, 0.0))
    shift = moved.central["surface_temp_c"] - plain.central["surface_temp_c"]
    assert moved.central["surface_temp_c"][0] == pytest.approx(0.0, abs=1e-9)
    assert shift[24] == pytest.approx(shift[0] / 2.0)  # six hours on
    hotter = moved.central["surface_hot_c"] - plain.central["surface_hot_c"]
    assert hotter == pytest.approx(shift, abs=1e-9)


# --- what is filled in -----------------------------------------------------------------------


def test_measured_values_stay_and_only_what_comes_is_filled() -> None:
    before = past(air_temp_c=13.0)
    found = filled(before, indoor_area(TIMBER, level(), before), NOW)
    assert at(found, NOW, "air_temp_c") == 13.0
    assert at(found, NOW + 300, "air_temp_c") == 10.0
    assert np.isnan(at(found, NOW - HOUR))  # no surface was measured, none is made up
    assert not np.isnan(at(found, NOW + HOUR))


def test_a_hole_before_the_last_value_stays_a_hole() -> None:
    """The log stops at −3 h, says one more thing at −1 h: the outlook fills only after that."""
    before = past()
    air = before.air_temp_c.copy()
    air[int(before.index_of(NOW - 3 * HOUR)) : int(before.index_of(NOW)) + 1] = NAN
    air[int(before.index_of(NOW - HOUR))] = 12.0
    holed = replace(before, air_temp_c=air)
    early = replace(level(hours=30), start_s=NOW - 6 * HOUR)
    found = filled(holed, indoor_area(TIMBER, early, holed), NOW - 6 * HOUR)
    assert np.isnan(at(found, NOW - 2 * HOUR, "air_temp_c"))
    assert at(found, NOW - HOUR, "air_temp_c") == 12.0
    assert at(found, NOW - HOUR + 300, "air_temp_c") == 10.0


def test_nothing_is_filled_before_its_moment() -> None:
    empty = past(air_temp_c=NAN, dew_point_c=NAN)
    early = replace(level(hours=30), start_s=NOW - 6 * HOUR)
    found = filled(empty, indoor_area(TIMBER, early, empty), NOW)
    assert np.isnan(at(found, NOW - 300, "air_temp_c"))
    assert at(found, NOW, "air_temp_c") == 10.0


def test_nothing_is_known_after_the_end_of_the_forecast() -> None:
    before = past(ahead_h=48.0)
    found = filled(before, indoor_area(TIMBER, level(hours=24), before), NOW)
    for name in ("air_temp_c", "dew_point_c", "surface_temp_c"):
        assert not np.isnan(at(found, NOW + DAY, name)), name
        assert np.isnan(at(found, NOW + DAY + 300, name)), name


def test_a_hole_of_the_outlook_is_no_straight_line() -> None:
    air = level()
    holed = replace(air, dew_point_c=np.where(np.arange(97) == 20, NAN, air.dew_point_c))
    found = filled(past(), indoor_area(TIMBER, holed, past()), NOW)
    for minutes, known in ((285, True), (290, False), (300, False), (310, False), (315, True)):
        assert np.isnan(at(found, NOW + 60 * minutes, "dew_point_c")) != known, minutes


def test_the_outlook_is_drawn_in_straight_lines() -> None:
    n = 97
    rising = AirAhead(NOW, STEP, np.linspace(0.0, 28.8, n), np.full(n, -5.0))
    found = filled(past(), indoor_area(TIMBER, rising, past()), NOW)
    assert at(found, NOW + STEP + 300, "air_temp_c") == pytest.approx(0.4)


# --- courses ---------------------------------------------------------------------------------


def test_courses_move_by_what_a_typed_reading_moved_the_series() -> None:
    """2 K warmer typed now: every course 2 K up now, 1 K up six hours on."""
    before = past()
    ahead = indoor_area(TIMBER, level(courses=3), before)
    unpulled = filled(before, ahead, NOW)
    series = pulled(unpulled, Reading(NOW, air_temp_c=12.0), NOW)
    plain = scenarios(ahead, unpulled, unpulled, NOW)
    moved = scenarios(ahead, unpulled, series, NOW)
    assert plain is not None
    assert moved is not None
    shift = moved.air_temp_c - plain.air_temp_c
    assert shift[:, 0] == pytest.approx(np.full(3, 2.0))
    assert shift[:, 24] == pytest.approx(np.full(3, 1.0))
    assert moved.surface_temp_c == pytest.approx(plain.surface_temp_c)  # none was typed


def test_a_course_never_has_its_dew_point_above_its_air() -> None:
    before = past()
    ahead = indoor_area(TIMBER, level(courses=3), before)
    unpulled = filled(before, ahead, NOW)
    series = pulled(unpulled, Reading(NOW, air_temp_c=2.0), NOW)
    found = scenarios(ahead, unpulled, series, NOW)
    assert found is not None
    assert found.air_temp_c[0, 0] == pytest.approx(2.0)
    assert (found.dew_point_c <= found.air_temp_c).all()


def test_courses_begin_now_and_end_with_the_forecast() -> None:
    before = past()
    early = replace(level(hours=30, courses=3), start_s=NOW - 6 * HOUR)
    ahead = indoor_area(TIMBER, early, before)
    series = filled(before, ahead, NOW)
    found = scenarios(ahead, series, series, NOW + 60)
    assert found is not None
    assert (found.start_s, found.count, len(found)) == (NOW, 3, 97)
    assert scenarios(ahead, series, series, NOW + 2 * DAY) is None
    assert scenarios(replace(ahead, courses={}), series, series, NOW) is None


# --- areas of one job ------------------------------------------------------------------------


def weather(hours: int = 24) -> Outdoor:
    n = hours * 4 + 1
    steady = {"air_temp_c": 2.0, "dew_point_c": 1.0, "wind_m_s": 3.0, "cloud_pct": 100.0,
              "sun_w_m2": 0.0, "rain_mm": 0.0}  # fmt: skip
    return Outdoor(NOW, STEP, {name: np.full(n, value) for name, value in steady.items()})


def basis(job: Job) -> Basis:
    assert job.shop is not None
    given = weather()
    state = State.at_rest(NOW, 10.0, 5.0)
    hourly = replace(given, step_s=HOUR, columns={k: v[::4] for k, v in given.columns.items()})
    told = Forecast("typed", PLACE, NOW, NOW, hourly, np.ones(len(hourly)), "invented")
    return Basis(job.shop, PLACE, usual_response(job.shop), told, Weather(given), state, NOW, NOW)


def job_of(*areas: Area) -> Job:
    coats = tuple(Coat(f"c-{a.id}", "coat", a.id, "x", 8.0) for a in areas)
    return Job("j", "job", "shed", "UTC", areas, coats, shop=Shop("stone shed"))


HULL = Area("hull", "hull", 8.0)
TILLER = Area("tiller", "tiller", 1.0)
TRAILER = Area("trailer", "trailer", 5.0, "steel", outdoors=True)


def test_an_outdoor_area_is_not_touched_by_the_shops_log() -> None:
    """The shed was 10 °C with a hull of 7 °C; the trailer outside has the weather's 2 °C."""
    job = job_of(HULL, TRAILER)
    log = past(surface_temp_c=7.0)
    found = areas_air(job, basis(job), Measured(log, log))
    outside, inside = found["trailer"].series, found["hull"].series
    assert np.isnan(outside.air_temp_c[: int(outside.index_of(NOW))]).all()
    assert at(outside, NOW, "air_temp_c") == 2.0
    alone = outdoor_area(TRAILER.skin, Weather(weather()), PLACE, past())
    assert at(outside, NOW + HOUR) == pytest.approx(alone.central["surface_temp_c"][4])
    assert at(inside, NOW - HOUR, "air_temp_c") == 10.0
    assert at(inside, NOW) == 7.0


def test_a_log_kept_outdoors_tells_of_the_outdoor_area() -> None:
    job = job_of(TRAILER)
    found = areas_air(
        job, basis(job), Measured(past(surface_temp_c=7.0), past(surface_temp_c=7.0))
    )["trailer"].series
    assert at(found, NOW - HOUR, "air_temp_c") == 10.0
    assert at(found, NOW) == 7.0
    assert at(found, NOW + HOUR) > 2.0  # pulled up by what was measured


def test_areas_alike_share_one_air_and_others_have_their_own() -> None:
    job = job_of(HULL, TILLER, replace(HULL, id="slip", substrate="concrete"))
    found = areas_air(job, basis(job), Measured(past(), past()))
    assert found["hull"] is found["tiller"]
    gap = found["hull"].series.surface_temp_c - found["slip"].series.surface_temp_c
    assert np.nanmax(np.abs(gap)) > 0.1  # 15 cm of concrete follows slower
    assert set(areas_air(job, basis(job), Measured(past(), past()), only=("slip",))) == {"slip"}


def test_typed_readings_count_in_the_order_they_were_taken() -> None:
    job = job_of(HULL)
    typed = [Reading(NOW - HOUR, air_temp_c=8.0), Reading(NOW, air_temp_c=9.0)]
    log = past(air_temp_c=NAN)
    found = areas_air(job, basis(job), Measured(log, log, typed))["hull"].series
    assert at(found, NOW, "air_temp_c") == 9.0


def test_an_ahead_knows_its_times() -> None:
    ahead = Ahead(NOW, STEP, {"air_temp_c": np.zeros(3)}, {})
    assert ahead.time_s.tolist() == [NOW, NOW + STEP, NOW + 2 * STEP]
