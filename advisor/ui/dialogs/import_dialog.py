"""Bring a log or weather file in: choose, see what was understood, keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.climate.readings import ImportedFile
from advisor.ui.dialogs.fields import (
    LineField,
    SwitchField,
    ask_open,
    button,
    positive,
    zone_field,
)
from advisor.ui.dialogs.import_preview import ImportPreview, column_words, has_surface
from advisor.ui.operations import Failure, Operations
from advisor.ui.widgets.parts import BigButton, Tall, size_to_screen, text
from advisor.work.workbench import Workbench

_KINDS = "Logs and weather files (*.csv *.txt *.tsv *.dat *.log *.epw);;All files (*)"
#: Columns a person may point at by their header.
_OVERRIDES = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c")
#: Typing has paused: read the file again.
_PAUSE_MS = 500
#: Longest lag a job may hold, hours.
_LONGEST_LAG_H = 48.0
_NO_SURFACE = (
    "This file has no surface temperature. Air is never taken for it: without one the answer is "
    "can't tell. Lay a thermometer on the coldest spot you will paint, or assume a lag here; it "
    "is then told as an assumption wherever it is used."
)


@dataclass(frozen=True)
class _Asked:
    """What the file is read with; empty means as the file or the job says."""

    path: Path
    time_zone: str | None
    station: str | None
    columns: Mapping[str, str] | None


def _keep(
    bench: Workbench, imported: ImportedFile, path: Path, lag_h: float | None, now_s: float
) -> int:
    rows = bench.keep_import(imported, path.name, now_s, path)
    job = bench.job()
    if lag_h is not None and job is not None:
        bench.save_job(replace(job, surface_lag_h=lag_h))
    return rows


class ImportDialog(QDialog):
    """Keeps nothing before Keep; then `rows_added` tells how many rows were new."""

    def __init__(self, bench: Workbench, now_s: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Bring readings in")
        self.rows_added: int | None = None
        self.imported: ImportedFile | None = None
        self._bench, self._now_s = bench, now_s
        self._keeping = False
        self._asked: _Asked | None = None
        self._path: Path | None = None
        self._work = Operations(self._failed)
        # Taken away with its window rather than left: the worker ends first all the same.
        self.destroyed.connect(self._work.close)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        self._make_parts()
        self._lay_out()
        self._connect()
        self._show_state()
        size_to_screen(self, 900, 760, int(bench.settings.number("scale_pct")))

    # --- what a person does --------------------------------------------------------------

    def choose(self, path: Path) -> None:
        """Read a file for a look; nothing is kept."""
        self._path = path
        self.file.setText(str(path))
        self.read()

    def read(self) -> None:
        """Read the chosen file again, with the fields as they stand."""
        self._pause.stop()
        if self._path is None:
            return
        asked = _Asked(
            self._path,
            self.zone.value or None,
            self.station.value or None,
            {name: field.value for name, field in self.columns.items() if field.value} or None,
        )
        self._asked, self.imported = asked, None
        bench = self._bench  # the worker holds the bench, never the dialog
        self._say("Reading…")
        self._show_state()
        self._work.run(
            "preview",
            lambda: bench.preview(
                asked.path,
                time_zone=asked.time_zone,
                station=asked.station,
                columns=asked.columns,
            ),
            self._show,
            self._failed,
        )

    def accept(self) -> None:
        """Keep the readings, and the lag where one is asked for."""
        imported, asked = self.imported, self._asked
        if imported is None or asked is None or not self._check_lag():
            return
        bench, now_s, lag_h = self._bench, self._now_s, self.lag_h
        self._keeping = True
        self.keep.setEnabled(False)
        self.cancel.setEnabled(False)
        self._say("Keeping…")
        self._work.write(lambda: _keep(bench, imported, asked.path, lag_h, now_s), self._kept)

    def reject(self) -> None:
        """Leave without keeping; not while the readings are being written."""
        if not self._keeping:
            super().reject()

    def done(self, result: int) -> None:
        """Leave; what is being read is dropped."""
        self._pause.stop()
        self._work.close()
        super().done(result)

    @property
    def busy(self) -> bool:
        """Whether a file is being read or kept, or soon will be."""
        return self._pause.isActive() or not self._work.idle()

    @property
    def lag_h(self) -> float | None:
        """Return the lag asked for, in hours; None when none is."""
        asked = self.lag_frame.isVisibleTo(self) and self.lag_on.on and self.lag_on.isEnabled()
        return positive(self.lag.value) if asked else None

    # --- parts ---------------------------------------------------------------------------

    def _make_parts(self) -> None:
        job = self._bench.job()
        told = self._bench.words(self._now_s).zone.key
        self.choose_button = button("&Choose a file…")
        self.file = text("No file chosen yet.", "", wrap=True)
        self.zone = zone_field("Time zone of the file's clock", "", f"as here: {told}")
        self.station = LineField("Station", hint="only where the file has several")
        self.columns = {
            name: LineField(f"Column for {column_words(name).lower()}", hint="found by itself")
            for name in _OVERRIDES
        }
        self.preview = ImportPreview()
        lag_h = None if job is None else job.surface_lag_h
        self.lag_frame = QFrame()
        self.lag_frame.setObjectName("card")
        self.lag_on = SwitchField("Assume", "the surface lags behind the air", on=lag_h is not None)
        self.lag_on.setEnabled(job is not None)
        self.lag = LineField("Lag, hours", f"{lag_h or 2:g}")
        self.lag_note = text(
            "" if job is not None else "Set a job up first: the lag belongs to a job.", "small"
        )
        self.said = text("", "strong", wrap=True)
        self.cancel = button("Cancel")
        self.keep = BigButton("&Keep these readings", main=True)
        self.keep.setAutoDefault(False)

    def _lay_out(self) -> None:
        page = Tall()
        column = QVBoxLayout(page)
        column.setSpacing(14)
        for part in (self._file_card(), self._lag_card(), self.preview):
            column.addWidget(part)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(page)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        for each in (self.cancel, self.keep):
            buttons.addWidget(each)
        outer = QVBoxLayout(self)
        outer.addWidget(scroll, 1)
        outer.addWidget(self.said)
        outer.addLayout(buttons)

    def _file_card(self) -> QFrame:
        card = QFrame()
        card.setObjectName("card")
        chosen = QHBoxLayout()
        chosen.addWidget(self.choose_button)
        chosen.addWidget(self.file, 1)
        grid = QGridLayout()
        for k, field in enumerate((self.zone, self.station, *self.columns.values())):
            grid.addWidget(field, k // 2, k % 2)
        column = QVBoxLayout(card)
        column.addLayout(chosen)
        column.addLayout(grid)
        return card

    def _lag_card(self) -> QFrame:
        grid = QGridLayout(self.lag_frame)
        grid.addWidget(text(_NO_SURFACE, wrap=True), 0, 0, 1, 3)
        grid.addWidget(self.lag_on, 1, 0)
        grid.addWidget(self.lag, 1, 1)
        grid.addWidget(self.lag_note, 1, 2)
        return self.lag_frame

    def _connect(self) -> None:
        self.choose_button.clicked.connect(self._ask)
        self._pause.timeout.connect(self.read)
        for field in (self.zone, self.station, *self.columns.values()):
            field.changed.connect(self._pause.start)
        for lag in (self.lag_on, self.lag):
            lag.changed.connect(self._check_lag)
        self.cancel.clicked.connect(self.reject)
        self.keep.clicked.connect(self.accept)

    # --- inner ---------------------------------------------------------------------------

    def _show(self, imported: ImportedFile) -> None:
        self.imported = imported
        self.preview.show_file(imported, self._bench.words(self._now_s))
        self._say("" if len(imported.table) else "No row of this file can be used.")
        self._show_state()

    def _show_state(self) -> None:
        """Show only what there is something to say about."""
        imported = self.imported
        self.preview.setVisible(imported is not None)
        self.lag_frame.setVisible(imported is not None and not has_surface(imported.table))
        self.keep.setEnabled(imported is not None and len(imported.table) > 0)
        self._check_lag()

    def _check_lag(self) -> bool:
        lag_h = positive(self.lag.value)
        bad = lag_h is None or lag_h > _LONGEST_LAG_H
        asked = self.lag_frame.isVisibleTo(self) and self.lag_on.on
        problem = f"hours, above 0 and up to {_LONGEST_LAG_H:g}" if asked and bad else ""
        return self.lag.judge(problem, always=True)

    def _kept(self, rows: int) -> None:
        self._rest()
        self.rows_added = rows
        if rows:
            super().accept()
            return
        self._say("Nothing new in it: these readings are here already.")
        self.cancel.setText("Close")

    def _rest(self) -> None:
        self._keeping = False
        self.cancel.setEnabled(True)

    def _failed(self, failure: Failure) -> None:
        self._rest()
        self._say(failure.text)
        self._show_state()

    def _say(self, words: str) -> None:
        self.said.setText(words)
        self.said.setVisible(bool(words))

    def _ask(self) -> None:
        if path := ask_open(self, self._bench, "Bring readings in", _KINDS):
            self.choose(path)
