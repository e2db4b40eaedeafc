"""From what was typed, logged and laid to the answers: the way of the data through the bench.

No numbers from outside. The products are invented with round figures, so that every moment can
be reckoned by hand; clocks on a steady temperature are exact to a millisecond.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.settings import setting
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.quality import TYPED
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.physics.uncertainty import SensorSpread, margin_sd_k
from advisor.planning.job import Area, Coat, Job, Laid
from advisor.planning.verdict import Verdict
from advisor.work.instruments import Instruments
from advisor.work.views import BeforeMixing, FilmTonight, Reading
from advisor.work.workbench import Workbench
from tests.helpers.products import DAY_S, HOUR_S, MONDAY_S, NAN

NOW = MONDAY_S + 12 * HOUR_S
STEADY = {"air_temp_c": 20.0, "dew_point_c": 10.0, "rh_pct": 52.5, "surface_temp_c": 20.0}
MS = 1e-3

GLOSS = """
schema = 1
id = "own-gloss"
name = "own gloss"
class = "two-part-gloss"
status = "from data sheet"
[source]
title = "invented"
[mix]
ratio = "2:1"
[limits]
air_temp_c = [4, 35]
surface_temp_c = [4, 35]
rh_pct = [0, 85]
[film]
volume_solids_pct = 50
dft_um = [50, 50]
loss_pct = 0
[times]
temp_c = [5, 20, 35]
pot_life_h = [8, 4, 2]
tack_free_h = [16, 4, 2]
dew_safe_h = [120, 8, 4]
[[next]]
over = "same"
min_h = [24, 8, 4]
max_h = [96, 48, 24]
after_max = ["sand"]
[method.roll.times]
dew_safe_h = [100, 6, 3]
"""

FIRST = Coat("first", "first gloss", "side", "own-gloss", 8.0)
SECOND = Coat("second", "second gloss", "side", "own-gloss", 8.0)
JOB = Job("j", "job", "shed", "UTC", (Area("side", "side", 8.0),), (FIRST, SECOND))


@pytest.fixture
def bare(store: Store, root: Path) -> Workbench:
    """No job, no readings, no products but the templates."""
    return Workbench(store, root / "resources")


@pytest.fixture
def bench(bare: Workbench, tmp_path: Path) -> Workbench:
    """The first gloss went on this time yesterday, in an hour."""
    path = tmp_path / "own-gloss.toml"
    path.write_text(GLOSS, encoding="utf-8")
    bare.add_product_file(path)
    bare.save_job(JOB.with_coat(laid(FIRST, NOW - DAY_S)))
    return bare


def laid(coat: Coat, end_s: float) -> Coat:
    return replace(coat, laid=Laid(end_s - HOUR_S, end_s))


def log(
    bench: Workbench,
    first_s: float,
    last_s: float,
    origin: Origin = Origin.IMPORTED,
    **columns: float | None,
) -> None:
    """Keep hourly rows of one steady climate, ends included; None leaves a column out."""
    time_s = np.arange(first_s, last_s + 1, HOUR_S, dtype=np.int64)
    given = {k: v for k, v in {**STEADY, **columns}.items() if v is not None}
    values = {name: np.full(len(time_s), value) for name, value in given.items()}
    flags = np.zeros(len(time_s), dtype=np.uint16)
    reading_store.save_table(bench.store, ReadingTable(time_s, values, flags, origin))


def outlook(bench: Workbench, **columns: float | None) -> None:
    """What the coming week and the one before were told to be, with nothing read."""
    log(bench, NOW - 8 * DAY_S, NOW + 8 * DAY_S, Origin.FORECAST, **columns)


def logged_and_outlook(bench: Workbench, **columns: float | None) -> None:
    log(bench, NOW - 8 * DAY_S, NOW, **columns)
    log(bench, NOW + HOUR_S, NOW + 8 * DAY_S, Origin.FORECAST)


def told(answer: BeforeMixing, rule: str) -> list[tuple[bool | None, str]]:
    return [(reason.holds, reason.text) for reason in answer.reasons if reason.rule == rule]


def surface_at(bench: Workbench, time_s: float) -> float:
    series = bench.series(NOW + 2 * HOUR_S, 1)
    return float(series.surface_temp_c[int(series.index_of(time_s))])


# --- typed and logged ------------------------------------------------------------------------

EIGHT, TWO = MONDAY_S + 8 * HOUR_S, MONDAY_S + 14 * HOUR_S


def test_a_newer_log_value_overtakes_what_was_typed(bench: Workbench) -> None:
    log(bench, NOW - DAY_S, TWO, surface_temp_c=13.0)
    bench.type_reading(Reading(EIGHT, surface_temp_c=18.0))
    assert {surface_at(bench, s) for s in (EIGHT, NOW, TWO)} == {13.0}


def test_a_typed_value_counts_while_the_log_is_older(bench: Workbench) -> None:
    log(bench, NOW - DAY_S, EIGHT - HOUR_S, surface_temp_c=13.0)
    outlook(bench, surface_temp_c=13.0)
    bench.type_reading(Reading(EIGHT, surface_temp_c=18.0))
    assert surface_at(bench, EIGHT - 300) == 13.0
    assert surface_at(bench, EIGHT) == 18.0
    assert surface_at(bench, TWO) == pytest.approx(15.5, abs=1e-9)  # half is left after 6 h


def test_a_log_overtakes_only_its_own_columns(bench: Workbench) -> None:
    """The logger hangs in the air; the coldest spot is known by hand alone."""
    outlook(bench)
    log(bench, NOW - DAY_S, TWO, air_temp_c=16.0, surface_temp_c=None)
    bench.type_reading(Reading(EIGHT, 25.0, 60.0, 14.0))
    series = bench.series(TWO, 1)
    at = int(series.index_of(EIGHT))
    assert (series.air_temp_c[at], series.dew_point_c[at]) == (16.0, 10.0)
    assert series.surface_temp_c[at] == 14.0
    assert series.surface_temp_c[at + 72] == pytest.approx(17.0, abs=1e-9)  # half way to 20


def test_values_typed_at_different_times_pull_from_their_own_time(bench: Workbench) -> None:
    outlook(bench)
    bench.type_reading(Reading(NOW - 4 * HOUR_S, surface_temp_c=14.0))
    bench.type_reading(Reading(NOW - 2 * HOUR_S, air_temp_c=24.0))
    series = bench.series(NOW, 1)
    early, late = (int(series.index_of(NOW - h * HOUR_S)) for h in (4, 2))
    assert series.surface_temp_c[early - 1 : early + 1].tolist() == [20.0, 14.0]
    assert series.air_temp_c[late - 1 : late + 1].tolist() == [20.0, 24.0]
    # Over an hour old: six hours after each one's own moment, half of it is left.
    assert series.surface_temp_c[early + 72] == pytest.approx(17.0, abs=1e-9)
    assert series.air_temp_c[late + 72] == pytest.approx(22.0, abs=1e-9)
    assert (series.dew_point_c == 10.0).all()


def test_the_last_typed_value_of_a_quantity_counts(bench: Workbench) -> None:
    outlook(bench)
    for before_h, value in ((3, 5.0), (2, 15.0)):
        bench.type_reading(Reading(NOW - before_h * HOUR_S, surface_temp_c=value))
    assert surface_at(bench, NOW - 2 * HOUR_S) == 15.0
    assert surface_at(bench, NOW - 3 * HOUR_S) == 20.0


def test_what_is_in_the_boxes_goes_before_what_was_typed(bench: Workbench) -> None:
    outlook(bench)
    bench.type_reading(Reading(NOW, surface_temp_c=15.0))
    series = bench.series(NOW, 1, Reading(NOW, surface_temp_c=12.0))
    assert series.surface_temp_c[int(series.index_of(NOW))] == 12.0


@pytest.mark.parametrize(
    ("cold", "hot", "want"),
    [(24.0, None, 38.0), (20.0, None, 34.0), (45.0, None, 59.0), (24.0, 41.0, 41.0)],
)
def test_the_hottest_moves_with_the_coldest(
    bench: Workbench, cold: float, hot: float | None, want: float
) -> None:
    outlook(bench, surface_temp_c=24.0, surface_hot_c=38.0)
    bench.type_reading(Reading(NOW, surface_temp_c=cold, surface_hot_c=hot))
    series = bench.series(NOW, 2)
    assert series.hot_c[int(series.index_of(NOW))] == pytest.approx(want, abs=1e-9)
    known = ~np.isnan(series.surface_temp_c)
    assert (series.hot_c[known] >= series.surface_temp_c[known]).all()


@pytest.mark.parametrize("hot_first", [True, False])
def test_the_hottest_is_never_under_the_coldest(bench: Workbench, hot_first: bool) -> None:
    """Read five minutes apart, the two may be of different weather."""
    outlook(bench, surface_temp_c=24.0, surface_hot_c=38.0)
    early, late = (NOW - 300, NOW) if hot_first else (NOW, NOW - 300)
    bench.type_reading(Reading(early, surface_hot_c=10.0))
    bench.type_reading(Reading(late, surface_temp_c=30.0))
    series = bench.series(NOW, 2)
    known = ~np.isnan(series.surface_temp_c)
    assert (series.hot_c[known] >= series.surface_temp_c[known]).all()


# --- products that are not on the shelf ------------------------------------------------------


def test_a_coat_below_of_an_unknown_product_cannot_be_told(bench: Workbench) -> None:
    logged_and_outlook(bench)
    assert bench.before_mixing("second", NOW).verdict is Verdict.GO  # the control
    lost = replace(laid(FIRST, NOW - DAY_S), product_id="lost-primer")
    bench.save_job(JOB.with_coat(lost))
    found = bench.before_mixing("second", NOW)
    assert found.verdict is Verdict.UNKNOWN
    assert [holds for holds, _ in told(found, "previous_coat")] == [None]
    lane = bench.coming_days(NOW).lanes[0]
    assert set(lane.judged.verdicts.tolist()) <= {Verdict.UNKNOWN, Verdict.WAIT}
    film = bench.tonight(NOW)[0]
    assert "lost-primer" in film.product_name
    assert (film.dew_safe_s, film.next_from_s) == (None, None)


def test_an_unknown_product_of_its_own_is_named(bench: Workbench) -> None:
    logged_and_outlook(bench)
    bench.save_job(JOB.with_coat(replace(SECOND, product_id="lost-gloss")))
    with pytest.raises(InputError, match="second gloss: found product 'lost-gloss'"):
        bench.before_mixing("second", NOW)


# --- working hours without an outlook --------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "holds"), [("08:00-11:00", False), ("12:30-18:00", False), ("08:00-18:00", True)]
)
def test_outside_working_hours_waits_even_without_an_outlook(
    bench: Workbench, hours: str, holds: bool
) -> None:
    bench.save_job(replace(JOB, working_hours=hours, coats=(FIRST,)))
    bench.type_reading(Reading(NOW, 20.0, 50.0, 20.0))
    found = bench.before_mixing("first", NOW)
    assert found.scope == "now"
    assert (found.verdict is Verdict.WAIT) is not holds
    assert [held for held, _ in told(found, "hours")] == [holds]


def test_working_hours_that_end_before_the_last_patch_wait(bench: Workbench) -> None:
    """An hour's painting from 12:00 does not fit before 12:30."""
    bench.save_job(replace(JOB, working_hours="08:00-12:30", coats=(FIRST,)))
    bench.type_reading(Reading(NOW, 20.0, 50.0, 20.0))
    assert bench.before_mixing("first", NOW).verdict is Verdict.WAIT


