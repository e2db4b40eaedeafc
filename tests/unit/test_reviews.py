"""Was it inside the limits? Through the bench, against figures reckoned by hand.

Products and readings are invented with round figures. Dew points by hand are by the Magnus
formula with the constants of WMO-No. 8 (17.62, 243.12 °C); it differs from the program's own
saturation pressure by under 0.03 K here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.coatings.product import NextCoat
from advisor.planning.case import Previous
from advisor.planning.job import Area, Coat, Job
from advisor.record.canonical import Json
from advisor.record.entry import Entry, number_of, quantity
from advisor.record.review.interval import Below, sides_of
from advisor.record.review.observed import observed
from advisor.record.review.track import Tracks
from advisor.record.review_types import CoatReview, LimitReview
from advisor.work.known import known_of_coat
from advisor.work.reviews import broken_links
from advisor.work.views import Reading
from advisor.work.workbench import Workbench
from tests.helpers.products import HOUR_S, MONDAY_S, gloss

SHEET = """
schema = 1
id = "own-gloss"
name = "own gloss"
class = "two-part-gloss"
status = "from data sheet"
[source]
title = "invented"
revision = "{revision}"
[mix]
ratio = "2:1"
thinner_max_pct = 10
[limits]
air_temp_c = [8, 30]
surface_temp_c = [8, 30]
rh_pct = [0, {rh_pct}]
[film]
volume_solids_pct = 50
dft_um = [50, 60]
[times]
temp_c = [10, 20, 30]
pot_life_h = [6, 3, 1.5]
tack_free_h = [8, 4, 2]
dew_safe_h = [16, 8, 4]
[[next]]
over = "same"
min_h = [24, 12, 6]
max_h = [48, 24, 12]
after_max = ["sand 320 and wipe"]
"""
#: Monday 2026-06-01 00:00 UTC; times below are hours after it.
JOB = Job("j", "job", "shed", "UTC",
          (Area("side", "side", 8.0), Area("deck", "deck", 5.0)),
          (Coat("one", "first gloss", "side", "own-gloss", 8.0),
           Coat("two", "second gloss", "side", "own-gloss", 8.0),
           Coat("deck", "deck gloss", "deck", "own-gloss", 5.0)))  # fmt: skip
#: A hundredth of an hour: Magnus and the program's dew points differ by so much at most here.
BY_HAND_H = 0.01


def at(hours: float) -> float:
    return MONDAY_S + hours * HOUR_S


def magnus_dew_c(air_c: float, rh_pct: float) -> float:
    gamma = math.log(rh_pct / 100) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * gamma / (17.62 - gamma)


def shop(store: Store, root: Path, folder: Path) -> Workbench:
    """A bench on the job and the product of these tests."""
    made = Workbench(store, root / "resources")
    keep_sheet(made, folder)
    made.save_job(JOB)
    return made


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


def keep_sheet(bench: Workbench, folder: Path, revision: str = "A", rh_pct: int = 85) -> None:
    text = SHEET.format(revision=revision, rh_pct=rh_pct)
    path = folder / "own-gloss.toml"
    path.write_text(text, encoding="utf-8")
    bench.add_product_file(path)


def read(
    bench: Workbench, hours: float, air: float = 20.0, rh: float = 50.0, cold: float | None = 20.0,
    *, hot: float | None = None, area: str = "side", late_s: float = 30, **said: str
) -> Entry | None:  # fmt: skip
    reading = Reading(at(hours), air, rh, cold, hot)
    return bench.type_reading(reading, at(hours) + late_s, area, **said)


def steady(
    bench: Workbench, first: float, last: float, step: float = 1.0, air: float = 20.0
) -> None:
    for hours in np.arange(first, last + 1e-9, step):
        read(bench, float(hours), air=air)


def mix(bench: Workbench, hours: float, coat: str = "one", **data: Json) -> Entry:
    known = known_of_coat(bench, coat, at(hours))
    fields: dict[str, Json] = {"product": "own gloss", "mix_temp": quantity("20", "°C", "typed")}
    return bench.record.add("batch", fields | data, at_s=at(hours), now_s=at(hours), coat_id=coat,
                            known=known)  # fmt: skip


def whole_coat(bench: Workbench, coat: str = "one", start: float = 9.0) -> None:
    """A batch and a coat of an hour, typed readings each hour until it can take dew."""
    mix(bench, start, coat)
    steady(bench, start - 0.25, start + 11.75)
    bench.lay_coat(coat, at(start), at(start + 1))


def limit(review: CoatReview, rule: str, phase: str = "") -> LimitReview:
    (found,) = [x for x in review.limits
                if x.limit.rule == rule and phase in ("", x.phase)]  # fmt: skip
    return found


# --- inside ------------------------------------------------------------------------------


def test_a_coat_read_all_the_way_is_inside_every_limit(bench: Workbench) -> None:
    whole_coat(bench)
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert review.gaps == () == review.dips
    # At a steady 20 °C the rows themselves hold: tack-free 4 h, dew 8 h after the last patch.
    assert review.tack_free_s == pytest.approx(at(14), abs=1e-3)
    assert review.dew_safe_s == pytest.approx(at(18), abs=1e-3)
    margin = limit(review, "margin")
    assert margin.hours_known == margin.hours_asked == pytest.approx(5.0)
    assert margin.worst == pytest.approx(20.0 - magnus_dew_c(20, 50), abs=0.03)
    assert margin.worst_source == "typed"
    assert review.summary.startswith("Inside every limit; at least 10.7 K above dew point")


def test_an_assumption_of_ours_is_no_limit(bench: Workbench) -> None:
    """2 K until it can take dew is advice; only dew itself is told of then."""
    whole_coat(bench)
    for hours in (15.0, 16.0, 17.0):  # tack-free since 14:00, 1 K above the dew point
        read(bench, hours, 20.0, 50.0, magnus_dew_c(20, 50) + 1.0)
    review = bench.reviews.coat("one", at(30))
    assert "hold_margin" not in [x.limit.rule for x in review.limits]
    assert review.standing == "inside"
    assert any("no limit and was not counted" in note for note in review.notes)


def test_the_same_from_the_record_alone_by_limits_kept_then(
    bench: Workbench, tmp_path: Path
) -> None:
    """The data sheet in force when it went on decides, not the one of today."""
    whole_coat(bench)
    before = bench.reviews.coat("one", at(30))
    keep_sheet(bench, tmp_path, "B", rh_pct=45)
    after = bench.reviews.coat("one", at(30))
    assert limit(after, "humidity").limit.high == 85.0
    assert after.standing == before.standing == "inside"
    assert after.product_revision == "A"
    assert any("revision A" in note for note in after.notes)
    assert after.decision is not None
    assert after.decision.now_verdict == "wait"  # the rules of today's sheet


# --- outside -----------------------------------------------------------------------------


def test_humidity_over_its_limit_and_for_how_long(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8, 10)
    steady(bench, 14, 20)
    bench.lay_coat("one", at(9), at(10))
    read(bench, 11, rh=80.0)
    read(bench, 12, rh=90.0)
    read(bench, 13, rh=80.0)
    review = bench.reviews.coat("one", at(30))
    found = limit(review, "humidity")
    assert found.standing == review.standing == "outside"
    assert (found.worst, found.worst_at_s, found.worst_source) == (90.0, at(12), "typed")
    # Dew point straight between the readings, so 85 % is passed where it is 85 %'s own.
    low, high, on = (magnus_dew_c(20, rh) for rh in (80, 90, 85))
    assert found.hours_outside == pytest.approx(2 * (high - on) / (high - low), abs=BY_HAND_H)
    assert "humidity for 58 min, worst 90% at Mon 1 Jun 2026 12:00" in review.summary
    assert "asked at most 85% (data sheet)" in review.summary


def test_on_the_limit_is_inside_and_a_tenth_beyond_is_not(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 11, rh=85.0, cold=25.0)
    assert bench.reviews.coat("one", at(30)).standing == "inside"
    read(bench, 12, rh=85.1, cold=25.0)
    found = limit(bench.reviews.coat("one", at(30)), "humidity")
    assert found.standing == "outside"


def test_humid_after_tack_free_is_no_breach(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 15, rh=95.0, cold=20.0)
    assert limit(bench.reviews.coat("one", at(30)), "humidity").standing == "inside"


def test_one_reading_alone_beyond_is_outside_for_no_time(bench: Workbench) -> None:
    mix(bench, 9)
    read(bench, 9, air=31.0, cold=20.0)
    bench.lay_coat("one", at(9), at(10))
    found = limit(bench.reviews.coat("one", at(30)), "air_temp")
    assert found.standing == "outside"
    assert found.hours_outside == 0.0
    assert len(found.outside) == 1


def test_hottest_spot_against_the_upper_limit(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 9.5, cold=20.0, hot=33.0)
    review = bench.reviews.coat("one", at(30))
    high = [x for x in review.limits if x.limit.rule == "surface_temp" and x.limit.high]
    assert [x.standing for x in high] == ["outside"]
    assert high[0].worst == 33.0


# --- gaps --------------------------------------------------------------------------------


def test_a_coat_without_readings_is_not_known(bench: Workbench) -> None:
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "not known"
    assert {x.standing for x in review.limits} == {"not known"}
    assert all(x.worst is None for x in review.limits)
    assert review.tack_free_s is None
    assert review.gaps[0].from_s == at(9)
    assert "No reading to go by" in review.summary
    assert len(review.readings.time_s) == 0


def test_a_gap_in_the_evening_is_named_with_what_was_not_read(bench: Workbench) -> None:
    mix(bench, 16)
    steady(bench, 15.75, 18.75)
    bench.lay_coat("one", at(16), at(17))
    read(bench, 31.0)
    review = bench.reviews.coat("one", at(48))
    assert review.standing == "not known"
    margin = limit(review, "margin")
    (gap,) = review.gaps
    assert gap.from_s == at(18.75)
    # Likely tack-free by a straight 20 °C across the hole: 4 h after the last patch.
    assert gap.to_s == pytest.approx(at(21), abs=1e-3)
    assert margin.hours_known == pytest.approx(2.75)
    told = (
        "Not read: surface, humidity and room above dew point, from Mon 1 Jun 2026 18:45 to 21:00."
    )
    assert told in review.summary
    assert "Inside the limits as far as it was read" in review.summary


def test_readings_every_four_hours_cover_the_coat_going_on(bench: Workbench) -> None:
    mix(bench, 8, mix_temp=quantity("10", "°C", "typed"))
    for hours in (8.0, 12.0, 16.0):
        read(bench, hours)
    bench.lay_coat("one", at(8), at(14))
    found = limit(bench.reviews.coat("one", at(20)), "air_temp")
    assert (found.standing, found.hours_known) == ("inside", 6.0)


@pytest.mark.parametrize(("hours", "standing"), [(12.5, "inside"), (12.51, "not known")])
def test_up_to_half_an_hour_late_and_no_more(bench: Workbench, hours: float, standing: str) -> None:
    mix(bench, 8)
    read(bench, 8.0)
    read(bench, hours)
    bench.lay_coat("one", at(8), at(10))
    assert limit(bench.reviews.coat("one", at(20)), "air_temp").standing == standing


def test_four_hours_do_not_cover_a_film_that_dries(bench: Workbench) -> None:
    """After the last patch three hours are the longest that a line is drawn over."""
    mix(bench, 8)
    for hours in (8.0, 9.0, 13.0, 14.0):
        read(bench, hours)
    bench.lay_coat("one", at(8), at(9))
    found = limit(bench.reviews.coat("one", at(30)), "margin")
    assert found.standing == "not known"
    assert limit(bench.reviews.coat("one", at(30)), "air_temp").standing == "inside"


def test_a_reading_beyond_its_limit_covers_nothing_but_three_hours(bench: Workbench) -> None:
    mix(bench, 8)
    read(bench, 8.0)
    read(bench, 12.0, air=31.0)
    bench.lay_coat("one", at(8), at(13))
    found = limit(bench.reviews.coat("one", at(20)), "air_temp")
    assert found.standing == "outside"
    assert found.hours_known == pytest.approx(0.0)


def test_past_a_hole_nobody_knows_whether_the_film_was_still_open(bench: Workbench) -> None:
    """Tack-free takes 2 h at its fastest: humid after the hole it may be, humid before it is not.

    In the cold the film would have been open for 8 h, likely still at the second reading.
    """
    mix(bench, 9)
    steady(bench, 8.75, 9.75, air=20.0)
    bench.lay_coat("one", at(9), at(10))
    read(bench, 10.0, cold=10.0)
    read(bench, 14.0, rh=95.0, cold=10.0)  # 4 h after the last reading: a hole
    read(bench, 15.0, rh=95.0, cold=10.0)
    found = limit(bench.reviews.coat("one", at(30)), "humidity")
    assert found.standing == "not known"
    assert found.outside == ()
    assert found.hours_asked == pytest.approx(9.0)


def test_heat_after_the_last_patch_is_no_breach_of_the_upper_limit(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 12.1, cold=25.0, hot=33.0)
    assert bench.reviews.coat("one", at(30)).standing == "inside"


def test_what_is_forecast_or_estimated_is_not_read(bench: Workbench) -> None:
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    times = np.arange(int(at(6)), int(at(30)), 600, dtype=np.int64)
    columns = {"air_temp_c": np.full(len(times), 20.0), "rh_pct": np.full(len(times), 95.0),
               "surface_temp_c": np.full(len(times), 20.0)}  # fmt: skip
    for origin in (Origin.FORECAST, Origin.ESTIMATED):
        table = ReadingTable(times, columns, np.zeros(len(times), dtype=np.uint16), origin)
        reading_store.save_table(bench.store, table)
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "not known"
    assert len(review.readings.time_s) == 0


def test_a_doubtful_reading_counts_neither_way_but_is_shown(bench: Workbench) -> None:
    whole_coat(bench)
    times = np.array([int(at(11.5))], dtype=np.int64)
    columns = {"air_temp_c": np.array([20.0]), "rh_pct": np.array([99.0])}
    flags = np.array([Flag.SPIKE], dtype=np.uint16)
    table = ReadingTable(times, columns, flags, Origin.MEASURED)
    reading_store.save_table(bench.store, table)
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert review.readings.doubtful.sum() == 1
    assert "1 doubtful reading, shown and counted neither way" in review.notes


# --- the night ---------------------------------------------------------------------------


def test_a_past_dip_asks_for_drying_until_that_was_logged(bench: Workbench) -> None:
    mix(bench, 12)
    steady(bench, 11.75, 16.75)
    steady(bench, 19.75, 30.75)
    bench.lay_coat("one", at(12), at(13))
    dew = magnus_dew_c(20, 50)
    for hours in (17.75, 18.75):  # tack-free since 17:00, can take dew from 21:00
        read(bench, hours, cold=dew - 0.5)
    review = bench.reviews.coat("one", at(40))
    (dip,) = review.dips
    # From 20 °C down to half a kelvin under: on the dew point so far into the hour.
    share = (20 - dew) / (20 - dew + 0.5)
    assert (dip.from_s - at(16.75)) / HOUR_S == pytest.approx(share, abs=BY_HAND_H)
    assert any("dry it and prepare it again" in note for note in review.notes)
    bench.log_sanded(at(32), "side", at(32))
    notes = bench.reviews.coat("one", at(40)).notes
    assert not any("dry it and prepare it again" in note for note in notes)
    assert any("sanded and wiped Tue 2 Jun 2026 08:00" in note for note in notes)


def test_dew_before_the_start_stands_until_it_was_dried(bench: Workbench) -> None:
    for hours in (3.0, 4.0, 5.0):
        read(bench, hours, cold=magnus_dew_c(20, 50) - 0.5)
    whole_coat(bench)
    assert len(bench.reviews.coat("one", at(30)).dips) == 1
    bench.log_dried(at(7), "side", at(7))
    assert bench.reviews.coat("one", at(30)).dips == ()


def test_a_surface_right_on_its_dew_point_is_wet(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 15.9, air=20.0, rh=100.0, cold=20.0)
    assert len(bench.reviews.coat("one", at(30)).dips) == 1


# --- corrections and lateness ------------------------------------------------------------


def test_a_corrected_reading_counts_as_it_is_now_and_the_first_stays(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=95.0)
    assert wrong is not None
    assert bench.reviews.coat("one", at(30)).standing == "outside"
    bench.record.correct(wrong.number, {"rh": quantity("59", "%", "typed")}, "misread", at(12))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    k = int(np.searchsorted(review.readings.time_s, at(11.5)))
    assert review.readings.rh_pct[k] == 59.0
    first = next(e for e in review.entries if e.number == wrong.number)
    assert number_of(first.data["rh"]) == 95.0
    assert any(f"entries {wrong.number}" in n for n in review.notes if n.startswith("corrected"))


def test_a_reading_struck_out_counts_for_nothing(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=95.0)
    assert wrong is not None
    bench.record.strike_out(wrong.number, "wrong shed", at(12))
    assert bench.reviews.coat("one", at(30)).standing == "inside"


def test_a_reading_moved_to_its_right_time(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=95.0)
    assert wrong is not None
    bench.record.correct(wrong.number, {"at": "2026-06-01T06:00:00+00:00"}, "clock", at(12))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert at(11.5) not in review.readings.time_s


def test_a_reading_written_late_is_marked(bench: Workbench) -> None:
    whole_coat(bench)
    late = read(bench, 11.5, late_s=5 * HOUR_S)
    assert late is not None
    notes = bench.reviews.coat("one", at(30)).notes
    assert any(n.startswith("written late") and n.endswith(f"entries {late.number}") for n in notes)


def test_the_surface_of_another_area_is_not_this_coats(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 11.5, cold=5.0, area="deck")
    assert bench.reviews.coat("one", at(30)).standing == "inside"


def test_a_sensor_in_the_coats_own_zone_goes_before_the_shops(bench: Workbench) -> None:
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    times = np.arange(int(at(8)), int(at(20)), 600, dtype=np.int64)
    for zone, air in (("side", 20.0), ("", 35.0)):
        columns = {"air_temp_c": np.full(len(times), air), "rh_pct": np.full(len(times), 50.0),
                   "surface_temp_c": np.full(len(times), air)}  # fmt: skip
        flags = np.zeros(len(times), dtype=np.uint16)
        table = ReadingTable(times + (60 if zone else 0), columns, flags, Origin.MEASURED)
        reading_store.save_table(bench.store, table, zone)
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert limit(review, "air_temp").worst == 20.0
    assert limit(review, "air_temp").worst_source in ("measured", "between readings")


# --- interval ----------------------------------------------------------------------------


def lay_two(bench: Workbench, second: float, hot_from: float = 0.0, hot_to: float = 0.0) -> None:
    """First coat 9 to 10, second an hour long; 20 °C but for a hot spell of 30 °C."""
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    mix(bench, second, "two")
    bench.lay_coat("two", at(second), at(second + 1))
    for hours in np.arange(8.5, second + 13, 0.5):
        warm = 30.0 if hot_from <= hours <= hot_to else 20.0
        read(bench, float(hours), air=20.0, cold=20.0, hot=warm)


@pytest.mark.parametrize(
    ("second", "standing"), [(20.9, "outside"), (21.0, "inside"), (33.0, "inside")]
)
def test_interval_from_its_minimum_to_its_maximum(
    bench: Workbench, second: float, standing: str
) -> None:
    """At a steady 20 °C 12 h to 24 h, first patch to first and last to last."""
    lay_two(bench, second)
    interval = bench.reviews.coat("two", at(60)).interval
    assert interval is not None
    assert interval.standing == standing
    assert interval.clock_h == pytest.approx(second - 9)
    assert interval.min_h == pytest.approx(12.0, abs=1e-6)
    assert interval.max_h == pytest.approx(24.0)


def test_past_the_row_of_the_hottest_hour_but_not_past_the_clock_is_not_known(
    bench: Workbench,
) -> None:
    """Two hours at 30 °C (12 h) in 20 h at 20 °C: the clock has used 18/24 + 2/12 = 0.92."""
    lay_two(bench, 29.0, hot_from=12.0, hot_to=14.0)
    interval = bench.reviews.coat("two", at(60)).interval
    assert interval is not None
    assert interval.max_h == pytest.approx(12.0)
    assert interval.standing == "not known"
    assert "solvent-rub test" in interval.text


def test_past_the_hottest_hour_and_past_the_clock_is_outside(bench: Workbench) -> None:
    """Eight hours at 30 °C in 20 h: 12/24 + 8/12 = 1.17 of the maximum."""
    lay_two(bench, 29.0, hot_from=12.0, hot_to=20.0)
    review = bench.reviews.coat("two", at(60))
    assert review.interval is not None
    assert review.interval.standing == review.standing == "outside"
    assert "sand 320 and wipe" in review.summary


def test_less_than_an_hour_of_heat_does_not_count(bench: Workbench) -> None:
    lay_two(bench, 29.0, hot_from=12.0, hot_to=12.0)
    interval = bench.reviews.coat("two", at(60)).interval
    assert interval is not None
    assert interval.standing == "inside"


def test_sanded_since_has_no_maximum(bench: Workbench) -> None:
    lay_two(bench, 40.0)
    assert bench.reviews.coat("two", at(70)).interval.standing == "outside"  # type: ignore[union-attr]
    bench.log_sanded(at(38), "side", at(38))
    interval = bench.reviews.coat("two", at(70)).interval
    assert interval is not None
    assert interval.standing == "inside"
    assert interval.max_h is None


def test_through_a_hole_only_what_is_certain_is_said(bench: Workbench) -> None:
    """No surface between: 5 h is under the fastest row, 11 h under every maximum, 20 h neither."""
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    for start, standing in ((14.0, "outside"), (29.0, "not known"), (57.5, "outside")):
        mix(bench, start, "two")
        bench.lay_coat("two", at(start), at(start + 1))
        interval = bench.reviews.coat("two", at(80)).interval
        assert interval is not None
        assert interval.standing == standing, start
        bench.unlay_coat("two", at(start + 1.5))


def test_through_a_hole_a_bond_open_in_the_hottest_row_is_open(bench: Workbench) -> None:
    """12 h is the shortest maximum of the table; 13 h is over it, and nobody read what was."""
    for hours, standing in ((11.9, "inside"), (13.0, "not known")):
        row = NextCoat("same", (2.0, 1.0, 0.5), (48.0, 24.0, 12.0))
        below = Previous(gloss(), at(0), at(0))
        tracks = Tracks(observed([]))
        found = sides_of(Below("b", "b", below, row, at(hours), at(hours)), row, tracks)
        assert {side.standing for kind, side in found if kind == "max"} == {standing}
        sunny = Below("b", "b", below, row, at(hours), at(hours), outdoors=True)
        found = sides_of(sunny, row, tracks)
        assert {side.standing for kind, side in found if kind == "max"} == {"not known"}


# --- batches and films -------------------------------------------------------------------


def test_a_batch_used_past_its_pot_life(bench: Workbench) -> None:
    batch = mix(bench, 9)
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(12.5))
    review = bench.reviews.coat("one", at(30))
    (found,) = review.batches
    assert found.entry.number == batch.number
    assert found.usable_until_s == pytest.approx(at(12), abs=60)  # 3 h at 20 °C; steps of a minute
    assert found.last_used_s == at(12.5)
    assert found.standing == review.standing == "outside"


@pytest.mark.parametrize(
    ("begun", "standing"), [(9.25, "outside"), (9.5, "inside"), (9.75, "inside")]
)
def test_a_batch_begun_during_its_induction(bench: Workbench, begun: float, standing: str) -> None:
    mix(bench, 9, induction=quantity("0.5", "h", "data sheet"))
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(begun), at(11))
    (found,) = bench.reviews.coat("one", at(30)).batches
    assert found.standing == standing
    told = "started 15 min before the end of its induction"
    assert (told in found.text) == (standing == "outside")


def test_a_batch_with_no_induction_kept_is_not_held_against_one(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(11))
    (found,) = bench.reviews.coat("one", at(30)).batches
    assert found.standing == "inside"


def test_a_hotter_shop_alone_does_not_put_a_batch_outside(bench: Workbench) -> None:
    """Air of 25 °C runs the clock out sooner than the mix as entered: nothing certain."""
    mix(bench, 9)
    steady(bench, 8.75, 24.75, air=25.0)
    bench.lay_coat("one", at(9), at(11.9))
    (found,) = bench.reviews.coat("one", at(30)).batches
    assert found.standing == "not known"


def test_a_mix_nobody_measured_is_outside_only_past_the_longest_pot_life(
    bench: Workbench,
) -> None:
    """The table has 3 h at 20 °C and 6 h at its coldest row."""
    bench.record.add("batch", {"product": "own gloss"}, at_s=at(9), now_s=at(9), coat_id="one")
    for ended, standing in ((11.9, "inside"), (14.9, "not known"), (15.1, "outside")):
        bench.lay_coat("one", at(9), at(ended))
        (found,) = bench.reviews.coat("one", at(30)).batches
        assert found.standing == standing
        bench.unlay_coat("one", at(16))


def test_without_a_batch_the_pot_life_is_not_known(bench: Workbench) -> None:
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "not known"
    assert "no batch is in the record" in review.summary
    assert {x.standing for x in review.limits} == {"inside"}


def film(bench: Workbench, kind: str, *values: str) -> None:
    data: dict[str, Json] = {"film": kind, "readings": [quantity(v, "µm", "typed") for v in values],
            "target_low": quantity("100", "µm", "data sheet"),
            "target_high": quantity("120", "µm", "data sheet")}  # fmt: skip
    bench.record.add("film", data, at_s=at(9.5), now_s=at(9.5), coat_id="one")


def test_film_readings_against_their_target(bench: Workbench) -> None:
    whole_coat(bench)
    film(bench, "wet", "90", "140")
    film(bench, "wet", "130")
    review = bench.reviews.coat("one", at(30))
    (wet,) = review.films
    assert (wet.count, wet.low_um, wet.mean_um, wet.high_um) == (3, 90.0, 120.0, 140.0)
    assert wet.standing == "inside"
    film(bench, "wet", "200")
    assert bench.reviews.coat("one", at(30)).films[0].standing == "outside"
    assert bench.reviews.coat("one", at(30)).standing == "inside"  # the painter's own check
    film(bench, "dry", "90")
    assert bench.reviews.coat("one", at(30)).standing == "outside"


def test_what_the_data_sheet_asks_besides_is_told_in_the_notes(bench: Workbench) -> None:
    bench.log_sanded(at(6), "side", at(6))
    mix(bench, 9, thinner=quantity("25", "%", "typed"))
    bench.lay_coat("one", at(9), at(10))
    notes = bench.reviews.coat("one", at(30)).notes
    assert "first patch 3 h after it was sanded and wiped" in notes
    assert "entry 3: 25 % thinner, the data sheet's figures allow 10 %" in notes


def test_outdoors_a_coat_needs_no_gauge_for_wind_and_rain(bench: Workbench) -> None:
    """They are common practice: read they count, and nobody's data sheet asks for reading them."""
    areas = (replace(JOB.areas[0], outdoors=True), JOB.areas[1])
    bench.save_job(replace(JOB, areas=areas))
    whole_coat(bench)
    read(bench, 11.5, weather="rain")
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert {x.limit.rule for x in review.limits}.isdisjoint({"wind", "rain"})
    assert any(note.startswith("Rain was not read") for note in review.notes)
    assert "rain was written down Mon 1 Jun 2026 11:30" in review.notes
    table = ReadingTable(np.array([int(at(10))]), {"wind_m_s": np.array([11.0])},
                         np.zeros(1, dtype=np.uint16), Origin.MEASURED)  # fmt: skip
    reading_store.save_table(bench.store, table)
    assert limit(bench.reviews.coat("one", at(30)), "wind").standing == "outside"


