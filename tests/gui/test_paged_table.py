"""A table of a million rows: smooth, bounded, honest about what is not there yet."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.base.errors import InputError
from advisor.ui.operations import Failure, Operations
from advisor.ui.theme import Look
from advisor.ui.widgets.paged_table import (
    COMING,
    PAGE,
    PAGES_KEPT,
    Heading,
    PagedTable,
    TableRow,
)

pytestmark = pytest.mark.gui
HEADINGS = (Heading("Number", 120, figures=True), Heading("Words"))
MILLION = 1_000_000


class Counted:
    """Rows that tell which pages were asked for; `gate` holds the worker back."""

    def __init__(self, rows: int) -> None:
        self.rows = rows
        self.asked: list[int] = []
        self.gate = threading.Event()
        self.gate.set()
        self.error: InputError | None = None

    def page(self, first: int, count: int) -> list[TableRow]:
        self.gate.wait(10)
        self.asked.append(first)
        if self.error is not None:
            raise self.error
        last = min(first + count, self.rows)
        return [
            TableRow((str(n), f"row {n}"), n, struck=n == 3, doubt=n == 2, told=f"told {n}")
            for n in range(first, last)
        ]


@pytest.fixture
def work(qapp: QApplication) -> Iterator[Operations]:
    def refuse(failure: Failure) -> None:
        raise AssertionError(failure.text)

    made = Operations(refuse)
    yield made
    made.close()


@pytest.fixture
def table(qtbot: QtBot, work: Operations) -> PagedTable:
    made = PagedTable(Look("light", 100), HEADINGS, work)
    qtbot.addWidget(made)
    made.resize(600, 440)
    made.show()
    return made


def words(table: PagedTable, row: int, column: int = 1) -> str:
    return str(table.pages.data(table.pages.index(row, column)))


def test_rows_come_from_the_worker(table: PagedTable, qtbot: QtBot) -> None:
    pages = Counted(1000)
    pages.gate.clear()
    table.show_pages(pages)
    assert words(table, 0) == COMING
    pages.gate.set()
    qtbot.waitUntil(lambda: words(table, 0) == "row 0", timeout=5000)
    assert words(table, 199) == "row 199"
    assert pages.asked == [0]


def test_a_long_scroll_leaves_no_queue_behind(
    table: PagedTable, qtbot: QtBot, work: Operations
) -> None:
    pages = Counted(MILLION)
    pages.gate.clear()
    table.show_pages(pages)
    for row in range(0, MILLION, 1000):
        words(table, row)
    pages.gate.set()
    qtbot.waitUntil(work.idle, timeout=10_000)
    assert len(pages.asked) <= 6  # the one under way, the few last asked for, the screen
    assert words(table, MILLION - 1000) == f"row {MILLION - 1000}"


def test_only_some_pages_are_kept(table: PagedTable, qtbot: QtBot, work: Operations) -> None:
    pages = Counted(MILLION)
    table.show_pages(pages)
    for number in range(PAGES_KEPT + 20):
        words(table, number * PAGE)
        qtbot.waitUntil(work.idle, timeout=5000)
    assert table.pages.pages_kept == PAGES_KEPT
    assert words(table, (PAGES_KEPT + 19) * PAGE) == f"row {(PAGES_KEPT + 19) * PAGE}"


def test_the_end_of_a_million_is_one_step_away(table: PagedTable, qtbot: QtBot) -> None:
    table.show_pages(Counted(MILLION))
    table.setFocus()
    table.scrollToBottom()
    qtbot.waitUntil(lambda: words(table, MILLION - 1) == f"row {MILLION - 1}", timeout=5000)
    shown = table.indexAt(QPoint(5, table.viewport().height() - 5)).row()
    assert shown == MILLION - 1


def test_corrected_and_doubtful_rows_look_it(table: PagedTable, qtbot: QtBot) -> None:
    table.show_pages(Counted(10))
    qtbot.waitUntil(lambda: words(table, 0) == "row 0", timeout=5000)
    font = Qt.ItemDataRole.FontRole
    model = table.pages
    assert model.data(model.index(0, 0), font) is None
    assert model.data(model.index(2, 0), font).bold()
    assert model.data(model.index(3, 0), font).strikeOut()
    assert model.data(model.index(3, 0), Qt.ItemDataRole.ToolTipRole) == "told 3"


def test_a_tap_chooses_the_row(table: PagedTable, qtbot: QtBot) -> None:
    table.show_pages(Counted(10))
    qtbot.waitUntil(lambda: words(table, 0) == "row 0", timeout=5000)
    place = table.visualRect(table.pages.index(4, 1)).center()
    with qtbot.waitSignal(table.chosen, timeout=5000) as heard:
        qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert heard.args[0].key == 4
    assert table.rowHeight(4) >= 44


def test_no_rows_say_why(table: PagedTable) -> None:
    table.show_pages(Counted(0), "Nothing read yet.")
    assert table.empty_words == "Nothing read yet."
    table.show_pages(Counted(1), "Nothing read yet.")
    assert table.empty_words == ""


def test_a_fault_is_told_once_and_not_asked_for_ever(
    table: PagedTable, qtbot: QtBot, work: Operations
) -> None:
    pages = Counted(1000)
    pages.error = InputError("the disk could not be read")
    table.show_pages(pages)
    qtbot.waitUntil(lambda: table.empty_words == "the disk could not be read", timeout=5000)
    asked = len(pages.asked)
    table.viewport().repaint()
    qtbot.waitUntil(work.idle, timeout=5000)
    assert len(pages.asked) == asked == 1


def test_pages_of_before_are_not_taken_for_the_new_ones(
    table: PagedTable, qtbot: QtBot, work: Operations
) -> None:
    old, new = Counted(10), Counted(5)
    old.gate.clear()
    table.show_pages(old)
    words(table, 0)
    table.show_pages(new)
    old.gate.set()
    qtbot.waitUntil(lambda: words(table, 4) == "row 4", timeout=5000)
    qtbot.waitUntil(work.idle, timeout=5000)
    assert table.pages.rowCount() == 5
