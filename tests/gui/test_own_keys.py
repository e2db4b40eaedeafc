"""Keys of the window while a number field has the focus."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from advisor.ui.main_window import MainWindow
from advisor.ui.widgets.reading_box import ReadingBox


@pytest.fixture
def field(window: MainWindow, qtbot: QtBot) -> QLineEdit:
    window.show()
    window.activateWindow()
    field = window.before_mixing.findChildren(ReadingBox)[0].field
    field.setFocus()
    qtbot.waitUntil(field.hasFocus)
    field.setText("15.0")
    field.setCursorPosition(4)
    return field


def test_ctrl_u_changes_the_units_and_keeps_the_reading(
    window: MainWindow, field: QLineEdit, qtbot: QtBot
) -> None:
    """15 °C is 59 °F: by definition 1.8 × 15 + 32."""
    qtbot.keyClick(field, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    assert window.desk.units == "us"
    assert float(field.text()) == pytest.approx(59.0)


@pytest.mark.parametrize("key", [Qt.Key.Key_B, Qt.Key.Key_L, Qt.Key.Key_2])
def test_no_key_of_the_window_changes_the_field(
    field: QLineEdit, qtbot: QtBot, key: Qt.Key
) -> None:
    qtbot.keyClick(field, key, Qt.KeyboardModifier.ControlModifier)
    assert field.text() == "15.0"


def test_a_key_that_every_line_edit_claims_goes_to_the_window(
    window: MainWindow, field: QLineEdit, qtbot: QtBot
) -> None:
    """Ctrl+U is claimed on some systems only; Ctrl+A, "select all", on every one."""
    came: list[int] = []
    window._shortcut("Ctrl+A", lambda: came.append(1))
    qtbot.keyClick(field, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert came == [1]
    assert field.selectedText() == ""
