"""Start-up, panes, choices that survive, keys, sizes, and that no text runs out of its place."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QCheckBox, QFrame, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.store import Store
from advisor.ui.app import application, begin, build
from advisor.ui.late_panes import MAKERS
from advisor.ui.main_window import MainWindow
from advisor.ui.theme import PALETTES, contrast
from advisor.ui.widgets.elided import Elided
from advisor.work.workbench import Workbench

from .conftest import NOW_S, Clock, Settle

HEAVY = ("metpy", "pandas", "scipy", "requests_cache", "matplotlib", "xarray", "pint")

SHOW_ONLY = """
import sys
from pathlib import Path
import advisor.ui.app as app
from advisor.base.store import Store
from advisor.ui.widgets.elided import Elided
from advisor.work.workbench import Workbench
heavy = {names!r}
assert not [n for n in heavy if n in sys.modules], "imported with advisor.ui.app"
resources = Path({resources!r})
qt = app.application(["test"], resources)
with Store(Path({database!r})) as store:
    window = app.build(Workbench(store, resources), lambda: {now!r})
    window.show()
    qt.processEvents()
    assert window.before_mixing.answer.mark.kind == "working"
    late = [n for n in heavy if n in sys.modules]
    window.close()
print(",".join(late) or "none")
"""


def test_nothing_heavy_before_the_window(tmp_path: Path, root: Path, bench: Workbench) -> None:
    bench.load_demo(NOW_S)
    code = SHOW_ONLY.format(
        names=HEAVY,
        resources=str(root / "resources"),
        database=str(bench.store.path),
        now=NOW_S,
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "none", done.stderr


def test_first_start_offers_two_ways_in(
    qapp: QApplication, bench: Workbench, clock: Clock, settle: Settle, qtbot: QtBot
) -> None:
    window = build(bench, clock)
    window.show()
    begin(window, demo=False)
    assert window.stack.currentWidget() is window.first_run
    qtbot.mouseClick(window.first_run.look_at_demo, Qt.MouseButton.LeftButton)
    settle(window)
    assert window.stack.currentWidget() is window.before_mixing
    assert window.before_mixing.answer.mark.kind == "go"
    window.close()


def test_started_on_the_demo(bench: Workbench, clock: Clock, settle: Settle, qtbot: QtBot) -> None:
    window = build(bench, clock)
    window.show()
    begin(window, demo=True)
    settle(window)
    assert window.header.job_name.text() == "Pilot gig Dunlin"
    window.close()


def test_choices_survive_a_restart(
    window: MainWindow, bench: Workbench, clock: Clock, settle: Settle
) -> None:
    window.switch_units()
    window.switch_theme()
    window.switch_scale()
    window.open_pane("coming_days")
    settle(window)
    theme = window.desk.look.palette.name
    window.close()
    again = build(bench, clock)
    assert again.desk.units == "us"
    assert again.desk.look.palette.name == theme
    assert again.desk.look.scale_pct == 150
    assert again.stack.currentWidget() is again.coming_days
    again.close()


def test_size_survives_a_restart(window: MainWindow, bench: Workbench, clock: Clock) -> None:
    # Smaller than the 800 by 800 of the screen without a screen, or it would be cut to fit.
    window.resize(790, 610)
    window.close()
    again = build(bench, clock)
    assert (again.width(), again.height()) == (790, 610)
    again.close()


def test_choices_are_kept_while_another_program_writes(
    window: MainWindow, bench: Workbench, settle: Settle
) -> None:
    """The window does not wait for the other one to end."""
    other = sqlite3.connect(bench.store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    window.open_pane("tonight")
    window.switch_theme()
    window.switch_scale()
    other.execute("ROLLBACK")
    other.close()
    settle(window)
    settings = bench.settings
    kept = settings.text("last_pane"), settings.text("theme"), settings.number("scale_pct")
    assert kept == ("tonight", window.desk.look.palette.name, window.desk.look.scale_pct)
    assert window.desk.messages.text == ""


def test_high_contrast_survives_a_restart(
    window: MainWindow, bench: Workbench, clock: Clock, settle: Settle
) -> None:
    while window.desk.look.palette.name != "high contrast":
        window.switch_theme()
    settle(window)
    assert bench.settings.text("theme") == "high contrast"
    window.close()
    again = build(bench, clock)
    assert again.desk.look.palette.name == "high contrast"
    again.switch_theme()
    assert again.desk.look.palette.name == "light"
    again.close()


@pytest.mark.parametrize(
    ("key", "pane"),
    [
        (Qt.Key.Key_1, "before_mixing"),
        (Qt.Key.Key_2, "batch"),
        (Qt.Key.Key_3, "tonight"),
        (Qt.Key.Key_4, "coming_days"),
        (Qt.Key.Key_5, "readings"),
        (Qt.Key.Key_6, "record"),
        (Qt.Key.Key_7, "shop"),
    ],
)
def test_panes_by_key(
    window: MainWindow, qtbot: QtBot, key: Qt.Key, pane: str, settle: Settle
) -> None:
    window.open_pane("help")
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window, key, Qt.KeyboardModifier.ControlModifier)
    settle(window)
    shown = window.late.pane(pane) if pane in MAKERS else getattr(window, pane)
    assert window.stack.currentWidget() is shown
    assert window.header.tabs[pane].isChecked()


def test_bench_scale_by_key(window: MainWindow, qtbot: QtBot) -> None:
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    small = window.before_mixing.on.sizeHint().height()
    qtbot.keyClick(window, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    assert window.desk.look.scale_pct == 150
    # 150 % of the words and the height, whole pixels, so within three.
    assert window.before_mixing.on.sizeHint().height() == pytest.approx(1.5 * small, abs=3)


def test_every_reading_is_reached_by_tab(window: MainWindow) -> None:
    for box in window.before_mixing.work.boxes.values():
        assert box.field.focusPolicy() & Qt.FocusPolicy.TabFocus
    for button in (window.before_mixing.on, window.before_mixing.record):
        assert button.focusPolicy() & Qt.FocusPolicy.TabFocus
    assert window.coming_days.view.focusPolicy() & Qt.FocusPolicy.TabFocus


@pytest.mark.parametrize("palette", PALETTES, ids=lambda p: p.name)
def test_contrast_of_texts_and_marks(palette: object) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for marks (1.4.11)."""
    look = vars(palette)
    for ink in ("ink", "grey"):
        for ground in ("paper", "card", "field"):
            assert contrast(look[ink], look[ground]) >= 4.5, (ink, ground)
    for ink in ("go", "close", "wait", "sand", "unknown", "surface", "dew"):
        assert contrast(look[ink], look["card"]) >= 4.5, ink
    assert contrast(look["ink"], look["button"]) >= 4.5
    assert contrast(look["ink"], look["caution"]) >= 4.5
    assert contrast(look["grey"], look["caution"]) >= 4.5
    assert contrast(look["on_go"], look["go"]) >= 4.5
    assert contrast(look["header_ink"], look["header"]) >= 4.5
    assert contrast(look["header_grey"], look["header"]) >= 4.5
    assert contrast(look["surface"], look["warm"]) >= 3


