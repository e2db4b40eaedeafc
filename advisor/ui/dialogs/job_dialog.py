"""Set a job up or edit it: the shop, areas, coats in order, products, files."""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from pathlib import Path

from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.base.errors import AdvisorError
from advisor.base.units import Units
from advisor.planning.job import Job
from advisor.planning.job_file import job_to_toml, read_job
from advisor.ui.dialogs.fields import Field, ask_open, ask_save, button, write_text
from advisor.ui.dialogs.job_build import build, new_job_id
from advisor.ui.dialogs.job_head import JobHead, likely_zone
from advisor.ui.dialogs.job_rows import AreaRow, CoatRow, RowList
from advisor.ui.dialogs.product_copy import words_to_id
from advisor.ui.dialogs.product_shelf import ProductShelf, product_options
from advisor.ui.widgets.parts import BigButton, Tall, size_to_screen, text
from advisor.work.workbench import Workbench

_KINDS = "Job files (*.toml);;All files (*)"
_AREAS = "Each part you paint as one, with its own clock: port side, deck, stripe."
_COATS = "In the order they go on. Each area has its own sequence; coats already laid stay laid."


class JobDialog(QDialog):
    """Edits the job in hand, or a new one when there is none or `new` asks for it.

    Nothing is kept before Keep; then `job_kept` is the job, now in hand on the bench.
    """

    def __init__(
        self, bench: Workbench, now_s: float, parent: QWidget | None = None, *, new: bool = False
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Job")
        self.job_kept: Job | None = None
        self._bench, self._now_s = bench, now_s
        self._units: Units = "us" if bench.settings.text("units") == "us" else "metric"
        self._words = bench.words(now_s)
        self._keys = count(1)
        self._tried = False
        self._loading = False
        self._base: Job | None = None
        self._make_parts()
        self._lay_out()
        self._connect()
        self.show_job(None if new else bench.job())
        size_to_screen(self, 980, 760, int(bench.settings.number("scale_pct")))

    # --- what the form shows -------------------------------------------------------------

    def show_job(self, job: Job | None) -> None:
        """Fill the form from a job; an empty one to begin with when None."""
        self._loading = True
        self._base = job
        self.areas.clear()
        self.coats.clear()
        zone = likely_zone(self._bench)
        self.head.show_job(job or Job("", "", "", zone, (), ()))
        for area in job.areas if job else ():
            self.areas.append(AreaRow(area.id, self._units, area))
        for coat in job.coats if job else ():
            row = CoatRow(self._units, self._words, coat)
            row.set_areas(self._area_options(), coat.area_id)
            row.set_products(product_options(self._bench.products()), coat.product_id)
            self.coats.append(row)
        if job is None:
            self.areas.append(self._new_area())
        self._loading = False
        self._tried = False
        self._begun = self._values()
        self._refresh()

    def open_file(self, path: Path) -> bool:
        """Show the job of a file; the reason under the form when it is no good."""
        try:
            job = read_job(path)
        except AdvisorError as error:
            self._say(str(error))
            return False
        self.show_job(job)
        self._begun = ()  # not kept yet, so leaving asks first
        self._say("")
        return True

    def save_file(self, path: Path) -> bool:
        """Write the form's job to a file, without keeping it."""
        job = self.job()
        if job is None:
            return False
        try:
            write_text(path, job_to_toml(job))
        except AdvisorError as error:
            self._say(str(error))
            return False
        self._say(f"Written: {path.name}.")
        return True

    def job(self) -> Job | None:
        """Return the job as entered; None, with every problem shown, when something is missing."""
        self._tried = True
        problems = self._check()
        if problems:
            problems[0].editor.setFocus()
            self._scroll.ensureWidgetVisible(problems[0])
        lacking = self._lacking()
        if problems or lacking:
            self._say(lacking or _count(len(problems)))
            return None
        try:
            return build(self._head_job(), self.areas.rows, self.coats.rows)
        except AdvisorError as error:
            self._say(str(error))
            return None

    def accept(self) -> None:
        """Keep the job and make it the one in hand."""
        job = self.job()
        if job is None:
            return
        try:
            self._bench.save_job(job)
        except AdvisorError as error:
            self._say(str(error))
            return
        self.job_kept = job
        super().accept()

    def reject(self) -> None:
        """Leave; with changes not kept, ask first, inside the form."""
        if self._begun == self._values() or self.leaving.isVisible():
            super().reject()
            return
        self.leaving.show()
        self.keep_editing.setFocus()

    # --- parts ---------------------------------------------------------------------------

    def _make_parts(self) -> None:
        self.head = JobHead()
        self.areas = RowList("Areas", _AREAS, "Add an &area", self._new_area)
        self.coats = RowList("Coats", _COATS, "Add a &coat", self._new_coat)
        self.shelf = ProductShelf(self._bench)
        self.open_button = button("&Open a job file…")
        self.save_button = button("&Save as a file…")
        self.cancel = button("Cancel")
        self.keep = BigButton("&Keep this job", main=True)
        self.keep.setAutoDefault(False)
        self.said = text("", "strong", wrap=True)
        self.leaving = QFrame()
        self.leaving.setObjectName("caution")
        self.keep_editing = button("Go on editing")
        self.throw_away = button("Throw the changes away")

    def _lay_out(self) -> None:
        page = Tall()
        column = QVBoxLayout(page)
        column.setSpacing(14)
        for part in (self.head, self.areas.widget, self.coats.widget, self.shelf):
            column.addWidget(part)
        column.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setWidget(page)
        asked = QHBoxLayout(self.leaving)
        asked.addWidget(text("The changes are not kept yet.", wrap=True), 1)
        asked.addWidget(self.keep_editing)
        asked.addWidget(self.throw_away)
        self.leaving.hide()
        buttons = QHBoxLayout()
        for each in (self.open_button, self.save_button):
            buttons.addWidget(each)
        buttons.addStretch(1)
        for each in (self.cancel, self.keep):
            buttons.addWidget(each)
        outer = QVBoxLayout(self)
        outer.addWidget(self._scroll, 1)
        outer.addWidget(self.said)
        outer.addWidget(self.leaving)
        outer.addLayout(buttons)

    def _connect(self) -> None:
        for signal in (self.head.changed, self.areas.changed, self.coats.changed):
            signal.connect(self._refresh)
        self.shelf.changed.connect(self._offer_products)
        self.open_button.clicked.connect(self._ask_open)
        self.save_button.clicked.connect(self._ask_save)
        self.cancel.clicked.connect(self.reject)
        self.keep.clicked.connect(self.accept)
        self.keep_editing.clicked.connect(self.leaving.hide)
        self.throw_away.clicked.connect(super().reject)

    def _new_area(self) -> AreaRow:
        return AreaRow(f"new {next(self._keys)}", self._units)

    def _new_coat(self) -> CoatRow:
        """Begin a coat with the area, product, method and pace of the one above."""
        row = CoatRow(self._units, self._words)
        last = self.coats.rows[-1] if self.coats.rows else None
        only = self.areas.rows[0].key if len(self.areas.rows) == 1 else ""
        row.set_areas(self._area_options(), last.area.key if last else only)
        options = product_options(self._bench.products())
        row.set_products(options, last.product.key if last else "")
        if last is not None:
            row.pace.show_text(last.pace.value)
            row.method.set_options(_options_of(last), last.method.key)
        return row

    # --- inner ---------------------------------------------------------------------------

    def _head_job(self) -> Job:
        name, place, zone, hours = self.head.values()
        base = self._base or Job(new_job_id(name, self._now_s, zone), "", "", zone, (), ())
        return replace(base, name=name, place=place, time_zone=zone, working_hours=hours)

    def _area_options(self) -> list[tuple[str, str]]:
        return [
            (row.key, row.name.value or f"area {k} without a name")
            for k, row in enumerate(self.areas.rows, start=1)
        ]

    def _offer_products(self) -> None:
        options = product_options(self._bench.products())
        for row in self.coats.rows:
            row.set_products(options)
        self._refresh()

    def _refresh(self) -> None:
        if self._loading:
            return
        options = self._area_options()
        for row in self.coats.rows:
            row.set_areas(options)
        self._check()
        self.leaving.hide()
        self._say("")

    def _check(self) -> list[Field]:
        always = self._tried
        found = self.head.check(always=always)
        names: list[str] = []
        for area in self.areas.rows:
            found += area.check(names, always=always)
            names.append(area.name.value)
        for coat in self.coats.rows:
            found += coat.check(always=always)
        self.areas.problem.setText("Add at least one area." if self._bare(self.areas.rows) else "")
        self.coats.problem.setText("Add at least one coat." if self._bare(self.coats.rows) else "")
        return found

    def _bare(self, rows: list[AreaRow] | list[CoatRow]) -> bool:
        return self._tried and not rows

    def _lacking(self) -> str:
        if not self.areas.rows:
            return "Add at least one area."
        return "" if self.coats.rows else "Add at least one coat."

    def _values(self) -> tuple[object, ...]:
        areas = [row.values() for row in self.areas.rows]
        coats = [row.values() for row in self.coats.rows]
        return (self.head.values(), *areas, *coats)

    def _say(self, words: str) -> None:
        self.said.setText(words)
        self.said.setVisible(bool(words))

    def _ask_open(self) -> None:
        if path := ask_open(self, self._bench, "Open a job file", _KINDS):
            self.open_file(path)

    def _ask_save(self) -> None:
        name = f"{words_to_id(self.head.name.value, 'job')}.toml"
        if path := ask_save(self, self._bench, "Save as a file", name, _KINDS):
            self.save_file(path if path.suffix else path.with_suffix(".toml"))


def _count(problems: int) -> str:
    return "One field needs a look." if problems == 1 else f"{problems} fields need a look."


def _options_of(row: CoatRow) -> list[tuple[str, str]]:
    box = row.method.box
    return [(str(box.itemData(k)), box.itemText(k)) for k in range(box.count())]