# --- the course of a coat ----------------------------------------------------------------


def test_a_coat_still_drying_is_not_known_yet(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 10.75)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(10.75))
    assert review.standing == "not known"
    assert "not tack-free yet" in review.summary
    assert review.tack_free_s is None


def test_a_coat_that_cannot_take_dew_yet_says_so(bench: Workbench, tmp_path: Path) -> None:
    """Tack-free at 14:00 and read all the way; it can take dew at 18:00, looked at at 15:00."""
    path = tmp_path / "own-gloss.toml"
    text = SHEET.format(revision="B", rh_pct=85)
    path.write_text(text.replace("[film]", "hold_margin_k = 2\n[film]"), "utf-8")
    bench.add_product_file(path)
    mix(bench, 9)
    steady(bench, 8.75, 15)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(15))
    assert (review.standing, review.gaps) == ("not known", ())
    assert review.summary == (
        "Not known: it cannot take dew yet. Inside the limits as far as it was read."
    )


def test_a_coat_going_on_is_looked_at_up_to_now(bench: Workbench) -> None:
    mix(bench, 9)
    bench.record.add("application", {"event": "start"}, at_s=at(9.25), now_s=at(9.25),
                     coat_id="one")  # fmt: skip
    read(bench, 9.0)
    review = bench.reviews.coat("one", at(9.4))
    assert (review.started_s, review.ended_s) == (at(9.25), at(9.4))
    assert "still going on" in review.summary


