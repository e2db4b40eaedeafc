"""What a painter does at the bench, and what the page answers."""

from __future__ import annotations

from itertools import pairwise

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from advisor.planning.verdict import Verdict
from advisor.ui.main_window import MainWindow
from advisor.ui.widgets.verdict_mark import kind_of

from .conftest import NOW_S, Clock, Settle


@pytest.mark.all_courses
def test_demo_opens_on_a_verdict(window: MainWindow) -> None:
    answer = window.before_mixing.answer
    asked = window.desk.bench.before_mixing("port-gloss-2", NOW_S)
    assert answer.mark.kind == kind_of(asked.verdict, asked.sand_first)
    assert answer.word.text() == "Go"
    assert answer.latest.text() not in ("", "…", "–")
    assert window.before_mixing.mix.batch.text().startswith("One batch")


def test_times_are_told_from_the_moment_they_are_reckoned_from(
    window: MainWindow, clock: Clock, settle: Settle
) -> None:
    """Nine minutes past the hour: the grid's point is five past."""
    clock.now_s += -NOW_S % 3600 + 9 * 60
    window.tick()
    settle(window)
    mix, words = window.before_mixing.mix, window.desk.words()
    five_past = words.moment(clock.now_s - 4 * 60)
    assert mix.title.text() == f"If you mix now: from {five_past}"
    times = [label.text() for label in mix.ladder.findChildren(QLabel)]
    assert times[:2] == [five_past, "mix"]
    dead = next(at for at, name in pairwise(times) if name == "batch past use")
    assert f"past use at {dead}" in mix.lines.text()


def test_one_colder_reading_changes_verdict_and_picture(window: MainWindow, settle: Settle) -> None:
    page = window.before_mixing
    before = page.answer.grab().toImage()
    page.work.boxes["surface_temp_c"].field.setText("7.0")
    settle(window)
    # 7 °C is less than the demo gloss's 10 °C and under the dew point's 3 K.
    assert page.answer.mark.kind == "wait"
    assert page.answer.word.text() == "Wait"
    assert page.answer.grab().toImage() != before


def test_a_change_shows_no_remembered_go(window: MainWindow) -> None:
    page = window.before_mixing
    assert page.answer.mark.kind == "go"
    page.work.boxes["rh_pct"].step(1)
    assert page.answer.mark.kind == "working"
    assert page.answer.latest.text() == "…"


def test_no_reading_is_never_go(window: MainWindow, settle: Settle) -> None:
    page = window.before_mixing
    page.work.boxes["surface_temp_c"].field.setText("")
    settle(window)
    assert page.answer.mark.kind == "unknown"
    assert "coldest spot" in page.answer.headline.text().lower()
    assert page.answer.turn.text().startswith("What to do")


def test_nonsense_is_told_in_the_box_and_cannot_be_judged(
    window: MainWindow, settle: Settle
) -> None:
    page = window.before_mixing
    box = page.work.boxes["rh_pct"]
    box.field.setText("140")
    settle(window)
    assert box.problem.text() == "found 140; accepted: 1 to 100 %"
    assert page.answer.mark.kind == "unknown"
    assert "accepted: 1 to 100" in page.answer.turn.text()
    box.field.setText("66")
    settle(window)
    assert not box.wrong
    assert page.answer.mark.kind == "go"


def test_stale_readings_turn_the_rings_and_the_verdict(
    window: MainWindow, clock: Clock, settle: Settle
) -> None:
    page = window.before_mixing
    assert not page.work.boxes["air_temp_c"].stale
    clock.now_s += 61 * 60
    window.tick()
    settle(window)
    assert page.work.boxes["air_temp_c"].stale
    assert "too old" in page.work.boxes["air_temp_c"].age.text()
    assert page.answer.mark.kind == "unknown"


def test_enter_confirms_an_unchanged_number(
    window: MainWindow, clock: Clock, settle: Settle, qtbot: QtBot
) -> None:
    page = window.before_mixing
    clock.now_s += 61 * 60
    for box in page.work.boxes.values():
        qtbot.keyClick(box.field, Qt.Key.Key_Return)
    settle(window)
    assert not any(box.stale for box in page.work.boxes.values())
    assert page.answer.mark.kind != "unknown"


def test_oldest_reading_counts(window: MainWindow, clock: Clock) -> None:
    work = window.before_mixing.work
    old_s = work.boxes["air_temp_c"].taken_s
    clock.now_s += 600
    work.boxes["surface_temp_c"].field.setText("11.8")
    reading = work.reading()
    assert reading is not None
    assert reading.taken_s == old_s


