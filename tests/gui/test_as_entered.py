"""A number typed in the window stands in the exported line as it was typed, unit and all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from advisor.record.export import export_folder
from advisor.ui.dialogs.type_reading import TypeReadingDialog
from advisor.ui.main_window import MainWindow
from advisor.ui.widgets.reading_box import ReadingBox
from advisor.work.readings_look import ReadingsLook

from .conftest import NOW_S, Settle

pytestmark = pytest.mark.gui
METRIC = {"air_temp_c": "12.50", "rh_pct": "62,50", "surface_temp_c": "11", "surface_hot_c": "12.0"}
US = {"air_temp_c": "54.50", "rh_pct": "62.5", "surface_temp_c": "52", "surface_hot_c": "53.60"}


def put(boxes: dict[str, ReadingBox], typed: dict[str, str], qtbot: QtBot) -> None:
    for name, digits in typed.items():
        boxes[name].field.clear()
        qtbot.keyClicks(boxes[name].field, digits)
        boxes[name].confirm()


def exported(window: MainWindow, folder: Path) -> dict[str, dict[str, str]]:
    """Return the data of the last reading as it stands in the file that is given away."""
    job = window.desk.bench.job_in_hand()
    export_folder(window.desk.bench.store, job.id, folder / "given")
    lines = (folder / "given" / "record.jsonl").read_text(encoding="utf-8").splitlines()
    found = [entry for line in lines if (entry := json.loads(line)).get("kind") == "reading"]
    data: dict[str, dict[str, str]] = found[-1]["data"]
    return data


def told(data: dict[str, dict[str, str]], *fields: str) -> list[tuple[str, ...]]:
    parts = ("value", "unit", "entered")
    return [tuple(data[field][part] for part in parts if part in data[field]) for field in fields]


READ = ("air_temp", "rh", "surface_temp", "surface_hot")
KEPT_METRIC = [("12.50", "°C"), ("62.50", "%"), ("11", "°C"), ("12.0", "°C")]
#: (54.50 - 32) / 1.8 = 12.5, (52 - 32) / 1.8 = 11.111…, (53.60 - 32) / 1.8 = 12.0: by hand.
KEPT_US = [("12.5000", "°C", "54.50 °F"), ("62.5", "%"), ("11.11", "°C", "52 °F"),
           ("12.0000", "°C", "53.60 °F")]  # fmt: skip


@pytest.mark.parametrize(
    ("units", "typed", "kept"), [("metric", METRIC, KEPT_METRIC), ("us", US, KEPT_US)]
)
def test_before_mixing(
    window: MainWindow, settle: Settle, qtbot: QtBot, tmp_path: Path,
    units: str, typed: dict[str, str], kept: list[tuple[str, ...]],
) -> None:  # fmt: skip
    window.desk.set_units("us" if units == "us" else "metric")
    put(window.before_mixing.work.boxes, typed, qtbot)
    window.before_mixing.record.click()
    settle(window)
    assert told(exported(window, tmp_path), *READ) == kept


@pytest.mark.parametrize(
    ("units", "typed", "kept"), [("metric", METRIC, KEPT_METRIC), ("us", US, KEPT_US)]
)
def test_a_reading_by_hand(
    window: MainWindow, qtbot: QtBot, tmp_path: Path,
    units: str, typed: dict[str, str], kept: list[tuple[str, ...]],
) -> None:  # fmt: skip
    window.desk.set_units("us" if units == "us" else "metric")
    dialog = TypeReadingDialog(window.desk, ReadingsLook(window.desk.bench).zones()[0])
    qtbot.addWidget(dialog)
    put(dialog.boxes, typed, qtbot)
    with qtbot.waitSignal(dialog.accepted, timeout=20_000):
        dialog.accept()
    data = exported(window, tmp_path)
    assert told(data, *READ) == kept
    stored = window.desk.bench.latest_values(NOW_S)
    # What every pane reads is what the line says, not a second reckoning of it.
    assert stored["surface_temp_c"].value == float(data["surface_temp"]["value"])


def test_what_is_typed_stays_in_the_box(window: MainWindow, qtbot: QtBot) -> None:
    box = window.before_mixing.work.boxes["rh_pct"]
    put({"rh_pct": box}, {"rh_pct": "62.50"}, qtbot)
    box.confirm()  # Enter again: the same reading, nothing rounded
    assert (box.field.text(), box.value) == ("62.50", 62.5)


def test_other_units_of_the_reader_do_not_change_what_was_typed(
    window: MainWindow, settle: Settle, qtbot: QtBot, tmp_path: Path
) -> None:
    put(window.before_mixing.work.boxes, METRIC, qtbot)
    window.desk.set_units("us")
    window.before_mixing.record.click()
    settle(window)
    assert told(exported(window, tmp_path), *READ) == KEPT_METRIC
