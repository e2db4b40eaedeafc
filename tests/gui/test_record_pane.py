"""The record pane as a person uses it: read, search, add, correct, look back, hand over."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QLabel, QLineEdit, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.planning.job_file import read_job
from advisor.record import chain
from advisor.record.effective import effective
from advisor.record.entry import Entry, quantity
from advisor.record.review_types import Cause, CoatReview, Evidence, JobReview
from advisor.ui.desk import Desk
from advisor.ui.messages import MessageBar
from advisor.ui.panes.record import RecordPane
from advisor.ui.record.causes_dialog import CausesDialog
from advisor.ui.record.coats_view import STANDINGS
from advisor.ui.record.correct_dialog import CorrectDialog
from advisor.ui.record.editors import ChoiceEditor, QuantitiesEditor, QuantityEditor, TextEditor
from advisor.ui.record.entry_dialog import EntryDialog, kinds_by_hand
from advisor.ui.record.photo_dialog import PhotoDialog
from advisor.ui.record.sign_dialog import SignDialog
from advisor.ui.theme import TARGET, Look
from advisor.work import by_hand
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.demo_history import demo_laid
from advisor.work.reviews import Reviews
from advisor.work.workbench import Workbench
from tests.gui.conftest import NOW_S, Clock
from tests.helpers.record_job import job_review

Wait = Callable[[], None]


class Shown(QWidget):
    """The pane on a desk of its own: the rest of the window would only cost time here."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.pane = RecordPane(desk)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(desk.messages)
        column.addWidget(self.pane, 1)
        desk.changed.connect(self.pane.refresh)


@pytest.fixture
def window(qapp: QApplication, bench: Workbench, clock: Clock) -> Iterator[Shown]:
    """The demo job without its log, at 1280 by 800."""
    for path in sorted((bench.resources / "demo" / "products").glob("*.toml")):
        bench.add_product_file(path)
    bench.save_job(demo_laid(read_job(bench.resources / "demo" / "job.toml"), NOW_S))
    look = Look("light")
    qapp.setStyleSheet(look.stylesheet())
    shown = Shown(Desk(bench, clock, look, MessageBar()))
    shown.resize(1280, 800)
    shown.show()
    yield shown
    shown.desk.close()
    shown.close()
    shown.deleteLater()
    qapp.setStyleSheet("")


@pytest.fixture
def wait(window: Shown, qtbot: QtBot) -> Wait:
    """Wait until nothing is searched for or worked out."""

    def quiet() -> None:
        filters, desk = window.pane.entries.filters, window.desk
        qtbot.waitUntil(lambda: not filters.waiting and desk.idle(), timeout=60_000)

    return quiet


@pytest.fixture
def pane(window: Shown, wait: Wait) -> RecordPane:
    """The pane of the demo job with a few entries by a known hand."""
    bench = window.desk.bench
    bench.settings.set("person", "A. Hand")
    coat = bench.job_in_hand().next_coats()[0]
    kept = (
        ByHand("reading", {"air_temp": quantity("14.5", "°C", "typed"),
                           "rh": quantity("72", "%", "typed")}, NOW_S - 7200, coat.area_id),
        ByHand("application", {"event": "patch", "patch": "bow"}, NOW_S - 3600, coat_id=coat.id),
        ByHand("defect", {"defect": "gloss loss", "extent": "a third"}, NOW_S - 60,
               coat_id=coat.id),
    )  # fmt: skip
    for one in kept:
        keep_by_hand(bench, one, NOW_S)
    window.pane.refresh()
    wait()
    return window.pane


def record(window: Shown) -> tuple[Entry, ...]:
    bench = window.desk.bench
    return chain.entries(bench.store, bench.job_in_hand().id)


def write(line: QLineEdit, words: str) -> None:
    line.setText(words)
    line.textEdited.emit(words)


def opened(pane: RecordPane, kind: type[QDialog]) -> QDialog:
    assert isinstance(pane.dialog, kind)
    return pane.dialog


def of_kind(pane: RecordPane, kind: str) -> int:
    return next(r.number for r in pane.entries.timeline.rows if r.told.entry.kind == kind)