def test_a_coat_over_it_ends_the_look_back(bench: Workbench) -> None:
    """Wet on wet at 12:00: dew at 16:00 is the upper coat's business, not this one's."""
    whole_coat(bench)
    mix(bench, 12, "two")
    bench.lay_coat("two", at(12), at(13))
    read(bench, 13.5, rh=95.0)
    review = bench.reviews.coat("one", at(40))
    assert limit(review, "humidity").standing == "inside"
    assert limit(review, "humidity").hours_asked == pytest.approx(3.0)
    assert bench.reviews.coat("two", at(40)).standing == "outside"


def test_not_on_after_all(bench: Workbench) -> None:
    whole_coat(bench)
    bench.unlay_coat("one", at(20))
    with pytest.raises(InputError, match=r"first gloss: found no start of it"):
        bench.reviews.coat("one", at(30))
    assert bench.reviews.job(at(30)).coats == ()


def test_a_coat_nobody_knows(bench: Workbench) -> None:
    with pytest.raises(InputError, match=r"coat: found 'three'; accepted: one, two, deck"):
        bench.reviews.coat("three", at(30))


def test_the_job_has_its_coats_in_order_with_the_head_of_its_record(bench: Workbench) -> None:
    whole_coat(bench, "deck", 33.0)
    whole_coat(bench)
    job = bench.reviews.job(at(60))
    assert [c.coat_id for c in job.coats] == ["one", "deck"]
    assert job.head == bench.record.head().hash == job.entries[-1].hash
    assert job.problems == ()
    assert broken_links(job.entries[1:])[0].startswith("entry 2: ")
    assert broken_links((job.entries[0], job.entries[2]))


