"""At the bench while a batch is live: its countdown, one tap for each event, what is due."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from advisor.planning.job import Job
from advisor.ui.desk import Desk
from advisor.ui.naming import Naming
from advisor.ui.operations import Failure
from advisor.ui.panes.at_the_work import AtTheWork
from advisor.ui.panes.batch_form import BatchFormPage
from advisor.ui.panes.beside_batch import BesideBatch
from advisor.ui.panes.going_on import GoingOn, front
from advisor.ui.widgets.cautions_and_who import CautionsAndWho
from advisor.ui.widgets.columns import Columns
from advisor.ui.widgets.number_pad import NumberPad
from advisor.ui.widgets.pad_opener import PadOpener
from advisor.ui.widgets.taps import WORDS, Taps
from advisor.work.bench_side import AirKept, air_kept, work_cautions
from advisor.work.live_views import BatchForm, BatchInHand, LiveBench
from advisor.work.views import Reading

#: Events that may carry the name of a patch.
PATCHED = ("start", "patch")
#: Events that put paint on: asked about once while the batch still has to stand.
PUTS_ON = frozenset({"start", "patch", "carry on"})
#: A second press sooner is a glove that hit twice; one later is a new tap, seconds.
BOUNCE_S, ASKED_S = 1.0, 120.0
#: Events of the coat going on, whichever batch is in front.
OF_WORK = frozenset({"patch", "stop", "carry on", "finish"})
MIN_S = 60.0
#: Height under which the big button is less tall, px at 100 %.
SHORT = 460


class BatchPane(QWidget):
    """The bench, and the form of a batch in its place while one is mixed."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk, self._watch = desk, desk.watch
        self._wanted, self._batch, self._keeping = 0, None, False
        self._asked = ("", 0, 0.0)  # the tap asked about, its batch, and when it was asked
        self.work, self.going = AtTheWork(desk), GoingOn(desk)
        self.beside, self.taps = BesideBatch(desk), Taps(desk.look)
        self.foot, self.form = CautionsAndWho(desk.look), BatchFormPage(desk)
        self.cautions, self.who = self.foot.cautions, self.foot.who
        self._naming = Naming(desk, (self.who, self.form.who))
        self.work.put_air_first()
        self._lay_out()
        self.pad = NumberPad(self)
        self._opens = PadOpener(self.pad)
        self._opens.add(self.beside.film.field, self.beside.film)
        self._connect()
        self._show(self._watch.view)

    _batch: BatchInHand | None

    def _lay_out(self) -> None:
        bench = QWidget()
        bench.setObjectName("page")
        column = QVBoxLayout(bench)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        columns = Columns(self._desk.look, (self.work, self.going, self.beside))
        columns.short.connect(self.work.set_low)
        column.addWidget(columns, 1)
        column.addWidget(self.foot)
        column.addWidget(self.taps)
        self.pages = QStackedWidget()
        self.pages.addWidget(bench)
        self.pages.addWidget(self.form)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.pages)

    def _connect(self) -> None:
        self._watch.viewed.connect(self._show)
        self.taps.tapped.connect(self._tapped)
        self.going.chosen.connect(self._choose)
        self.work.changed.connect(self._typed)
        for box in self.work.boxes.values():
            box.pad_wanted.connect(lambda b: self.pad.open_for(b.field, b))
            box.pad_unwanted.connect(self.pad.put_away)
        self.beside.film.given.connect(self._film)
        self.form.left.connect(lambda: self.pages.setCurrentIndex(0))
        self.form.coat_chosen.connect(self.mix)
        self.form.changed.connect(self._look_through)
        self.form.mixed.connect(self._start)
        self._desk.units_changed.connect(self._units)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Keep the page in sight where an alarm stands over it."""
        super().resizeEvent(event)
        short = self.height() * 100 / self._desk.look.scale_pct < SHORT
        self.taps.set_short(short)
        self.foot.set_short(short)
        self.form.set_short(short)

    # --- what is shown -------------------------------------------------------------------

    def refresh(self) -> None:
        """Ask the bench and the air anew."""
        self._naming.refresh()
        self._watch.ask()
        self._ask_air()

    def tick(self) -> None:
        """Half a minute went by; the bench itself is watched for the whole window."""
        if not self.window().isMinimized():
            self._ask_air()

    def idle(self) -> bool:
        """Whether nothing waits to be asked."""
        return not self.form.waiting

    @property
    def on_form(self) -> bool:
        """Whether the form of a batch is on show."""
        return self.pages.currentWidget() is self.form

    @Slot(object)
    def _show(self, view: LiveBench | None) -> None:
        if self.window().isMinimized():
            return  # nothing is drawn that nobody sees; the window asks anew when it is back
        if view is None:
            self.taps.show_events(())
            return
        coat_id = view.work.coat_id if view.work else ""
        before = self._batch.coat_id if self._batch else ""
        self._batch = front(view.batches, self._wanted, coat_id)
        self.going.show_view(view, self._batch)
        self.beside.show_view(view)
        events = view.taps if view.batches or view.work else ("mix", *view.taps)
        self.taps.show_events((*events, *(() if "reading" in events else ("reading",))))
        self._wait(self._keeping)
        if (self._batch.coat_id if self._batch else "") != before:
            self._ask_air()

    @Slot(int)
    def _choose(self, number: int) -> None:
        self._wanted = number
        self._show(self._watch.view)

    def _units(self) -> None:
        self.work.set_units()
        self.refresh()

    def _ask_air(self) -> None:
        desk, batch = self._desk, self._batch
        bench, now_s, reading = desk.bench, desk.now_s(), self.work.reading()
        area_id = self._area_id()

        def ask() -> tuple[AirKept, list[str], str]:
            told = work_cautions(bench, batch.coat_id, "apply") if batch else ()
            sources = "\n".join(f"{one.text} ({one.source})" for one in told)
            return air_kept(bench, now_s, reading, area_id), [one.text for one in told], sources

        if bench.job() is not None:
            self._watch.operations.run("air", ask, self._show_air)

    def _area_id(self) -> str:
        """Return the area of the coat going on, else of the batch in front, "" without either."""
        view, job = self._watch.view, self._desk.bench.job()
        work = view.work if view else None
        coat_id = work.coat_id if work else self._batch.coat_id if self._batch else ""
        if job is None:
            return ""
        return next((coat.area_id for coat in job.coats if coat.id == coat_id), "")

    def _show_air(self, found: tuple[AirKept, list[str], str]) -> None:
        kept, cautions, sources = found
        self.work.show_latest(kept.latest)
        self.work.show_answer(kept.air)
        self.cautions.show_cautions(cautions, sources)

    def _typed(self) -> None:
        self._name_reading()
        self._ask_air()

    def _name_reading(self) -> None:
        self.taps.rename("reading", "Record these readings" if self.work.typed() else "")

    # --- taps ----------------------------------------------------------------------------

    @Slot(str, int)
    def _tapped(self, event: str, minutes: int) -> None:
        if event == "mix":
            self.mix()
        elif event == "reading":
            self._record()
        elif event == "film":
            self.pad.open_for(self.beside.film.field, self.beside.film)
        else:
            self._tap(event, minutes)

    def _tap(self, event: str, minutes: int) -> None:
        now_s = self._desk.now_s()
        at_s = now_s - minutes * MIN_S if minutes else None
        if self._asks(event, at_s or now_s, minutes):
            return
        if not minutes and self._naming.waits(WORDS[event]):
            self._desk.messages.note(f"{WORDS[event]}: waits already. Say who is writing.")
            return
        patch = self.beside.patch.text().strip() if event in PATCHED else ""
        about = (*self._meant(event), patch)
        self._named(WORDS[event], at_s, lambda moment: self._note(event, moment, about))

    def _named(self, what: str, at_s: float | None, keep: Callable[[float | None], None]) -> None:
        """Keep it under somebody's name; asked for the name, it keeps the moment it was pressed."""
        if not self._naming.known:
            at_s = at_s or self._desk.now_s()
        self._naming.first(lambda: keep(at_s), what)

    def _note(self, event: str, at_s: float | None, about: tuple[str, int, str]) -> None:
        """Keep an event; `about` is the coat, the batch and the patch it was pressed for."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        coat_id, number, patch = about
        told = f"{WORDS[event]}: noted for {self._desk.words().moment(at_s or now_s)}."
        self._wait(True)
        self._watch.operations.write(
            lambda: bench.live.tap(
                event, now_s, at_s=at_s, patch=patch, coat_id=coat_id, batch=number
            ),
            lambda _: self._kept(told, event in PATCHED),
            self._not_kept,
        )

    def _asks(self, event: str, at_s: float, minutes: int) -> bool:
        """Ask once before paint goes on that still has to stand."""
        batch, before = self._batch, self._asked
        self._asked = ("", 0, 0.0)
        end_s = batch.induction_until_s if batch else None
        if batch is None or end_s is None or event not in PUTS_ON or at_s >= end_s:
            return False
        now_s = self._desk.now_s()
        if before[:2] == (event, batch.number) and BOUNCE_S <= now_s - before[2] <= ASKED_S:
            return False
        self._asked = (event, batch.number, now_s)
        self.taps.when.step(minutes)  # a time stepped back stands for the second press
        until = self._desk.words().moment(end_s)
        self._desk.messages.note(
            f"Induction runs until {until}: press again if you start all the same."
        )
        return True

    def _meant(self, event: str) -> tuple[str, int]:
        """Return the coat and the batch a tap is about: the coat going on has its own events."""
        batch, view = self._batch, self._watch.view
        work = view.work if view and event in OF_WORK else None
        batch_coat, number = (batch.coat_id, batch.number) if batch else ("", 0)
        return (work.coat_id if work else batch_coat), number

    def _wait(self, keeping: bool) -> None:
        """Take no second tap of the same glove; a look at the bench does not end the waiting."""
        self._keeping = keeping
        self.taps.set_waiting(keeping)
        self.beside.film.set_waiting(keeping)

    def _kept(self, told: str, patched: bool = False) -> None:
        self._keeping = False  # the look that follows offers what comes next
        if patched:
            self.beside.patch.clear()
        self._desk.messages.note(told)
        self._desk.changed.emit()

    def _not_kept(self, failure: Failure) -> None:
        self._wait(False)
        self._desk.messages.failure(failure)

    def _record(self) -> None:
        wrong, readings = self.work.wrong(), self.work.typed()
        if wrong is not None:
            self._desk.messages.error(f"Not kept: mend {wrong.name.text()} first.")
        elif not readings:
            self.work.boxes["air_temp_c"].field.setFocus()
            self._desk.messages.note("Read each value, confirm it with Enter, then record them.")
        elif not self._keeping:
            area_id = self._area_id()
            self._named("Readings", None, lambda _: self._keep_readings(area_id))

    def _keep_readings(self, area_id: str) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        readings = self.work.typed()  # more may have been typed while the name was asked for
        self._wait(True)
        self._watch.operations.write(
            lambda: [bench.type_reading(reading, now_s, area_id) for reading in readings],
            lambda _: self._recorded(readings),
            self._not_kept,
        )

    def _recorded(self, readings: tuple[Reading, ...]) -> None:
        self.work.stored(readings)
        self._name_reading()
        self._kept("Readings kept.")

    @Slot(tuple)
    def _film(self, values: tuple[str, ...]) -> None:
        view = self._watch.view
        if view is None or view.work is None or self._keeping:
            return
        coat_id = view.work.coat_id
        self.pad.put_away()
        self._named("Wet film", None, lambda at_s: self._keep_film(coat_id, values, at_s))

    def _keep_film(self, coat_id: str, values: tuple[str, ...], at_s: float | None) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._wait(True)
        self._watch.operations.write(
            lambda: bench.live.film(coat_id, values, now_s, at_s=at_s),
            lambda _: self._film_kept(values),
            self._not_kept,
        )

    def _film_kept(self, values: tuple[str, ...]) -> None:
        self.beside.film.kept()
        self._kept(f"Wet film noted: {', '.join(values)} µm.")

    # --- a batch -------------------------------------------------------------------------

    @Slot(str)
    def mix(self, coat_id: str = "") -> None:
        """Open the form of a batch, for one coat or the next that can be mixed for."""
        job, bench, now_s = self._desk.bench.job(), self._desk.bench, self._desk.now_s()
        left = job.next_coats() if job is not None else ()
        work = self._watch.view.work if self._watch.view else None
        coat_id = coat_id or (work.coat_id if work else "") or (left[0].id if left else "")
        if job is None or not coat_id:
            self._desk.messages.note("Every coat of this job is on: add one in the job set-up.")
            return
        known = job

        def offer() -> tuple[BatchForm, list[str], str]:
            told = work_cautions(bench, coat_id, "mix")
            sources = "\n".join(f"{one.text} ({one.source})" for one in told)
            return bench.live.batch_form(coat_id, now_s), [one.text for one in told], sources

        self._watch.operations.run("form", offer, lambda found: self._offered(known, found))

    def _offered(self, job: Job, found: tuple[BatchForm, list[str], str]) -> None:
        form, cautions, sources = found
        self.form.show_job(job, form.coat_id)
        self.form.show_form(form, cautions, sources)
        self.pages.setCurrentWidget(self.form)

    @Slot(object)
    def _look_through(self, form: BatchForm) -> None:
        bench = self._desk.bench
        self._watch.operations.run(
            "check", lambda: bench.live.checked(form), self.form.show_checked
        )

    @Slot(object, int)
    def _start(self, form: BatchForm, minutes: int) -> None:
        at_s = self._desk.now_s() - minutes * MIN_S if minutes else None
        self._named("Batch", at_s, lambda moment: self._keep_batch(form, moment))

    def _keep_batch(self, form: BatchForm, at_s: float | None) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.form.mix.setEnabled(False)
        self._watch.operations.write(
            lambda: bench.live.start_batch(form, now_s, at_s),
            lambda _: self._started(at_s or now_s),
            self._not_started,
        )

    def _started(self, at_s: float) -> None:
        self.form.mix.setEnabled(True)
        self._wanted = 0
        self.pages.setCurrentIndex(0)
        self.taps.main.setFocus()  # what is hidden would hand the focus to anything
        self._kept(f"Batch noted as mixed at {self._desk.words().moment(at_s)}.")

    def _not_started(self, failure: Failure) -> None:
        self.form.mix.setEnabled(True)
        self.form.mix.setFocus()
        self._desk.messages.failure(failure)
