"""The shop's use cases: where its weather is from, what rests on it, and what is never lost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.place import Place
from advisor.climate.readings import Origin, ReadingTable
from advisor.climate.shop.shop import Change, Shop
from advisor.climate.sources import archive
from advisor.climate.sources.typed import TypedForecast
from advisor.planning.verdict import Verdict
from advisor.planning.words import Words
from advisor.work import kept_fits, said
from advisor.work.outlook_basis import place_of
from advisor.work.outlooks import RESPONSE
from advisor.work.views import Reading
from advisor.work.workbench import Workbench

#: 14 May 2026, 09:10 in London.
NOW = 1_778_746_200.0
DAY = 86400.0
LONDON = ZoneInfo("Europe/London")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    with Store(tmp_path / "shop.sqlite3") as store:
        yield Workbench(store, resources_dir())


@pytest.fixture
def demo(bench: Workbench) -> Workbench:
    bench.load_demo(NOW)
    return bench


def test_the_week_rests_on_the_outlook_and_says_so(demo: Workbench) -> None:
    week = demo.coming_days(NOW)
    assert week.source is not None
    assert (week.source.id, week.source.state) == ("demo", "fresh")
    assert week.band is not None
    lane = week.lanes[0]
    assert lane.judged.chances is not None
    start = demo.start_detail(lane, 0, NOW)
    assert start.chance == pytest.approx(float(lane.judged.chances.holds[0]))


def test_unknown_past_the_end_of_the_forecast(demo: Workbench) -> None:
    week = demo.coming_days(NOW)
    ends = week.source and week.source.ends_s
    assert ends is not None
    late = week.series.time_s > ends
    assert np.isnan(week.series.air_temp_c[late]).all()
    judged = week.lanes[0].judged
    after = judged.series.time_s[judged.timeline.starts] > ends
    assert after.any()
    assert not (judged.verdicts[after] <= Verdict.BORDERLINE).any()


def test_an_old_forecast_is_doubted_more(demo: Workbench) -> None:
    """The same forecast three days later, its end moved along: the courses lie further apart."""
    job = demo.job()
    assert job is not None
    fresh = demo.airs(NOW, 2).areas["port"].scenarios
    kept = demo.outlooks.forecast(job, NOW)
    assert kept is not None
    assert job.shop is not None
    old = replace(kept, issued_s=int(NOW - 3 * DAY), fetched_s=int(NOW - 3 * DAY))
    demo.outlooks.use(old)
    stale = demo.airs(NOW, 2).areas["port"].scenarios
    assert fresh is not None
    assert stale is not None
    # A day ahead; the spread of the usual error grows with lead by a third or more.
    spread = [float(np.std(s.air_temp_c[:, 96])) for s in (fresh, stale)]
    assert spread[1] > 1.15 * spread[0]


def test_no_shop_no_outlook(bench: Workbench, demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    demo.save_job(replace(job, shop=None))
    assert demo.airs(NOW, 3).areas == {}
    assert demo.source_in_use(NOW) is None
    with pytest.raises(InputError, match="does not say what the shop is"):
        demo.prepare_what_if(NOW)


def test_terms_must_be_agreed_to_first(demo: Workbench) -> None:
    with pytest.raises(InputError, match="terms"):
        demo.choose_source("openmeteo", agreed=False)
    assert demo.settings.text("forecast_source") == ""
    demo.choose_source("openmeteo", agreed=True)
    assert demo.settings.flag("openmeteo_agreed")
    with pytest.raises(RangeError):
        demo.choose_source("nobody", agreed=True)


def test_choosing_a_service_without_a_forecast_keeps_the_last_good_one(demo: Workbench) -> None:
    demo.choose_source("metno", agreed=False)
    used = demo.source_in_use(NOW)
    assert used is not None
    assert used.id == "demo"
    view = {s.id: s for s in demo.shop_view(NOW).sources}
    assert view["metno"].chosen
    assert view["metno"].state == "off"


def test_nothing_is_fetched_while_fetching_is_off(demo: Workbench) -> None:
    """The conftest forbids any socket: an attempt to ask would fail the test."""
    line = demo.fetch_forecast(NOW)
    assert "switched off" in line


def test_a_place_is_asked_for_before_fetching(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    demo.save_job(replace(job, shop=Shop("tent", 50.0)))
    with pytest.raises(InputError, match="place"):
        demo.fetch_forecast(NOW)


def test_a_typed_forecast_makes_an_outlook(demo: Workbench) -> None:
    demo.type_forecast(TypedForecast((3.0, 4.0), (17.0, 15.0), dew_point_c=2.0, cloud="clear"), NOW)
    used = demo.source_in_use(NOW)
    assert used is not None
    assert used.id == "typed"
    port = demo.airs(NOW, 2).areas["port"].series
    tomorrow = port.part(NOW + 0.9 * DAY, NOW + 1.1 * DAY)
    assert not np.isnan(tomorrow.margin_k).any()
    assert any("typed" in s.credit for s in demo.shop_view(NOW).sources if s.chosen)


def test_a_fit_belongs_to_one_job_and_one_shop(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    assert job.shop is not None
    assert demo.outlooks.response(job).fitted
    for other in (
        replace(job, shop=replace(job.shop, kind="tent")),
        replace(job, shop=replace(job.shop, volume_m3=60.0)),
        replace(job, shop=replace(job.shop, place=Place(60.0, 5.0))),
        replace(job, id="another"),
    ):
        assert not demo.outlooks.response(other).fitted


def test_a_fit_of_another_version_is_not_trusted(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    kept_fits.put(demo.store, kept_fits.name(RESPONSE, job), '{"nonsense": 1}', NOW)
    assert not demo.outlooks.response(job).fitted


def test_the_demo_lends_nothing_to_a_job_of_ones_own(demo: Workbench) -> None:
    """Its log, its fit and its weather stay with it, in the same database too."""
    job = demo.job()
    assert job is not None
    own = replace(job, id="own", shop=Shop("metal shed", 60.0, Place(60.0, 5.0)))
    demo.save_job(own)
    assert demo.latest_values(NOW) == {}
    assert np.isnan(demo.airs(NOW, 2).of("port").series.air_temp_c).all()
    assert not demo.shop_view(NOW).fitted
    assert demo.settings.text("forecast_source") == ""


def rows_ahead(minutes: tuple[int, ...], origin: Origin, air_temp_c: float = 12.0) -> ReadingTable:
    time_s = (int(NOW) + 60 * np.array(minutes)).astype(np.int64)
    columns = {"air_temp_c": np.full(len(minutes), air_temp_c),
               "rh_pct": np.full(len(minutes), 66.0)}  # fmt: skip
    return ReadingTable(time_s, columns, np.zeros(len(minutes), np.uint16), origin)


def test_a_logger_clock_a_little_fast_leaves_the_courses(demo: Workbench) -> None:
    before = demo.airs(NOW, 2).areas["port"].scenarios
    table = rows_ahead((10, 12), Origin.IMPORTED)
    reading_store.save_table(demo.store, table, demo.readings_area)
    after = demo.airs(NOW, 2).areas["port"].scenarios
    assert before is not None
    assert after is not None
    spread = [float(np.std(s.dew_point_c[:, 96])) for s in (before, after)]
    assert spread[1] == pytest.approx(spread[0], rel=0.05)


def test_a_file_of_coming_hours_keeps_the_doubt_around_it(demo: Workbench) -> None:
    table = rows_ahead(tuple(range(30, 24 * 60, 30)), Origin.FORECAST, 15.0)
    before = demo.airs(NOW, 2).areas["port"].scenarios
    reading_store.save_table(demo.store, table, demo.readings_area)
    found = demo.airs(NOW, 2).areas["port"]
    assert before is not None
    assert found.scenarios is not None
    noon = found.series.part(NOW + 5 * 3600, NOW + 5 * 3600)
    # The demo's typed reading of four minutes ago still pulls a little after five hours.
    assert noon.air_temp_c[0] == pytest.approx(15.0, abs=0.3)
    k = int((NOW + 5 * 3600 - found.scenarios.start_s) // 900)
    assert np.median(found.scenarios.air_temp_c[:, k]) == pytest.approx(15.0, abs=0.5)
    widths = [float(np.std(s.air_temp_c[:, k])) for s in (before, found.scenarios)]
    assert widths[1] == pytest.approx(widths[0], rel=0.05)


def test_a_shop_nobody_read_is_doubted_and_said_so(demo: Workbench) -> None:
    """Own job beside the demo's weather: no log, no typed reading."""
    job = demo.job()
    assert job is not None
    demo.save_job(replace(job, id="own"))
    air = demo.airs(NOW, 2).areas["port"]
    assert air.read_until_s is None
    assert air.scenarios is not None
    # A usual response misses by 2 K and more in the long run: no less at the first step.
    assert float(np.std(air.scenarios.air_temp_c[:, 0])) > 1.5
    assert any("was not read" in note for note in air.series.assumptions)
    shown = demo.outlook(NOW, 1).areas[0]
    assert "measured" not in shown.origin