# --- to read ------------------------------------------------------------------------------


def test_the_newest_entry_stands_first(window: Shown, pane: RecordPane) -> None:
    numbers = [row.number for row in pane.entries.timeline.rows]
    assert numbers == sorted((e.number for e in record(window)), reverse=True)
    first = pane.entries.timeline.rows[0]
    assert "Defect: gloss loss, a third" in first.accessibleName()
    assert first.height() >= TARGET


def test_a_tap_shows_all_of_an_entry(pane: RecordPane, wait: Wait, qtbot: QtBot) -> None:
    assert pane.entries.details.isHidden()
    row = next(r for r in pane.entries.timeline.rows if r.told.entry.kind == "application")
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    wait()
    told = pane.entries.details.told
    assert told is not None
    assert told.entry.number == row.number
    assert row.property("lit") == "true"
    assert not pane.entries.details.isHidden()
    assert pane.entries.details.why is None
    pane.entries.details.closed.emit()
    assert row.property("lit") == "false"


def test_keys_go_through_the_entries(pane: RecordPane, wait: Wait, qtbot: QtBot) -> None:
    rows = pane.entries.timeline.rows
    rows[0].setFocus()
    QTest.keyClick(rows[0], Qt.Key.Key_Down)
    QTest.keyClick(rows[1], Qt.Key.Key_Return)
    wait()
    assert pane.entries.details.told is not None
    assert pane.entries.details.told.entry.number == rows[1].number


def test_search_and_filter(window: Shown, pane: RecordPane, wait: Wait) -> None:
    view = pane.entries
    view.filters.words.setText("bow")
    wait()
    assert [r.told.entry.kind for r in view.timeline.rows] == ["application"]
    total = len(record(window))
    assert view.filters.count.text() == f"1 of {total} entries"
    assert view.table.pages.rowCount() == 1
    view.filters.words.setText("nothing of the kind")
    wait()
    assert view.timeline.rows == []
    assert "No entry answers" in view.table.empty_words
    view.filters.words.clear()
    view.filters.kind.choose("defect")
    wait()
    assert [r.told.entry.kind for r in view.timeline.rows] == ["defect"]


def test_the_table_shows_the_same_entries(pane: RecordPane, wait: Wait, qtbot: QtBot) -> None:
    view = pane.entries
    view.filters.shapes["table"].click()
    wait()
    qtbot.waitUntil(lambda: view.table.pages.row(0) is not None, timeout=10_000)
    row = view.table.pages.row(0)
    assert row is not None
    assert row.key == view.timeline.rows[0].number
    assert "Defect: gloss loss, a third" in row.cells
    view.table.chosen.emit(row)
    wait()
    assert view.details.told is not None
    assert view.details.told.entry.number == row.key


def test_older_entries_come_when_asked(window: Shown, pane: RecordPane, wait: Wait) -> None:
    bench, timeline = window.desk.bench, pane.entries.timeline
    for n in range(90):
        bench.record.add("observation", {"text": f"no. {n}"}, at_s=NOW_S, now_s=NOW_S)
    pane.refresh()
    wait()
    assert len(timeline.rows) == 40
    assert not timeline.more.isHidden()
    while not timeline.more.isHidden():
        before = len(timeline.rows)
        timeline.more.click()
        wait()
        assert len(timeline.rows) > before
    numbers = [row.number for row in timeline.rows]
    assert numbers == sorted((e.number for e in record(window)), reverse=True)


def test_nothing_moves_under_the_readers_eyes(window: Shown, pane: RecordPane, wait: Wait) -> None:
    rows = list(pane.entries.timeline.rows)
    pane.refresh()
    wait()
    assert pane.entries.timeline.rows == rows  # the same widgets: they were not made anew
    window.desk.set_units("us")
    wait()
    assert pane.entries.timeline.rows != rows
    reading = next(r for r in pane.entries.timeline.rows if r.told.entry.kind == "reading")
    assert "14.5 °C (58.1 °F)" in reading.accessibleName()


# --- who is writing -----------------------------------------------------------------------


