"""The live bench through its use cases. Invented products with round times; nothing from outside.

Gloss: half an hour of induction, 4 h of pot life at 20 °C, takes dew after 8 h.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Entry, number_of, quantity
from advisor.work.live_views import Alarm, BatchForm, LiveBench, PartMixed
from advisor.work.workbench import Workbench
from tests.helpers.live_bench import (
    MIN,
    NOW,
    again,
    bench_with_job,
    mix,
    sensor,
    typed,
)
from tests.helpers.products import HOUR_S

#: Half a minute: rows and clocks step by minutes.
ABOUT_S = 30.0


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return bench_with_job(store, root, tmp_path)


def at(bench: Workbench, minute: float) -> LiveBench:
    return bench.live.view(NOW + minute * MIN)


def tap(bench: Workbench, minute: float, event: str, **said: str) -> Entry:
    return bench.live.tap(event, NOW + minute * MIN, **said)  # type: ignore[arg-type]


def keys(alarms: tuple[Alarm, ...]) -> list[str]:
    return [alarm.key.rpartition("|")[2].split(":")[0] for alarm in alarms]


def entries(bench: Workbench, *kinds: str) -> tuple[Entry, ...]:
    return chain.entries(bench.store, "j", kinds=kinds)


# --- a coat from mixing to its end -------------------------------------------------------------


def test_nothing_is_mixed(bench: Workbench) -> None:
    seen = at(bench, 0)
    assert (seen.step, seen.taps) == ("nothing", ("reading",))
    assert seen.batches == seen.alarms == seen.coming == ()


def test_the_way_of_a_batch(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    seen = at(bench, 10)
    assert seen.step == "induction"
    batch = seen.batches[0]
    assert batch.induction_until_s == NOW + 30 * MIN
    assert batch.usable_until_s == pytest.approx(NOW + 4 * HOUR_S, abs=ABOUT_S)
    assert batch.title == "first gloss, mixed 10:00"
    assert at(bench, 31).step == "ready"
    assert at(bench, 31).taps[0] == "start"
    tap(bench, 32, "start")
    tap(bench, 50, "patch", patch="bow")
    seen = at(bench, 55)
    assert seen.step == "applying"
    assert seen.work is not None
    assert [patch.name for patch in seen.work.patches] == ["bow"]
    tap(bench, 60, "stop", why="rain")
    assert at(bench, 61).step == "stopped"
    assert at(bench, 61).taps[0] == "carry on"
    tap(bench, 70, "carry on")
    tap(bench, 90, "finish")
    laid = bench.job_in_hand().coat("first").laid
    assert laid is not None
    assert (laid.start_s, laid.end_s) == (NOW + 32 * MIN, NOW + 90 * MIN)
    seen = at(bench, 91)
    assert seen.work is None
    assert seen.taps[0] == "batch used up"
    tap(bench, 92, "batch used up")
    assert at(bench, 93).step == "nothing"
    events = [e.data.get("event") for e in entries(bench, "application")]
    assert events == ["start", "patch", "stop", "carry on", "finish"]


def test_paint_put_on_during_induction_is_kept_as_such(bench: Workbench) -> None:
    mix(bench, NOW)
    early = tap(bench, 13, "start")
    assert early.known["warnings"] == ["Started 17 min before the end of its induction"]
    assert "warnings" not in tap(bench, 30, "patch").known


def test_a_late_tap_stands_where_it_happened(bench: Workbench) -> None:
    mix(bench, NOW)
    entry = bench.live.tap("start", NOW + 50 * MIN, at_s=NOW + 31 * MIN)
    assert entry.late_s == 19 * MIN
    work = at(bench, 51).work
    assert work is not None
    assert work.started_s == NOW + 31 * MIN


@pytest.mark.parametrize(
    ("event", "said"), [("patch", "start first"), ("finish", "start first"), ("dance", "accepted"),
                        ("batch used up", "no such batch"), ("start", "no batch")],
)  # fmt: skip
def test_a_tap_that_fits_nothing_is_refused(bench: Workbench, event: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        tap(bench, 0, event)
    assert entries(bench, "application", "batch end") == ()


def test_times_that_cannot_be(bench: Workbench) -> None:
    mix(bench, NOW)
    with pytest.raises(RangeError, match="still to come"):
        bench.live.tap("start", NOW, at_s=NOW + MIN)
    tap(bench, 40, "start")
    with pytest.raises(RangeError, match="before the start"):
        bench.live.tap("patch", NOW + 50 * MIN, at_s=NOW + 30 * MIN)
    with pytest.raises(InputError, match="already going on"):
        tap(bench, 51, "start")


def test_two_batches_open(bench: Workbench) -> None:
    """Each counts by itself; the first mixed is the first used up."""
    one = mix(bench, NOW)
    tap(bench, 31, "start")
    two = mix(bench, NOW + HOUR_S)
    assert [b.number for b in at(bench, 61).batches] == [one, two]
    tap(bench, 95, "patch")
    assert entries(bench, "application")[-1].data["batch"] == str(two)
    assert tap(bench, 96, "batch used up").data["batch"] == str(one)
    assert [b.number for b in at(bench, 97).batches] == [two]
    bench.live.tap("batch discarded", NOW + 98 * MIN, batch=two)
    assert at(bench, 99).batches == ()


def test_a_batch_nobody_ended_is_let_go_and_told(bench: Workbench) -> None:
    mix(bench, NOW)
    assert at(bench, 5 * 60).batches != ()
    seen = at(bench, 29 * 60)
    assert seen.batches == ()
    assert "its end was never noted" in seen.notes[0]
    assert seen.alarms == ()


def test_one_can_needs_no_end(bench: Workbench) -> None:
    bench.live.start_batch(BatchForm("deck", "own enamel", (), "one can", "volume"), NOW)
    assert at(bench, 1).batches[0].usable_until_s is None
    assert at(bench, 1).step == "ready"
    tap(bench, 5, "start")
    tap(bench, 30, "finish")
    assert at(bench, 31).step == "nothing"


def test_a_coat_taken_off_the_job_stops_no_look(bench: Workbench) -> None:
    mix(bench, NOW)
    tap(bench, 31, "start")
    job = bench.job_in_hand()
    bench.save_job(type(job)(job.id, job.name, job.place, "UTC", job.areas, job.coats[1:]))
    seen = at(bench, 40)
    assert seen.work is not None
    assert any("cannot be counted down" in note for note in seen.notes)


# --- countdown ---------------------------------------------------------------------------------


def test_the_countdown_follows_the_shop(bench: Workbench) -> None:
    """An hour at 20 °C uses a quarter; at 30 °C three quarters of 2 h are left."""
    mix(bench, NOW)
    sensor(bench, [NOW, NOW + 59 * MIN])
    sensor(bench, [NOW + 60 * MIN, NOW + 61 * MIN], air_temp_c=30.0)
    seen = at(bench, 61).batches[0]
    assert seen.usable_until_s == pytest.approx(NOW + 150 * MIN, abs=60.0)
    assert seen.temp_text == "counted at 30.0 °C"


def test_a_corrected_mix_temperature_counts(bench: Workbench) -> None:
    number = mix(bench, NOW, mix_temp_c="30")
    assert at(bench, 1).batches[0].usable_until_s == pytest.approx(NOW + 2 * HOUR_S, abs=ABOUT_S)
    wrong = chain.entry(bench.store, "j", number)
    assert wrong is not None
    row = {"field": "mix_temp", "now": quantity("20", "°C", "typed")}
    bench.record.add("correction", {"corrects": str(number), "corrects_hash": wrong.hash,
                     "reason": "misread", "values": [row]}, at_s=NOW, now_s=NOW)  # fmt: skip
    assert at(bench, 1).batches[0].usable_until_s == pytest.approx(NOW + 4 * HOUR_S, abs=ABOUT_S)


def test_a_material_temperature_told_later_counts(bench: Workbench) -> None:
    mix(bench, NOW)
    data = {"material_temp": quantity("30", "°C", "typed")}
    bench.record.add("reading", data, at_s=NOW + HOUR_S, now_s=NOW + HOUR_S, area_id="side")
    seen = at(bench, 61).batches[0]
    assert seen.usable_until_s == pytest.approx(NOW + 150 * MIN, abs=60.0)


# --- alarms ------------------------------------------------------------------------------------


def test_alarms_in_their_order(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    assert keys(at(bench, 1).coming) == ["induction", "comfortable", "nearly", "over"]
    assert at(bench, 1).alarms == ()
    assert keys(at(bench, 30).alarms) == ["induction"]


def test_overdue_ones_come_first_after_the_lid_was_closed(bench: Workbench) -> None:
    """Six hours asleep: everything is there, the longest overdue first."""
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    tap(bench, 35, "start")
    seen = at(again(bench), 6 * 60)
    due = [alarm.due_s for alarm in seen.alarms]
    assert due == sorted(due)
    batch = [key for key in keys(seen.alarms) if key != "reading"]
    assert batch == ["comfortable", "nearly", "over"]
    assert seen.headline.endswith("past use, discard it")
    assert seen.taps[0] == "batch discarded"


def test_alarms_are_the_same_after_a_restart(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    sensor(bench, [NOW + k * MIN for k in range(100)], air_temp_c=24.0)
    tap(bench, 35, "start")
    for minute in (40.0, 70.5, 100.0):
        at(bench, minute)  # looks between leave no trace
    here, there = at(bench, 101), at(again(bench), 101)
    assert here.alarms == there.alarms
    assert here.coming == there.coming


def test_heard_once_is_heard_over_a_restart(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    alarm = at(bench, 30).alarms[0]
    bench.live.heard(alarm.key, NOW + 30 * MIN)
    bench.live.heard(alarm.key, NOW + 31 * MIN)
    assert at(bench, 31).alarms == ()
    assert at(again(bench), 31).alarms == ()


def test_an_ended_batch_rings_no_more(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    tap(bench, 20, "batch discarded", why="spilt")
    assert at(bench, 500).alarms == ()


def test_what_is_left_over_still_rings_when_it_is_spent(bench: Workbench) -> None:
    mix(bench, NOW)
    tap(bench, 31, "start")
    tap(bench, 60, "finish")
    assert "over" in keys(at(bench, 245).alarms)


# --- readings due ------------------------------------------------------------------------------


def reasons(seen: LiveBench) -> list[tuple[str, float]]:
    return [(due.reason, (due.due_s - NOW) / MIN) for due in seen.readings_due]


def test_before_mixing_and_at_the_start(bench: Workbench) -> None:
    mix(bench, NOW)
    assert reasons(at(bench, 1)) == [("before mixing", 0.0)]
    typed(bench, NOW + 2 * MIN)
    assert reasons(at(bench, 3)) == []
    tap(bench, 40, "start")
    assert reasons(at(bench, 41)) == [("start", 40.0)]
    typed(bench, NOW + 42 * MIN)
    assert reasons(at(bench, 43)) == [("four hours", 42.0 + 240.0)]


def test_hourly_until_it_can_take_dew(bench: Workbench) -> None:
    """Finished at 20 °C: it can take dew after 8 h (data sheet), asked hourly until then."""
    mix(bench, NOW)
    typed(bench, NOW + 30 * MIN)
    tap(bench, 31, "start")
    tap(bench, 90, "finish")
    tap(bench, 90, "batch used up")
    assert reasons(at(bench, 91)) == [("end", 90.0)]
    typed(bench, NOW + 92 * MIN)
    assert reasons(at(bench, 93)) == [("until it can take dew", 152.0)]
    typed(bench, NOW + 152 * MIN)
    assert reasons(at(bench, 153)) == [("until it can take dew", 212.0)]
    assert reasons(at(bench, 90 + 8 * 60 + 1)) == []


def test_films_that_ask_for_the_same_reading_ask_once(bench: Workbench) -> None:
    mix(bench, NOW)
    for coat_id in ("first", "deck"):
        bench.live.tap("start", NOW + 31 * MIN, coat_id=coat_id)
        bench.live.tap("finish", NOW + 90 * MIN, coat_id=coat_id)
    tap(bench, 90, "batch used up")
    for area in ("side", "deck"):
        sensor(bench, [NOW + 92 * MIN], area)
    assert reasons(at(bench, 93)) == [("until it can take dew", 152.0)]


def test_a_sensor_reads_by_itself(bench: Workbench) -> None:
    mix(bench, NOW)
    sensor(bench, [NOW + k * MIN for k in range(-10, 300)])
    tap(bench, 31, "start")
    assert reasons(at(bench, 290)) == [("four hours", 290.0 + 240.0)]


# --- conditions --------------------------------------------------------------------------------


def fog(bench: Workbench) -> None:
    mix(bench, NOW)
    tap(bench, 31, "start")
    sensor(bench, [NOW + k * MIN for k in range(60)])
    sensor(bench, [NOW + k * MIN for k in range(60, 65)], rh_pct=97.0)


def test_fog_with_two_parts_in_the_tray(bench: Workbench) -> None:
    fog(bench)
    seen = at(bench, 64)
    assert seen.changed is not None
    assert seen.changed.advice == "stop"
    assert seen.taps[0] == "stop"
    assert "changed" in keys(seen.alarms)
    assert at(again(bench), 64).alarms == seen.alarms
    entry = tap(bench, 64, "stop")
    shown = entry.known["changed"]
    assert isinstance(shown, dict)
    assert shown["advice"] == "stop"


def test_the_limits_are_those_the_batch_was_mixed_under(bench: Workbench, tmp_path: Path) -> None:
    """A data sheet changed in mid-coat changes nothing of the batch in hand."""
    fog(bench)
    path = tmp_path / "own-gloss.toml"
    text = path.read_text(encoding="utf-8").replace("rh_pct = [30, 85]", "rh_pct = [30, 99]")
    path.write_text(text.replace("margin_k = 3", "margin_k = 0"), encoding="utf-8")
    bench.add_product_file(path)
    assert at(bench, 64).changed is not None


def test_the_areas_own_sensor_speaks_for_it(bench: Workbench) -> None:
    mix(bench, NOW)
    tap(bench, 31, "start")
    minutes = [NOW + k * MIN for k in range(60)]
    sensor(bench, minutes, rh_pct=97.0)
    assert at(bench, 60).changed is not None
    sensor(bench, minutes, "side")
    assert at(again(bench), 60).changed is None


# --- film and what is known --------------------------------------------------------------------


def test_film_readings_beside_their_target(bench: Workbench) -> None:
    """40 to 50 µm dry of 50 % solids, 10 % thinner: 88 to 110 µm wet."""
    form = BatchForm("first", "own gloss", (), "2 : 1 by volume", "volume", thinner_pct="10")
    number = bench.live.start_batch(form, NOW).number
    tap(bench, 31, "start")
    entry = bench.live.film("first", ("90", "101,5"), NOW + 35 * MIN)
    assert number_of(entry.data["target_low"]) == 88
    assert number_of(entry.data["target_high"]) == 110
    assert entry.data["batch"] == str(number)
    work = at(bench, 36).work
    assert work is not None
    assert work.wet_film_um == (90.0, 101.5)
    assert work.film_text == "2 readings: 90 to 101.5 µm, mean 96, asked 88 to 110 µm"
    bench.settings.set("units", "us")  # a mil is 25.4 µm: an inch is 25.4 mm by definition
    work = at(bench, 36).work
    assert work is not None
    assert work.film_text == (
        "2 readings: 90 to 101.5 µm, mean 96 (3.5 to 4.0 mil, mean 3.8), asked 88 to 110 µm"
    )


@pytest.mark.parametrize("bad", ["thick", "0", "-5", "nan", "1e9"])
def test_film_readings_that_are_none(bench: Workbench, bad: str) -> None:
    with pytest.raises(InputError, match="film"):
        bench.live.film("first", ("90", bad), NOW)
    assert entries(bench, "film") == ()


def test_known_has_what_was_shown(bench: Workbench) -> None:
    typed(bench, NOW)
    answer = bench.before_mixing("first", NOW)
    mix(bench, NOW + 2 * MIN)
    known = entries(bench, "batch")[0].known
    assert known["verdict"] == answer.verdict.json
    assert known["shown"] == answer.headline
    assert str(known["shown_at"]).startswith("2026-06-01T10:00:00")
    values = known["values"]
    assert isinstance(values, dict)
    assert values["surface_temp"]["value"] == "20"
    product = known["product"]
    assert isinstance(product, dict)
    assert (product["id"], product["revision"]) == ("own-gloss", "3")
    rules = {limit["rule"] for limit in known["limits"]}  # type: ignore[index, union-attr]
    assert {"air_temp", "surface_temp", "humidity", "margin", "hold_margin"} <= rules


def test_a_tap_is_kept_where_nothing_can_be_told(bench: Workbench) -> None:
    """No reading, no answer, the product gone from the shelf: the entry says so and is kept."""
    mix(bench, NOW)
    with bench.store.write() as db:
        db.execute("DELETE FROM product")
    entry = again(bench).live.tap("start", NOW + 40 * MIN)
    assert entry.known["shown"] == "no answer had been asked for"
    assert any("nowhere on the shelf" in str(why) for why in entry.known["not_known"])  # type: ignore[union-attr]


def test_a_tap_asks_for_no_verdict(bench: Workbench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A verdict may take a second; a tap must be kept at once."""

    def slow(*_: object) -> None:
        raise AssertionError("a tap asked for a verdict")

    monkeypatch.setattr(bench, "before_mixing", slow)
    mix(bench, NOW)
    tap(bench, 31, "start")
    tap(bench, 40, "patch")
    tap(bench, 50, "finish")


