"""A form left while it is keeping: kept and told, or not kept and told; never neither."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.errors import StoreError
from advisor.record import chain
from advisor.record.entry import Entry
from advisor.record.kinds import Field
from advisor.ui.desk import Desk
from advisor.ui.dialogs.keep_dialog import KEEPING, KeepDialog
from advisor.ui.dialogs.type_reading import TypeReadingDialog
from advisor.ui.messages import MessageBar
from advisor.ui.panes.record import RecordPane
from advisor.ui.record.editors import QuantityEditor, TextEditor
from advisor.ui.record.entry_dialog import LEAVING, EntryDialog
from advisor.ui.record.sign_dialog import SignDialog
from advisor.ui.theme import Look
from advisor.work.readings_look import ReadingsLook
from advisor.work.workbench import Workbench

from .conftest import NOW_S, Clock

pytestmark = pytest.mark.gui
#: Bounds of waiting, ms: nothing here takes more than a fraction of it.
PATIENCE_MS = 30_000


@pytest.fixture
def desk(qapp: QApplication, bench: Workbench, clock: Clock) -> Iterator[Desk]:
    bench.load_demo(NOW_S)
    bench.settings.set("person", "A. Hand")
    bench.record.write_job_header(NOW_S)  # else the first entry brings it along
    bar = MessageBar()
    made = Desk(bench, clock, Look("light", 100), bar)
    yield made
    made.close()
    bar.deleteLater()


@pytest.fixture
def pane(desk: Desk, qtbot: QtBot) -> RecordPane:
    made = RecordPane(desk)
    qtbot.addWidget(made)
    made.resize(1280, 800)
    made.show()
    desk.changed.connect(made.refresh)
    made.refresh()
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)
    return made


class Gate:
    """Work that goes on until it is let go."""

    def __init__(self, then: Callable[[], object] = lambda: None) -> None:
        self.begun, self._open, self._then = threading.Event(), threading.Event(), then

    def __call__(self) -> object:
        self.begun.set()
        assert self._open.wait(PATIENCE_MS / 1000)
        return self._then()

    def open(self) -> None:
        self._open.set()


def record(desk: Desk) -> tuple[Entry, ...]:
    return chain.entries(desk.bench.store, desk.bench.job_in_hand().id)


def filled(pane: RecordPane, desk: Desk, qtbot: QtBot) -> EntryDialog:
    """Return an observation, filled in."""
    pane.add.click()
    dialog = pane.dialog
    assert isinstance(dialog, EntryDialog)
    dialog.begin("observation")
    qtbot.waitUntil(dialog.keep.isEnabled, timeout=PATIENCE_MS)
    assert dialog.form is not None
    text = dialog.form.editors["text"]
    assert isinstance(text, TextEditor)
    qtbot.keyClicks(text.line, "fog at the door")
    return dialog


@pytest.mark.parametrize("leave", ["reject", "close", "escape"])
def test_an_entry_being_kept_is_kept_and_told(
    pane: RecordPane, desk: Desk, qtbot: QtBot, leave: str
) -> None:
    dialog, before = filled(pane, desk, qtbot), record(desk)
    with desk.bench.store.write():  # another window writes: this one must wait
        dialog.keep.click()
        {"reject": dialog.reject, "close": dialog.close,
         "escape": lambda: qtbot.keyClick(dialog, Qt.Key.Key_Escape)}[leave]()  # fmt: skip
        assert dialog.isVisible()
        assert leave == "escape" or dialog.said.text() == KEEPING
        assert LEAVING not in dialog.said.text()  # it would not be true
    qtbot.waitUntil(lambda: pane.dialog is None, timeout=PATIENCE_MS)
    assert desk.messages.text == "Kept in the record."
    assert len(record(desk)) == len(before) + 1
    assert record(desk)[-1].data["text"] == "fog at the door"
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)


def test_pressed_twice_it_is_kept_once(pane: RecordPane, desk: Desk, qtbot: QtBot) -> None:
    dialog, before = filled(pane, desk, qtbot), record(desk)
    with desk.bench.store.write():
        dialog.keep.click()
        dialog.keep.click()
        dialog.accept()
    qtbot.waitUntil(lambda: pane.dialog is None, timeout=PATIENCE_MS)
    assert len(record(desk)) == len(before) + 1
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)


def test_what_was_not_kept_stays_in_the_form(
    pane: RecordPane, desk: Desk, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreError("the disk is full; make room and keep it again.")

    dialog, before = filled(pane, desk, qtbot), record(desk)
    gate = Gate(full)
    monkeypatch.setattr("advisor.ui.record.entry_dialog.keep_by_hand", lambda *_: gate())
    dialog.keep.click()
    assert gate.begun.wait(PATIENCE_MS / 1000)
    dialog.reject()
    gate.open()
    qtbot.waitUntil(lambda: not dialog.keeping, timeout=PATIENCE_MS)
    assert dialog.isVisible()
    assert dialog.isEnabled()
    assert "disk is full" in dialog.said.text()
    assert dialog.form is not None
    assert dialog.form.data()["text"] == "fog at the door"
    assert record(desk) == before
    dialog.reject()
    assert dialog.said.text() == LEAVING  # what is in the form is still asked about
    dialog.reject()
    assert pane.dialog is None


def test_a_typed_reading_is_kept_and_closes_by_itself(desk: Desk, qtbot: QtBot) -> None:
    dialog = TypeReadingDialog(desk, ReadingsLook(desk.bench).zones()[0])
    qtbot.addWidget(dialog)
    dialog.open()
    qtbot.keyClicks(dialog.boxes["air_temp_c"].field, "12.50")
    ages = [box.age.text() for box in dialog.boxes.values()]
    assert ages == ["typed just now", *["not read yet"] * 3]
    before = record(desk)
    with qtbot.waitSignal(dialog.accepted, timeout=PATIENCE_MS), desk.bench.store.write():
        dialog.keep.click()
        dialog.reject()
        dialog.close()
        assert dialog.isVisible()
    assert len(record(desk)) == len(before) + 1


def test_an_answer_after_the_form_is_left_touches_nothing(
    desk: Desk, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form is gone by then: its labels would be those of nobody."""
    gate, seen = Gate(lambda: pytest.fail), list[object]()
    monkeypatch.setattr(SignDialog, "_show_head", lambda _, head: seen.append(head))
    monkeypatch.setattr(desk.bench.record, "head", gate)
    dialog = SignDialog(desk)
    qtbot.addWidget(dialog)
    dialog.open()
    assert gate.begun.wait(PATIENCE_MS / 1000)
    dialog.reject()
    gate.open()
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)
    assert seen == []


