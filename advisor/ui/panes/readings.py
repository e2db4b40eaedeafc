"""Readings: the sensors, a picture of what was read from minutes to years, and a table."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import QTimer, Slot
from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from advisor.climate.live.sensor import Sensor, SensorState
from advisor.ui.desk import Desk
from advisor.ui.operations import Failure
from advisor.ui.plots.readings_picture import ribbon
from advisor.ui.plots.readings_plot import Fetched
from advisor.ui.readings.picture_card import PictureCard
from advisor.ui.readings.rows import RowPages
from advisor.ui.readings.sensor_card import SensorCard
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.paged_table import TableRow
from advisor.ui.widgets.parts import Tall
from advisor.work.readings_look import ReadingRows, ReadingsLook, Zone

#: How often sensors are looked at while the pane is open, and the pause after a move, ms.
LOOK_MS, PAUSE_MS = 3000, 250
#: Width in px at 100 % from which the sensors stand beside the picture.
BESIDE_FROM, SENSORS_WIDE = 1000, 296
#: Width in px at 100 % from which the buttons of the picture stand beside the zone.
ONE_ROW_FROM = 760
NOTHING_YET = (
    "Nothing is read here yet. Type a reading, import a log, or set up a sensor: "
    "every reading is kept and drawn here."
)
NONE_SUCH = "No reading is like this. Choose another source or day."


class ReadingsPane(QWidget):
    """Sensors on the left; picture and table of one zone on the right."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self.look = ReadingsLook(desk.bench)
        self.zones: tuple[Zone, ...] = ()
        self._kept_rows = -1
        self._fresh = True
        self.sensors = SensorCard(desk.look)
        self.card = PictureCard(desk.look, desk.pages)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        (self._left, self._aside), (right, self._main) = _scrolling(), _scrolling()
        self._main.addWidget(self.card, 1)
        row = QHBoxLayout()
        row.setSpacing(14)
        row.addWidget(self._left)
        row.addWidget(right, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        column.addLayout(row, 1)
        column.addWidget(CautionBar())
        self.setFocusProxy(self.card.plot)
        self._beside: bool | None = None
        self._arrange()

    def _connect(self) -> None:
        desk, card = self._desk, self.card
        self._timer, self._pause = QTimer(self), QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self._look_at_sensors)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self._count)
        card.plot.wanted.connect(self._fetch)
        card.plot.moved.connect(self._moved)
        card.zone_chosen.connect(self._choose_zone)
        card.filters.changed.connect(self._count)
        card.table.chosen.connect(self._choose)
        card.plot.picked.connect(self._picked)
        self.sensors.add.connect(lambda: self._set_up(None))
        self.sensors.change.connect(lambda state: self._set_up(state.sensor))
        self.sensors.type_one.connect(self.type_reading)
        self.sensors.bring_in.connect(self.import_log)
        desk.units_changed.connect(self._units)
        desk.look.changed.connect(self._arrange)

    # --- opened, and time goes by --------------------------------------------------------

    def refresh(self) -> None:
        """Look at the readings anew: the pane was opened, or something was kept."""
        self.zones = self.look.zones()
        self.card.show_zones(self.zones)
        self._load()
        self._look_at_sensors()
        self._desk.slow.run("readings laid out", self.look.lay_out, self._laid_out, self._failed)

    def tick(self) -> None:
        """Half a minute went by."""
        self.card.show_age(self._desk.now_s(), self._desk.stale_after_s, self._desk.words())

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Look at the sensors while the pane is open."""
        super().showEvent(event)
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: N802
        """Leave the sensors alone while nobody looks."""
        super().hideEvent(event)
        self._timer.stop()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put the sensors beside or underneath."""
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        look = self._desk.look
        room = self.width() * 100 / look.scale_pct
        self.card.set_narrow(room < ONE_ROW_FROM)
        self._left.setFixedWidth(look.px(SENSORS_WIDE))
        beside = room >= BESIDE_FROM
        if beside == self._beside:
            return
        self._beside = beside
        for column in (self._aside, self._main):
            column.removeWidget(self.sensors)
        (self._aside if beside else self._main).addWidget(self.sensors)
        self._left.setVisible(beside)
        self.sensors.show()

    # --- picture and table ---------------------------------------------------------------

    @property
    def zone(self) -> Zone:
        """Return the zone on show."""
        chosen = self.card.zone_key
        return next((zone for zone in self.zones if zone.area == chosen), self.zones[0])

    def _load(self) -> None:
        look, area = self.look, self.zone.area
        self._desk.pages.run("readings reach", lambda: look.reach(area), self._reached,
                             self._failed)  # fmt: skip

    def _reached(self, reach: tuple[float, float] | None) -> None:
        words = self._desk.words()
        self.card.show_reach(reach, words)
        self.tick()
        if reach is None:
            self.card.say(NOTHING_YET)
            return
        self.card.say("")
        if self._fresh:
            self._fresh = False
            self.card.show_last_day()
        else:
            self.card.follow(reach)
            self.card.plot.ask_again()
        self._count()

    def _laid_out(self, rows: int) -> None:
        """Draw again where something came in that the picture did not know of."""
        if rows:
            self._load()

    @Slot(float, float, int)
    def _fetch(self, first_s: float, last_s: float, points: int) -> None:
        look, area, units = self.look, self.zone.area, self._desk.units

        def fetch() -> Fetched:
            strands = look.strands(area, first_s, last_s, points)
            return Fetched(first_s, last_s, points, tuple(ribbon(s, units) for s in strands))

        self._desk.pages.run("readings picture", fetch, self.card.plot.show_fetched, self._failed)

    def _moved(self) -> None:
        if self.card.filters.by_picture():
            self._pause.start()

    def _count(self) -> None:
        look, words = self.look, self._desk.words()
        card = self.card
        card.filters.set_today(datetime.fromtimestamp(self._desk.now_s(), words.zone).date())
        axis = card.plot.axis
        wanted = card.filters.wanted(self.zone.area, words, (axis.first_s, axis.last_s))
        self._desk.pages.run(
            "readings rows", lambda: look.rows(wanted), self._counted, self._failed
        )

    def _counted(self, found: ReadingRows) -> None:
        names = tuple((zone.area, zone.name) for zone in self.zones)
        words = NONE_SUCH if self.card.filters.narrow() else NOTHING_YET
        self.card.show_rows(RowPages(found, self._desk.words(), names), words)

    @Slot(str)
    def _choose_zone(self, _: str) -> None:
        self._fresh = True
        self.card.plot.forget()
        self._load()

    @Slot(object)
    def _choose(self, row: TableRow) -> None:
        """Show the row tapped in the picture, and say it whole."""
        self.card.plot.show_moment(float(str(row.key)))
        self.card.tell(row.told)

    @Slot(float)
    def _picked(self, at_s: float) -> None:
        self.card.tell_moment(at_s, self._desk.words())

    def _units(self) -> None:
        words = self._desk.words()
        self.card.plot.set_reader(words.zone, words.units)
        if self.zones:
            self.card.plot.forget()
            self._load()
            self._look_at_sensors()

    def _failed(self, failure: Failure) -> None:
        if failure.details:
            self._desk.messages.failure(failure)
        self.card.say(failure.text)

    # --- sensors -------------------------------------------------------------------------

    def _look_at_sensors(self) -> None:
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._desk.pages.run("readings sensors", lambda: bench.sensors.states(now_s),
                             self._show_sensors, self._no_sensors)  # fmt: skip

    def _show_sensors(self, states: tuple[SensorState, ...]) -> None:
        names = {zone.area: zone.name for zone in self.zones} | {"": self.zones[0].name}
        self.sensors.show_states(states, names, self._desk.words())
        rows = sum(state.rows_kept for state in states)
        if self._kept_rows not in (-1, rows):
            self._desk.slow.run(
                "readings laid out", self.look.lay_out, self._laid_out, self._failed
            )
        self._kept_rows = rows

    def _no_sensors(self, failure: Failure) -> None:
        self.sensors.show_trouble(failure.text)

    def _set_up(self, sensor: Sensor | None) -> None:
        """Open the set-up of a sensor, a new one for None."""
        from advisor.ui.dialogs.sensor_dialog import SensorDialog

        self._run(SensorDialog(self._desk, self.zones, sensor, self))

    @Slot()
    def type_reading(self) -> None:
        """Open the reading by hand."""
        from advisor.ui.dialogs.type_reading import TypeReadingDialog

        self._run(TypeReadingDialog(self._desk, self.zone, self))

    @Slot()
    def import_log(self) -> None:
        """Open the import."""
        from advisor.ui.dialogs.import_dialog import ImportDialog

        self._run(ImportDialog(self._desk.bench, self._desk.now_s(), self))

    def _run(self, dialog: QDialog) -> None:
        dialog.accepted.connect(self._desk.changed)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()


def _scrolling() -> tuple[QScrollArea, QVBoxLayout]:
    """Return an area that scrolls when there is too little height, and the column in it."""
    area, page = QScrollArea(), Tall()
    area.setWidgetResizable(True)
    column = QVBoxLayout(page)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(14)
    area.setWidget(page)
    return area, column