# --- readings that are doubtful, old, missing or impossible ----------------------------------


def flag_newest(bench: Workbench, flag: Flag) -> None:
    with bench.store.write() as db:
        db.execute("UPDATE reading SET flags = ? WHERE time_s = ?", (int(flag), int(NOW)))


@pytest.mark.parametrize("flag", [Flag.STUCK, Flag.SPIKE, Flag.SWAPPED, Flag.STUCK | Flag.CLAMPED])
def test_a_log_value_that_looks_wrong_cannot_be_told_by(bench: Workbench, flag: Flag) -> None:
    logged_and_outlook(bench)
    flag_newest(bench, flag)
    found = bench.before_mixing("second", NOW)
    assert found.verdict is Verdict.UNKNOWN
    assert len(told(found, "data")) == 1
    assert "looks wrong" in told(found, "data")[0][1]
    typed = Reading(NOW, 20.0, 52.5, 20.0)
    assert bench.before_mixing("second", NOW, typed).verdict is Verdict.GO


@pytest.mark.parametrize("flag", [Flag.NONE, Flag.CLAMPED, Flag.AMBIGUOUS_TIME])
def test_other_flags_are_no_doubt_about_the_value(bench: Workbench, flag: Flag) -> None:
    logged_and_outlook(bench)
    flag_newest(bench, flag)
    assert bench.before_mixing("second", NOW).verdict is Verdict.GO


