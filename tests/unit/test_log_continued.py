"""The shop's own log continued: the line, how far it misses, and when it is used.

No numbers from outside but one: the usual misses rest on a real log named in the module. The logs
here are invented so that what must come of them can be worked out by hand.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.log_continued import (
    FADE_HALF_H,
    NOTE,
    USUAL_AIR_K,
    USUAL_DEW_K,
    USUAL_H,
    Log,
    _hindcasts,
    _laid,
    continued,
)
from advisor.climate.outlook import AirAhead
from advisor.climate.place import Place
from advisor.climate.readings import Origin, ReadingTable
from advisor.climate.shop.shop import Shop
from advisor.climate.sources.typed import TypedForecast
from advisor.planning.job import Area, Coat, Job
from advisor.work.outlook_views import OutlookAnswer
from advisor.work.views import Reading
from advisor.work.workbench import Workbench

FloatArray = NDArray[np.float64]
NOW = 1_779_840_000  # 27 May 2026 00:00 UTC, a whole quarter of an hour
HOUR, DAY, STEP, PER_DAY = 3600, 86400, 900, 96


def times(days: float, end_s: int = NOW, step_s: int = STEP) -> NDArray[np.int64]:
    return np.arange(end_s - int(days * DAY), end_s + 1, step_s, dtype=np.int64)


def wave(time_s: NDArray[np.int64]) -> FloatArray:
    """A day's course between −1 and 1, highest at 15:00 UTC."""
    return np.asarray(np.cos((time_s % DAY - 15 * HOUR) * (2.0 * np.pi / DAY)))


def log_of(days: float, air: FloatArray | None = None, end_s: int = NOW) -> Log:
    time_s = times(days, end_s)
    warm = 12.0 + 3.0 * wave(time_s) if air is None else air
    return Log(time_s, warm, warm - 6.0)


def line(log: Log, now_s: float = NOW) -> AirAhead:
    found = continued(log, now_s, count=0)
    assert found is not None
    return found


def restless(days: float, seed: int = 1, size_k: float = 1.0) -> Log:
    """A log whose level wanders: a random walk of `size_k` an hour under the day's course."""
    time_s = times(days)
    rng = np.random.default_rng(seed)
    walk = np.cumsum(rng.standard_normal(len(time_s))) * size_k / 2.0  # √4 steps an hour
    air = 12.0 + 3.0 * wave(time_s) + walk
    return Log(time_s, air, air - 6.0)


# --- the line --------------------------------------------------------------------------------


def test_a_shop_that_repeats_itself_goes_on_doing_so() -> None:
    found = line(log_of(4))
    assert (found.start_s, found.step_s, len(found.air_temp_c)) == (NOW, STEP, 3 * PER_DAY + 1)
    expected = 12.0 + 3.0 * wave(found.time_s)
    assert found.air_temp_c == pytest.approx(expected, abs=1e-9)
    assert found.dew_point_c == pytest.approx(expected - 6.0, abs=1e-9)


def test_it_joins_the_last_value_and_the_offset_fades() -> None:
    """4 K warmer than usual at the last reading alone: all of it now, half of it a day later."""
    log = log_of(4)
    log.air_temp_c[-1] += 4.0
    found = line(log)
    extra = found.air_temp_c - (12.0 + 3.0 * wave(found.time_s))
    assert FADE_HALF_H == 24.0
    assert extra[0] == pytest.approx(4.0)
    assert extra[48] == pytest.approx(4.0 * 0.5**0.5)
    # At 24 h and on the last value is one of the three repeated as well: a third of 4 K more.
    assert extra[95] == pytest.approx(4.0 * 0.5 ** (95 / 96))
    assert extra[96] == pytest.approx(2.0 + 4.0 / 3.0)


