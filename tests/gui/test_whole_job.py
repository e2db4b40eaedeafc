"""A whole job as a person would do it: eight coats over three weeks, by command line and window.

What the trade asks a record to hold (the union of good practice, common practice with the public
specifications named in the guide) is looked for in the printed report, field by field.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from advisor.base.store import Store
from advisor.planning.job_file import read_job
from advisor.ui.app import build
from advisor.ui.main_window import MainWindow
from advisor.ui.panes.batch import BatchPane
from advisor.ui.widgets.taps import WORDS
from advisor.work.workbench import Workbench
from tests.e2e.cli_shop import Done, call
from tests.helpers import whole_job as wj

from .bench_window import quiet
from .conftest import Clock, Settle

#: A PNG of one grey pixel.
PHOTO = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c6360000000020001e221bc330000000049454e44ae426082"
)
WET_FILM = {"sealer": "110 118 105", "primer-1": "150 160 155", "gloss-1": "85 92 88"}


@dataclass
class Shop:
    """The window and the command line over one database, with one clock."""

    window: MainWindow
    clock: Clock
    settle: Settle
    database: Path
    folder: Path
    qtbot: QtBot

    def at(self, moment: datetime) -> None:
        """Turn the clock."""
        self.clock.now_s = moment.timestamp()
        self.window.tick()
        self.window.reload()
        self.settle(self.window)

    def told(self, *words: object) -> Done:
        """Run one command, which must succeed."""
        now = datetime.fromtimestamp(self.clock.now_s).astimezone()
        done = call(*words, "--database", self.database, now=now)
        assert done.code == 0, done.err
        return done

    @property
    def bench(self) -> BatchPane:
        """The pane At the bench."""
        self.window.open_pane("batch")
        pane = self.window.late.pane("batch")
        assert isinstance(pane, BatchPane)
        return pane

    def tap(self, event: str) -> None:
        """Press the button of an event, big or small."""
        taps = self.bench.taps
        button = taps.main if taps.likeliest == event else taps.others[event]
        assert button.text().replace("&", "") == WORDS[event] or event == "reading"
        assert button.isEnabled()
        if not button.isVisibleTo(taps):
            self.qtbot.mouseClick(taps.more, Qt.MouseButton.LeftButton)
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        self.settle(self.window)

    def read(self, day: int, hour: float) -> None:
        """Read air, humidity and coldest spot at the bench and record them."""
        from advisor.physics.moist_air import rh_pct

        air_c, dew_c, surface_c = wj.air(day * 24 + hour)
        values = {"air_temp_c": air_c, "rh_pct": float(rh_pct(air_c, dew_c)),
                  "surface_temp_c": surface_c}  # fmt: skip
        boxes = self.bench.work.boxes
        for name, value in values.items():
            boxes[name].field.setText(f"{value:.1f}" if name != "rh_pct" else f"{value:.0f}")
            boxes[name].confirm()
        self.tap("reading")

    def mix(self, coat: str) -> None:
        """Fill the form of a batch and press Batch is mixed."""
        self.bench.mix(coat)
        self.settle(self.window)
        form = self.bench.form
        for row in form.rows:
            row.batch.line.setText(f"{row.part.part[:1].upper()}-{coat}")
            row.expiry.line.setText("2032-04")
        form.thin.amount.line.setText("5")
        form.temp.line.setText("18.5")
        form.colour.line.setText("white")
        form.strained.box.setCurrentIndex(form.strained.box.findData("yes"))
        self.settle(self.window)
        self.qtbot.mouseClick(form.mix, Qt.MouseButton.LeftButton)
        self.settle(self.window)

    def film(self, values: str) -> None:
        """Type wet film readings and keep them."""
        entry = self.bench.beside.film
        entry.field.setText(values)
        self.qtbot.mouseClick(entry.button, Qt.MouseButton.LeftButton)
        self.settle(self.window)


@pytest.fixture
def shop(
    qapp: QApplication, qtbot: QtBot, clock: Clock, settle: Settle, tmp_path: Path, root: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Shop]:  # fmt: skip
    quiet(monkeypatch)
    database = tmp_path / "gig.sqlite3"
    (tmp_path / "gig.toml").write_text(wj.job_toml(), encoding="utf-8")
    with Store(database) as store:
        bench = Workbench(store, root / "resources")
        for path in sorted((root / "resources/demo/products").glob("*.toml")):
            bench.add_product_file(path)
        clock.now_s = wj.DAY.timestamp()
        bench.save_job(read_job(tmp_path / "gig.toml"))
        bench.settings.set("person", "E. Tide")
        window = build(bench, clock)
        window.show()
        window.start()
        settle(window)
        yield Shop(window, clock, settle, database, tmp_path, qtbot)
        window.close()


def begin(shop: Shop) -> None:
    """Before the first coat: the job's header and the instruments, from the command line."""
    shop.at(wj.moment(0, 7.0))
    shop.told(
        "record", "add", "job", "name=Pilot gig Dunlin, May", "item=pilot gig", "item_id=DU-10",
        "owner=the volunteer crew", "yard=tide-mill", "place=tide-mill shed",
        "enclosure=stone shed, unheated", "previous_coating=one-part enamel, sound, sanded",
        "specification=crew's own, eight coats", "people=E. Tide, O. Weir",
    )  # fmt: skip
    shop.told("record", "add", "instrument", "id=logger", "measures=air and humidity",
              "type=capacitive", "serial=L-0417", "calibrated=2030-11-02", "due=2031-11-02",
              "accuracy=0.3 K, 3 %", "range=-20 to 60 °C", "position=by the stern, 1 m up",
              "field_check=salt bottle 75 %: 74 %")  # fmt: skip
    shop.told(
        "record",
        "add",
        "instrument",
        "id=probe",
        "measures=surface",
        "type=contact",
        "serial=S-221",
        "calibrated=2029-03-01",
        "due=2030-03-01",
        "accuracy=0.5 K",
    )


