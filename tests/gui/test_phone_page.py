"""The page for the phone follows the window, and a folder that went away is told once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.planning.job_file import read_job
from advisor.ui.desk import Desk
from advisor.ui.messages import MessageBar
from advisor.ui.phone_page import EVERY_S, PhonePage
from advisor.ui.theme import Look
from advisor.work.workbench import Workbench
from tests.gui.conftest import Clock


@pytest.fixture
def desk(qapp: QApplication, bench: Workbench, clock: Clock) -> Iterator[Desk]:
    for path in sorted((bench.resources / "demo" / "products").glob("*.toml")):
        bench.add_product_file(path)
    bench.save_job(read_job(bench.resources / "demo" / "job.toml"))
    made = Desk(bench, clock, Look("light"), MessageBar())
    yield made
    made.close()


def settled(desk: Desk, qtbot: QtBot) -> None:
    qtbot.waitUntil(desk.idle, timeout=60_000)


def test_no_folder_no_page(desk: Desk, qtbot: QtBot, tmp_path: Path) -> None:
    page = PhonePage(desk)
    page.tick()
    assert desk.idle()
    desk.bench.settings.set("tonight_folder", str(tmp_path))
    page.tick()
    settled(desk, qtbot)
    assert (tmp_path / "tonight.html").is_file()


def test_the_page_is_written_anew_every_five_minutes_and_after_a_change(
    desk: Desk, qtbot: QtBot, tmp_path: Path, clock: Clock
) -> None:
    desk.bench.settings.set("tonight_folder", str(tmp_path))
    page, written = PhonePage(desk), list[object]()
    page.written.connect(written.append)
    page.tick()
    settled(desk, qtbot)
    clock.now_s += EVERY_S - 1
    page.tick()
    settled(desk, qtbot)
    assert len(written) == 1
    clock.now_s += 1
    page.tick()
    settled(desk, qtbot)
    assert len(written) == 2
    desk.changed.emit()
    settled(desk, qtbot)
    assert len(written) == 3


def test_a_folder_that_went_away_is_told_once_and_tried_on(
    desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    folder = tmp_path / "share"
    desk.bench.settings.set("tonight_folder", str(folder))
    page = PhonePage(desk)
    page.write()
    settled(desk, qtbot)
    assert "was not written" in desk.messages.text
    desk.messages.hide()
    page.write()
    settled(desk, qtbot)
    assert desk.messages.text == ""
    folder.mkdir()
    page.write()
    settled(desk, qtbot)
    assert (folder / "tonight.html").is_file()
