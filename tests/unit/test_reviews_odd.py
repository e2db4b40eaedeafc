"""Records of an awkward day: told late, overlapping, taken back, with numbers nobody can read.

Figures and products are those of `test_reviews`, invented and round.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.planning.rules import SHEET
from advisor.record import chain
from advisor.record.bench_state import fold
from advisor.record.canonical import Json
from advisor.record.entry import Entry, quantity
from advisor.record.in_force import limits_of
from advisor.record.review_types import LimitInForce, TimeSpan
from advisor.record.review_words import ends
from advisor.record.telling import clock, day_and_clock
from advisor.work import known
from advisor.work.workbench import Workbench
from tests.unit.test_reviews import (
    at,
    limit,
    magnus_dew_c,
    mix,
    read,
    shop,
    steady,
    whole_coat,
)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


def event(
    bench: Workbench, what: str, hours: float, coat: str = "one", *, told: float = 0.0, **data: Json
) -> Entry:
    """One event of a coat, told when it happened or later."""
    return bench.record.add("application", {"event": what, **data}, at_s=at(hours),
                            now_s=at(max(told, hours)), coat_id=coat)  # fmt: skip


# --- told late, in another order than it happened --------------------------------------------


def test_a_batch_told_late_is_not_the_newest(bench: Workbench) -> None:
    """Mixed at 9 and 12, the first told after the second: the patch at 12:30 is of the second."""
    second = mix(bench, 12)
    bench.record.add("batch", {"product": "own gloss", "mix_temp": quantity("20", "°C", "typed")},
                     at_s=at(9), now_s=at(13), coat_id="one")  # fmt: skip
    steady(bench, 8.75, 24.75)
    event(bench, "start", 9.25)
    event(bench, "patch", 10)
    event(bench, "patch", 12.5)
    event(bench, "finish", 13)
    review = bench.reviews.coat("one", at(30))
    used = {b.mixed_s: b.last_used_s for b in review.batches}
    assert used == {at(9): at(10), at(12): at(13)}
    assert {b.standing for b in review.batches} == {"inside"}
    assert [b.mixed_s for b in review.batches] == [at(9), at(12)]
    assert second.number == review.batches[1].entry.number


def test_preparation_told_late_is_not_the_last(bench: Workbench) -> None:
    bench.log_sanded(at(8), "side", at(8))
    whole_coat(bench)
    bench.log_sanded(at(2), "side", at(20))
    notes = bench.reviews.coat("one", at(30)).notes
    assert "first patch 1 h after it was sanded and wiped" in notes


@pytest.mark.parametrize("again", [False, True])
def test_sanding_under_the_coat_below_is_none_for_this_one(bench: Workbench, again: bool) -> None:
    bench.log_sanded(at(8), "side", at(8))
    whole_coat(bench)
    if again:
        bench.log_sanded(at(31), "side", at(31))
    whole_coat(bench, "two", 33.0)
    notes = " ".join(bench.reviews.coat("two", at(60)).notes)
    assert ("first patch 2 h after it was sanded" in notes) is again
    assert ("after it was sanded" in notes) is again


def test_drying_told_out_of_order_answers_with_the_first_after_the_dip(bench: Workbench) -> None:
    whole_coat(bench)
    dew = magnus_dew_c(20, 50)
    for hours in (15.9, 16.9):
        read(bench, hours, cold=dew - 0.5)
    bench.log_sanded(at(36), "side", at(36))
    bench.log_dried(at(24), "side", at(37))
    notes = bench.reviews.coat("one", at(40)).notes
    assert any("dried and wiped Tue 2 Jun 2026 00:00" in note for note in notes)


# --- events that do not fit together -----------------------------------------------------------


def test_a_patch_after_the_last_patch_is_part_of_the_coat(bench: Workbench) -> None:
    """A holiday filled in at 12 is wet paint: what was read then counts as while it went on."""
    mix(bench, 9)
    steady(bench, 8.75, 30.75)
    event(bench, "start", 9)
    event(bench, "finish", 10)
    event(bench, "patch", 11.9)
    read(bench, 11.5, air=31.0)
    review = bench.reviews.coat("one", at(40))
    assert limit(review, "air_temp").standing == "outside"


def test_carried_on_after_the_last_patch_is_not_finished(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 20.75)
    event(bench, "start", 9)
    event(bench, "finish", 10)
    event(bench, "carry on", 11)
    review = bench.reviews.coat("one", at(11.5))
    assert review.standing == "not known"
    assert "still going on" in review.summary


def test_tack_free_seen_on_a_coat_taken_back_says_nothing_of_this_one(bench: Workbench) -> None:
    mix(bench, 5)
    event(bench, "start", 5)
    bench.record.add("observation", {"what": "tack-free"}, at_s=at(7), now_s=at(7), coat_id="one")
    bench.unlay_coat("one", at(8))
    mix(bench, 9)
    read(bench, 8.9)
    read(bench, 9.9)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    assert review.tack_free_s is None
    assert limit(review, "margin").hours_asked > 1.0
    assert review.standing == "not known"


def test_a_coat_begun_over_one_still_going_on(bench: Workbench) -> None:
    """Two painters, one behind the other: the lower coat is looked at to its own last patch."""
    mix(bench, 9)
    steady(bench, 8.75, 30.75)
    bench.lay_coat("one", at(9), at(12))
    mix(bench, 10, "two")
    bench.lay_coat("two", at(10), at(13))
    read(bench, 11.5, air=31.0)
    below = bench.reviews.coat("one", at(40))
    assert limit(below, "air_temp").hours_asked == pytest.approx(3.0)
    assert limit(below, "air_temp").standing == "outside"
    above = bench.reviews.coat("two", at(40))
    assert above.interval is not None
    assert above.interval.standing == "outside"


def test_a_coat_that_goes_on_for_days_under_the_next_is_read_to_its_end(bench: Workbench) -> None:
    """A hull by sections: the first has its second coat while the last waits for its first."""
    whole_coat(bench)
    event(bench, "patch", 57)
    bench.lay_coat("two", at(20), at(21))
    times = np.arange(int(at(20)), int(at(58)), 900, dtype=np.int64)
    air, rh = np.full(len(times), 20.0), np.full(len(times), 50.0)
    rh[times == int(at(56))] = 95.0
    reading_store.save_table(bench.store, ReadingTable(
        times, {"air_temp_c": air, "rh_pct": rh, "surface_temp_c": air},
        np.zeros(len(times), dtype=np.uint16), Origin.MEASURED))  # fmt: skip
    review = bench.reviews.coat("one", at(70))
    assert (review.started_s, review.ended_s) == (at(9), at(57))
    found = limit(review, "humidity")
    assert (found.worst, found.hours_known) == (95.0, 48.0)
    assert review.standing == "outside"


def test_over_before_the_patch_below_was_painted(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 30.75)
    bench.lay_coat("one", at(9), at(12))
    mix(bench, 10, "two")
    bench.lay_coat("two", at(10), at(11))
    interval = bench.reviews.coat("two", at(40)).interval
    assert interval is not None
    assert interval.standing == "outside"
    assert "-" not in interval.text


def test_over_a_coat_with_no_end_the_interval_is_not_known(bench: Workbench) -> None:
    mix(bench, 9)
    event(bench, "start", 9)
    whole_coat(bench, "two", 33.0)
    review = bench.reviews.coat("two", at(60))
    assert review.interval is not None
    assert review.interval.standing == review.standing == "not known"
    assert "first gloss" in review.summary


def test_over_a_coat_the_record_never_had_says_so(bench: Workbench) -> None:
    whole_coat(bench, "two", 33.0)
    review = bench.reviews.coat("two", at(60))
    assert review.standing == "not known"
    assert "Not known: the time since first gloss, which is not in the record" in review.summary


def test_what_is_on_after_it_was_taken_back_late(bench: Workbench) -> None:
    """Told on, taken back at 12, then told again for 9 to 10: the later word counts."""
    whole_coat(bench)
    bench.unlay_coat("one", at(12))
    bench.lay_coat("one", at(9), at(10), at(13))
    state = fold(chain.entries(bench.store, "j"))
    assert [one.coat_id for one in state.finished] == ["one"]
    assert bench.reviews.coat("one", at(30)).started_s == at(9)


# --- batches ---------------------------------------------------------------------------------


def test_a_batch_older_than_a_day_that_was_used_is_judged(bench: Workbench) -> None:
    old = mix(bench, 9)
    steady(bench, 32.75, 44.75)
    event(bench, "start", 35, batch=str(old.number))
    event(bench, "finish", 36, batch=str(old.number))
    (found,) = bench.reviews.coat("one", at(60)).batches
    assert found.standing == "outside"
    # The night it stood in the tin is not held against the film.
    assert limit(bench.reviews.coat("one", at(60)), "air_temp").hours_asked == pytest.approx(1.0)


def test_paint_from_a_batch_mixed_for_another_coat_is_judged(bench: Workbench) -> None:
    shared = mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    steady(bench, 8.75, 24.75)
    event(bench, "start", 11, "deck", batch=str(shared.number))
    event(bench, "finish", 12.5, "deck", batch=str(shared.number))
    (found,) = bench.reviews.coat("deck", at(60)).batches
    assert found.standing == "outside"
    (own,) = bench.reviews.coat("one", at(60)).batches
    assert own.last_used_s == at(10)
    # What was known when it was mixed was known of the other coat.
    assert bench.reviews.coat("deck", at(60)).decision is None
    assert bench.reviews.coat("one", at(60)).decision is not None


def test_one_part_paint_with_its_tin_in_the_record_can_be_inside(
    bench: Workbench, tmp_path: Path
) -> None:
    path = tmp_path / "own-gloss.toml"
    text = path.read_text("utf-8").replace("pot_life_h = [6, 3, 1.5]\n", "")
    text = text.replace('class = "two-part-gloss"', 'class = "alkyd"')
    path.write_text(text.replace('ratio = "2:1"\n', ""), "utf-8")
    bench.add_product_file(path)
    whole_coat(bench)
    assert bench.reviews.coat("one", at(30)).standing == "inside"


# --- numbers nobody can have read --------------------------------------------------------------


@pytest.mark.parametrize(("field", "value", "unit"), [
    ("rh", "590", "%"), ("rh", "0", "%"), ("rh", "-5", "%"), ("air_temp", "200", "°C"),
    ("air_temp", "-300", "°C"), ("surface_temp", "999999999999", "°C"),
    ("dew_point", "-999", "°C"),
])  # fmt: skip
def test_an_impossible_number_stops_nothing_and_is_told(
    bench: Workbench, field: str, value: str, unit: str
) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=55.0)
    assert wrong is not None
    data = {**wrong.data, field: quantity(value, unit, "typed")}
    bench.record.strike_out(wrong.number, "typed anew", at(12))
    anew = bench.record.add("reading", data, at_s=at(11.5), now_s=at(12), area_id="side")
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"  # by the readings an hour before and after
    told = f"entry {anew.number}: "
    (note,) = [n for n in review.notes if n.startswith(told)]
    assert note.endswith("cannot be so and was not counted")


# --- sensors and moves -------------------------------------------------------------------------


def log(bench: Workbench, zone: str, first: float, last: float, *, rh: float = 50.0,
        flag: int = 0, shift_s: int = 0) -> None:  # fmt: skip
    times = np.arange(int(at(first)), int(at(last)), 600, dtype=np.int64) + shift_s
    still = np.full(len(times), 20.0)
    columns = {"air_temp_c": still, "rh_pct": np.full(len(times), rh), "surface_temp_c": still}
    flags = np.full(len(times), flag, dtype=np.uint16)
    reading_store.save_table(
        bench.store, ReadingTable(times, columns, flags, Origin.MEASURED), zone
    )


def test_a_stuck_sensor_at_the_work_does_not_silence_the_shops(bench: Workbench) -> None:
    """What the sensor at the work says in doubt, it does not say."""
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    log(bench, "side", 8, 20, flag=Flag.STUCK)
    log(bench, "", 8, 20, rh=95.0, shift_s=60)
    assert bench.reviews.coat("one", at(30)).standing == "outside"


def test_a_reading_moved_twice_stands_where_it_was_moved_last(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=95.0)
    assert wrong is not None
    for hours in (10.25, 6.0):
        moved = f"2026-06-01T{int(hours):02}:{int(hours % 1 * 60):02}:00+00:00"
        bench.record.correct(wrong.number, {"at": moved}, "clock", at(12))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert {at(11.5), at(10.25)}.isdisjoint(review.readings.time_s)


def test_a_reading_corrected_twice_counts_as_it_was_said_last(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, rh=50.0)
    assert wrong is not None
    for rh, standing in (("95", "outside"), ("55", "inside")):
        change = {"rh": quantity(rh, "%", "typed")}
        bench.record.correct(wrong.number, change, "misread", at(12))
        assert bench.reviews.coat("one", at(30)).standing == standing


def test_a_reading_moved_to_another_area_leaves_its_surface_there(bench: Workbench) -> None:
    whole_coat(bench)
    wrong = read(bench, 11.5, cold=5.0)
    assert wrong is not None
    assert bench.reviews.coat("one", at(30)).standing == "outside"
    bench.record.correct(wrong.number, {"area": "deck"}, "it was the deck", at(12))
    assert bench.reviews.coat("one", at(30)).standing == "inside"


def test_a_batch_moved_to_its_right_coat(bench: Workbench) -> None:
    wrong = mix(bench, 9, "deck")
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(12.5))
    assert bench.reviews.coat("one", at(30)).standing == "not known"
    bench.record.correct(wrong.number, {"coat": "one"}, "wrong coat", at(13))
    (found,) = bench.reviews.coat("one", at(30)).batches
    assert found.standing == "outside"


# --- the hour that comes twice -----------------------------------------------------------------


def test_in_the_hour_that_comes_twice_a_clock_says_which_one(bench: Workbench) -> None:
    """25 October 2026, 01:00 UTC: 02:00 summer time becomes 01:00 in London."""
    words = replace(bench.words(at(0)), zone=ZoneInfo("Europe/London"))
    back_s = datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp()
    assert day_and_clock(back_s - 1800, words) == "Sun 25 Oct 2026 01:30 BST"
    assert day_and_clock(back_s + 1800, words) == "Sun 25 Oct 2026 01:30 GMT"
    assert clock(back_s + 5400, words) == "02:30"
    assert clock(back_s - 5400, words) == "00:30"
    span = TimeSpan(back_s - 900, back_s + 900)
    assert ends(span, words) == "Sun 25 Oct 2026 01:45 BST to 01:15 GMT"
    assert ends(TimeSpan(back_s - 7200, back_s), words) == "Sun 25 Oct 2026 00:00 to 01:00 GMT"


# --- of a later version ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "label"), [("dust", "Dust class"), ("prepared", "Surface profile")]
)
def test_a_limit_this_version_cannot_read_is_not_known(
    bench: Workbench, monkeypatch: pytest.MonkeyPatch, rule: str, label: str
) -> None:
    """Kept by a later version, say: left unjudged, the coat would stand as inside every limit."""
    later = LimitInForce(rule, label, None, 2.0, "", SHEET)
    monkeypatch.setattr(known, "limits_of", lambda *given: (*limits_of(*given), later))
    whole_coat(bench)
    review = bench.reviews.coat("one", at(30))
    assert limit(review, rule).standing == review.standing == "not known"
    assert label.lower() in review.summary
