"""Alarms over every pane: seen, heard, answered; after a sleep what is due comes first."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.base.errors import StoreError
from advisor.ui.alarm_bar import CHANGE_MS, URGENT_MS
from advisor.ui.app import build
from advisor.ui.bench_watch import AFTER_MS, ASK_MS, SLEPT_S
from advisor.ui.header import PANES
from advisor.ui.theme import PALETTES, contrast
from advisor.work.live_views import LiveBench
from advisor.work.workbench import Workbench

from . import live_bench as lb
from .bench_window import Shown, shown
from .conftest import NOW_S, Clock

DUE = replace(lb.GOING, alarms=(lb.DEAD, lb.READY))


@pytest.fixture
def at_bench(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    return shown(request, monkeypatch, bench)


def test_an_alarm_stands_over_every_pane(at_bench: Shown) -> None:
    at_bench.see(DUE)
    bar = at_bench.window.alarms
    for key, _ in PANES:
        if key in ("readings", "record"):
            continue  # made when opened; the bar is over the stack they stand in
        at_bench.window.open_pane(key)
        at_bench.settle(at_bench.window)
        assert bar.isVisible(), key
        assert bar.title.text() == lb.DEAD.title


@pytest.mark.parametrize("scale_pct", [75, 100, 150, 300])
def test_it_is_read_across_a_shed(at_bench: Shown, scale_pct: int) -> None:
    """40 px and more: capitals of 8 mm are read at 3 m, a 400th (common practice for signs)."""
    at_bench.window.desk.look.set_scale(scale_pct)
    at_bench.see(DUE)
    assert at_bench.window.alarms.title.fontInfo().pixelSize() >= 40
    assert at_bench.window.alarms.heard.height() >= 44


@pytest.mark.parametrize("palette", PALETTES, ids=lambda p: p.name)
def test_its_words_stand_out(palette: object) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text."""
    look = vars(palette)
    for ground in ("dew", "sand"):
        assert contrast(look["card"], look[ground]) >= 4.5
    assert contrast(look["card"], look["wait"]) >= 4.5  # the words of a big "stop"


@pytest.mark.parametrize("every_ms", [CHANGE_MS, URGENT_MS])
def test_it_flashes_at_most_twice_a_second(every_ms: int) -> None:
    """WCAG 2.3.1: no more than three flashes in a second; a flash is two changes."""
    assert 1000 / (2 * every_ms) <= 2


def test_the_shape_changes_while_it_can_be_seen(at_bench: Shown, qtbot: QtBot) -> None:
    at_bench.see(DUE)
    bar = at_bench.window.alarms
    before = bar.shape.filled
    qtbot.waitUntil(lambda: bar.shape.filled != before, timeout=5_000)
    at_bench.window.showMinimized()
    QApplication.processEvents()
    assert not bar.flash.ticking
    at_bench.window.showNormal()
    QApplication.processEvents()
    assert bar.flash.ticking
    at_bench.see(lb.GOING)
    assert not bar.flash.ticking


def test_heard_puts_away_one_and_shows_the_next(at_bench: Shown, qtbot: QtBot) -> None:
    at_bench.see(DUE)
    bar = at_bench.window.alarms
    assert "Then: Batch 13 has stood long enough." in bar.words.text()
    assert bar.property("urgent") is True
    qtbot.mouseClick(bar.heard, Qt.MouseButton.LeftButton)
    at_bench.settle(at_bench.window)
    assert at_bench.live.asked == [("heard", lb.DEAD.key)]
    assert bar.title.text() == lb.READY.title
    assert bar.property("urgent") is False
    assert bar.heard.isEnabled()
    qtbot.mouseClick(bar.heard, Qt.MouseButton.LeftButton)
    at_bench.settle(at_bench.window)
    assert bar.isHidden()


def test_an_alarm_that_cannot_be_put_away_can_be_tried_again(at_bench: Shown) -> None:
    at_bench.see(DUE)
    at_bench.live.refuses = "the disk is full"
    at_bench.window.alarms.heard.click()
    at_bench.settle(at_bench.window)
    assert "the disk is full" in at_bench.window.desk.messages.text
    assert at_bench.window.alarms.isVisible()
    assert at_bench.window.alarms.heard.isEnabled()


def test_how_long_overdue(at_bench: Shown, clock: Clock) -> None:
    at_bench.see(DUE)
    bar = at_bench.window.alarms
    assert bar.late.text() == "3 min overdue"
    at_bench.see(replace(DUE, alarms=(replace(lb.READY, due_s=NOW_S - 59),)))
    assert bar.late.isHidden()