def test_it_is_the_mean_of_the_last_three_days_and_no_more() -> None:
    """Days at 30, 6, 9 and 12 °C: the mean of the last three is 9, of all four 14.25."""
    time_s = times(4)
    levels = np.array([30.0, 6.0, 9.0, 12.0, 12.0])
    air = levels[(time_s - time_s[0]) // DAY]
    found = line(Log(time_s, air, air - 2.0))
    offset = 12.0 - 9.0
    assert found.air_temp_c[40] == pytest.approx(9.0 + offset * 0.5 ** (40 / 96))


def test_two_days_of_log_are_enough_and_less_is_not() -> None:
    assert continued(log_of(1.9), NOW) is None
    found = line(log_of(2))
    assert found.air_temp_c == pytest.approx(12.0 + 3.0 * wave(found.time_s), abs=1e-9)
    # Two days from first to last, but half of it a hole.
    holed = log_of(2.5)
    holed.air_temp_c[50:150] = np.nan
    assert continued(holed, NOW) is None


def test_part_of_a_day_is_not_repeated() -> None:
    """Half a day at 30 °C, then two whole ones at 12 °C: no step where the half day ends."""
    air = np.full(240 + 1, 12.0)
    air[:48] = 30.0
    assert line(log_of(2.5, air)).air_temp_c == pytest.approx(np.full(289, 12.0))


def test_air_alone_is_not_enough() -> None:
    log = log_of(4)
    assert continued(Log(log.time_s, log.air_temp_c, np.full(len(log.time_s), np.nan)), NOW) is None


def test_a_hole_in_one_day_takes_the_others_and_in_all_stays_a_hole() -> None:
    hole = slice(20, 40)  # 5 h: longer than a straight line bridges
    log = log_of(3)
    log.air_temp_c[hole] = np.nan
    assert np.isfinite(line(log).air_temp_c).all()
    for day in (1, 2):
        log.air_temp_c[20 + PER_DAY * day : 40 + PER_DAY * day] = np.nan
    told = line(log).air_temp_c
    assert np.isnan(told[20:40]).all()
    assert np.isfinite(told[41:100]).all()


def test_it_begins_where_the_log_ends_and_stops_three_days_later() -> None:
    log = log_of(4, end_s=NOW - 10 * HOUR)
    found = line(log)
    assert found.start_s == NOW - 10 * HOUR
    assert int(found.time_s[-1]) == NOW - 10 * HOUR + 3 * DAY
    assert continued(log, NOW - 10 * HOUR + 3 * DAY) is None  # nothing of it still to come


def test_nothing_after_now_is_looked_at() -> None:
    """Readings at ten past: that of 00:10 must not draw the line at 00:00."""
    time_s = times(6, NOW + DAY + 600, HOUR)
    air = np.where(time_s > NOW, 40.0, 12.0)
    found = line(Log(time_s, air, air - 6.0))
    assert found.start_s == NOW - HOUR  # the last quarter hour before the reading of 23:10
    assert found.air_temp_c == pytest.approx(np.full(289, 12.0))


def test_dew_point_is_never_above_the_air() -> None:
    """Dry at midnight, nearly saturated at noon; tonight it is saturated: noon would overshoot."""
    time_s = times(4)
    gap = 3.25 + 2.75 * np.cos(time_s % DAY * (2.0 * np.pi / DAY))
    air = np.full(len(time_s), 12.0)
    dew = air - gap
    dew[-1] = 12.0
    found = continued(Log(time_s, air, dew), NOW)
    assert found is not None
    assert found.dew_point_c[48] == found.air_temp_c[48]
    assert (found.dew_point_c <= found.air_temp_c).all()
    assert found.air_courses_c is not None
    assert found.dew_courses_c is not None
    assert (found.dew_courses_c <= found.air_courses_c).all()


# --- how far it misses -----------------------------------------------------------------------


def spread_k(log: Log, seed: int = 0) -> tuple[FloatArray, FloatArray]:
    found = continued(log, NOW, seed=seed)
    assert found is not None
    assert found.air_courses_c is not None
    assert found.dew_courses_c is not None
    return found.air_courses_c - found.air_temp_c, found.dew_courses_c - found.dew_point_c


def test_under_five_days_the_spread_is_the_usual_one() -> None:
    air_k, dew_k = spread_k(log_of(4.9))
    assert air_k.shape == (200, 3 * PER_DAY + 1)
    at = (4.0 * np.array(USUAL_H)).astype(int)
    assert air_k.std(axis=0)[at] == pytest.approx(USUAL_AIR_K, abs=1e-9)
    # Where the dew point would pass the air it is held down: a little narrower.
    assert dew_k.std(axis=0)[at] == pytest.approx(USUAL_DEW_K, rel=0.12, abs=1e-9)
    assert "the usual until 5 days are logged" in line(log_of(4.9)).notes[1]


def test_a_shop_that_repeats_itself_is_trusted_more_once_it_has_shown_it() -> None:
    """Thirty days without a miss: 27 days of hindcasts against the worth of 3 of the usual."""
    usual = USUAL_AIR_K[USUAL_H.index(24.0)]
    air_k, _ = spread_k(log_of(30))
    assert air_k[:, PER_DAY].std() == pytest.approx(usual * np.sqrt(3.0 / 30.0), rel=0.1)


def hindcast_misses(log: Log) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
    """Origins in UTC seconds, and misses of air and dew point over three days of quarter hours."""
    laid = _laid(log, NOW)
    assert laid is not None
    origins, air_k, dew_k = _hindcasts(laid, np.arange(3 * PER_DAY + 1))
    return laid.start_s + STEP * origins, air_k, dew_k


def test_a_restless_shop_is_trusted_less() -> None:
    """A walk of 1.5 K an hour misses by over 5 K in a day; the spread must be of that size."""
    log = restless(30, size_k=1.5)
    _, missed, _ = hindcast_misses(log)
    seen = np.sqrt(np.nanmean(missed[:, PER_DAY] ** 2))
    assert seen > 5.0
    air_k, _ = spread_k(log)
    assert air_k[:, PER_DAY].std() == pytest.approx(seen, rel=0.1)


def test_hindcasts_are_the_very_same_method() -> None:
    """At one hour of the past: what came, less what the log cut off there would have said."""
    log = restless(8)
    origins, air_k, dew_k = hindcast_misses(log)
    assert np.array_equal(np.diff(origins), np.full(len(origins) - 1, HOUR))
    row = 60
    told = line(log, float(origins[row]))
    assert told.start_s == origins[row]
    begin = int((origins[row] - log.time_s[0]) // STEP)
    n = len(told.air_temp_c)
    assert air_k[row] == pytest.approx(log.air_temp_c[begin : begin + n] - told.air_temp_c)
    assert dew_k[row] == pytest.approx(log.dew_point_c[begin : begin + n] - told.dew_point_c)
    assert np.isnan(air_k[-1][-1])  # three days after the last origin nothing is measured yet


def test_courses_start_at_the_last_value_and_widen() -> None:
    for log in (log_of(3), restless(12)):
        air_k, dew_k = spread_k(log)
        assert np.abs(air_k[:, 0]).max() == 0.0
        assert np.abs(dew_k[:, 0]).max() == 0.0
        assert (np.diff(air_k.std(axis=0)) > -1e-9).all()
        assert air_k.mean(axis=0) == pytest.approx(np.zeros(air_k.shape[1]), abs=1e-9)


def test_misses_from_the_same_time_of_day_count_most() -> None:
    """Only from 12:00 to 18:00 anything happens: at 03:00 little is in doubt, at 15:00 much."""
    time_s = times(30)
    rng = np.random.default_rng(3)
    kicks = np.repeat(rng.standard_normal(31), PER_DAY)[: len(time_s)] * 4.0
    hour = time_s % DAY / HOUR
    air = 12.0 + np.where((hour >= 12) & (hour < 18), kicks, 0.0)
    air_k, _ = spread_k(Log(time_s, air, air - 6.0))
    sd = air_k.std(axis=0)
    assert sd[15 * 4] > 2.0 * sd[3 * 4]


@pytest.mark.parametrize(("days", "lead"), [(3.0, 100), (20.0, 100), (6.0, 240)])
def test_courses_are_correlated_in_time(days: float, lead: int) -> None:
    """An hour apart nearly the same, a day apart less: no white noise, no one offset for all."""
    air_k, _ = spread_k(restless(days))

    def alike(later: int) -> float:
        return float(np.corrcoef(air_k[:, lead], air_k[:, lead + later])[0, 1])

    assert alike(4) > 0.85
    assert alike(4) > alike(-90) + 0.1


@pytest.mark.parametrize("days", [5.5, 8.0])
def test_a_course_wanders_on_where_its_hindcast_ends(days: float) -> None:
    """No jump back to the line in a quarter of an hour: 0.8 spreads seen, 1.5 to 2.7 with one."""
    air_k, _ = spread_k(restless(days))
    unit = air_k[:, PER_DAY:] / air_k[:, PER_DAY:].std(axis=0)
    assert np.abs(np.diff(unit, axis=1)).max() < 1.2


def test_the_same_log_draws_the_same_courses() -> None:
    log = restless(9)
    assert np.array_equal(spread_k(log)[0], spread_k(log)[0])
    assert not np.array_equal(spread_k(log)[0], spread_k(log, seed=1)[0])


def test_courses_are_not_a_few_repeated() -> None:
    air_k, _ = spread_k(restless(6))
    assert len(np.unique(np.round(air_k[:, 200], 6))) == 200


# --- on the bench ----------------------------------------------------------------------------


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    return Workbench(store, root / "resources")


def shed(bench: Workbench, shop: Shop | None = None, *, yard: bool = False) -> None:
    areas = [Area("hull", "hull", 8.0), Area("deck", "deck", 4.0, "plywood")]
    areas += [Area("trailer", "trailer", 4.0, "steel", outdoors=True)] if yard else []
    coats = (Coat("c1", "enamel", "hull", "typical-alkyd", 8.0),)
    bench.save_job(Job("j", "job", "shed", "UTC", tuple(areas), coats, shop=shop))


def logged(bench: Workbench, days: float, origin: Origin = Origin.MEASURED) -> None:
    log = log_of(days)
    columns = {"air_temp_c": log.air_temp_c, "dew_point_c": log.dew_point_c}
    flags = np.zeros(len(log.time_s), dtype=np.uint16)
    reading_store.save_table(bench.store, ReadingTable(log.time_s, columns, flags, origin))


def outlook(bench: Workbench, now_s: float = NOW, days: int = 4) -> OutlookAnswer:
    return bench.outlook(now_s, days)


SHED = Shop("stone shed", place=Place(54.0, 0.0))


def test_without_a_forecast_the_log_is_continued_and_says_so(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4)
    found = outlook(bench)
    assert found.source is not None
    assert (found.source.id, found.source.state) == ("log", "old")  # no forecast
    assert found.source.name == "The shop's own log, continued"
    assert found.source.text.endswith(NOTE)
    assert found.source.ends_s == NOW + 3 * DAY
    hull = found.areas[0]
    assert NOTE in hull.notes
    assert np.isfinite(hull.columns["surface_temp_c"][:73]).all()
    assert np.isnan(hull.columns["air_temp_c"][73:]).all()  # nothing past three days
    assert hull.origin[10] == "estimated"
    assert hull.origin[-1] == "unknown"
    assert (hull.low["margin_k"][1:73] < hull.high["margin_k"][1:73]).all()


def test_the_week_and_before_mixing_rest_on_it(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4)
    week = bench.coming_days(NOW)
    assert week.source is not None
    assert week.source.id == "log"
    assert week.band is not None
    assert NOTE in week.series.assumptions
    only = bench.airs(NOW, 4, only=("deck",))
    assert set(only.areas) == {"deck"}


def test_a_typed_reading_moves_it(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4)
    before = bench.airs(NOW, 2).of("hull")
    after = bench.airs(NOW, 2, Reading(NOW, air_temp_c=14.0)).of("hull")
    assert before.scenarios is not None
    assert after.scenarios is not None
    moved = after.scenarios.air_temp_c[:, 0] - before.scenarios.air_temp_c[:, 0]
    at_now = float(before.series.air_temp_c[int(before.series.index_of(NOW))])
    assert moved == pytest.approx(np.full(200, 14.0 - at_now))


def test_a_job_without_a_shop_is_as_it_was(bench: Workbench) -> None:
    shed(bench, None)
    logged(bench, 4)
    assert bench.airs(NOW, 2).areas == {}
    assert bench.source_in_use(NOW) is None
    assert np.isnan(outlook(bench).areas[0].columns["air_temp_c"][1:]).all()


def test_a_short_log_is_no_outlook(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 1.5)
    found = outlook(bench)
    assert found.source is None
    assert "no forecast of the coming hours" in found.notes[0]


def test_estimates_and_typed_values_are_no_log(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4, Origin.ESTIMATED)
    assert bench.airs(NOW, 2).areas == {}


def test_outdoors_is_not_told_by_the_shops_log(bench: Workbench) -> None:
    shed(bench, SHED, yard=True)
    logged(bench, 4)
    airs = bench.airs(NOW, 2)
    assert set(airs.areas) == {"hull", "deck"}
    trailer = airs.of("trailer").series
    assert np.isnan(trailer.air_temp_c[int(trailer.index_of(NOW)) + 1 :]).all()


def test_any_forecast_of_coming_hours_goes_before_it(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4)
    bench.type_forecast(TypedForecast((6.0, 6.0), (14.0, 14.0), dew_point_c=5.0), NOW)
    assert bench.airs(NOW, 2).basis is not None
    source = bench.source_in_use(NOW)
    assert source is not None
    assert source.id == "typed"
    ended = NOW + 10 * DAY
    assert bench.source_in_use(ended).id == "typed"  # type: ignore[union-attr]
    assert bench.airs(ended, 2).areas == {}  # the log is too old by then


def test_an_ended_forecast_gives_way_to_a_log_that_goes_on(bench: Workbench) -> None:
    shed(bench, SHED)
    bench.type_forecast(TypedForecast((6.0,), (14.0,), dew_point_c=5.0), NOW - 6 * DAY)
    logged(bench, 4)
    source = bench.source_in_use(NOW)
    assert source is not None
    assert source.id == "log"
    assert set(bench.airs(NOW, 2).areas) == {"hull", "deck"}


def test_a_file_that_tells_the_coming_air_is_not_overruled(bench: Workbench) -> None:
    shed(bench, SHED)
    logged(bench, 4)
    time_s = times(2, NOW + 2 * DAY)[1:]
    columns = {"air_temp_c": np.full(len(time_s), 25.0), "dew_point_c": np.full(len(time_s), 9.0)}
    flags = np.zeros(len(time_s), dtype=np.uint16)
    told = ReadingTable(time_s, columns, flags, Origin.FORECAST)
    reading_store.save_table(bench.store, told)
    found = outlook(bench, days=1)
    assert found.areas[0].columns["air_temp_c"][20] == 25.0
    assert found.source is None
    assert bench.coming_days(NOW).source is None
