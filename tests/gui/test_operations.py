"""The one way to work in the background."""

from __future__ import annotations

import threading

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