def test_after_a_sleep_what_is_overdue_comes_first(at_bench: Shown, clock: Clock) -> None:
    at_bench.see(lb.GOING)
    watch = at_bench.window.desk.watch
    at_bench.live.shown = replace(lb.GOING, alarms=(replace(lb.DEAD, due_s=NOW_S + 600),))
    clock.now_s += 4_200
    watch.look()
    at_bench.settle(at_bench.window)
    bar = at_bench.window.alarms
    assert bar.isVisible()
    assert at_bench.window.header.clock.text() == "Wed 10:20"
    assert bar.late.text() == "1 h overdue; this computer slept 1 h 10 min"
    at_bench.see(lb.GOING)
    assert watch.slept_s == 0.0


@pytest.mark.parametrize("step_s", [SLEPT_S + 1, -3_600.0])
def test_a_jump_of_the_clock_asks_at_once(at_bench: Shown, clock: Clock, step_s: float) -> None:
    at_bench.see(lb.GOING)
    views = at_bench.live.views
    at_bench.window.desk.watch.look()
    at_bench.settle(at_bench.window)
    assert at_bench.live.views == views
    clock.now_s += step_s
    at_bench.window.desk.watch.look()
    at_bench.settle(at_bench.window)
    assert at_bench.live.views == views + 1


def test_it_is_there_to_the_second(at_bench: Shown, qtbot: QtBot, clock: Clock) -> None:
    """The timer of the next alarm asks the bench just after it fell due."""
    soon = replace(lb.READY, due_s=NOW_S + 0.1)
    at_bench.see(replace(lb.GOING, coming=(soon, *lb.COMING)))
    views = at_bench.live.views
    clock.now_s += 0.2
    at_bench.live.shown = replace(lb.GOING, alarms=(soon,))
    qtbot.waitUntil(at_bench.window.alarms.isVisible, timeout=5_000)
    assert at_bench.live.views > views


def test_far_alarms_wait_for_the_half_minute(at_bench: Shown) -> None:
    watch = at_bench.window.desk.watch
    at_bench.see(lb.GOING)
    assert not watch._due.isActive()
    near = replace(lb.READY, due_s=NOW_S + ASK_MS / 1000 - 1)
    at_bench.see(replace(lb.GOING, coming=(near,)))
    assert watch._due.isActive()
    assert watch._due.interval() == ASK_MS - 1000 + AFTER_MS


def test_sound_goes_on_until_heard(at_bench: Shown) -> None:
    sound = at_bench.window.desk.watch.sound
    at_bench.see(lb.GOING)
    assert sound.kind == ""
    at_bench.see(DUE)
    assert sound.kind == "urgent"
    at_bench.window.alarms.heard.click()
    at_bench.settle(at_bench.window)
    assert sound.kind == "usual"
    at_bench.window.alarms.heard.click()
    at_bench.settle(at_bench.window)
    assert sound.kind == ""


def test_sound_can_be_switched_off(at_bench: Shown) -> None:
    at_bench.window.desk.bench.settings.set("alarm_sound", False)
    at_bench.see(DUE)
    assert at_bench.window.desk.watch.sound.kind == ""
    assert at_bench.window.alarms.isVisible()


def test_sleep_is_held_off_while_a_batch_is_open(at_bench: Shown) -> None:
    awake = at_bench.window.desk.watch.awake
    assert not awake.on
    at_bench.see(lb.GOING)
    assert awake.on
    at_bench.see(lb.EMPTY)
    assert not awake.on


def test_sleep_is_held_off_for_a_batch_of_another_job(at_bench: Shown) -> None:
    awake = at_bench.window.desk.watch.awake
    at_bench.see(replace(lb.EMPTY, coming=(replace(lb.READY, of_batch=True),)))
    assert awake.on
    at_bench.see(replace(lb.EMPTY, coming=(replace(lb.READY),)))  # a reading due can wait
    assert not awake.on


def test_an_alarm_is_there_when_the_program_starts_again(
    at_bench: Shown, bench: Workbench, clock: Clock
) -> None:
    at_bench.see(DUE)
    at_bench.window.close()
    clock.now_s += 7_200
    again = build(bench, clock)
    again.show()
    again.start()
    at_bench.settle(again)
    assert again.alarms.isVisible()
    assert again.alarms.late.text() == "2 h 3 min overdue"
    again.close()


def test_a_bench_that_cannot_be_read_is_told_once(
    at_bench: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(now_s: float) -> LiveBench:
        raise StoreError("the database cannot be read: check the disk")

    messages, watch = at_bench.window.desk.messages, at_bench.window.desk.watch
    at_bench.see(DUE)
    monkeypatch.setattr(at_bench.live, "view", broken)
    watch.ask()
    at_bench.settle(at_bench.window)
    assert "cannot be read" in messages.text
    assert at_bench.window.alarms.isVisible()  # what was due stays due
    messages.hide()
    watch.ask()
    at_bench.settle(at_bench.window)
    assert messages.text == ""


def test_no_job_no_watch(at_bench: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    at_bench.see(DUE)
    monkeypatch.setattr(type(at_bench.window.desk.bench), "job", lambda self: None)
    at_bench.window.desk.watch.ask()
    assert at_bench.window.alarms.isHidden()
