"""The form of a batch: numbers judged as typed, the thinner once, the pad out of the way."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from advisor.ui.panes.batch_fields import NumberLine
from advisor.ui.panes.batch_form import BatchFormPage
from advisor.work.live_views import PartMixed
from advisor.work.workbench import Workbench

from . import live_bench as lb
from .bench_window import Shown, shown

WITH_THINNER = replace(lb.FORM, parts=(*lb.FORM.parts, PartMixed("thinner")))


@pytest.fixture
def at_bench(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    return shown(request, monkeypatch, bench)


def open_form(at_bench: Shown) -> BatchFormPage:
    at_bench.pane.mix(lb.COAT)
    at_bench.settle(at_bench.window)
    assert at_bench.pane.on_form
    return at_bench.pane.form


def number_fields(form: BatchFormPage) -> dict[str, NumberLine]:
    base, hardener = form.rows
    thinner, tins = form.thin.amount, form.temp
    return {"Base": base.amount, "Hardener": hardener.amount, "Thinner": thinner, "Tins": tins}


@pytest.mark.parametrize("name", ["Base", "Hardener", "Thinner", "Tins"])
def test_letters_are_told_at_once_and_nothing_is_kept(
    at_bench: Shown, qtbot: QtBot, name: str
) -> None:
    """In the words of the readings' own boxes."""
    form = open_form(at_bench)
    field = number_fields(form)[name]
    field.line.clear()
    qtbot.keyClicks(field.line, "4o")
    assert field.error.startswith("found 4o; accepted: ")
    form.mix.click()
    at_bench.settle(at_bench.window)
    assert at_bench.live.asked == []
    assert at_bench.window.desk.messages.text == f"Not kept: mend {name} first."
    assert field.line.hasFocus()
    field.line.clear()
    qtbot.keyClicks(field.line, "4,5")
    assert field.error == ""
    form.mix.click()
    at_bench.settle(at_bench.window)
    assert [call[0] for call in at_bench.live.asked] == ["batch"]


@pytest.mark.parametrize(
    ("name", "typed", "accepted"),
    [
        ("Base", "-1", "0 to 1000 L"),
        ("Hardener", "1001", "0 to 1000 L"),
        ("Thinner", "101", "0 to 100 %"),
        ("Tins", "61", "-40 to 60 °C"),
    ],
)
def test_what_cannot_be_is_told_with_what_could(
    at_bench: Shown, name: str, typed: str, accepted: str
) -> None:
    field = number_fields(open_form(at_bench))[name]
    field.line.setText(typed)
    assert field.error == f"found {typed}; accepted: {accepted}"


def test_by_mass_the_amounts_are_in_kg(at_bench: Shown) -> None:
    form = open_form(at_bench)
    form.by.choose("mass")
    field = form.rows[0].amount
    field.line.setText("x")
    assert field.error == "found x; accepted: 0 to 1000 kg"
    field.line.setText("2")
    assert [part.unit for part in form.form().parts] == ["kg", "kg"]


def test_the_thinner_is_asked_once(at_bench: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    offered = replace(WITH_THINNER, thinner_pct="5")
    monkeypatch.setattr(at_bench.live, "batch_form", lambda coat_id, now_s: offered)
    form = open_form(at_bench)
    named = [label.text() for label in form.findChildren(QLabel) if "Thinner" in label.text()]
    assert named == ["Thinner, %"]
    assert form.thin.amount.value == "5"
    form.thin.batch.line.setText("T-9")
    typed = form.form()
    assert typed.thinner_pct == "5"
    assert [(part.part, part.batch, part.amount) for part in typed.parts][2:] == [
        ("thinner", "T-9", "")
    ]


def test_thinner_the_sheet_does_not_know_of_can_be_told(at_bench: Shown) -> None:
    """What was done is kept, also against the sheet; the bench says what it thinks of it."""
    form = open_form(at_bench)
    assert [part.part for part in form.form().parts] == ["base", "hardener"]
    form.thin.amount.line.setText("3")
    form.thin.batch.line.setText("T-9")
    typed = form.form()
    assert (typed.thinner_pct, [part.part for part in typed.parts][2:]) == ("3", ["thinner"])


def test_a_press_beside_the_pad_puts_it_away_and_keeps_the_number(
    at_bench: Shown, qtbot: QtBot
) -> None:
    form = open_form(at_bench)
    line = form.rows[0].amount.line
    qtbot.mouseClick(line, Qt.MouseButton.LeftButton)
    assert form.pad.isVisible()
    keys = {key.text(): key for key in form.pad.findChildren(QPushButton)}
    qtbot.mouseClick(keys["7"], Qt.MouseButton.LeftButton)
    qtbot.mouseClick(line, Qt.MouseButton.LeftButton)  # to put the cursor elsewhere
    assert form.pad.isVisible()
    empty = QPoint(form.width() // 2, form.height() - 40)
    assert form.childAt(empty) is None
    qtbot.mouseClick(form, Qt.MouseButton.LeftButton, pos=empty)
    assert form.pad.isHidden()
    assert line.text() == "7"
    qtbot.mouseClick(line, Qt.MouseButton.LeftButton)
    assert form.pad.isVisible()
    qtbot.mouseClick(form.rows[1].amount.line, Qt.MouseButton.LeftButton)
    assert form.pad.isVisible()
    assert form.pad.field is form.rows[1].amount.line


def test_the_pad_of_the_bench_goes_with_a_press_beside_it(at_bench: Shown, qtbot: QtBot) -> None:
    at_bench.see(lb.GOING)
    pane = at_bench.pane
    qtbot.mouseClick(pane.beside.film.field, Qt.MouseButton.LeftButton)
    assert pane.pad.isVisible()
    qtbot.mouseClick(pane.going, Qt.MouseButton.LeftButton)
    assert pane.pad.isHidden()


@pytest.mark.parametrize("refused", ["", "disk is full"])
def test_the_keyboard_stays_at_the_bench(at_bench: Shown, qtbot: QtBot, refused: str) -> None:
    at_bench.see(lb.GOING)
    at_bench.pane.mix(lb.COAT)
    at_bench.settle(at_bench.window)
    at_bench.live.refuses = refused
    mix = at_bench.pane.form.mix
    mix.setFocus()
    qtbot.keyClick(mix, Qt.Key.Key_Space)
    at_bench.settle(at_bench.window)
    wanted = mix if refused else at_bench.pane.taps.main
    assert at_bench.window.focusWidget() is wanted
