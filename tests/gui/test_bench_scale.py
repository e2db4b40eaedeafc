"""At the bench scale all four readings are in sight at once, each number whole."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QApplication

from advisor.ui.main_window import MainWindow
from advisor.ui.widgets.reading_box import ReadingBox

from .conftest import Settle
from .test_window import cut_texts


@pytest.mark.parametrize("units", ["metric", "us"])
def test_all_four_readings_are_in_sight(window: MainWindow, settle: Settle, units: str) -> None:
    window.resize(1280, 800)
    window.desk.look.set_scale(150)
    window.desk.set_units("us" if units == "us" else "metric")
    settle(window)
    for _ in range(5):
        QApplication.processEvents()
    boxes = window.before_mixing.work.boxes.values()
    assert [box.name.text() for box in boxes if not whole(box)] == []
    assert cut_texts(window.before_mixing) == []


def whole(box: ReadingBox) -> bool:
    """Whether a box is in sight to its last pixel, and its number fits its field."""
    seen = box.visibleRegion().boundingRect() == box.rect()
    field = box.field
    return seen and field.fontMetrics().horizontalAdvance(field.text()) < field.width()


def test_back_at_plain_scale_names_stand_above_the_numbers(
    window: MainWindow, settle: Settle
) -> None:
    box = window.before_mixing.work.boxes["air_temp_c"]

    def name_above() -> bool:
        for _ in range(5):
            QApplication.processEvents()
        name = QRect(box.name.mapTo(box, QPoint(0, 0)), box.name.size())
        return name.bottom() <= box.field.geometry().center().y() - box.field.height() // 3

    assert name_above()
    window.desk.look.set_scale(150)
    assert not name_above()
    window.desk.look.set_scale(100)
    assert name_above()


def test_the_hints_of_the_tins_are_in_the_readers_unit(window: MainWindow) -> None:
    tins = window.before_mixing.work.tins
    for units, told in (("us", "68.0 °F"), ("metric", "20.0 °C")):
        window.desk.set_units("us" if units == "us" else "metric")
        assert told in tins.field.toolTip()
        assert told in tins.empty.toolTip()
