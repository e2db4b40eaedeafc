"""A milestone seen on a film: slower films stretch what is to be reached, nothing is shortened.

The notes' case: "tape-dry now" pressed at 20 h instead of 28. A naive rule shrinks every time;
right is that the minimum never goes under the data sheet. Invented product: at 20 °C tape-dry
and minimum after 8 h, maximum 48 h, pot life 4 h.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import Origin, ReadingTable
from advisor.coatings.product import Method
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.entry import number_of
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.observed import SLOWEST, calibrations, stretched
from advisor.work.views import FilmTonight
from advisor.work.workbench import Workbench
from tests.helpers.live_bench import NOW, bench_with_job, sensor
from tests.helpers.products import DAY_S, HOUR_S, gloss

#: Clocks on a steady temperature are exact to a grid step of rounding.
ABOUT_S = 1.0


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    """The first gloss went on until now; steady at 20 °C before and after."""
    made = bench_with_job(store, root, tmp_path)
    made.lay_coat("first", NOW - HOUR_S, NOW)
    sensor(made, [NOW + k * 600 for k in range(-24, 24 * 6)])
    time_s = np.arange(NOW - DAY_S, NOW + 9 * DAY_S, HOUR_S, dtype=np.int64)
    columns = {"air_temp_c": 20.0, "rh_pct": 50.0, "surface_temp_c": 20.0}
    values = {k: np.full(len(time_s), v) for k, v in columns.items()}
    flags = np.zeros(len(time_s), dtype=np.uint16)
    reading_store.save_table(made.store, ReadingTable(time_s, values, flags, Origin.FORECAST))
    return made


def film(bench: Workbench, hour: float) -> FilmTonight:
    return next(f for f in bench.tonight(NOW + hour * HOUR_S) if f.coat.id == "first")


def hours(at_s: float | None) -> float:
    assert at_s is not None
    return (at_s - NOW) / HOUR_S


def see(bench: Workbench, hour: float, what: str = "tape-dry") -> float | None:
    entry = bench.live.observe(what, "first", NOW + hour * HOUR_S)
    return number_of(entry.data.get("share"))


def test_pressed_early_nothing_shrinks(bench: Workbench) -> None:
    before = film(bench, 6.0)
    # 5.5 of 8 h; three decimals are kept.
    assert see(bench, 5.5) == pytest.approx(5.5 / 8, abs=0.001)
    after = film(bench, 6.0)
    assert hours(after.next_from_s) == hours(before.next_from_s) == pytest.approx(8.0, abs=0.1)
    assert after.dew_safe_s == before.dew_safe_s
    assert after.next_likely_s == before.next_likely_s
    assert "the data sheet's times stand" in after.advice


def test_seen_late_what_is_to_be_reached_is_stretched(bench: Workbench) -> None:
    """Tape-dry at 12 h instead of 8: 1.5 as long; the maximum of 48 h and pot life stay."""
    before = film(bench, 12.5)
    assert see(bench, 12.0) == pytest.approx(1.5, abs=0.001)
    after = film(bench, 12.5)
    assert hours(after.dew_safe_s) == pytest.approx(12.0, abs=0.1)
    assert hours(after.tack_free_s) == pytest.approx(6.0, abs=0.1)
    assert hours(after.next_from_s) == pytest.approx(12.0, abs=0.1)
    assert after.next_likely_s == before.next_likely_s
    assert "1.5 as long in this job" in after.advice
    answer = bench.before_mixing("second", NOW + 12.5 * HOUR_S)
    assert any("1.5 as long" in note for note in answer.assumptions)
    assert "1.5 as long" in bench.coming_days(NOW + 12.5 * HOUR_S).note


def test_readings_are_asked_for_as_long_as_the_film_needs(bench: Workbench) -> None:
    """It takes dew after 12 h here, not 8: the hourly reading is still due after 10."""
    asked = [due.reason for due in bench.live.view(NOW + 10 * HOUR_S).readings_due]
    assert asked == []
    see(bench, 12.0)
    asked = [due.reason for due in bench.live.view(NOW + 10 * HOUR_S).readings_due]
    assert asked == ["until it can take dew"]


def test_a_film_looked_at_very_late_is_not_believed_that_slow(bench: Workbench) -> None:
    assert see(bench, 23.0) == pytest.approx(23 / 8, abs=0.001)
    assert calibrations(bench)["own-gloss"].factor == SLOWEST


def test_only_this_job_and_this_product(bench: Workbench) -> None:
    see(bench, 12.0)
    assert set(calibrations(bench)) == {"own-gloss"}
    other = replace(bench.job_in_hand(), id="another")
    bench.save_job(other)
    assert calibrations(bench) == {}


def test_struck_out_it_never_happened(bench: Workbench) -> None:
    see(bench, 12.0)
    wrong = chain.entries(bench.store, "j", kinds=("observation",))[0]
    data = {"corrects": str(wrong.number), "corrects_hash": wrong.hash, "reason": "wrong film",
            "values": [{"field": "entry", "now": "struck out"}]}  # fmt: skip
    bench.record.add("correction", data, at_s=NOW, now_s=NOW)
    assert calibrations(bench) == {}


def test_kept_where_no_share_can_be_told(bench: Workbench) -> None:
    """A coat not on yet, and a milestone the table has not: noted all the same."""
    entry = bench.live.observe("tape-dry", "second", NOW + HOUR_S)
    assert "share" not in entry.data
    assert see(bench, 5.0, "sandable") is None
    assert see(bench, 5.0, "holiday") is None
    assert calibrations(bench) == {}


def test_what_may_be_seen_next_is_offered_once(bench: Workbench) -> None:
    assert bench.live.taps_of_film("first") == ("tack-free", "tape-dry")
    assert bench.live.taps_of_film("second") == ()  # not on
    see(bench, 4, "tack-free")
    assert bench.live.taps_of_film("first") == ("tape-dry",)
    see(bench, 10)
    assert bench.live.taps_of_film("first") == ()
    bench.record.strike_out(bench.record.head().entries, "the wrong side", NOW + 11 * HOUR_S)
    assert bench.live.taps_of_film("first") == ("tape-dry",)


def test_seen_by_hand_it_is_counted_with_like_a_tap(bench: Workbench) -> None:
    at_s = NOW + 10 * HOUR_S
    entry = keep_by_hand(
        bench, ByHand("observation", {"what": "tape-dry"}, at_s, coat_id="first"), at_s
    )
    assert number_of(entry.data.get("share")) == pytest.approx(1.25, abs=0.01)  # grid of 5 min
    assert "data sheet's time" in str(entry.data["text"])
    assert [one.factor for one in calibrations(bench).values()] == [pytest.approx(1.25, abs=0.01)]


def test_what_was_told_by_hand_stays_as_told(bench: Workbench) -> None:
    at_s = NOW + 10 * HOUR_S
    told: dict[str, Json] = {"what": "tape-dry", "text": "pulled clean at the bow"}
    entry = keep_by_hand(bench, ByHand("observation", told, at_s, coat_id="first"), at_s)
    assert entry.data["text"] == "pulled clean at the bow"
    other = ByHand("observation", {"what": "gloss"}, at_s, coat_id="first")
    assert dict(keep_by_hand(bench, other, at_s).data) == {"what": "gloss"}


def test_what_runs_out_is_not_touched_by_any_method() -> None:
    paint = replace(gloss(), methods={"spray": Method({"tack_free_h": (4.0, 2.0, 1.0),
                                                      "pot_life_h": (3.0, 2.0, 1.0)})})  # fmt: skip
    slow = stretched(paint, 1.5)
    assert slow.times.columns["pot_life_h"] == paint.times.columns["pot_life_h"]
    assert slow.times.columns["tack_free_h"] == (12.0, 6.0, 3.0)
    assert slow.next_coats[0].max_h == paint.next_coats[0].max_h
    assert slow.next_coats[0].min_h == (18.0, 12.0, 6.0)
    assert slow.methods["spray"].times == {"tack_free_h": (6.0, 3.0, 1.5),
                                           "pot_life_h": (3.0, 2.0, 1.0)}  # fmt: skip
    assert stretched(paint, 1.0) is paint
