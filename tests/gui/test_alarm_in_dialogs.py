"""An alarm while a dialog is open: shown in it, and put away from it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from advisor.ui.alarm_bar import AlarmBar
from advisor.ui.dialogs.job_dialog import JobDialog
from advisor.work.workbench import Workbench

from . import live_bench as lb
from .bench_window import Shown, shown
from .test_window import cut_texts

DUE = replace(lb.GOING, alarms=(lb.DEAD, lb.READY))


@pytest.fixture
def at_bench(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    return shown(request, monkeypatch, bench)


def bar_in(dialog: QWidget) -> AlarmBar:
    (bar,) = dialog.findChildren(AlarmBar)
    return bar


def job_dialog(at_bench: Shown) -> QDialog:
    at_bench.window.set_up_job()
    (dialog,) = at_bench.window.findChildren(JobDialog)
    assert QApplication.activeModalWidget() is dialog
    return dialog


def press(bar: AlarmBar, qtbot: QtBot) -> None:
    """Press as a hand would: the event goes to the window, and nowhere if that is blocked."""
    window = bar.window().windowHandle()
    place = bar.heard.mapTo(bar.window(), bar.heard.rect().center())
    qtbot.mouseClick(window, Qt.MouseButton.LeftButton, pos=place)


def test_the_bar_over_the_panes_is_out_of_reach_under_a_dialog(
    at_bench: Shown, qtbot: QtBot
) -> None:
    """Why the dialog needs one."""
    at_bench.see(DUE)
    job_dialog(at_bench)
    press(at_bench.window.alarms, qtbot)
    at_bench.settle(at_bench.window)
    assert at_bench.live.asked == []


def test_an_alarm_that_falls_due_under_a_dialog_is_put_away_from_it(
    at_bench: Shown, qtbot: QtBot
) -> None:
    at_bench.see(lb.GOING)
    dialog = job_dialog(at_bench)
    bar = bar_in(dialog)
    assert not bar.isVisible()
    at_bench.see(DUE)
    assert bar.isVisible()
    assert bar.title.text() == lb.DEAD.title
    assert bar.mapTo(dialog, QPoint(0, 0)) == QPoint(0, 0)
    assert bar.width() == dialog.width()
    assert min(bar.heard.width(), bar.heard.height()) >= 44
    press(bar, qtbot)
    at_bench.settle(at_bench.window)
    assert at_bench.live.asked == [("heard", lb.DEAD.key)]
    assert (bar.title.text(), at_bench.window.alarms.title.text()) == (lb.READY.title,) * 2
    press(bar, qtbot)
    at_bench.settle(at_bench.window)
    assert not bar.isVisible()
    assert dialog.isVisible()


def test_an_alarm_that_was_due_before_stands_in_a_dialog_opened_later(at_bench: Shown) -> None:
    at_bench.see(DUE)
    assert bar_in(job_dialog(at_bench)).isVisible()


def test_a_dialog_over_a_dialog_has_it_too(at_bench: Shown, qtbot: QtBot) -> None:
    """Such as the choice of a file, with Qt's own window for it."""
    at_bench.see(DUE)
    first = job_dialog(at_bench)
    second = QFileDialog(first)
    second.setOption(QFileDialog.Option.DontUseNativeDialog)
    second.open()
    press(bar_in(second), qtbot)
    at_bench.settle(at_bench.window)
    assert at_bench.live.asked == [("heard", lb.DEAD.key)]
    second.close()


def test_a_dialog_opened_twice_has_one_bar(at_bench: Shown) -> None:
    at_bench.see(DUE)
    dialog = QDialog(at_bench.window)
    QVBoxLayout(dialog)
    for _ in range(2):
        dialog.open()
        assert bar_in(dialog).isVisible()
        dialog.close()


def test_it_goes_with_its_dialog(at_bench: Shown, qtbot: QtBot) -> None:
    at_bench.see(DUE)
    job_dialog(at_bench).reject()
    qtbot.waitUntil(lambda: not at_bench.window.findChildren(JobDialog), timeout=5_000)
    at_bench.see(lb.GOING)
    assert at_bench.window.desk.messages.text == ""


def test_the_dialogs_words_keep_their_place(at_bench: Shown) -> None:
    dialog = job_dialog(at_bench)
    at_bench.see(DUE)
    for _ in range(5):
        QApplication.processEvents()
    assert cut_texts(dialog) == []
