"""The dialogs by hand: set a job up, bring readings in. Numbers in, the bench's numbers out."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtWidgets import QApplication, QCheckBox, QComboBox, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.coatings.product_file import read_product
from advisor.planning.job import Job
from advisor.planning.job_file import job_to_toml, read_job
from advisor.ui.dialogs.import_dialog import ImportDialog
from advisor.ui.dialogs.job_dialog import JobDialog
from advisor.ui.theme import TARGET, Look
from advisor.work.workbench import Workbench

NOW_S = datetime(2026, 5, 14, 9, 0, tzinfo=ZoneInfo("Europe/London")).timestamp()
#: One international foot is 0.3048 m (NIST SP 811), so a square foot is exactly this.
FT2_M2 = 0.3048**2

LOG = """When;Shed temp (C);Humidity %;Hull temp (C);Spare (C)
14/05/2026 08:00;11,2;72;10,9;3,0
14/05/2026 08:10;11,3;71;11,0;3,0
nonsense;1;2;3;4
14/05/2026 08:20;11,6;70;11,1;3,0
"""


@pytest.fixture
def bench(store: Store) -> Workbench:
    return Workbench(store, resources_dir())


def job_dialog(qtbot: QtBot, bench: Workbench, *, new: bool = False) -> JobDialog:
    dialog = JobDialog(bench, NOW_S, new=new)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


def write(line: QLineEdit, words: str) -> None:
    """Type as a person does: the field says it was edited."""
    line.setText(words)
    line.textEdited.emit(words)


def fill_in(dialog: JobDialog) -> None:
    write(dialog.head.name.line, "Gig")
    write(dialog.head.zone.line, "Europe/London")
    area = dialog.areas.rows[0]
    write(area.name.line, "port side")
    write(area.extent.line, "100")
    dialog.coats.add.click()
    coat = dialog.coats.rows[0]
    write(coat.name.line, "first gloss")
    coat.product.choose("typical-two-part-gloss")
    write(coat.pace.line, "50")


def test_a_new_job_in_metric(qtbot: QtBot, bench: Workbench) -> None:
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    write(dialog.areas.rows[0].extent.line, "9,4")
    dialog.keep.click()
    job = bench.job()
    assert job is not None
    assert dialog.job_kept == job
    assert job.id == "gig-20260514-090000"
    assert (job.areas[0].id, job.areas[0].area_m2) == ("port-side", 9.4)
    assert job.coats[0].area_id == "port-side"
    assert job.coats[0].product_id == "typical-two-part-gloss"


def test_a_new_job_in_us_units(qtbot: QtBot, bench: Workbench) -> None:
    bench.settings.set("units", "us")
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    dialog.keep.click()
    job = bench.job()
    assert job is not None
    # Two conversions in floating point: a few units in the last of 16 places.
    assert job.areas[0].area_m2 == pytest.approx(100 * FT2_M2, rel=1e-14)
    assert job.coats[0].pace_m2_per_h == pytest.approx(50 * FT2_M2, rel=1e-14)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_an_untouched_job_is_kept_to_the_last_digit(
    qtbot: QtBot, bench: Workbench, units: str
) -> None:
    bench.settings.set("units", units)
    job = bench.load_demo(NOW_S)
    odd = replace(job, surface_lag_h=1.7, areas=(replace(job.areas[0], area_m2=9.1234567),
                                                 *job.areas[1:]))  # fmt: skip
    bench.save_job(odd)
    dialog = job_dialog(qtbot, bench)
    dialog.keep.click()
    assert bench.job() == odd


def test_coats_move_and_go_and_keep_what_is_laid(qtbot: QtBot, bench: Workbench) -> None:
    job = bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    rows = dialog.coats.rows
    assert not rows[0].up.isEnabled()
    rows[1].up.click()
    rows[2].remove.click()
    dialog.keep.click()
    kept = bench.job()
    assert kept is not None
    ids = [coat.id for coat in job.coats]
    assert [coat.id for coat in kept.coats] == [ids[1], ids[0], *ids[3:]]
    assert kept.coat(ids[0]) == job.coat(ids[0])
    assert kept.coat(ids[0]).laid is not None
    assert "laid 2026-05-07, 10:00 to 11:00" in rows[1].note.text()


def test_a_renamed_area_keeps_its_coats(qtbot: QtBot, bench: Workbench) -> None:
    job = bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    write(dialog.areas.rows[0].name.line, "left side")
    assert dialog.coats.rows[0].area.box.currentText() == "left side"
    dialog.keep.click()
    kept = bench.job()
    assert kept is not None
    assert kept.areas[0] == replace(job.areas[0], name="left side")
    assert kept.coats == job.coats


def test_an_area_taken_out_leaves_its_coats_to_place(qtbot: QtBot, bench: Workbench) -> None:
    bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    dialog.areas.rows[0].remove.click()
    dialog.keep.click()
    assert dialog.job_kept is None
    assert dialog.coats.rows[0].area.error == "choose an area"
    assert "6 fields need a look" in dialog.said.text()  # the six coats of the port side


def test_every_row_says_its_own_error(qtbot: QtBot, bench: Workbench) -> None:
    dialog = job_dialog(qtbot, bench)
    area = dialog.areas.rows[0]
    assert area.name.error == ""  # nothing nags before it was touched
    dialog.coats.add.click()
    coat = dialog.coats.rows[0]
    write(area.extent.line, "-3")
    assert area.extent.error == "a number above 0"
    assert area.name.error == ""
    dialog.keep.click()
    assert area.name.error == "give it a name"
    assert coat.product.error == "choose a product"
    assert coat.pace.error == "a number above 0"
    assert coat.area.error == ""
    assert bench.job() is None
    write(area.extent.line, "3")
    assert area.extent.error == ""


@pytest.mark.parametrize(
    ("zone", "hours", "zone_error", "hours_error"),
    [
        ("Europe/Londn", "", "a time zone such as Europe/London", ""),
        ("Europe/London", "8 to 6", "", "found '8 to 6'"),
        ("Europe/London", "18:00-08:00", "", "an end after the start"),
    ],
)
def test_zone_and_hours(
    qtbot: QtBot, bench: Workbench, zone: str, hours: str, zone_error: str, hours_error: str
) -> None:
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    write(dialog.head.zone.line, zone)
    write(dialog.head.hours.line, hours)
    dialog.keep.click()
    assert dialog.job_kept is None
    assert dialog.head.zone.error == zone_error
    assert hours_error in dialog.head.hours.error


def test_two_areas_of_one_name(qtbot: QtBot, bench: Workbench) -> None:
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    dialog.areas.add.click()
    write(dialog.areas.rows[1].name.line, "port side")
    assert "already an area" in dialog.areas.rows[1].name.error


def test_a_job_needs_an_area_and_a_coat(qtbot: QtBot, bench: Workbench) -> None:
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    dialog.coats.rows[0].remove.click()
    dialog.keep.click()
    assert dialog.job_kept is None
    assert "at least one coat" in dialog.said.text()


def test_leaving_with_changes_asks_first(qtbot: QtBot, bench: Workbench) -> None:
    dialog = job_dialog(qtbot, bench)
    write(dialog.head.name.line, "Gig")
    dialog.reject()
    assert dialog.isVisible()
    assert dialog.leaving.isVisible()
    dialog.keep_editing.click()
    assert not dialog.leaving.isVisible()
    dialog.reject()
    dialog.throw_away.click()
    assert not dialog.isVisible()
    assert bench.job() is None


def test_leaving_without_changes_just_leaves(qtbot: QtBot, bench: Workbench) -> None:
    bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    dialog.reject()
    assert not dialog.isVisible()


def test_files_out_and_in(qtbot: QtBot, bench: Workbench, tmp_path: Path) -> None:
    job = bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    file = tmp_path / "gig.toml"
    assert dialog.save_file(file)
    assert read_job(file) == job
    other = job_dialog(qtbot, bench, new=True)
    assert other.open_file(file)
    assert other.job() == job
    file.write_text(job_to_toml(job).replace("name =", "nam ="), encoding="utf-8")
    assert not other.open_file(file)
    assert "gig.toml: nam: found an unknown key" in other.said.text()
    assert not dialog.save_file(tmp_path / "none" / "gig.toml")
    assert "cannot" in dialog.said.text() or "No such file" in dialog.said.text()


def test_templates_are_marked_and_copied_to_fill_in(
    qtbot: QtBot, bench: Workbench, tmp_path: Path
) -> None:
    dialog = job_dialog(qtbot, bench)
    fill_in(dialog)
    box = dialog.coats.rows[0].product.box
    assert all("typical values" in box.itemText(k) for k in range(box.count()))
    dialog.shelf.template.choose("typical-alkyd")
    file = tmp_path / "My spar varnish.toml"
    assert dialog.shelf.copy_to(file)
    made = read_product(file)
    assert (made.id, made.name, made.status) == ("my-spar-varnish", "My spar varnish", "template")
    template = bench.products()["typical-alkyd"]
    assert made == replace(template, id=made.id, name=made.name)
    text = file.read_text("utf-8").replace('status = "template"', 'status = "from data sheet"')
    file.write_text(text, encoding="utf-8")
    assert dialog.shelf.add_file(file) is not None
    assert "My spar varnish" in [box.itemText(k) for k in range(box.count())]
    assert dialog.coats.rows[0].product.key == "typical-two-part-gloss"


def test_a_bad_product_file_says_why(qtbot: QtBot, bench: Workbench, tmp_path: Path) -> None:
    dialog = job_dialog(qtbot, bench)
    file = tmp_path / "bad.toml"
    file.write_text("schema = 1\nidd = 'x'\n", encoding="utf-8")
    assert dialog.shelf.add_file(file) is None
    assert "bad.toml" in dialog.shelf.said.text()


def test_a_missing_product_is_told_and_mended(qtbot: QtBot, bench: Workbench) -> None:
    job = bench.load_demo(NOW_S)
    coat = replace(job.coats[0], product_id="lost-sealer")
    bench.save_job(job.with_coat(coat))
    dialog = job_dialog(qtbot, bench)
    dialog.keep.click()
    row = dialog.coats.rows[0]
    assert "lost-sealer" in row.product.error
    row.product.choose("demo-epoxy-sealer")
    dialog.keep.click()
    assert bench.job() == job


def small(dialog: QWidget) -> list[str]:
    kinds = (QPushButton, QLineEdit, QComboBox, QCheckBox)
    found = [w for kind in kinds for w in dialog.findChildren(kind) if w.isVisible()]
    assert found
    return [w.accessibleName() for w in found if w.height() < TARGET]


@pytest.fixture
def styled() -> object:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    app.setStyleSheet(Look("light").stylesheet())
    yield app
    app.setStyleSheet("")


@pytest.mark.usefixtures("qapp", "styled")
def test_targets_are_large_enough(qtbot: QtBot, bench: Workbench) -> None:
    bench.load_demo(NOW_S)
    dialog = job_dialog(qtbot, bench)
    readings = ImportDialog(bench, NOW_S)
    qtbot.addWidget(readings)
    readings.show()
    qtbot.waitUntil(lambda: not small(dialog), timeout=5000)
    qtbot.waitUntil(lambda: not small(readings), timeout=5000)


# --- readings --------------------------------------------------------------------------------


def import_dialog(qtbot: QtBot, bench: Workbench, path: Path) -> ImportDialog:
    dialog = ImportDialog(bench, NOW_S)
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.choose(path)
    settled(qtbot, dialog)
    return dialog


def settled(qtbot: QtBot, dialog: ImportDialog) -> None:
    qtbot.waitUntil(lambda: not dialog.busy, timeout=20000)


@pytest.fixture
def demo(bench: Workbench) -> Job:
    job = bench.load_demo(NOW_S)
    bench.settings.set("time_zone", job.time_zone)
    return job


@pytest.fixture
def log(tmp_path: Path) -> Path:
    file = tmp_path / "shed.csv"
    file.write_text(LOG, encoding="utf-8")
    return file


def cells(dialog: ImportDialog, row: int) -> list[str]:
    grid = dialog.preview.table
    items = [grid.itemAtPosition(row, k) for k in range(grid.columnCount())]
    return [item.widget().text() for item in items if item is not None]  # type: ignore[attr-defined]


@pytest.mark.usefixtures("demo")
def test_a_log_is_shown_then_kept(qtbot: QtBot, bench: Workbench, log: Path) -> None:
    dialog = import_dialog(qtbot, bench, log)
    assert dialog.preview.rows.text().startswith("4 rows read, 3 used, 1 left out.")
    assert "Coldest spot: 'Hull temp (C)' in °C" in dialog.preview.choices.text()
    assert "Line 4: 'nonsense' is no time" in dialog.preview.dropped.text()
    assert cells(dialog, 0)[:3] == ["Time", "Air, °C", "Humidity, %"]
    assert cells(dialog, 1) == ["2026-05-14 08:00", "11.2", "72", "10.9", ""]
    assert not dialog.lag_frame.isVisible()
    dialog.keep.click()
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=20000)
    assert dialog.rows_added
    again = import_dialog(qtbot, bench, log)
    again.keep.click()
    settled(qtbot, again)
    assert again.isVisible()
    assert "Nothing new" in again.said.text()


@pytest.mark.usefixtures("demo")
def test_first_rows_in_us_units(qtbot: QtBot, bench: Workbench, log: Path) -> None:
    bench.settings.set("units", "us")
    dialog = import_dialog(qtbot, bench, log)
    # 11.2 °C is 52.16 °F, 10.9 °C is 51.62 °F.
    assert cells(dialog, 1) == ["2026-05-14 08:00", "52.2", "72", "51.6", ""]


@pytest.mark.usefixtures("demo")
def test_a_column_of_the_person_counts(qtbot: QtBot, bench: Workbench, log: Path) -> None:
    dialog = import_dialog(qtbot, bench, log)
    dialog.columns["surface_temp_c"].line.setText("Spare (C)")
    dialog.read()
    settled(qtbot, dialog)
    assert "Coldest spot: 'Spare (C)'" in dialog.preview.choices.text()
    dialog.columns["surface_temp_c"].line.setText("nothing of the kind")
    dialog.read()
    settled(qtbot, dialog)
    assert "nothing of the kind" in dialog.said.text()
    assert not dialog.keep.isEnabled()


def test_without_a_surface_a_lag_may_be_assumed(
    qtbot: QtBot, bench: Workbench, demo: Job, tmp_path: Path
) -> None:
    file = tmp_path / "air.csv"
    rows = [";".join(line.split(";")[:3]) for line in LOG.splitlines()]
    file.write_text("\n".join(rows), encoding="utf-8")
    dialog = import_dialog(qtbot, bench, file)
    assert dialog.lag_frame.isVisible()
    assert dialog.lag_h is None  # never assumed unasked
    dialog.lag_on.switch.click()
    write(dialog.lag.line, "0")
    dialog.keep.click()
    assert dialog.lag.error.startswith("hours, above 0")
    assert dialog.isVisible()
    write(dialog.lag.line, "2,5")
    dialog.keep.click()
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=20000)
    assert bench.job() == replace(demo, surface_lag_h=2.5)


@pytest.mark.usefixtures("demo")
def test_a_file_that_cannot_be_used_says_why(
    qtbot: QtBot, bench: Workbench, tmp_path: Path
) -> None:
    file = tmp_path / "notes.csv"
    file.write_text("just,some\nwords,here\n", encoding="utf-8")
    dialog = import_dialog(qtbot, bench, file)
    assert "notes.csv" in dialog.said.text()
    assert dialog.said.isVisible()
    assert not dialog.keep.isEnabled()
    assert not dialog.preview.isVisible()
    dialog.reject()
    assert dialog.rows_added is None


def test_without_a_job_a_lag_has_no_place(qtbot: QtBot, bench: Workbench, tmp_path: Path) -> None:
    bench.settings.set("time_zone", "Europe/London")
    file = tmp_path / "air.csv"
    file.write_text("time,air_temp_c,rh_pct\n2026-05-14T08:00:00+01:00,11,70\n", encoding="utf-8")
    dialog = import_dialog(qtbot, bench, file)
    assert dialog.lag_frame.isVisible()
    assert not dialog.lag_on.isEnabled() or not dialog.lag_on.switch.isEnabled()
    dialog.keep.click()
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=20000)
    assert dialog.rows_added == 1