@pytest.mark.parametrize("late_min", [61, 180, 1439, 3000])
def test_an_old_reading_is_never_go(bench: Workbench, late_min: int) -> None:
    outlook(bench)
    log(bench, NOW - 8 * DAY_S, NOW)
    found = bench.before_mixing("second", NOW + late_min * 60)
    assert found.verdict >= Verdict.UNKNOWN
    assert told(found, "data")


def test_a_reading_of_an_hour_still_counts(bench: Workbench) -> None:
    outlook(bench)
    log(bench, NOW - 8 * DAY_S, NOW)
    assert bench.before_mixing("second", NOW + 3600).verdict is Verdict.GO


@pytest.mark.parametrize("column", ["air_temp_c", "rh_pct", "surface_temp_c"])
@pytest.mark.parametrize("where", ["log", "boxes"])
def test_a_missing_reading_is_never_go(bench: Workbench, column: str, where: str) -> None:
    """Not even where an outlook would have a value for now."""
    outlook(bench)
    boxes = None
    if where == "boxes":
        log(bench, NOW - 8 * DAY_S, NOW)
        boxes = replace(Reading(NOW, 20.0, 52.5, 20.0), **{column: None})
    else:
        log(bench, NOW - 8 * DAY_S, NOW, **{column: None})
    found = bench.before_mixing("second", NOW, boxes)
    assert found.verdict >= Verdict.UNKNOWN
    assert any("no reading of" in text for _, text in told(found, "data"))


