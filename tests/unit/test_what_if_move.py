"""What if the work were moved: its air, its surface on the way, the rules of the open, the words.

No numbers from outside. The weather is the invented one of the demo.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.climate.series import Series
from advisor.climate.shop.shop import Change
from advisor.planning.verdict import Verdict
from advisor.work.cheapest import may_suggest
from advisor.work.what_if_bench import Prepared
from advisor.work.what_if_move import moved_areas
from advisor.work.workbench import Workbench

#: 14 May 2026, 09:10 in London.
NOW = 1_778_746_200.0
HOUR = 3600.0
OUT = Change(move="outdoors")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workbench]:
    with Store(Path(tmp_path_factory.mktemp("move"), "shop.sqlite3")) as store:
        bench = Workbench(store, resources_dir())
        bench.load_demo(NOW)
        yield bench


@pytest.fixture(scope="module")
def at(demo: Workbench) -> Prepared:
    return demo.prepare_what_if(NOW)


def series_of(demo: Workbench, at: Prepared, change: Change) -> Series:
    return demo.what_if(at, change).week.lanes[0].judged.series


def at_home(at: Prepared) -> Series:
    """The first lane's area as it is."""
    return at.week.areas[at.setting.now.lanes[0].area.id].series


def after(series: Series, hours: float) -> int:
    return int(np.ceil(series.index_of(NOW + hours * HOUR)))


def test_in_the_yard_it_has_the_weathers_air(demo: Workbench, at: Prepared) -> None:
    found = series_of(demo, at, OUT)
    here = at_home(at)
    k = after(found, 0)
    outdoors = at.basis.weather.central
    told = np.interp(found.time_s[k:], outdoors.time_s, outdoors.column("air_temp_c"))
    # Straight lines between the same points of 15 minutes; the last hours may be past the end.
    assert found.air_temp_c[k : k + 1500] == pytest.approx(told[:1500], abs=1e-9)
    assert np.array_equal(found.air_temp_c[:k], here.air_temp_c[:k], equal_nan=True)
    assert np.array_equal(found.surface_temp_c[:k], here.surface_temp_c[:k], equal_nan=True)
    assert np.nanmax(found.hot_c - found.air_temp_c) > 5.0  # sun on a hull


def test_the_surface_brings_its_warmth_along(demo: Workbench, at: Prepared) -> None:
    """At the door it is as warm as it was; a day later it is what it would have been."""
    area_id = at.setting.now.lanes[0].area.id
    found, here = series_of(demo, at, OUT), at.week.areas[area_id].series
    there = at.elsewhere(OUT, spread=False)[area_id].series
    k = after(found, 0)
    assert found.surface_temp_c[k] == pytest.approx(here.surface_temp_c[k], abs=1e-9)
    later = slice(after(found, 24), after(found, 48))
    assert found.surface_temp_c[later] == pytest.approx(there.surface_temp_c[later], abs=0.05)
    gone = np.abs(found.surface_temp_c - there.surface_temp_c)[k : k + 200]
    assert (np.diff(gone) <= 1e-12).all()


def test_the_rules_of_the_open_count_where_it_stands_in_the_open(
    demo: Workbench, at: Prepared
) -> None:
    inside, outside = at.setting.now.lanes[0], demo.what_if(at, OUT).week.lanes[0]
    assert not inside.judged.case.site.outdoors
    assert outside.judged.case.site.outdoors
    assert outside.judged.case.site.wind_limit_m_s is not None
    rules = {test.rule for test in outside.judged.tests}
    assert {"rain", "wind"} <= rules
    assert not {"rain", "wind"} & {test.rule for test in inside.judged.tests}


def test_a_night_in_the_yard_and_home_again(demo: Workbench, at: Prepared) -> None:
    there_and_back = replace(OUT, from_s=NOW + 6 * HOUR, until_s=NOW + 12 * HOUR)
    found, here = (
        series_of(demo, at, there_and_back),
        at.week.areas[at.setting.now.lanes[0].area.id].series,
    )
    a, b = after(found, 6), after(found, 12)
    assert np.array_equal(found.air_temp_c[:a], here.air_temp_c[:a], equal_nan=True)
    assert np.array_equal(found.air_temp_c[b:], here.air_temp_c[b:], equal_nan=True)
    assert not np.array_equal(found.air_temp_c[a:b], here.air_temp_c[a:b])
    # Five minutes move no hull far: no step at either door.
    for k in (a, b):
        assert abs(found.surface_temp_c[k] - found.surface_temp_c[k - 1]) < 0.5
    assert found.wind_m_s is not None
    assert (found.wind_m_s[b:] == 0.0).all()
    assert (found.wind_m_s[a:b] > 0.0).all()


