"""Slips at the bench: the wrong coat, readings of different minutes, spots exchanged, tins."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.planning.verdict import Verdict
from advisor.ui.main_window import MainWindow
from advisor.ui.panes.at_the_work import EXCHANGED
from advisor.work.views import BeforeMixing, Reading
from advisor.work.workbench import Workbench

from .conftest import NOW_S, Clock, Settle


def test_coat_is_on_keeps_the_coat_it_was_opened_for(
    window: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    page = window.before_mixing
    qtbot.mouseClick(page.on, Qt.MouseButton.LeftButton)
    page._choose("starboard-gloss-2")
    settle(window)
    qtbot.keyClick(page.coat_on.last, Qt.Key.Key_Return)
    settle(window)
    job = window.desk.bench.job()
    assert job is not None
    assert job.coat("port-gloss-2").laid is not None
    assert job.coat("starboard-gloss-2").laid is None


def kept_readings(monkeypatch: pytest.MonkeyPatch) -> list[Reading]:
    kept: list[Reading] = []
    type_reading = Workbench.type_reading

    def note(self: Workbench, reading: Reading, *more: float, **said: str) -> None:
        kept.append(reading)
        type_reading(self, reading, *more, **said)

    monkeypatch.setattr(Workbench, "type_reading", note)
    return kept


def test_every_reading_is_kept_at_its_own_time(
    window: MainWindow, clock: Clock, settle: Settle, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, work = kept_readings(monkeypatch), window.before_mixing.work
    clock.now_s += 300
    work.boxes["air_temp_c"].field.setText("14.0")
    clock.now_s += 600  # not of one round of the instruments any more
    work.boxes["rh_pct"].field.setText("61")
    work.boxes["surface_temp_c"].field.setText("12.1")
    window.before_mixing.record.click()
    settle(window)
    assert kept == [
        Reading(NOW_S + 300, air_temp_c=14.0),
        Reading(NOW_S + 900, rh_pct=61.0, surface_temp_c=12.1),
    ]


def test_a_value_kept_before_is_not_kept_again_as_typed(
    window: MainWindow, clock: Clock, settle: Settle
) -> None:
    bench = window.desk.bench
    before = bench.latest_values(NOW_S)["surface_hot_c"]
    clock.now_s += 300
    window.before_mixing.work.boxes["air_temp_c"].field.setText("14.0")
    window.before_mixing.record.click()
    settle(window)
    after = bench.latest_values(clock.now_s)
    assert after["air_temp_c"].time_s == int(clock.now_s)
    assert after["surface_hot_c"] == before


def test_an_emptied_box_is_nothing_to_keep(
    window: MainWindow, settle: Settle, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = kept_readings(monkeypatch)
    window.before_mixing.work.boxes["surface_hot_c"].field.setText("")
    window.before_mixing.record.click()
    settle(window)
    assert kept == []
    assert window.desk.messages.text.startswith("Nothing new to keep")


def test_hottest_under_coldest_is_refused_in_the_box(window: MainWindow, settle: Settle) -> None:
    page = window.before_mixing
    hot, cold = page.work.boxes["surface_hot_c"], page.work.boxes["surface_temp_c"]
    hot.field.setText("11.0")
    settle(window)
    assert hot.problem.text() == EXCHANGED
    assert page.answer.mark.kind == "unknown"
    page.record.click()
    assert "Hottest spot" in window.desk.messages.text
    cold.field.setText("10.9")
    settle(window)
    assert not hot.wrong
    assert page.answer.mark.kind != "working"


def test_an_older_hottest_spot_tells_nothing_beside_a_warmer_coldest(
    window: MainWindow, clock: Clock, settle: Settle
) -> None:
    clock.now_s += 1800
    window.desk.bench.type_reading(Reading(clock.now_s, 18.0, 50.0, 16.0))
    window.reload()
    settle(window)
    hot = window.before_mixing.work.boxes["surface_hot_c"]
    assert hot.value is None
    assert not hot.wrong


def test_tins_set_the_setting_and_ask_again(
    window: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    page, settings = window.before_mixing, window.desk.bench.settings
    tins = page.work.tins
    assert tins.field.placeholderText() == "20 °C or shop air"
    qtbot.mouseClick(tins.field, Qt.MouseButton.LeftButton)
    assert page.pad.field is tins.field
    for key in "17":
        page.pad._press(key)
    assert page.answer.mark.kind == "working"
    page.pad.put_away()
    settle(window)
    assert tins.field.text() == "17.0"
    assert settings.text("mix_temp_c") == "17"
    assert page.answer.mark.kind != "working"
    qtbot.mouseClick(tins.empty, Qt.MouseButton.LeftButton)
    settle(window)
    assert settings.text("mix_temp_c") == ""
    assert tins.empty.isHidden()


def test_tins_in_fahrenheit(window: MainWindow, settle: Settle) -> None:
    tins = window.before_mixing.work.tins
    window.switch_units()
    assert tins.field.placeholderText() == "68 °F or shop air"
    tins.field.setText("50")
    settle(window)
    assert window.desk.bench.settings.text("mix_temp_c") == "10"
    window.switch_units()
    assert tins.field.text() == "10.0"


def test_nonsense_in_the_tins_keeps_the_old_setting_and_cannot_be_judged(
    window: MainWindow, settle: Settle
) -> None:
    page = window.before_mixing
    page.work.tins.field.setText("18")
    settle(window)
    page.work.tins.field.setText("180")
    settle(window)
    assert page.work.tins.problem.text() == "found 180; accepted: -40 to 60 °C"
    assert page.answer.mark.kind == "unknown"
    assert window.desk.bench.settings.text("mix_temp_c") == "18"


def test_the_column_fits_without_scrolling(window: MainWindow) -> None:
    window.resize(1280, 800)
    QApplication.processEvents()
    work = window.before_mixing.work
    work.tins.field.setText("18")
    QApplication.processEvents()
    viewport = work.parentWidget().parentWidget()
    bottom = work.note.mapTo(viewport, work.note.rect().bottomLeft()).y()
    assert bottom <= viewport.height()


@pytest.mark.parametrize(
    ("verdict", "sand"),
    [(Verdict.WAIT, False), (Verdict.WAIT, True), (Verdict.UNKNOWN, False)],
)
def test_next_start_is_shown_large(window: MainWindow, verdict: Verdict, sand: bool) -> None:
    answer = window.before_mixing.answer
    asked = window.desk.bench.before_mixing("port-gloss-2", NOW_S)
    told = replace(
        asked, verdict=verdict, sand_first=sand, latest_start_s=None, next_start_s=NOW_S + 86400
    )
    answer.show_answer(told)
    assert answer.latest_title.text() == "Next start"
    assert answer.latest.text() == "Thu 09:10"
    answer.show_answer(asked)
    assert answer.latest_title.text() == "Latest start"


def test_no_next_start_known(window: MainWindow) -> None:
    answer: BeforeMixing = window.desk.bench.before_mixing("port-gloss-2", NOW_S)
    page = window.before_mixing.answer
    page.show_answer(replace(answer, verdict=Verdict.WAIT, latest_start_s=None, next_start_s=None))
    assert page.latest_title.text() == "Latest start"
    assert page.latest.text() == "not now"