def test_nothing_is_kept_for_a_coat_not_yet_shown(
    pane: RecordPane, desk: Desk, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    from advisor.work.form_offers import offered

    job = desk.bench.job_in_hand()
    gate = Gate(lambda: offered(desk.bench, job, "film", ""))
    monkeypatch.setattr("advisor.ui.record.entry_dialog.offered", lambda *_: gate())
    pane.add.click()
    dialog = pane.dialog
    assert isinstance(dialog, EntryDialog)
    dialog.begin("film")
    assert not dialog.keep.isEnabled()
    dialog.begin("preparation")  # about an area: no coat to wait for, and no method of a coat
    assert dialog.keep.isEnabled()
    gate.open()
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)
    assert dialog.form is not None
    assert dialog.form.data() == {}
    dialog.begin("film")
    qtbot.waitUntil(dialog.keep.isEnabled, timeout=PATIENCE_MS)
    assert dialog.coat.key
    dialog.reject()


# --- by the keyboard alone -----------------------------------------------------------------


def tabs(dialog: QDialog, qtbot: QtBot, most: int = 80) -> list[QWidget]:
    """Return where Tab goes in a form, from where the keyboard is until it comes round."""
    first = dialog.focusWidget()
    assert first is not None
    seen = [first]
    for _ in range(most):
        qtbot.keyClick(seen[-1], Qt.Key.Key_Tab)
        now = dialog.focusWidget()
        assert now is not None
        if now is first:
            return seen
        assert now not in seen
        seen.append(now)
    raise AssertionError("Tab does not come round")


