"""What waits at the bench for a name: all of it is kept, as it was when it was pressed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication

from advisor.base.errors import InputError
from advisor.work.views import Reading
from advisor.work.workbench import Workbench

from . import live_bench as lb
from .bench_window import Shown, shown
from .conftest import NOW_S, Clock
from .test_window import cut_texts

OTHER = replace(lb.BATCH, number=14, coat_id="port-gloss-1")
ELSEWHERE = replace(
    lb.GOING, batches=(OTHER,), work=replace(lb.WORK, coat_id="port-gloss-1", patches=())
)


@pytest.fixture
def nameless(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    at_bench = shown(request, monkeypatch, bench)
    bench.settings.set("person", "")
    at_bench.pane.refresh()
    at_bench.see(lb.GOING)
    return at_bench


def give(shown: Shown, name: str = "B. Hand") -> None:
    shown.pane.who.given.emit(name)
    shown.settle(shown.window)


def test_two_taps_before_the_name_are_both_kept(nameless: Shown, clock: Clock) -> None:
    nameless.pane.taps.tapped.emit("patch", 0)
    clock.now_s += 60
    nameless.pane.taps.tapped.emit("finish", 0)
    clock.now_s += 60
    give(nameless)
    assert nameless.live.asked == [
        ("patch", NOW_S, "", lb.COAT, 12), ("finish", NOW_S + 60, "", lb.COAT, 12)
    ]  # fmt: skip


def test_the_same_tap_again_waits_once_and_says_so(nameless: Shown, clock: Clock) -> None:
    nameless.pane.taps.tapped.emit("finish", 0)
    clock.now_s += 60
    nameless.pane.taps.tapped.emit("finish", 0)
    assert "waits already" in nameless.window.desk.messages.text
    give(nameless)
    assert [call[:2] for call in nameless.live.asked] == [("finish", NOW_S)]


def test_a_tap_is_of_the_coat_and_the_patch_it_was_pressed_for(nameless: Shown) -> None:
    nameless.pane.beside.patch.setText("sheer")
    nameless.pane.taps.tapped.emit("patch", 0)
    nameless.pane.beside.patch.setText("stem")
    nameless.see(ELSEWHERE)
    give(nameless)
    assert nameless.live.asked == [("patch", NOW_S, "sheer", lb.COAT, 12)]


def test_film_keeps_the_moment_it_was_given(nameless: Shown, clock: Clock) -> None:
    nameless.pane.beside.film.field.setText("110")
    nameless.pane.beside.film.keep()
    clock.now_s += 300
    give(nameless)
    assert nameless.live.asked == [("film", lb.COAT, ("110",), NOW_S)]


def test_a_reading_typed_while_the_name_is_asked_for_is_kept_too(
    nameless: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[Reading] = []
    monkeypatch.setattr(
        type(nameless.window.desk.bench),
        "type_reading",
        lambda _, reading, now_s, area_id: kept.append(reading),
    )
    boxes = nameless.pane.work.boxes
    boxes["air_temp_c"].field.setText("13.5")
    nameless.pane.taps.tapped.emit("reading", 0)
    boxes["rh_pct"].field.setText("61")
    give(nameless)
    assert [(one.air_temp_c, one.rh_pct) for one in kept] == [(13.5, 61.0)]


@pytest.mark.parametrize("key", ["before_mixing", "batch"])
def test_a_reading_typed_while_another_is_being_kept_is_not_taken_for_kept(
    nameless: Shown, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    desk = nameless.window.desk
    desk.bench.settings.set("person", "B. Hand")
    pane = nameless.pane if key == "batch" else nameless.window.before_mixing
    boxes = pane.work.boxes

    monkeypatch.setattr(type(desk.bench), "type_reading", lambda *_: None)
    nameless.window.open_pane(key)
    nameless.settle(nameless.window)
    boxes["air_temp_c"].field.setText("13.5")
    pane._record()
    boxes["rh_pct"].field.setText("61")
    nameless.settle(nameless.window)
    assert not boxes["air_temp_c"].edited
    assert boxes["rh_pct"].edited
    assert boxes["rh_pct"].value == 61.0


def test_what_waits_is_not_kept_in_another_job(nameless: Shown) -> None:
    nameless.pane.taps.tapped.emit("finish", 0)
    bench = nameless.window.desk.bench
    job = bench.job()
    assert job is not None
    bench.save_job(replace(job, id="another"))
    give(nameless)
    assert nameless.live.asked == []
    assert "another job" in nameless.window.desk.messages.text


@pytest.mark.parametrize("event", ["dried", "sanded"])
def test_before_mixing_what_was_done_waits_for_a_name_too(
    nameless: Shown, clock: Clock, event: str
) -> None:
    page, bench = nameless.window.before_mixing, nameless.window.desk.bench
    nameless.window.open_pane("before_mixing")
    nameless.settle(nameless.window)
    held = bench.record.head().entries
    getattr(page, event).clicked.emit()
    nameless.settle(nameless.window)
    assert bench.record.head().entries == held
    done = f"Port side {event} and wiped: kept once you say who is writing."
    assert nameless.window.desk.messages.text == done
    assert page.who.line.hasFocus()
    clock.now_s += 300
    page.who.given.emit("B. Hand")
    nameless.settle(nameless.window)
    last = bench.record.entry(bench.record.head().entries)
    assert last is not None
    assert (last.by, last.at_s, last.written_s) == ("B. Hand", NOW_S, NOW_S + 300)


def test_a_name_that_cannot_be_kept_leaves_all_waiting(
    nameless: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    nameless.pane.taps.tapped.emit("finish", 0)
    settings = nameless.window.desk.bench.settings

    def full(key: str, value: object) -> None:
        raise InputError("disk is full")

    with monkeypatch.context() as patched:
        patched.setattr(settings, "set", full)
        give(nameless)
    assert "disk is full" in nameless.window.desk.messages.text
    assert nameless.live.asked == []
    assert nameless.pane.who.asking
    give(nameless)
    assert [call[:2] for call in nameless.live.asked] == [("finish", NOW_S)]


@pytest.mark.parametrize("size", [(1280, 800), (640, 800)])
def test_asking_before_mixing_cuts_no_words(nameless: Shown, size: tuple[int, int]) -> None:
    window, page = nameless.window, nameless.window.before_mixing
    window.resize(*size)
    window.open_pane("before_mixing")
    nameless.settle(window)
    page.dried.click()
    for _ in range(5):
        QApplication.processEvents()
    assert cut_texts(window) == []
    assert page.who.line.width() >= 120