def test_without_days_before_and_without_a_reading_no_surface_is_told(bench: Workbench) -> None:
    bench.load_demo(NOW)
    job = bench.job()
    assert job is not None
    bench.save_job(replace(job, id="own", shop=Shop("stone shed", 420.0, Place(60.0, 5.0))))
    bench.type_forecast(TypedForecast((3.0,), (17.0,), dew_point_c=2.0), NOW)
    series = bench.airs(NOW, 1).areas["port"].series
    ahead = series.part(NOW + 3600, NOW + 8 * 3600)
    assert not np.isnan(ahead.air_temp_c).any()
    assert np.isnan(ahead.surface_temp_c).all()
    read = Reading(NOW, 11.0, 60.0, 10.0)
    told = bench.airs(NOW, 1, read).areas["port"].series.part(NOW + 600, NOW + 8 * 3600)
    assert not np.isnan(told.surface_temp_c).any()


def test_a_reading_of_the_shop_says_nothing_of_the_yard(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    yard = replace(job.areas[-1], id="yard", outdoors=True, tilt_deg=0.0)
    demo.save_job(replace(job, areas=(*job.areas, yard)))
    weather = demo.outlooks.forecast(job, NOW)
    assert weather is not None
    air = demo.airs(NOW, 1).areas["yard"].series
    told = float(np.interp(NOW, weather.hourly.time_s, weather.hourly.column("air_temp_c")))
    at_now = float(np.interp(NOW, air.time_s, air.air_temp_c))
    assert at_now == pytest.approx(told, abs=0.1)
    # But the reading in the boxes counts where it is taken.
    read = Reading(NOW, told + 3.0, 50.0, 9.0)
    there = demo.airs(NOW, 1, read, ("yard",)).areas["yard"].series
    assert float(there.part(NOW - 300, NOW + 300).air_temp_c[1]) == pytest.approx(told + 3, abs=0.2)


def test_courses_outdoors_differ_in_wind_rain_and_cloud(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    basis = demo.outlooks.basis(job, NOW, NOW + 5 * DAY, area=demo.readings_area)
    assert basis is not None
    courses, central = basis.weather.courses, basis.weather.central
    assert courses is not None
    for name in ("wind_m_s", "cloud_pct", "sun_w_m2", "rain_mm"):
        assert float(np.std(courses.columns[name], axis=0).max()) > 0.0, name
    # An hour's rain is shared out over its quarters: the mean course rains as much as told.
    rain, told = courses.columns["rain_mm"].mean(axis=0).sum(), np.nansum(central.column("rain_mm"))
    assert rain == pytest.approx(told, rel=0.5)


def test_an_ended_typed_forecast_gives_way_to_a_service(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    assert job.shop is not None
    fetched = demo.outlooks.forecast(job, NOW)
    assert fetched is not None
    demo.type_forecast(TypedForecast((3.0,), (17.0,), dew_point_c=2.0), NOW - 4 * DAY)
    service = replace(fetched, source="metno", credit="invented")
    archive.put(demo.store, service, place_of(job.shop), (), int(NOW))
    used = demo.outlooks.forecast(job, NOW)
    assert used is not None
    assert used.source == "metno"


def test_nights_are_scored_from_what_was_said(demo: Workbench) -> None:
    """Said at five in the afternoon; the log of the night after is the demo's own, plus 0.5 K."""
    evening = NOW - 16 * 3600
    airs = demo.airs(evening, 2, spread=False)
    told = airs.of("port").series
    said.keep(demo.store, replace(told, air_temp_c=told.air_temp_c + 0.5), evening)
    job = demo.job()
    assert job is not None
    log = reading_store.load(demo.store, int(NOW - DAY), int(NOW), demo.readings_area)
    demo.save_job(replace(job, id="own"))
    reading_store.save_table(demo.store, replace(log, origin=Origin.IMPORTED))
    found = said.scores(demo.store, Words("metric", LONDON, NOW), NOW + 3600)
    assert len(found.nights) == 1
    night = found.nights[0]
    assert f"said {night.said_c:.1f}" in night.text
    assert found.mean_error_k == pytest.approx(night.said_c - night.was_c)


def test_what_is_said_is_kept_every_three_hours_only(demo: Workbench) -> None:
    series = demo.airs(NOW, 2, spread=False).of("port").series
    assert said.due(demo.store, NOW)
    said.keep(demo.store, series, NOW)
    assert not said.due(demo.store, NOW + 3 * 3600 - 1)
    assert said.due(demo.store, NOW + 3 * 3600)


def test_a_typed_reading_moves_courses_as_it_moves_the_series(demo: Workbench) -> None:
    before = demo.airs(NOW, 1).areas["port"]
    read = Reading(NOW, surface_temp_c=float(before.series.part(NOW, NOW).surface_temp_c[0]) - 2.0)
    after = demo.airs(NOW, 1, read).areas["port"]
    assert before.scenarios is not None
    assert after.scenarios is not None
    moved = after.scenarios.surface_temp_c - before.scenarios.surface_temp_c
    # Half the pull is gone after six hours; the courses begin on the quarter hour before now.
    assert moved[:, 1] == pytest.approx(-2.0, abs=0.06)
    assert moved[:, 25] == pytest.approx(-1.0, abs=0.06)
    assert np.array_equal(after.scenarios.air_temp_c, before.scenarios.air_temp_c)


def test_heat_opens_hours_and_costs_kwh(demo: Workbench) -> None:
    at = demo.prepare_what_if(NOW)
    nothing, heated = demo.what_if(at, Change()), demo.what_if(at, Change(heater_kw=3.0))
    assert nothing.go_h == nothing.go_h_now
    assert nothing.kwh == 0.0
    assert heated.go_h >= nothing.go_h
    # Three kilowatts over the seven days shown.
    assert heated.kwh == pytest.approx(3.0 * 7 * 24, rel=0.02)
    chances = demo.what_if_chances(at, Change(heater_kw=3.0))
    judged = chances.week.lanes[0].judged
    assert judged.chances is not None
    plain = at.week.areas["port"].scenarios
    assert plain is not None
    warmer = judged.courses.scenarios if judged.courses else None
    assert warmer is not None
    assert (warmer.air_temp_c[:, -1] > plain.air_temp_c[:, -1]).all()


def test_two_shops_do_not_share_a_forecast(demo: Workbench) -> None:
    job = demo.job()
    assert job is not None
    assert job.shop is not None
    elsewhere = replace(job.shop, place=Place(60.0, 5.0))
    demo.save_shop(elsewhere)
    assert archive.latest(demo.store, "demo", place_of(elsewhere)) is None
    source = demo.source_in_use(NOW)
    assert source is not None
    assert source.id == "log"  # with no forecast its own log is continued


def test_before_mixing_says_what_weather_it_rests_on(demo: Workbench) -> None:
    told = demo.before_mixing("port-gloss-2", NOW).assumptions
    assert any("Invented weather: made 10 min ago" in line for line in told)


def test_what_if_starts_from_the_reading_in_the_boxes(demo: Workbench) -> None:
    damp = Reading(NOW, 11.9, 92.0, 11.7)
    dry, wet = demo.prepare_what_if(NOW), demo.prepare_what_if(NOW, 7, damp)
    week = demo.coming_days(NOW, 7, damp)
    shown = demo.what_if(wet, Change()).week
    assert np.array_equal(shown.series.rh_pct, week.series.rh_pct, equal_nan=True)
    assert wet.setting.go_h_now != dry.setting.go_h_now


def test_a_wetted_floor_tells_when_it_is_dry_enough_again(demo: Workbench) -> None:
    at = demo.prepare_what_if(NOW)
    told = demo.what_if_chances(at, Change(damp_litres=20.0, damp_m2=40.0))
    assert any("raises humidity" in note and "Read the air again" in note for note in told.notes)


def test_a_forecast_that_begins_with_the_next_hour_still_counts(bench: Workbench) -> None:
    """Typed readings now, weather from 10:00 on: the shop stays as read until then."""
    bench.load_demo(NOW)
    job = bench.job()
    assert job is not None
    kept = bench.outlooks.forecast(job, NOW)
    assert kept is not None
    first = int((NOW // 3600 + 1) * 3600 - kept.hourly.start_s) // 3600
    hourly = replace(
        kept.hourly,
        start_s=kept.hourly.start_s + 3600 * first,
        columns={n: v[first:] for n, v in kept.hourly.columns.items()},
    )
    bench.save_job(replace(job, id="own"))
    bench.outlooks.use(replace(kept, hourly=hourly, step_h=kept.step_h[first:]))
    series = bench.airs(NOW, 1, Reading(NOW, 11.0, 60.0, 10.5)).areas["port"].series
    ahead = series.part(NOW + 3600, NOW + 12 * 3600)
    assert not np.isnan(ahead.margin_k).any()


def test_a_reading_of_the_last_hour_counts_as_it_was_taken(demo: Workbench) -> None:
    """What is judged now is what stands in the boxes, not what the outlook made of it since."""
    read = Reading(NOW, 9.5, 68.0, 8.7)
    for minutes in (0, 10, 30, 55):
        series = demo.airs(NOW + 60 * minutes, 1, read).of("port").series
        k = int(series.index_of(NOW + 60 * minutes))
        assert series.air_temp_c[k] == pytest.approx(9.5)
        assert series.surface_temp_c[k] == pytest.approx(8.7)
        assert series.rh_pct[k] == pytest.approx(68.0, abs=0.01)


def test_the_source_in_use_stands_first_where_nobody_chose(demo: Workbench) -> None:
    first, *others = demo.shop_view(NOW).sources
    assert (first.id, first.chosen) == ("demo", True)
    assert not any(source.chosen for source in others)


def test_a_row_of_a_wrong_year_is_named_and_nothing_is_kept(
    bench: Workbench, tmp_path: Path
) -> None:
    """One wrong date would make a whole log an outlook, none of it measured."""
    file = tmp_path / "log.csv"
    rows = ["time,air_temp_c,rh_pct", "2026-05-13T08:00:00Z,11,70", "2062-05-13T09:00:00Z,11,70"]
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    imported = bench.preview(file)
    with pytest.raises(InputError, match=r"log\.csv: found a row from 2062-05-13 on; accepted"):
        bench.keep_import(imported, file.name, NOW)
    assert bench.latest_values(NOW) == {}