IMPOSSIBLE = (
    ("air_temp_c", 61.0), ("air_temp_c", -41.0), ("air_temp_c", NAN), ("rh_pct", 0.0),
    ("rh_pct", -1.0), ("rh_pct", 101.0), ("rh_pct", NAN), ("surface_temp_c", 81.0),
    ("surface_temp_c", 999.9), ("surface_temp_c", -273.0), ("surface_temp_c", NAN),
)  # fmt: skip


@pytest.mark.parametrize(("column", "value"), IMPOSSIBLE)
def test_an_impossible_reading_is_never_go(bench: Workbench, column: str, value: float) -> None:
    logged_and_outlook(bench)
    boxes = replace(Reading(NOW, 20.0, 52.5, 20.0), **{column: value})
    with pytest.raises(RangeError, match=f"^{TYPED[column][0]}:"):
        bench.type_reading(boxes)
    assert bench.latest_values(NOW)[column].origin is Origin.IMPORTED
    try:
        verdict = bench.before_mixing("second", NOW, boxes).verdict
    except RangeError:
        return
    assert verdict >= Verdict.UNKNOWN


def test_nothing_at_all_is_never_go(bench: Workbench) -> None:
    assert bench.before_mixing("second", NOW).verdict is Verdict.UNKNOWN
    assert bench.latest_reading(NOW) is None