def test_the_name_is_asked_once_and_then_the_form_opens(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    window.desk.bench.settings.set("person", "")
    pane.refresh()
    assert pane.who.asking
    pane.add.click()
    assert pane.dialog is None
    write(pane.who.line, "  B.  Other ")
    pane.who.keep.click()
    wait()
    assert window.desk.bench.settings.text("person") == "B. Other"
    assert not pane.who.asking
    assert pane.who.shown.text() == "Writing: B. Other"
    opened(pane, EntryDialog).reject()
    pane.add.click()
    opened(pane, EntryDialog).reject()


def test_no_name_is_no_name(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.who.change.click()
    write(pane.who.line, "   ")
    pane.who.keep.click()
    wait()
    assert window.desk.bench.settings.text("person") == "A. Hand"


# --- adding -------------------------------------------------------------------------------


def form_of(pane: RecordPane, wait: Wait, kind: str) -> EntryDialog:
    pane.add.click()
    dialog = opened(pane, EntryDialog)
    assert isinstance(dialog, EntryDialog)
    dialog.kinds[kind].click()
    wait()  # until what the coat says is filled in
    return dialog


def test_every_kind_by_hand_has_a_form(pane: RecordPane) -> None:
    pane.add.click()
    dialog = opened(pane, EntryDialog)
    assert isinstance(dialog, EntryDialog)
    for kind in kinds_by_hand():
        dialog.begin(kind.key)
        assert dialog.form is not None
        skipped = by_hand.RECKONED if kind.key == "reading" else frozenset()
        assert set(dialog.form.editors) == {f.key for f in kind.fields} - skipped
        small = [b.text() for b in dialog.form.findChildren(type(dialog.cancel))
                 if not b.isHidden() and b.sizeHint().height() < TARGET]  # fmt: skip
        assert not small
    dialog.reject()


def test_a_reading_goes_from_the_form_into_the_record(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    dialog = form_of(pane, wait, "reading")
    assert dialog.form is not None
    air, light = dialog.form.editors["air_temp"], dialog.form.editors["light"]
    assert isinstance(air, QuantityEditor)
    assert isinstance(light, ChoiceEditor)
    write(air.line, "18,50")
    light.buttons["dusk"].click()
    dialog.keep.click()
    wait()
    entry = record(window)[-1]
    assert entry.kind == "reading"
    assert entry.by == "A. Hand"
    assert entry.data["air_temp"] == quantity("18.50", "°C", "typed")
    assert entry.data["light"] == "dusk"
    assert window.desk.messages.text == "Kept in the record."
    assert pane.entries.timeline.rows[0].number == entry.number


def test_other_units_are_kept_as_typed_beside_house_units(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    window.desk.set_units("us")
    dialog = form_of(pane, wait, "reading")
    assert dialog.form is not None
    air = dialog.form.editors["air_temp"]
    assert isinstance(air, QuantityEditor)
    write(air.line, "53.4")
    dialog.keep.click()
    wait()
    kept = record(window)[-1].data["air_temp"]
    assert isinstance(kept, dict)
    # (53.4 - 32) / 1.8 = 11.8889 °C, kept to two more places than were typed.
    assert (kept["value"], kept["unit"], kept["entered"]) == ("11.889", "°C", "53.4 °F")


def test_what_is_missing_is_said_and_nothing_is_kept(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    before = record(window)
    dialog = form_of(pane, wait, "film")
    assert dialog.form is not None
    readings = dialog.form.editors["readings"]
    dialog.keep.click()
    assert readings.error == "fill this in"
    assert "mend" in dialog.said.text()
    assert isinstance(readings, QuantitiesEditor)
    write(readings.line, "eighty")
    readings.add.click()
    assert "a number such as 18.5" in readings.error
    assert record(window) == before
    dialog.reject()


def test_several_numbers_by_the_pad(window: Shown, pane: RecordPane, wait: Wait,
                                    qtbot: QtBot) -> None:  # fmt: skip
    dialog = form_of(pane, wait, "film")
    assert dialog.form is not None
    readings, film = dialog.form.editors["readings"], dialog.form.editors["film"]
    assert isinstance(readings, QuantitiesEditor)
    assert isinstance(film, ChoiceEditor)
    film.buttons["wet"].click()
    QTest.mouseClick(readings.line, Qt.MouseButton.LeftButton)
    assert dialog.pad.field is readings.line
    keys = {b.text(): b for b in dialog.pad.findChildren(type(dialog.cancel))}
    for key in "85":
        keys[key].click()
    QTest.keyClick(dialog, Qt.Key.Key_Escape)  # puts the pad away, keeps the form
    assert dialog.pad.isHidden()
    assert dialog.isVisible()
    assert readings.line.text() == ""  # put away, the number is among the readings
    write(readings.line, "88")
    readings.add.click()
    out = next(b for b in readings.findChildren(type(dialog.cancel)) if b.text().startswith("88"))
    out.click()
    write(readings.line, "90 95")
    dialog.keep.click()  # what is still in the line is not lost
    wait()
    entry = record(window)[-1]
    assert entry.data["readings"] == [quantity(v, "µm", "typed") for v in ("85", "90", "95")]
    assert entry.coat_id


def test_a_time_to_come_is_refused_in_the_form(window: Shown, pane: RecordPane, wait: Wait) -> None:
    before = record(window)
    dialog = form_of(pane, wait, "observation")
    assert dialog.form is not None
    text = dialog.form.editors["text"]
    assert isinstance(text, TextEditor)
    write(text.line, "fog")
    dialog.at.show_moment(NOW_S + 7200)
    dialog.keep.click()
    wait()
    assert dialog.at.error == "found a time still to come; accepted: now or before"
    assert dialog.keep.isEnabled()
    assert record(window) == before
    write(dialog.at.clock, "25:99")
    dialog.keep.click()
    assert "a clock time such as 09:40" in dialog.at.error
    dialog.at.show_moment(NOW_S - 7200)
    dialog.keep.click()
    wait()
    assert record(window)[-1].late_s == 7200


def test_a_batch_offers_what_the_coat_says(window: Shown, pane: RecordPane, wait: Wait) -> None:
    dialog = form_of(pane, wait, "batch")
    assert dialog.form is not None
    product = dialog.form.editors["product"]
    assert isinstance(product, TextEditor)
    bench = window.desk.bench
    coat = bench.job_in_hand().coat(dialog.coat.key)
    assert product.line.text() == bench.products()[coat.product_id].name
    dialog.reject()


# --- correcting ---------------------------------------------------------------------------


def correction_of(pane: RecordPane, wait: Wait, kind: str) -> CorrectDialog:
    pane.entries.choose(of_kind(pane, kind))
    wait()
    assert pane.entries.details.correct is not None
    pane.entries.details.correct.click()
    dialog = opened(pane, CorrectDialog)
    assert isinstance(dialog, CorrectDialog)
    return dialog


def test_a_correction_that_cannot_be_read_can_be_left(pane: RecordPane, wait: Wait) -> None:
    dialog = correction_of(pane, wait, "reading")
    assert dialog.form is not None
    rh = dialog.form.editors["rh"]
    assert isinstance(rh, QuantityEditor)
    write(rh.line, "eighty")
    dialog.reject()
    assert dialog.isVisible()
    assert "again to throw it away" in dialog.said.text()
    dialog.reject()
    assert pane.dialog is None


def shown_in(dialog: CorrectDialog) -> list[tuple[str, bool]]:
    """Words of the preview, and whether a line goes through them."""
    items = [dialog.preview.itemAt(k) for k in range(dialog.preview.count())]
    labels = [item.widget() for item in items if item is not None]
    return [(w.text(), w.font().strikeOut()) for w in labels if isinstance(w, QLabel)]


def test_a_correction_shows_what_will_stay_and_keeps_it(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    dialog = correction_of(pane, wait, "reading")
    assert shown_in(dialog) == [("Nothing is changed yet.", False)]
    assert dialog.form is not None
    rh = dialog.form.editors["rh"]
    assert isinstance(rh, QuantityEditor)
    write(rh.line, "75")
    dialog.reason.buttons["misread"].click()
    assert shown_in(dialog)[:3] == [("Humidity", False), ("72%", True), ("75%", False)]
    assert "misread; A. Hand" in shown_in(dialog)[-1][0]
    dialog.keep.click()
    wait()
    kept = record(window)
    assert kept[-1].kind == "correction"
    told = next(e for e in effective(kept) if e.entry.kind == "reading" and e.changes)
    assert told.now.data["rh"] == quantity("75", "%", "typed")
    assert told.entry.data["rh"] == quantity("72", "%", "typed")
    row = next(r for r in pane.entries.timeline.rows if r.number == told.entry.number)
    struck = [w.text() for w in row.findChildren(QLabel) if
              w.font().strikeOut()]  # fmt: skip
    assert "Humidity 72%" in struck


def test_a_correction_needs_a_reason(window: Shown, pane: RecordPane, wait: Wait) -> None:
    before = record(window)
    dialog = correction_of(pane, wait, "application")
    dialog.strike.click()
    dialog.keep.click()
    assert dialog.reason.error == "fill this in"
    assert record(window) == before
    write(dialog.reason.other, "entered for the wrong boat")
    dialog.keep.click()
    wait()
    assert record(window)[-1].data["reason"] == "entered for the wrong boat"
    told = next(e for e in effective(record(window)) if e.entry.kind == "application" and e.changes)
    assert told.struck_out
    pane.entries.choose(told.entry.number)
    wait()
    assert pane.entries.details.correct is None  # nothing is left to correct


def test_a_correction_itself_is_not_corrected(window: Shown, pane: RecordPane, wait: Wait) -> None:
    dialog = correction_of(pane, wait, "defect")
    dialog.strike.click()
    dialog.reason.buttons["typing slip"].click()
    dialog.keep.click()
    wait()
    pane.entries.choose(record(window)[-1].number)
    wait()
    assert pane.entries.details.told is not None
    assert pane.entries.details.told.entry.kind == "correction"
    assert pane.entries.details.correct is None


def test_a_moved_time_is_shown_before_it_is_kept(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    dialog = correction_of(pane, wait, "application")
    dialog.at.show_moment(NOW_S - 7200)
    dialog.at.changed.emit()
    assert [struck for _, struck in shown_in(dialog)[:3]] == [False, True, False]
    dialog.reason.buttons["wrong time"].click()
    dialog.keep.click()
    wait()
    told = next(e for e in effective(record(window)) if e.entry.kind == "application" and e.changes)
    assert told.now.at_s == NOW_S - 7200


# --- looking back -------------------------------------------------------------------------


class Reviewed(Reviews):
    """Answers with an invented look back."""

    def __init__(self, review: JobReview, causes: tuple[Cause, ...] = ()) -> None:
        self._review, self._causes = review, causes

    def job(self, now_s: float) -> JobReview:
        return self._review

    def coat(self, coat_id: str, now_s: float) -> CoatReview:
        return next(c for c in self._review.coats if c.coat_id == coat_id)

    def causes(self, entry_number: int, now_s: float) -> tuple[Cause, ...]:
        return self._causes


CAUSES = (
    Cause("dew on the film", 2.0, (Evidence(True, "margin 0.4 K at 05:00", 12),),
          (Evidence(False, "doors were shut"),), ("when it dulled",), "sand and recoat",
          "common practice"),
    Cause("thinner too fast", 1.0, (), (), ("which thinner",), "", "common practice"),
)  # fmt: skip


def texts(widget: object) -> list[str]:
    return [label.text() for label in widget.findChildren(QLabel)]  # type: ignore[attr-defined]


def test_every_coat_stands_with_how_it_stood(window: Shown, pane: RecordPane, wait: Wait) -> None:
    review = job_review()
    window.desk.bench.__dict__["reviews"] = Reviewed(review, CAUSES)
    pane.views["coats"].click()
    wait()
    assert list(pane.coats.rows) == ["gloss-2", "gloss-1"]  # the newest first
    assert STANDINGS["outside"] in texts(pane.coats.rows["gloss-1"])
    told = texts(pane.coats.card)
    assert review.coats[1].summary in told
    assert any(t.startswith("Outside: outside for 5 h 24 min") for t in told)
    assert any("Dry, wipe and prepare again" in t for t in told)
    pane.coats.choose("gloss-1")
    assert pane.coats.rows["gloss-1"].property("lit") == "true"
    asked: list[str] = []
    pane.coats.page_wanted.connect(asked.append)
    pane.coats.page_wanted.disconnect(pane.paper.ask_coat_page)  # that one asks for a file name
    assert pane.coats.card.page is not None
    pane.coats.card.page.click()
    assert asked == ["gloss-1"]


def test_a_failed_look_back_says_why(window: Shown, pane: RecordPane, wait: Wait) -> None:
    class Failing(Reviewed):
        def job(self, now_s: float) -> JobReview:
            raise InputError("job: found nothing to look back on; accepted: a coat")

    window.desk.bench.__dict__["reviews"] = Failing(job_review())
    pane.views["coats"].click()
    wait()
    assert any("found nothing to look back on" in t for t in texts(pane.coats))
    assert pane.coats.card.isHidden()


def test_why_did_it_ranks_causes_with_their_evidence(
    window: Shown, pane: RecordPane, wait: Wait, qtbot: QtBot
) -> None:
    window.desk.bench.__dict__["reviews"] = Reviewed(job_review(), CAUSES)
    pane.entries.choose(of_kind(pane, "defect"))
    wait()
    assert pane.entries.details.why is not None
    pane.entries.details.why.click()
    qtbot.waitUntil(lambda: isinstance(pane.dialog, CausesDialog), timeout=10_000)
    wait()
    told = texts(pane.dialog)
    assert "Why the gloss loss?" in told
    first, second = told.index("1. dew on the film"), told.index("2. thinner too fast")
    assert first < told.index("margin 0.4 K at 05:00 (entry 12)") < second
    assert told.index("doors were shut") < second
    assert "which thinner" in told[second:]
    opened(pane, CausesDialog).reject()


# --- job, instruments, photo, sign-off ----------------------------------------------------


def test_about_the_job_is_kept_once(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.views["job"].click()
    wait()
    write(pane.job.editors["owner"].line, "Mill Creek crew (invented)")
    pane.job.keep.click()
    wait()
    entry = record(window)[-1]
    assert entry.kind == "job"
    assert entry.data["owner"] == "Mill Creek crew (invented)"
    assert entry.data["name"] == window.desk.bench.job_in_hand().name
    pane.job.keep.click()
    wait()
    assert record(window)[-1].number == entry.number
    assert "Nothing changed" in window.desk.messages.text


def test_an_instrument_is_added_and_its_calibration_told(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    pane.views["job"].click()
    wait()
    shown = pane.job.instruments
    shown.add.click()
    dialog = shown.dialog
    assert dialog is not None
    for key, words in (("id", "hygro"), ("serial", "H-0042"), ("due", "soon")):
        editor = dialog.form.editors[key]
        assert isinstance(editor, TextEditor)
        write(editor.line, words)
    dialog.keep.click()
    wait()
    assert "a day such as 2026-05-31" in dialog.said.text()
    due = dialog.form.editors["due"]
    assert isinstance(due, TextEditor)
    write(due.line, "2031-05-13")
    dialog.keep.click()
    wait()
    assert record(window)[-1].data["serial"] == "H-0042"
    assert "Calibration out of date since 2031-05-13" in texts(shown)
    shown.changes["hygro"].click()
    assert shown.dialog is not None
    assert not shown.dialog.form.editors["id"].isEnabled()
    shown.dialog.reject()


def details_of(pane: RecordPane, wait: Wait, number: int) -> str:
    pane.entries.details.show_nothing()
    pane.entries.choose(number)
    wait()
    return " ".join(label.text() for label in pane.entries.details.findChildren(QLabel))


def test_a_photo_is_kept_with_the_entry_it_shows(
    window: Shown, pane: RecordPane, wait: Wait, tmp_path: Path
) -> None:
    pane.entries.choose(of_kind(pane, "defect"))
    wait()
    pane.photo.click()
    dialog = opened(pane, PhotoDialog)
    assert isinstance(dialog, PhotoDialog)
    dialog.keep.click()
    assert "Choose the picture first" in dialog.said.text()
    path = tmp_path / "dull.png"
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.darkGreen)
    assert image.save(str(path))
    dialog.take(path)
    write(dialog.caption.line, "lower strakes")
    dialog.keep.click()
    wait()
    entry = record(window)[-1]
    assert (entry.kind, entry.data["caption"]) == ("photo", "lower strakes")
    assert entry.data["of"] == str(of_kind(pane, "defect"))
    pane.entries.choose(entry.number)
    wait()
    shown = [w for w in pane.entries.details.findChildren(QLabel) if not w.pixmap().isNull()]
    assert len(shown) == 1
    kept = Attachments(window.desk.bench.store.path).path(str(entry.data["sha256"]))
    assert details_of(pane, wait, entry.number).count("The file") == 0
    body = kept.read_bytes()
    kept.write_bytes(body + b"more")  # still a picture, and not the one that was entered
    assert "The file was altered" in details_of(pane, wait, entry.number)
    kept.unlink()
    assert "The file is missing." in details_of(pane, wait, entry.number)
    kept.write_bytes(body)
    correction = correction_of(pane, wait, "photo")
    assert correction.form is None  # it stands by its hash: nothing in it is typed anew
    assert correction.at.isHidden()
    correction.strike.click()
    correction.reason.buttons["entered twice"].click()
    correction.keep.click()
    wait()
    assert record(window)[-1].data["corrects"] == str(entry.number)


def test_a_photo_ahead_of_the_clock(
    window: Shown, pane: RecordPane, wait: Wait, tmp_path: Path
) -> None:
    """A time of its own ahead is doubted, a time entered ahead is refused."""
    path, before = tmp_path / "dull.png", record(window)
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.darkGreen)
    assert image.save(str(path))
    os.utime(path, (NOW_S + 86_400, NOW_S + 86_400))
    pane.photo.click()
    dialog = opened(pane, PhotoDialog)
    assert isinstance(dialog, PhotoDialog)
    dialog.take(path)
    assert dialog.said.text().startswith("In doubt: the file's date says 2031-05-15T")
    dialog.at.show_moment(NOW_S + 600)
    dialog.keep.click()
    assert dialog.at.error == "found a time still to come; accepted: now or before"
    assert "mend what is marked" in dialog.said.text()
    assert record(window) == before
    dialog.at.set_now.click()
    dialog.keep.click()
    wait()
    assert "still to come" in str(record(window)[-1].data["flags"])


def test_a_file_that_is_no_picture_is_refused(pane: RecordPane, wait: Wait, tmp_path: Path) -> None:
    path = tmp_path / "dull.png"
    path.write_text("not a picture")
    pane.photo.click()
    dialog = opened(pane, PhotoDialog)
    assert isinstance(dialog, PhotoDialog)
    dialog.take(path)
    dialog.keep.click()
    wait()
    assert "dull.png" in dialog.said.text()
    assert dialog.isVisible()
    dialog.reject()


def test_signing_off_by_name_and_with_a_key(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.sign.click()
    dialog = opened(pane, SignDialog)
    assert isinstance(dialog, SignDialog)
    dialog.keep.click()
    wait()
    entry = record(window)[-1]
    assert (entry.kind, entry.data["name"]) == ("sign-off", "A. Hand")
    assert "signature" not in entry.data
    pane.sign.click()
    dialog = opened(pane, SignDialog)
    assert isinstance(dialog, SignDialog)
    dialog.key.choose("new")
    write(dialog.passphrase.line, "a long one")
    dialog.keep.click()
    wait()
    entry = record(window)[-1]
    assert len(str(entry.data["signature"])) == 128
    pane.sign.click()
    dialog = opened(pane, SignDialog)
    assert isinstance(dialog, SignDialog)
    dialog.key.choose("key A. Hand")
    write(dialog.passphrase.line, "another")
    dialog.keep.click()
    wait()
    assert "passphrase" in dialog.said.text()
    assert record(window)[-1].number == entry.number
    dialog.reject()


# --- handing over -------------------------------------------------------------------------


def test_the_end_of_the_record_is_shown(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.views["paper"].click()
    wait()
    head = window.desk.bench.record.head()
    assert pane.paper.head.text().replace(" ", "") == f"{head.entries}entries;{head.hash}"


def test_the_report_is_written_and_said(
    window: Shown, pane: RecordPane, wait: Wait, tmp_path: Path
) -> None:
    path = tmp_path / "report.pdf"
    pane.paper.write_report(path)
    wait()
    assert path.read_bytes().startswith(b"%PDF")
    assert window.desk.messages.text == "Written: report.pdf."


def test_a_copy_is_made_and_gone_back_to(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.views["paper"].click()
    wait()
    before = record(window)
    pane.paper.copies.now.click()
    wait()
    assert "Copied and checked" in window.desk.messages.text
    window.desk.bench.record.add("observation", {"text": "later"}, at_s=NOW_S, now_s=NOW_S)
    (back,) = pane.paper.copies.back.values()
    back.click()
    assert len(record(window)) == len(before) + 1  # asked first
    back.click()
    wait()
    assert record(window) == before
    assert "Back to the copy" in window.desk.messages.text


def test_a_broken_chain_is_told(window: Shown, pane: RecordPane, wait: Wait) -> None:
    pane.paper.copies.check.click()
    wait()
    assert "every entry is in its place" in window.desk.messages.text
    with window.desk.bench.store.write() as db:
        db.execute("DROP TRIGGER entry_stays")
        db.execute("UPDATE entry SET line = replace(line, 'bow', 'aft') WHERE number = 2")
        db.execute("UPDATE entry SET line = replace(line, 'gloss', 'glass') WHERE number = 1")
    pane.paper.copies.check.click()
    wait()
    assert "entry 1 was altered" in window.desk.messages.text


def test_the_page_for_the_phone(
    window: Shown, pane: RecordPane, wait: Wait, tmp_path: Path
) -> None:
    pane.views["paper"].click()
    wait()
    card = pane.paper.phone
    assert card.stop.isHidden()
    card.use(tmp_path)
    wait()
    assert window.desk.bench.settings.text("tonight_folder") == str(tmp_path)
    assert list(tmp_path.glob("*.html"))
    card.stop.click()
    assert window.desk.bench.settings.text("tonight_folder") == ""


@pytest.mark.parametrize("wide", [640, 1280, 1920])
def test_every_view_fits_the_window(window: Shown, pane: RecordPane, wait: Wait, wide: int) -> None:
    window.resize(wide, 800)
    for key in pane.views:
        pane.open_view(key)
        wait()
        right = max(b.mapTo(window, QPoint(b.width(), 0)).x() for b in pane.views.values())
        assert right <= wide
        edge = pane.sign.mapTo(window, QPoint(pane.sign.width(), 0)).x()
        assert edge <= wide
        assert window.width() == wide


def test_what_was_filled_in_is_not_thrown_away_at_the_first_escape(
    pane: RecordPane, wait: Wait
) -> None:
    dialog = form_of(pane, wait, "observation")
    assert dialog.form is not None
    dialog.form.editors["text"].touched = True
    dialog.reject()
    assert dialog.isVisible()
    assert "again to throw it away" in dialog.said.text()
    dialog.reject()
    assert pane.dialog is None or not dialog.isVisible()


def test_a_defect_is_never_offered_for_a_coat_not_begun(
    window: Shown, pane: RecordPane, wait: Wait
) -> None:
    job = window.desk.bench.job_in_hand()
    begun = {coat.id for coat in job.coats if coat.laid is not None}
    put_on = chain.entries(window.desk.bench.store, job.id, kinds=("application",))
    begun |= {entry.coat_id for entry in put_on}
    waiting = next(coat.id for coat in job.next_coats() if coat.id not in begun)
    dialog = EntryDialog(window.desk, job, window, kind="defect", coat_id=waiting)
    wait()
    assert dialog.coat.key in {"", *begun}
    other = EntryDialog(window.desk, job, window, kind="observation", coat_id=waiting)
    wait()
    assert other.coat.key == waiting
