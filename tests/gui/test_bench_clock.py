"""A clock set back or on in the middle of a batch: no alarm is lost, repeated or late."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.ui.bench_clock import BenchClock, running_s
from advisor.work.live_views import LiveBench
from advisor.work.workbench import Workbench

from . import live_bench as lb
from .bench_window import Shown, shown
from .conftest import NOW_S, Clock

HOUR_S = 3600.0


@pytest.fixture
def at_bench(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    return shown(request, monkeypatch, bench)


def made() -> tuple[BenchClock, Clock, Clock]:
    """A clock of the window, the computer's behind it, and what passes."""
    wall, running = Clock(), Clock()
    return BenchClock(wall, running), wall, running


def test_it_is_the_computers_while_nothing_is_held() -> None:
    clock, wall, _ = made()
    wall.now_s -= HOUR_S
    assert (clock.now_s(), clock.back_s) == (NOW_S - HOUR_S, 0.0)


@pytest.mark.parametrize("back_s", [2.0, HOUR_S, 30 * 86400.0])
def test_set_back_while_held_it_goes_on(back_s: float) -> None:
    clock, wall, running = made()
    clock.hold(True)
    wall.now_s += 60
    running.now_s += 60
    assert clock.now_s() == NOW_S + 60
    wall.now_s += 30 - back_s
    running.now_s += 30
    assert clock.now_s() == NOW_S + 90
    assert clock.back_s == back_s
    clock.hold(False)
    assert clock.now_s() == NOW_S + 90 - back_s


def test_set_back_and_right_again_it_is_the_computers() -> None:
    clock, wall, running = made()
    clock.hold(True)
    for step_s in (-HOUR_S, HOUR_S):
        wall.now_s += step_s + 10
        running.now_s += 10
        clock.now_s()
    assert (clock.now_s(), clock.back_s) == (NOW_S + 20, 0.0)


@pytest.mark.parametrize("on_s", [HOUR_S, 5 * HOUR_S])
def test_set_on_or_woken_it_follows(on_s: float) -> None:
    """What passed in a sleep is not always told; then an alarm is early, never late."""
    clock, wall, _ = made()
    clock.hold(True)
    wall.now_s += on_s
    assert (clock.now_s(), clock.back_s) == (NOW_S + on_s, 0.0)


def test_a_clock_that_is_trimmed_is_followed() -> None:
    """A network's clock trims by up to half a thousandth."""
    clock, wall, running = made()
    clock.hold(True)
    for _ in range(3600):
        wall.now_s += 10 * (1 - 0.0005)
        running.now_s += 10
        assert clock.now_s() == wall.now_s


def test_what_passes_never_runs_backwards() -> None:
    assert running_s() <= running_s()


def test_an_alarm_stays_due_when_the_clock_is_set_back(
    at_bench: Shown, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[float] = []
    view = at_bench.live.view

    def at(now_s: float) -> LiveBench:
        asked.append(now_s)
        return view(now_s)

    monkeypatch.setattr(at_bench.live, "view", at)
    at_bench.see(replace(lb.GOING, alarms=(lb.DEAD,)))
    clock.now_s -= HOUR_S
    at_bench.window.desk.watch.look()
    at_bench.settle(at_bench.window)
    assert asked[-1] >= NOW_S
    assert "set back by 1 h" in at_bench.window.desk.messages.text
    at_bench.window.desk.messages.hide()
    at_bench.window.desk.watch.look()
    at_bench.settle(at_bench.window)
    assert at_bench.window.desk.messages.text == ""
    at_bench.see(lb.EMPTY)
    assert at_bench.window.desk.now_s() == NOW_S - HOUR_S