# --- tonight ---------------------------------------------------------------------------------


def film(bench: Workbench, end_s: float, **changes: object) -> FilmTonight:
    bench.save_job(JOB.with_coat(replace(laid(FIRST, end_s), **changes)))  # type: ignore[arg-type]
    (found,) = bench.tonight(NOW)
    return found


@pytest.mark.parametrize("days", [4, 4.9])
def test_a_film_laid_days_ago_in_the_cold_is_kept(bench: Workbench, days: float) -> None:
    outlook(bench, surface_temp_c=5.0, air_temp_c=6.0, dew_point_c=-2.0)
    found = film(bench, NOW - days * DAY_S)
    # At 5 °C it can take dew after 120 h, five days.
    assert found.dew_safe_s == pytest.approx(NOW - days * DAY_S + 120 * HOUR_S, abs=MS)
    assert found.headline.startswith("Can take dew from")


def test_a_film_older_than_the_week_looked_back_on_is_kept(bench: Workbench) -> None:
    log(bench, NOW - 12 * DAY_S, NOW + 8 * DAY_S, Origin.FORECAST)
    found = film(bench, NOW - 10 * DAY_S)
    assert found.dew_safe_s == pytest.approx(NOW - 10 * DAY_S + 8 * HOUR_S, abs=MS)


@pytest.mark.parametrize(("method", "hours"), [("brush", 8.0), ("roll", 6.0)])
def test_a_film_is_told_by_its_method(bench: Workbench, method: str, hours: float) -> None:
    outlook(bench)
    found = film(bench, NOW - 2 * HOUR_S, method=method)
    assert found.dew_safe_s == pytest.approx(NOW + (hours - 2) * HOUR_S, abs=MS)


def test_sanding_clears_the_closed_bond(bench: Workbench) -> None:
    logged_and_outlook(bench)
    end = NOW - 60 * HOUR_S  # the maximum is 48 h
    assert "bond closed" in film(bench, end).next_text
    assert bench.before_mixing("second", NOW).sand_first
    bench.log_sanded(end - HOUR_S, "side")  # before the last patch: of no use to it
    assert "bond closed" in bench.tonight(NOW)[0].next_text
    bench.log_sanded(NOW - HOUR_S, "side")
    found = bench.tonight(NOW)[0]
    assert (found.next_until_s, found.next_likely_s) == (None, None)
    assert "bond closed" not in found.next_text
    after = bench.before_mixing("second", NOW)
    assert not after.sand_first
    assert after.verdict is Verdict.GO


# --- logs without a zone ---------------------------------------------------------------------


def write_log(folder: Path, stamp: str) -> Path:
    path = folder / "log.csv"
    rows = [f"2026-06-01 {hour:02d}:00{stamp},20.0,50,18.0" for hour in range(8, 12)]
    path.write_text("\n".join(["time,air_temp_c,rh_pct,surface_temp_c", *rows]), encoding="utf-8")
    return path


def first_hour(bench: Workbench, path: Path, zone: str | None = None) -> float:
    """UTC hour of the first row, written as 08:00."""
    found = bench.preview(path, time_zone=zone)
    return (int(found.table.time_s[0]) - MONDAY_S) / HOUR_S


def test_a_log_without_a_zone_asks_when_nobody_knows(bare: Workbench, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"no zone.*08:00"):
        bare.preview(write_log(tmp_path, ""))


def test_a_log_without_a_zone_takes_the_job_s_then_the_setting_s(
    bare: Workbench, tmp_path: Path
) -> None:
    path = write_log(tmp_path, "")
    bare.settings.set("time_zone", "America/New_York")
    assert first_hour(bare, path) == 12.0
    bare.save_job(replace(JOB, time_zone="Europe/Oslo"))
    assert first_hour(bare, path) == 6.0
    assert first_hour(bare, path, "Asia/Tokyo") == -1.0  # what was asked for goes before both