def test_heat_in_the_shop_does_nothing_in_the_yard(demo: Workbench, at: Prepared) -> None:
    cold, heated = (series_of(demo, at, replace(OUT, heater_kw=kw)) for kw in (0.0, 3.0))
    k = after(cold, 0)
    assert np.array_equal(cold.air_temp_c[k:], heated.air_temp_c[k:], equal_nan=True)
    assert demo.what_if(at, replace(OUT, heater_kw=3.0)).kwh > 400.0


def test_chances_follow_the_work_out(demo: Workbench, at: Prepared) -> None:
    plain, moved = (demo.what_if_chances(at, change) for change in (Change(), OUT))
    lane = moved.week.lanes[0]
    assert lane.judged.courses is not None
    courses = lane.judged.courses.scenarios
    there = at.elsewhere(OUT, spread=True)[lane.area.id].scenarios
    assert there is not None
    assert np.array_equal(courses.air_temp_c[:, 1:], there.air_temp_c[:, 1:])
    assert courses.rain_mm is not None
    assert lane.judged.chances is not None
    assert plain.week.lanes[0].judged.chances is not None
    assert not np.array_equal(lane.judged.chances.holds, plain.week.lanes[0].judged.chances.holds)
    # Areas alike are laid out once.
    assert len({id(air) for air in at.elsewhere(OUT, spread=True).values()}) <= len(
        {replace(a, outdoors=True).skin for a in at.week.job.areas}
    )


def test_areas_alike_stay_one_while_a_lever_is_dragged(demo: Workbench, at: Prepared) -> None:
    """Three timber areas of the demo are worked out as one: half the time of every move."""
    skins = {area.skin for area in at.week.job.areas}
    assert len({id(air) for air in at.setting.week.areas.values()}) == len(skins) < 4
    lanes = demo.what_if(at, Change(heater_kw=2.0)).week.lanes
    assert len({id(lane.judged.series) for lane in lanes}) == len({x.area.skin for x in lanes})


def test_a_place_is_laid_out_once(demo: Workbench, at: Prepared) -> None:
    assert at.elsewhere(OUT, spread=False) is at.elsewhere(
        replace(OUT, heater_kw=1.0), spread=False
    )


def test_where_it_is_already_it_stays(demo: Workbench, at: Prepared) -> None:
    found = demo.what_if(at, Change(move="indoors"))
    assert found.go_h == found.go_h_now
    assert found.text.startswith("moved into the shop: as many hours")


def test_into_the_shop_out_of_the_rain(demo: Workbench) -> None:
    """The same job in the yard: moved in, it has the shop's air and none of the open's rules."""
    job = demo.job()
    assert job is not None
    yard = replace(job, areas=tuple(replace(a, outdoors=True) for a in job.areas))
    before = demo._given
    try:
        demo._given = yard
        at = demo.prepare_what_if(NOW)
        moved = demo.what_if(at, Change(move="indoors"))
    finally:
        demo._given = before
    lane = moved.week.lanes[0]
    assert not lane.judged.case.site.outdoors
    series = lane.judged.series
    k = after(series, 1)
    inside = at.setting.shop.indoor
    told = np.interp(series.time_s[k:], at.setting.shop.outdoor.time_s, inside.air_temp_c)
    # The response at its own level or drawn to it: within a few tenths.
    assert series.air_temp_c[k : k + 1000] == pytest.approx(told[:1000], abs=0.5)
    assert moved.go_h > moved.go_h_now
    assert any(v <= Verdict.BORDERLINE for v in lane.judged.verdicts)


def test_words_and_cautions(demo: Workbench, at: Prepared) -> None:
    found = demo.what_if(at, replace(OUT, until_s=NOW + 5 * HOUR))
    assert found.text.startswith("moved outdoors, until 14:10: ")
    assert found.kwh == 0.0
    assert any("no film on it is open" in note for note in found.notes)
    assert not may_suggest(OUT)
    with pytest.raises(RangeError, match="indoors or outdoors"):
        moved_areas(at.week.job, "roof")  # type: ignore[arg-type]
