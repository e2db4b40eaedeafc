"""The one way to work in the background."""

from __future__ import annotations

import gc
import threading
import weakref

from pytestqt.qtbot import QtBot

from advisor.base.errors import InputError
from advisor.ui.operations import Failure, Operations


def test_result_arrives_on_the_main_thread(qtbot: QtBot) -> None:
    found: list[tuple[int, int]] = []
    operations = Operations(lambda failure: None)
    main = threading.get_ident()
    operations.run("k", threading.get_ident, lambda who: found.append((who, threading.get_ident())))
    qtbot.waitUntil(lambda: len(found) == 1)
    worker, receiver = found[0]
    assert worker != main
    assert receiver == main
    operations.close()


def test_a_newer_task_makes_the_older_void(qtbot: QtBot) -> None:
    gate = threading.Event()
    found: list[str] = []
    operations = Operations(lambda failure: None)
    operations.run("verdict", lambda: gate.wait(10) and "old", found.append)
    operations.run("verdict", lambda: "new", found.append)
    gate.set()
    qtbot.waitUntil(operations.idle)
    assert found == ["new"]
    operations.close()


def test_cancelled_answers_are_dropped(qtbot: QtBot) -> None:
    gate = threading.Event()
    found: list[str] = []
    operations = Operations(lambda failure: None)
    operations.run("verdict", lambda: gate.wait(10) and "old", found.append)
    operations.cancel("verdict")
    operations.run("other", lambda: "x", found.append)
    gate.set()
    qtbot.waitUntil(operations.idle)
    assert found == ["x"]
    operations.close()


def test_every_write_is_done_even_when_closing() -> None:
    done: list[int] = []
    operations = Operations(lambda failure: None)
    for k in range(5):
        operations.write(lambda k=k: done.append(k), lambda _: None)
    operations.close()
    assert done == [0, 1, 2, 3, 4]


def test_failures_come_through_the_door(qtbot: QtBot) -> None:
    told: list[Failure] = []
    operations = Operations(told.append)

    def bad_input() -> None:
        raise InputError("rh_pct: found 140; accepted: 0 to 100")

    def bug() -> None:
        raise KeyError("x")

    operations.run("a", bad_input, lambda _: None)
    operations.run("b", bug, lambda _: None)
    qtbot.waitUntil(lambda: len(told) == 2)
    assert told[0] == Failure("rh_pct: found 140; accepted: 0 to 100")
    assert "inside the program" in told[1].text
    assert "KeyError" in told[1].details
    operations.close()


def test_cycles_are_not_collected_by_the_worker(qtbot: QtBot) -> None:
    """A window in a cycle, taken apart off the main thread, crashes Qt."""
    found: list[bool] = []
    one, other = Operations(lambda failure: None), Operations(lambda failure: None)
    gate = threading.Event()
    one.run("k", lambda: gate.wait(10) and gc.isenabled(), found.append)
    other.run("k", gc.isenabled, found.append)
    qtbot.waitUntil(other.idle)
    assert not gc.isenabled()  # the first worker still runs
    gate.set()
    qtbot.waitUntil(one.idle)
    assert found == [False, False]
    assert gc.isenabled()
    one.run("k", lambda: None, found.append)
    one.close()
    other.close()
    assert gc.isenabled()


def test_the_worker_holds_no_window(qtbot: QtBot) -> None:
    """What is done with an answer stays on the main thread, and goes when it is closed."""
    gate = threading.Event()
    operations = Operations(lambda failure: None)
    found: list[object] = []
    window = Window(found)
    told = weakref.ref(window)
    operations.run("k", gate.wait, window.show)
    del window
    operations.cancel("k")
    gate.set()
    qtbot.waitUntil(lambda: told() is None)
    assert found == []
    operations.close()


class Window:
    """Stands for a dialog an answer is shown in."""

    def __init__(self, found: list[object]) -> None:
        self._found = found

    def show(self, answer: object) -> None:
        self._found.append(answer)