def test_a_zone_in_the_file_goes_before_the_job_s(bare: Workbench, tmp_path: Path) -> None:
    bare.save_job(replace(JOB, time_zone="Europe/Oslo"))
    assert first_hour(bare, write_log(tmp_path, "Z")) == 8.0
    assert first_hour(bare, write_log(tmp_path, "-04:00")) == 12.0
    path = write_log(tmp_path, "")
    path.write_text(path.read_text(encoding="utf-8").replace("time,", "time (UTC),"))
    assert first_hour(bare, path) == 8.0


# --- the job and its events ------------------------------------------------------------------


def events(bench: Workbench) -> list[tuple[str, str]]:
    with bench.store.read() as db:
        return db.execute("SELECT kind, coat_id FROM event ORDER BY id").fetchall()


def test_a_coat_is_laid_and_taken_back_and_the_events_stay(bench: Workbench) -> None:
    before = bench.job()
    bench.lay_coat("second", NOW - HOUR_S, NOW)
    job = bench.job()
    assert job is not None
    assert job.coat("second").laid == Laid(NOW - HOUR_S, NOW)
    assert [found.coat.id for found in bench.tonight(NOW)] == ["second"]
    bench.unlay_coat("second", NOW)
    assert bench.job() == before
    assert events(bench) == [("applied", "second"), ("not applied", "second")]


def test_a_job_saved_again_keeps_its_events(bench: Workbench) -> None:
    bench.log_dried(NOW, "side")
    bench.save_job(replace(JOB, name="renamed"))
    job = bench.job()
    assert job is not None
    assert job.name == "renamed"
    assert events(bench) == [("dried", "")]
    with bench.store.read() as db:
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_last_patch_before_the_first_is_refused(bench: Workbench) -> None:
    before = bench.job()
    with pytest.raises(InputError, match="last patch"):
        bench.lay_coat("second", NOW, NOW - 1)
    assert (bench.job(), events(bench)) == (before, [])


def test_without_a_job_every_question_says_so(bare: Workbench) -> None:
    for ask in (bare.tonight, bare.coming_days, lambda now: bare.before_mixing("x", now)):
        with pytest.raises(InputError, match="job: found none"):
            ask(NOW)


# --- the mix ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("entered", "hours"), [(None, 4.0), (5, 8.0), (35, 2.0)])
def test_the_temperature_of_the_tins_moves_the_end_of_the_batch(
    bench: Workbench, entered: int | None, hours: float
) -> None:
    """Nothing entered: the shop's 20 °C, pot life 4 h."""
    logged_and_outlook(bench)
    if entered is not None:
        bench.settings.set("mix_temp_c", setting("mix_temp_c").kind(entered))
    found = bench.before_mixing("second", NOW)
    assert found.batch is not None
    assert found.batch.batches[0].dead_after_h == pytest.approx(hours, abs=1e-9)


# --- the instruments -------------------------------------------------------------------------


def test_what_the_makers_state_is_what_every_verdict_counts_with(bench: Workbench) -> None:
    """±0.3 K, ±1.2 points, ±0.6 K over √3 (JCGM 100, 4.3.7), added as squares."""
    logged_and_outlook(bench)
    before = bench.before_mixing("second", NOW)
    assert any("±0.5 K air, ±3 % RH, ±1 K surface" in told for told in before.assumptions)
    stated = Instruments(0.3, 1.2, 0.6)
    bench.save_instruments(stated)
    after = bench.before_mixing("second", NOW)
    assert before.margin_sd_k is not None
    assert after.margin_sd_k is not None
    usual, better = SensorSpread(), SensorSpread.from_half_widths(0.3, 1.2, 0.6)
    for found, spread in ((before, usual), (after, better)):
        assert found.margin_sd_k == pytest.approx(margin_sd_k(20.0, 52.5, spread), abs=1e-2)
    assert not any("instruments taken as" in told for told in after.assumptions)
    lane = bench.coming_days(NOW).lanes[0]
    assert lane.judged.case.spread == better