def one_coat(shop: Shop, one: wj.Day) -> None:
    """A day's work: prepare, read, mix, wait, lay it by patches, measure, clean up."""
    shop.at(wj.moment(one.day, one.hour - 1.0))
    shop.told("record", "add", "preparation", "what=sanded and wiped", "method=by hand",
              "grit=180", "wipe=two rags", "water_break=passed", "moisture=11.5",
              "salts=not tested", "--area", one.area)  # fmt: skip
    shop.at(wj.moment(one.day, one.hour))
    shop.read(one.day, one.hour)
    shop.mix(one.coat)
    began = one.hour + 0.5
    shop.at(wj.moment(one.day, began))
    shop.tap("start")
    if one.coat in WET_FILM:
        shop.film(WET_FILM[one.coat])
    for share in (0.4, 0.75):
        shop.at(wj.moment(one.day, began + one.hours * share))
        shop.tap("patch")
    shop.at(wj.moment(one.day, began + one.hours))
    shop.tap("finish")
    shop.tap("batch used up")
    shop.read(one.day, began + one.hours)
    shop.at(wj.moment(one.day, began + one.hours + 7.5))
    shop.told("record", "add", "observation", "what=tack-free", "--coat", one.coat)


def after(shop: Shop) -> None:
    """What came after: the logger's file, dry film, a defect and its photo, a mistake put right."""
    shop.at(wj.moment(21, 9.0))
    log = wj.write_log(shop.folder / "logger.csv")
    shop.told("readings", "import", log, "--time-zone", "Europe/London")
    shop.told("record", "add", "film", "film=dry", "readings=61,66,70", "--coat", "primer-2")
    defect = shop.told("record", "add", "defect", "defect=gloss loss", "extent=lower third",
                       "--coat", "gloss-1", "--json").json  # fmt: skip
    (shop.folder / "dull.png").write_bytes(PHOTO)
    shop.told("record", "photo", shop.folder / "dull.png", "--caption", "dull in the morning",
              "--coat", "gloss-1", "--of", str(defect["number"]))  # fmt: skip
    shop.told("record", "add", "non-conformance", "what=dew on the film", "decision=sand and coat",
              "decided_by=O. Weir", "--coat", "gloss-1")  # fmt: skip
    shop.told("record", "correct", str(defect["number"]), "extent=lower half", "--reason",
              "seen again in daylight")  # fmt: skip
    shop.told("record", "sign", "--name", "O. Weir", "--role", "foreman", "--statement",
              "as it was done", "--key", "weir", "--new-key")  # fmt: skip


def test_a_whole_job_is_kept_and_reported(shop: Shop) -> None:
    begin(shop)
    for one in wj.COATS:
        one_coat(shop, one)
    after(shop)
    pack = shop.folder / "report"
    shop.told("record", "export", pack, "--report")
    text = printed(pack / "report.pdf")
    missing = [words for words in LOOKED_FOR if words not in text]
    assert not missing
    # Two first pages, two for each coat and one for the photo, eight for all entries: more would
    # not be read.
    pages = int(text.split("page 1 of ", 1)[1].split(" ", 1)[0])
    assert pages <= 2 + 2 * len(wj.COATS) + 1 + 8
    head = (pack / "record.jsonl").read_text(encoding="utf-8").rsplit('"head":"', 1)[1][:64]
    checked = subprocess.run(
        [sys.executable, pack / "verify_record.py", pack / "record.jsonl", "--head", head],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert checked.returncode == 0, checked.stdout + checked.stderr
    reviewed = shop.told("record", "review", "--json").json
    # The dew of the night lay on the first gloss; the logger stood still on the second.
    stood = {coat["id"]: coat["standing"] for coat in reviewed["coats"]}
    assert stood == {one.coat: "inside" for one in wj.COATS} | {
        "gloss-1": "outside",
        "gloss-2": "not known",
    }


def printed(pdf: Path) -> str:
    """Return the report's text on one line; skipped where nothing can read a PDF."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not here")
    # In the order it was written: a cell's lines one after the other, not those of a row.
    done = subprocess.run(["pdftotext", "-raw", pdf, "-"], capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


#: What stands in the report, from the header to the last correction.
LOOKED_FOR = (
    "Pilot gig Dunlin, May", "DU-10", "the volunteer crew", "tide-mill", "stone shed, unheated",
    "one-part enamel", "crew's own, eight coats", "E. Tide", "O. Weir",
    "L-0417", "S-221", "2030-03-01", "by the stern",
    "port side", "sheer stripe", "9.4", "demo 1",
    "B-gloss-1", "H-gloss-1", "2032-04", "18.5",
    "water-break", "11.5", "180",
    "gloss loss", "lower third", "lower half", "seen again in daylight",
    "dew on the film", "sand and coat", "foreman", "logger.csv",
)  # fmt: skip