def test_contrast_ratio_of_black_and_white() -> None:
    """WCAG 2.2, definition of contrast ratio: black on white is 21 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)


def cut_texts(page: QWidget) -> list[str]:
    """Visible words that do not fit where they stand."""
    found = []
    for label in page.findChildren(QLabel):
        if not label.isVisible() or not label.text() or isinstance(label, Elided):
            continue
        if label.wordWrap():
            fits = label.height() >= label.heightForWidth(label.width()) - 1
        else:
            fits = label.width() >= label.sizeHint().width() - 1
        if not fits:
            found.append(label.text())
    for button in page.findChildren(QPushButton):
        if button.isVisible() and button.width() < button.sizeHint().width() - 1:
            found.append(button.text())
    return found


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080), (1024, 700)])
@pytest.mark.parametrize("scale_pct", [100, 150])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_runs_out_of_its_place(
    window: MainWindow,
    settle: Settle,
    qtbot: QtBot,
    size: tuple[int, int],
    scale_pct: int,
    units: str,
) -> None:
    window.resize(*size)
    window.desk.look.set_scale(scale_pct)
    window.desk.set_units("us" if units == "us" else "metric")
    for pane in ("before_mixing", "tonight", "coming_days", "shop"):
        window.open_pane(pane)
        settle(window)
        for _ in range(5):
            QApplication.processEvents()
        assert cut_texts(window) == [], pane


def test_targets_are_large_enough_for_gloves(window: MainWindow, settle: Settle) -> None:
    for pane in ("before_mixing", "tonight", "coming_days", "shop", "help"):
        window.open_pane(pane)
        settle(window)
        for button in window.findChildren(QPushButton):
            if button.isVisible():
                assert min(button.width(), button.height()) >= 44, button.text()


def test_a_message_is_a_bar_not_a_window(window: MainWindow) -> None:
    window.desk.messages.error("The disk is full.")
    assert window.desk.messages.text == "The disk is full."
    assert window.desk.messages.isVisible()
    assert QApplication.activeModalWidget() is None


def test_application_is_made_once(qapp: QApplication, root: Path) -> None:
    style, font = qapp.styleSheet(), qapp.font()
    assert application(["x"], root / "resources") is qapp
    assert not qapp.windowIcon().isNull()
    qapp.setStyleSheet(style)
    qapp.setFont(font)


def test_closed_store_after_the_window(tmp_path: Path, root: Path, clock: Clock) -> None:
    """Closing the window lets a write in flight end before the store closes."""
    with Store(tmp_path / "own.sqlite3") as store:
        own = Workbench(store, root / "resources")
        opened = build(own, clock)
        opened.load_demo()
        opened.close()
        assert own.job() is not None


def test_rules_between_reasons_follow_the_theme(window: MainWindow) -> None:
    reasons = window.before_mixing.answer.reasons
    window.desk.look.set_theme("dark")
    rule = next(f for f in reasons.findChildren(QFrame) if f.maximumHeight() == 1)
    wanted = window.desk.look.palette.line
    assert rule.grab().toImage().pixelColor(5, 0).name() == wanted


def test_an_empty_check_box_is_dark_on_a_dark_screen(window: MainWindow) -> None:
    window.desk.look.set_theme("dark")
    box = QCheckBox("lags behind", window)
    box.show()
    shot = box.grab().toImage()
    # The middle of the indicator of 24 px and its border.
    assert shot.pixelColor(13, shot.height() // 2).name() == window.desk.look.palette.field