def test_a_stated_figure_may_stand_alone(bench: Workbench) -> None:
    logged_and_outlook(bench)
    bench.save_instruments(Instruments(surface_k=0.2))
    told = bench.before_mixing("second", NOW).assumptions
    assert any("±0.5 K air, ±3 % RH, ±0.2 K surface" in one for one in told)


def test_perfect_instruments_give_an_answer(bench: Workbench) -> None:
    """No error at all: nothing is divided by it, and being dry is certain."""
    logged_and_outlook(bench)
    bench.save_instruments(Instruments(0.0, 0.0, 0.0))
    found = bench.before_mixing("second", NOW)
    assert (found.margin_sd_k, found.chance) == (0.0, 1.0)


def test_an_accuracy_that_cannot_be_leaves_all_as_they_were(bench: Workbench) -> None:
    bench.save_instruments(Instruments(0.3, 2.0, 0.5))
    with pytest.raises(RangeError, match="surface_accuracy_k: found '21\\.0'"):
        bench.save_instruments(Instruments(0.1, 1.0, 21.0))
    assert bench.instruments() == Instruments(0.3, 2.0, 0.5)
    bench.save_instruments(Instruments())
    assert bench.instruments().spread == SensorSpread()


# --- the demo --------------------------------------------------------------------------------

LONDON = ZoneInfo("Europe/London")
#: Both clock changes of 2026 and the days after, new year's eve, leap day.
DATES = ("2026-03-29", "2026-03-30", "2026-10-25", "2026-10-26", "2026-12-31", "2028-02-29")


def ten_past_nine(day: str) -> float:
    return datetime.fromisoformat(f"{day}T09:10").replace(tzinfo=LONDON).timestamp()


@pytest.mark.parametrize("day", DATES)
def test_the_demo_is_a_go_until_one_reading_changes(bare: Workbench, day: str) -> None:
    now = ten_past_nine(day)
    bare.load_demo(now)
    before, week = bare.before_mixing("port-gloss-2", now), bare.coming_days(now)
    assert before.verdict is Verdict.GO
    assert bare.words(now).moment(before.at_s) == "09:10"
    read = bare.latest_reading(now)
    assert read is not None
    assert read.surface_temp_c is not None
    colder = replace(read, taken_s=now, surface_temp_c=read.surface_temp_c - 6.0)
    assert bare.before_mixing("port-gloss-2", now, colder).verdict is Verdict.WAIT
    bare.type_reading(Reading(now, surface_temp_c=colder.surface_temp_c))
    after, changed = bare.before_mixing("port-gloss-2", now), bare.coming_days(now)
    assert after.verdict is Verdict.WAIT
    assert after.margin_k is not None
    assert before.margin_k is not None
    # The typed value was rounded to 0.1 K and four minutes older; nothing else moved.
    assert after.margin_k == pytest.approx(before.margin_k - 6.0, abs=0.1)
    assert changed.lanes[0].windows != week.lanes[0].windows
    assert not np.array_equal(changed.series.surface_temp_c, week.series.surface_temp_c, True)
    assert np.array_equal(changed.series.air_temp_c, week.series.air_temp_c, True)


@contextmanager
def no_clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def asked(*_: object) -> float:
        raise AssertionError("the answers asked what time it is")

    with monkeypatch.context() as patch:
        for name in ("time", "time_ns"):
            patch.setattr(time, name, asked)
        yield


def test_no_answer_asks_what_time_it_is(bare: Workbench, monkeypatch: pytest.MonkeyPatch) -> None:
    now = ten_past_nine("2031-05-14")
    with no_clock(monkeypatch):
        bare.load_demo(now)
        found = bare.before_mixing("port-gloss-2", now)
        week, films = bare.coming_days(now), bare.tonight(now)
    assert found.verdict is Verdict.GO
    assert week.lanes
    assert films