# --- all or nothing ----------------------------------------------------------------------------


def test_a_finish_is_kept_whole_or_not_at_all(
    bench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    mix(bench, NOW)
    tap(bench, 31, "start")
    with monkeypatch.context() as patched:

        def full(*_: object) -> None:
            raise OSError("disk full")

        patched.setattr(bench.record, "append", full)
        with pytest.raises(OSError, match="disk full"):
            tap(bench, 60, "finish")
    assert bench.job_in_hand().coat("first").laid is None
    assert at(bench, 61).step == "applying"


def test_the_chain_holds_what_was_tapped(bench: Workbench) -> None:
    typed(bench, NOW)
    mix(bench, NOW)
    tap(bench, 31, "start")
    tap(bench, 60, "finish")
    kept = entries(bench)
    assert [e.number for e in kept] == list(range(1, len(kept) + 1))
    assert all(b.previous == a.hash for a, b in pairwise(kept))
    assert {e.by for e in kept} == {"E. Mill"}


def test_parts_are_kept_with_their_batch_numbers(bench: Workbench) -> None:
    parts = (PartMixed("base", "B-7", "2027-01", "1.0"), PartMixed("hardener", "H-2", "", "0,5"))
    form = BatchForm("first", "own gloss", parts, "2 : 1 by volume", "volume")
    data = bench.live.start_batch(form, NOW).data
    assert data["parts"] == [
        {"part": "base", "batch": "B-7", "expiry": "2027-01", "value": "1.0", "unit": "L"},
        {"part": "hardener", "batch": "H-2", "value": "0.5", "unit": "L"},
    ]
    assert data["ratio_mixed"] == "2 : 1"


def test_a_patch_never_takes_the_batch_of_another_coat(bench: Workbench) -> None:
    """Another coat's batch is in front while this one goes on."""
    own, other = mix(bench, NOW), mix(bench, NOW + MIN, "second")
    bench.live.tap("start", NOW + 31 * MIN, coat_id="first")
    patch = bench.live.tap("patch", NOW + 35 * MIN, coat_id="first", batch=other)
    assert patch.data["batch"] == str(own)


def test_a_pot_life_by_old_air_says_so(bench: Workbench) -> None:
    """The sensor fell silent: the shop may have warmed since."""
    sensor(bench, [NOW - 5 * MIN, NOW], air_temp_c=30.0)
    mix(bench, NOW)
    assert at(bench, 50).batches[0].assumptions == ()
    (told,) = at(bench, 70).batches[0].assumptions
    assert told == "shop air: not read for 1 h 10 min, the pot life is shorter if it got warmer"


def other_job(bench: Workbench) -> None:
    """Open another job while the first one's batch is in the pot."""
    job = bench.job_in_hand()
    bench.save_job(type(job)("k", "other job", "", "UTC", job.areas, job.coats[:1]))


def test_a_batch_rings_though_another_job_was_opened(bench: Workbench) -> None:
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    name = bench.job_in_hand().name
    other_job(bench)
    seen = at(bench, 31)
    assert seen.batches == ()
    assert keys(seen.alarms) == ["induction"]
    assert seen.counting  # the computer is kept from going to sleep for it
    assert seen.alarms[0].text.startswith(f"{name}: ")
    assert keys(at(bench, 300).alarms)[-1] == "over"
    bench.live.heard(seen.alarms[0].key, NOW + 31 * MIN)
    assert at(bench, 32).alarms == ()


def test_heard_is_heard_for_its_own_job(bench: Workbench) -> None:
    """Both jobs have a batch of the same number; the first one's alarm was on the screen."""
    typed(bench, NOW - 5 * MIN)
    mix(bench, NOW)
    on_screen = at(bench, 31).alarms[0]
    other_job(bench)
    mix(bench, NOW)
    assert len(at(bench, 31).alarms) == 2
    bench.live.heard(on_screen.key, NOW + 31 * MIN)
    left = at(bench, 31).alarms
    assert [alarm.key.partition("|")[0] for alarm in left] == ["k"]


def test_once_the_coat_is_on_no_film_is_offered_to_measure(bench: Workbench) -> None:
    """A wet film is kept for the coat going on: there is none any more."""
    mix(bench, NOW)
    tap(bench, 35, "start")
    assert "film" in at(bench, 36).taps
    tap(bench, 60, "finish")
    assert at(bench, 61).taps == ("batch used up", "batch discarded", "reading")