def test_what_was_decided_beside_what_came(bench: Workbench) -> None:
    read(bench, 8.9)
    bench.before_mixing("one", at(9))
    shown = known_of_coat(bench, "one", at(9)).get("verdict", "")
    whole_coat(bench)
    read(bench, 12.0, rh=95.0)
    decision = bench.reviews.coat("one", at(40)).decision
    assert decision is not None
    assert decision.then_verdict == shown
    assert decision.now_verdict == "wait"
    assert "humidity" in decision.text


def test_one_bad_second_in_a_log_is_found(bench: Workbench) -> None:
    """Six hours at 1 Hz: all of it is read, and the worst of it found."""
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    times = np.arange(int(at(8)), int(at(14)), dtype=np.int64)
    air = np.full(len(times), 20.0)
    rh = np.full(len(times), 60.0)
    rh[3 * HOUR_S] = 86.0
    table = ReadingTable(times, {"air_temp_c": air, "rh_pct": rh, "surface_temp_c": air},
                         np.zeros(len(times), dtype=np.uint16), Origin.MEASURED)  # fmt: skip
    reading_store.save_table(bench.store, table)
    found = limit(bench.reviews.coat("one", at(47)), "humidity")
    assert (found.worst, found.worst_at_s) == (86.0, at(11))
    assert found.hours_outside * HOUR_S < 2.0
