"""Dialogs stay on the screen, at the bench scale too: their buttons are in reach."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QSize
from PySide6.QtWidgets import QDialog, QWidget
from pytestqt.qtbot import QtBot

from advisor.ui.widgets.parts import size_to_screen

pytestmark = pytest.mark.gui


def test_a_dialog_is_never_larger_than_the_screen(qtbot: QtBot) -> None:
    dialog = QDialog()
    qtbot.addWidget(dialog)
    room = dialog.screen().availableSize()
    size_to_screen(dialog, 10_000, 10_000)
    assert dialog.size() == room


def test_a_dialog_grows_with_the_scale_as_far_as_its_window_goes(qtbot: QtBot) -> None:
    window, inner = QWidget(), QWidget()
    inner.setParent(window)
    qtbot.addWidget(window)
    window.resize(1280, 1000)  # larger than the 800 by 800 of the screen without a screen
    dialog = QDialog(inner)
    size_to_screen(dialog, 760, 440)
    assert dialog.size() == QSize(760, 440)
    size_to_screen(dialog, 760, 440, 150)
    assert dialog.size() == QSize(1140, 660)
    size_to_screen(dialog, 1120, 740, 150)
    assert dialog.size() == QSize(1280, 1000)
