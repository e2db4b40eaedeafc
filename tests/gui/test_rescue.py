"""A database that cannot be opened: what is wrong is said, and every way out loses nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QPushButton
from pytestqt.qtbot import QtBot

from advisor.base.backup import go_back_closed, make_backup
from advisor.base.errors import StoreError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Draft, quantity
from advisor.ui import app
from advisor.ui.dialogs import rescue_dialog
from advisor.ui.dialogs.rescue_dialog import RescueDialog
from advisor.ui.main_window import MainWindow
from advisor.work.guard import default_folder

from .conftest import Clock, Settle

NOW_S = 1_780_000_000.0
AIR = {"air_temp": quantity("12.5", "°C", "typed")}
DRAFT = Draft("reading", "gig", NOW_S, NOW_S, "Europe/London", "crew", AIR)


def now_s() -> float:
    return NOW_S


@pytest.fixture
def torn(tmp_path: Path) -> Path:
    """A database of 400 entries, backed up at 300, then cut by a quarter."""
    path = tmp_path / "shop.sqlite3"
    with Store(path) as store:
        for count in (300, 100):
            with store.write() as db:
                for _ in range(count):
                    chain.append(db, DRAFT, "1")
            if count == 300:
                make_backup(store, default_folder(path), NOW_S)
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) * 3 // 4])
    return path


def button(dialog: RescueDialog, words: str) -> QPushButton:
    return next(one for one in dialog.buttons if words in one.text())


def aside(path: Path) -> list[Path]:
    return [p for p in path.parent.glob("*.before-*") if not p.name.endswith(("-wal", "-shm"))]


def entries(path: Path) -> int:
    with Store(path) as store:
        return len(chain.entries(store, "gig"))


def test_going_back_to_the_backup(qtbot: QtBot, torn: Path) -> None:
    dialog = RescueDialog(torn, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    with qtbot.waitSignal(dialog.accepted):
        button(dialog, "Go back to the backup").click()
    assert entries(torn) == 300
    assert len(aside(torn)) == 1


def test_another_copy_is_looked_at_before_it_is_gone_back_to(
    qtbot: QtBot, torn: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (made,) = default_folder(torn).glob("*.sqlite3")
    stick, bad = tmp_path / "stick" / "mine.sqlite3", tmp_path / "stick" / "bad.sqlite3"
    stick.parent.mkdir()
    made.rename(stick)
    bad.write_bytes(stick.read_bytes()[:9000])
    dialog = RescueDialog(torn, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    assert not any("backup of" in one.text() for one in dialog.buttons)  # none is known of
    chosen = iter((bad, Path(), stick))
    asked = lambda *_: (str(path) if (path := next(chosen)).name else "", "")  # noqa: E731
    monkeypatch.setattr(QFileDialog, "getOpenFileName", asked)
    count = len(dialog.buttons)
    button(dialog, "Another copy").click()
    assert "bad.sqlite3: it is damaged" in dialog.outcome.text()
    button(dialog, "Another copy").click()  # put away without choosing
    assert len(dialog.buttons) == count
    button(dialog, "Another copy").click()
    assert "0 jobs, 300 entries" in button(dialog, "mine.sqlite3").text()
    assert entries(stick) == 300
    with qtbot.waitSignal(dialog.accepted):
        button(dialog, "mine.sqlite3").click()
    assert entries(torn) == 300
    assert stick.exists()
    assert len(aside(torn)) == 1


def test_copies_in_a_folder_of_your_own_are_found_as_long_as_the_setting_reads(
    qtbot: QtBot, tmp_path: Path
) -> None:
    path, own = tmp_path / "shop.sqlite3", tmp_path / "own"
    with Store(path) as store:
        Settings(store).set("backup_folder", str(own))
        with store.write() as db:
            for _ in range(200):
                chain.append(db, DRAFT, "1")
        make_backup(store, own, NOW_S)
        make_backup(store, default_folder(path), NOW_S + 60, broken=True)
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) * 9 // 10])
    dialog = RescueDialog(path, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    words = [one.text() for one in dialog.buttons if "Go back" in one.text()]
    assert [("broken" in one, "200 entries" in one) for one in words] == [
        (True, True),
        (False, True),
    ]
    path.write_bytes(b"\0" * 4096)  # nothing reads any more: the usual folder alone
    dialog = RescueDialog(path, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    assert len([one for one in dialog.buttons if "Go back" in one.text()]) == 1


def test_saving_what_can_be_read(qtbot: QtBot, torn: Path) -> None:
    dialog = RescueDialog(torn, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    with qtbot.waitSignal(dialog.accepted):
        button(dialog, "Save what can still be read").click()
    assert 0 < entries(torn) < 400
    assert len(aside(torn)) == 1
    assert not [path for path in torn.parent.iterdir() if ".saved" in path.name]


def test_what_cannot_be_done_is_said_and_the_file_stays(qtbot: QtBot, torn: Path) -> None:
    torn.write_bytes(b"\0" * 4096)
    dialog = RescueDialog(torn, "it is damaged", now_s)
    qtbot.addWidget(dialog)
    button(dialog, "Save what can still be read").click()
    assert "nothing of it can be read" in dialog.outcome.text()
    assert torn.read_bytes() == b"\0" * 4096


def test_the_start_asks_and_goes_on(
    qtbot: QtBot, torn: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def answer(self: RescueDialog) -> int:
        asked.append(self.told.text())
        qtbot.addWidget(self)
        button(self, "Go back to the backup").click()
        return QDialog.DialogCode.Accepted

    monkeypatch.setattr(rescue_dialog.RescueDialog, "exec", answer)
    with app.opened(torn, now_s) as store:
        assert len(chain.entries(store, "gig")) == 300
    assert len(asked) == 1
    assert "damaged" in asked[0]


def test_a_going_back_that_was_cut_off_is_finished_and_said(
    qapp: QApplication, torn: Path, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.replace

    def replace(source: Path, target: Path) -> None:
        if Path(source) == torn or ".before-" in Path(source).name:
            raise OSError(5, "Input/output error")
        real(source, target)

    (backup,) = default_folder(torn).glob("*.sqlite3")
    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", replace)
        patch.setattr(Path, "unlink", lambda *_, **__: None)  # killed before it could tidy up
        with pytest.raises(StoreError):
            go_back_closed(torn, backup, NOW_S)
    said = []

    def begin(window: MainWindow, _demo: bool) -> None:
        said.append(window.desk.messages.text)
        window.close()

    monkeypatch.setattr(app, "begin_when_shown", begin)
    monkeypatch.setattr(QApplication, "exec", lambda *_: 0)
    app.run([], database=torn, resources=root / "resources", demo=False, clock=now_s)
    assert "it was finished now. What was there before is in shop.sqlite3.before-" in said[0]
    assert entries(torn) == 300


def test_giving_up_is_one_line(qtbot: QtBot, torn: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def answer(self: RescueDialog) -> int:
        qtbot.addWidget(self)
        return QDialog.DialogCode.Rejected

    monkeypatch.setattr(rescue_dialog.RescueDialog, "exec", answer)
    with pytest.raises(StoreError, match="damaged"):
        app.opened(torn, now_s)


def test_the_window_makes_a_backup_by_itself(
    window: MainWindow, settle: Settle, clock: Clock
) -> None:
    window.tick()
    settle(window)
    assert len(window.desk.bench.guard.backups()) == 1
    clock.now_s += 3 * 86400
    window.tick()
    settle(window)
    assert len(window.desk.bench.guard.backups()) == 2


def test_a_broken_record_is_told_in_the_window(window: MainWindow, settle: Settle) -> None:
    store = window.desk.bench.store
    with store.write() as db:
        chain.append(db, DRAFT, "1")
        chain.append(db, DRAFT, "1")
        db.execute("DROP TRIGGER entry_stays")
        db.execute("UPDATE entry SET line = replace(line, '12.5', '19.5') WHERE number = 1")
    window.tick()
    settle(window)
    assert "entry 1 was altered" in window.desk.messages.text
    assert [one.broken for one in window.desk.bench.guard.backups()] == [True]
