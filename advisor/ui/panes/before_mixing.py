"""Before mixing a batch: what is it like, may I, what happens if I do."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QTimer, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from advisor.climate.reading_store import LatestValue
from advisor.planning.job import Job
from advisor.ui.desk import Desk
from advisor.ui.naming import Naming
from advisor.ui.operations import Failure
from advisor.ui.panes.answer import Answer
from advisor.ui.panes.at_the_work import AtTheWork
from advisor.ui.panes.if_you_mix import IfYouMix
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.coat_on import CoatOn
from advisor.ui.widgets.columns import Columns
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.parts import BigButton
from advisor.ui.widgets.reading_box import ReadingBox
from advisor.ui.widgets.tins_box import TinsBox
from advisor.ui.widgets.who import Who
from advisor.work.views import BeforeMixing, Reading

#: Pause after the last change before the verdict is worked out again, ms.
PAUSE_MS = 150


class BeforeMixingPane(QWidget):
    """Readings on the left, verdict in the middle, clock times on the right."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self._job: Job | None = None
        self._coat_id = ""
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self._ask)
        self.work, self.answer, self.mix = AtTheWork(desk), Answer(desk), IfYouMix(desk)
        self.cautions, self.who = CautionBar(), Who()
        self.who.hide()  # until somebody is asked
        self._naming = Naming(desk, (self.who,))
        self._lay_out()
        self.pad = NumberPad(self)
        self.coat_on = CoatOn(self)
        self._connect()
        self.setFocusProxy(self.work.boxes["air_temp_c"].field)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        columns = Columns(self._desk.look, (self.work, self.answer, self.mix))
        columns.short.connect(self.work.set_low)
        column.addWidget(columns, 1)
        column.addWidget(self.cautions)
        column.addWidget(self.who)
        self.batch = BigButton("&Mix a batch", main=True)
        self.on = BigButton("&Coat is on")
        self.record = BigButton("&Record these readings")
        self.dried = BigButton("&Dried and wiped")
        self.sanded = BigButton("&Sanded and wiped")
        self.week = BigButton("Show the &week")
        self.sanded.hide()
        acts = (self.batch, self.on, self.record, self.dried, self.sanded, self.week)
        column.addWidget(ButtonRow(self._desk.look, acts))

    def _connect(self) -> None:
        self.work.changed.connect(self.changed)
        boxes: list[ReadingBox | TinsBox] = [*self.work.boxes.values(), self.work.tins]
        for box in boxes:
            box.pad_wanted.connect(self._open_pad)
            box.pad_unwanted.connect(self.pad.put_away)
        self.answer.coat_chosen.connect(self._choose)
        self.record.clicked.connect(self._record)
        self.batch.clicked.connect(lambda: self._desk.mix_batch.emit(self._coat_id))
        self.on.clicked.connect(self._ask_times)
        self.coat_on.given.connect(self._lay)
        self.dried.clicked.connect(self._dried)
        self.sanded.clicked.connect(self._sanded)
        self.week.clicked.connect(self._desk.show_week)
        self._desk.units_changed.connect(self._units)

    @property
    def waiting(self) -> bool:
        """Whether a change waits for the verdict to be asked."""
        return self._pause.isActive()

    def show_job(self, job: Job, latest: Mapping[str, LatestValue]) -> None:
        """Show a job and the latest reading, and work the verdict out."""
        self._naming.refresh()
        if self._job is not None and self._job.id != job.id:
            self._coat_id = ""
            self.work.forget()
        self._desk.in_hand = None
        self._job = job
        left = job.next_coats()
        if self._coat_id not in [coat.id for coat in left]:
            self._coat_id = left[0].id if left else ""
        self.answer.show_job(job, self._coat_id)
        self.work.show_latest(latest)
        self.changed()

    @Slot()
    def changed(self) -> None:
        """Something the verdict rests on changed: say so at once, ask after a short pause."""
        self._desk.operations.cancel("before")
        self.answer.show_working()
        self.work.show_working()
        self.mix.show_working()
        self.work.show_ages()
        self._pause.start()

    def focus_first(self) -> None:
        """Put the keyboard where the first reading is typed."""
        self.work.boxes["air_temp_c"].field.setFocus()

    def tick(self) -> None:
        """A minute went by: ages, and a verdict for the new minute."""
        self.work.show_ages()
        if self._job is not None and not self._pause.isActive():
            self._ask()

    def _units(self) -> None:
        self.work.set_units()
        self.changed()

    @Slot(str)
    def _choose(self, coat_id: str) -> None:
        self._coat_id = coat_id
        self.changed()

    @Slot(object)
    def _open_pad(self, box: ReadingBox | TinsBox) -> None:
        self.pad.open_for(box.field, box)

    @Slot()
    def _ask(self) -> None:
        if self._job is None:
            return
        if not self._coat_id:
            self._show_cannot("Every coat of this job is on.", "Add a coat in the job set-up.")
            return
        wrong = self.work.wrong() or self.work.wrong_tins()
        if wrong is not None:
            self._show_cannot(
                f"Mend {wrong.name.text()} first.",
                f"{wrong.name.text()}: {wrong.problem.text()}. Nothing typed is lost.",
            )
            return
        coat_id, now_s, reading = self._coat_id, self._desk.now_s(), self.work.reading()
        self._desk.in_hand = reading
        bench = self._desk.bench
        self._desk.operations.run(
            "before",
            lambda: bench.before_mixing(coat_id, now_s, reading),
            self._show,
            self._failed,
        )

    def _failed(self, failure: Failure) -> None:
        if failure.details:
            self._desk.messages.failure(failure)
        self._show_cannot("The verdict could not be worked out.", failure.text)

    def _show_cannot(self, headline: str, advice: str) -> None:
        self.work.show_answer(None)
        self.answer.show_cannot(headline, advice)
        self.mix.show_nothing("No times until the verdict is known.")

    def _show(self, answer: BeforeMixing) -> None:
        self.work.show_answer(answer)
        self.answer.show_answer(answer)
        self.mix.show_answer(answer)
        self.sanded.setVisible(answer.sand_first)
        told = [caution.text for caution in answer.cautions]
        sources = "\n".join(f"{c.text} ({c.source})" for c in answer.cautions)
        self.cautions.show_cautions(told, sources)

    @Slot()
    def _record(self) -> None:
        wrong = self.work.wrong()
        if wrong is not None:
            self._desk.messages.error(f"Not kept: mend {wrong.name.text()} first.")
            return
        if not self.work.typed():
            self._desk.messages.note("Nothing new to keep: type or confirm a reading first.")
            return
        area_id = self._job.coat(self._coat_id).area_id if self._job and self._coat_id else ""
        self._naming.first(lambda: self._keep_readings(area_id), "Readings")

    def _keep_readings(self, area_id: str) -> None:
        bench, now_s, readings = self._desk.bench, self._desk.now_s(), self.work.typed()

        def keep() -> None:
            for reading in readings:
                bench.type_reading(reading, now_s, area_id)

        self._desk.operations.write(keep, lambda _: self._recorded(readings))

    def _recorded(self, readings: tuple[Reading, ...]) -> None:
        self.work.stored(readings)
        self._done("Readings kept.")

    @Slot()
    def _ask_times(self) -> None:
        if self._job is None or not self._coat_id:
            return
        now_s = self._desk.now_s()
        coat = self._job.coat(self._coat_id)
        first_s = now_s - self._job.apply_h(coat) * 3600
        name = f"{coat.name}, {self._job.area(coat.area_id).name}"
        self.coat_on.ask(coat.id, name, first_s, now_s, self._desk.words(), now_s)

    @Slot(str, float, float)
    def _lay(self, coat_id: str, first_s: float, last_s: float) -> None:
        if self._job is None:
            return
        bench, coat = self._desk.bench, self._job.coat(coat_id)
        name = f"{coat.name}, {self._job.area(coat.area_id).name}"
        self._keep(
            name, lambda now_s: bench.lay_coat(coat_id, first_s, last_s, now_s), "Coat noted."
        )

    @Slot()
    def _dried(self) -> None:
        self._log(self._desk.bench.log_dried, "dried and wiped")

    @Slot()
    def _sanded(self) -> None:
        self._log(self._desk.bench.log_sanded, "sanded and wiped")

    def _log(self, log: Callable[[float, str, float], object], done: str) -> None:
        if self._job is None or not self._coat_id:
            return
        at_s = self._desk.now_s()
        area = self._job.area(self._job.coat(self._coat_id).area_id)
        what = f"{area.name} {done}"
        self._keep(what, lambda now_s: log(at_s, area.id, now_s), f"Noted: {what}.")

    def _keep(self, what: str, work: Callable[[float], object], told: str) -> None:
        """Keep something under somebody's name, with the moment it is written, and say so."""

        def keep() -> None:
            now_s = self._desk.now_s()
            self._desk.operations.write(lambda: work(now_s), lambda _: self._done(told))

        self._naming.first(keep, what)

    def _done(self, text: str) -> None:
        self._desk.messages.note(text)
        self._desk.changed.emit()