def test_recorded_readings_are_kept(
    window: MainWindow, clock: Clock, settle: Settle, qtbot: QtBot
) -> None:
    page = window.before_mixing
    window.desk.bench.settings.set("person", "A. Painter")
    clock.now_s += 60
    for name, typed in (("air_temp_c", "14.5"), ("rh_pct", "61"), ("surface_temp_c", "12.5")):
        page.work.boxes[name].field.setText(typed)
    page.work.boxes["surface_hot_c"].field.setText("12.9")
    qtbot.mouseClick(page.record, Qt.MouseButton.LeftButton)
    settle(window)
    kept = window.desk.bench.latest_reading(clock.now_s)
    assert kept is not None
    assert (kept.air_temp_c, kept.rh_pct, kept.surface_temp_c) == (14.5, 61.0, 12.5)
    assert kept.taken_s == clock.now_s
    assert window.desk.messages.text == "Readings kept."


def test_units_switch_live_and_back_without_moving_a_value(
    window: MainWindow, settle: Settle
) -> None:
    box = window.before_mixing.work.boxes["air_temp_c"]
    value, shown = box.value, box.field.text()
    assert value is not None
    window.switch_units()
    settle(window)
    assert float(box.field.text()) == pytest.approx(value * 1.8 + 32, abs=0.05)  # one decimal
    assert "°F" in window.before_mixing.work.dew.text()
    assert "F°" in window.before_mixing.work.above.text()
    window.switch_units()
    settle(window)
    assert box.value == value
    assert box.field.text() == shown


def test_typed_fahrenheit_becomes_celsius(window: MainWindow) -> None:
    box = window.before_mixing.work.boxes["air_temp_c"]
    window.switch_units()
    box.field.setText("50")
    assert box.value == pytest.approx(10.0, abs=1e-12)  # exact conversion, rounding of floats


def test_escape_never_loses_a_reading(window: MainWindow, qtbot: QtBot) -> None:
    page = window.before_mixing
    box = page.work.boxes["surface_temp_c"]
    page.pad.open_for(box.field, box)
    box.field.selectAll()
    qtbot.keyClicks(box.field, "9.4")
    qtbot.keyClick(box.field, Qt.Key.Key_Escape)
    assert box.value == 9.4
    assert box.field.text() == "9.4"
    assert page.pad.isHidden()


def test_number_pad_writes_into_the_field(window: MainWindow, qtbot: QtBot) -> None:
    page = window.before_mixing
    box = page.work.boxes["rh_pct"]
    qtbot.mouseClick(box.field, Qt.MouseButton.LeftButton)
    assert page.pad.isVisible()
    assert page.pad.field is box.field
    for key in "71":
        page.pad._press(key)
    page.pad.put_away()
    assert box.value == 71.0


def test_arrows_step_a_reading(window: MainWindow, qtbot: QtBot) -> None:
    box = window.before_mixing.work.boxes["air_temp_c"]
    was = float(box.field.text())
    qtbot.keyClick(box.field, Qt.Key.Key_Up)
    assert float(box.field.text()) == pytest.approx(was + 0.1, abs=1e-9)
    qtbot.keyClick(box.field, Qt.Key.Key_PageDown)
    assert float(box.field.text()) == pytest.approx(was - 0.9, abs=1e-9)


def test_coat_on_is_kept_and_shown_tonight(
    window: MainWindow, settle: Settle, qtbot: QtBot
) -> None:
    page = window.before_mixing
    qtbot.mouseClick(page.on, Qt.MouseButton.LeftButton)
    assert page.coat_on.isVisible()
    page.coat_on.first.setText("08:00")
    page.coat_on.last.setText("09:05")
    qtbot.keyClick(page.coat_on.last, Qt.Key.Key_Return)
    settle(window)
    job = window.desk.bench.job()
    assert job is not None
    laid = job.coat("port-gloss-2").laid
    assert laid is not None
    # 09:05 in the shop's zone (Europe/London in May) is 08:05 UTC.
    assert laid.end_s == NOW_S - 5 * 60
    assert laid.start_s == NOW_S - 70 * 60
    window.open_pane("tonight")
    settle(window)
    assert "port-gloss-2" in [film.coat.id for film in window.tonight.films]


def test_cautions_and_the_last_word_are_on_show(window: MainWindow) -> None:
    bar = window.before_mixing.cautions
    assert "Isocyanate" in bar.words.text()
    assert bar.first.text() == (
        "The maker's data sheet, local rules and licensed practice come first."
    )


def test_nothing_is_called_safe(window: MainWindow, settle: Settle) -> None:
    for pane in ("before_mixing", "tonight", "coming_days"):
        window.open_pane(pane)
        settle(window)
        told = " ".join(label.text() for label in window.findChildren(QLabel)).lower()
        assert "safe" not in told
    assert "safe" not in window.help.text.toPlainText().lower()


def test_every_verdict_has_its_own_shape() -> None:
    kinds = [kind_of(verdict, False) for verdict in Verdict]
    kinds.append(kind_of(Verdict.WAIT, True))
    assert len(set(kinds)) == 5
    assert kind_of(Verdict.GO, True) == "go"