def test_a_reading_by_the_keyboard_alone(desk: Desk, qtbot: QtBot) -> None:
    dialog = TypeReadingDialog(desk, ReadingsLook(desk.bench).zones()[0])
    qtbot.addWidget(dialog)
    dialog.open()
    boxes = [box.field for box in dialog.boxes.values()]
    assert tabs(dialog, qtbot) == [*boxes, dialog.cancel, dialog.keep]
    before = record(desk)
    for field, typed in zip(boxes, ("12.50", "60", "11.0", ""), strict=True):
        assert dialog.focusWidget() is field
        qtbot.keyClicks(field, typed)
        qtbot.keyClick(field, Qt.Key.Key_Return)  # confirms; keeps nothing yet
        assert not dialog.keeping
        qtbot.keyClick(field, Qt.Key.Key_Tab)
    qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
    assert dialog.focusWidget() is dialog.keep
    with qtbot.waitSignal(dialog.accepted, timeout=PATIENCE_MS):
        qtbot.keyClick(dialog.keep, Qt.Key.Key_Return)
    assert len(record(desk)) == len(before) + 1


def test_escape_puts_the_pad_away_then_leaves(desk: Desk, qtbot: QtBot) -> None:
    dialog = TypeReadingDialog(desk, ReadingsLook(desk.bench).zones()[0])
    qtbot.addWidget(dialog)
    dialog.open()
    field = dialog.boxes["rh_pct"].field
    qtbot.mouseClick(field, Qt.MouseButton.LeftButton)
    qtbot.keyClicks(field, "62.5")
    assert not dialog.pad.isHidden()
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert dialog.pad.isHidden()
    assert (dialog.isVisible(), field.text()) == (True, "62.5")
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_an_entry_by_the_keyboard_alone(pane: RecordPane, desk: Desk, qtbot: QtBot) -> None:
    pane.add.click()
    dialog = pane.dialog
    assert isinstance(dialog, EntryDialog)
    kinds = list(dialog.kinds.values())
    stops = tabs(dialog, qtbot)
    assert stops[: len(kinds)] == kinds
    kinds[0].setFocus()
    qtbot.keyClick(kinds[0], Qt.Key.Key_Return)
    assert dialog.form is not None
    assert dialog.form.kind.key == "reading"
    air = dialog.form.editors["air_temp"]
    assert isinstance(air, QuantityEditor)
    assert dialog.focusWidget() is air.line
    qtbot.keyClicks(air.line, "12.50")
    qtbot.keyClick(air.line, Qt.Key.Key_Return)
    assert dialog.isVisible()  # Enter in a field neither keeps nor leaves
    assert not dialog.keeping
    ways = tabs(dialog, qtbot)
    assert dialog.keep in ways
    assert dialog.at.clock in ways
    before = record(desk)
    dialog.keep.setFocus()
    qtbot.keyClick(dialog.keep, Qt.Key.Key_Enter)
    qtbot.waitUntil(lambda: pane.dialog is None, timeout=PATIENCE_MS)
    kept = record(desk)[-1].data["air_temp"]
    assert len(record(desk)) == len(before) + 1
    assert isinstance(kept, dict)
    assert kept["value"] == "12.50"
    qtbot.waitUntil(desk.idle, timeout=PATIENCE_MS)


def test_enter_never_presses_a_button_that_is_not_in_hand(desk: Desk, qtbot: QtBot) -> None:
    class Form(KeepDialog):
        def accept(self) -> None:
            pytest.fail("pressed")

    dialog = Form(desk, "A form", "&Keep")
    qtbot.addWidget(dialog)
    line = TextEditor(Field("x", "Words"))
    row = dialog.foot()
    row.addWidget(line)
    dialog.setLayout(row)
    dialog.open()
    line.line.setFocus()
    qtbot.keyClick(line.line, Qt.Key.Key_Return)
    assert dialog.isVisible()
    dialog.cancel.setFocus()
    qtbot.keyClick(dialog.cancel, Qt.Key.Key_Return)
    assert not dialog.isVisible()
