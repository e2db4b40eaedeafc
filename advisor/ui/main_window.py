"""The window: arranges header, message bar and panes, and remembers where it was."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QEvent, QTimer, Slot
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from advisor.planning.job import Job
from advisor.ui.alarm_bar import AlarmBar
from advisor.ui.alarm_in_dialogs import AlarmInDialogs
from advisor.ui.desk import Desk
from advisor.ui.forecasts import Forecasts
from advisor.ui.header import PANES, Header
from advisor.ui.late_panes import MAKERS, LatePanes
from advisor.ui.own_keys import OwnKeys
from advisor.ui.panes.before_mixing import BeforeMixingPane
from advisor.ui.panes.coming_days import ComingDaysPane
from advisor.ui.panes.first_run import FirstRun
from advisor.ui.panes.help import HelpPane
from advisor.ui.panes.shop import ShopPane
from advisor.ui.panes.tonight import TonightPane
from advisor.ui.phone_page import PhonePage
from advisor.ui.reading_order import ReadingOrder
from advisor.ui.theme import BENCH_PCT
from advisor.ui.upkeep import Upkeep

THEMES = ("light", "dark", "high contrast")
TICK_MS = 30_000


class MainWindow(QMainWindow):
    """One window. `start` begins the work that must wait until it is on screen."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._job: Job | None = None
        self._key = "before_mixing"
        self.setWindowTitle("Painting-window advisor")
        self.header = Header(desk.look)
        self.before_mixing, self.tonight = BeforeMixingPane(desk), TonightPane(desk)
        self.coming_days, self.help = ComingDaysPane(desk), HelpPane(desk.look)
        self.forecasts, self.phone = Forecasts(desk), PhonePage(desk)
        self.upkeep = Upkeep(desk)
        self.shop, self.first_run = ShopPane(desk, self.forecasts), FirstRun(desk.look)
        self._arrange()
        self._connect()
        self._shortcuts()
        self._restore()

    def _arrange(self) -> None:
        self.stack = QStackedWidget()
        self.late = LatePanes(self.desk, self.stack)
        for pane in (*self._panes().values(), self.first_run):
            self.stack.addWidget(pane)
        page = ReadingOrder()
        page.setObjectName("page")
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.alarms = AlarmBar(self.desk.watch, self.desk.look)
        AlarmInDialogs(self, self.desk.watch, self.desk.look)
        column.addWidget(self.header)
        column.addWidget(self.alarms)
        column.addWidget(self.desk.messages)
        column.addWidget(self.stack, 1)
        self.setCentralWidget(page)
        self.setMinimumSize(640, 520)

    def _connect(self) -> None:
        desk, header = self.desk, self.header
        desk.changed.connect(self.reload)
        desk.units_changed.connect(self._show_choices)
        desk.show_week.connect(lambda: self.open_pane("coming_days"))
        desk.show_shop.connect(lambda: self.open_pane("shop"))
        desk.mix_batch.connect(self.mix_batch)
        desk.watch.woken.connect(self.tick)
        desk.look.changed.connect(self._relook)
        header.pane_wanted.connect(self.open_pane)
        header.units_wanted.connect(self.switch_units)
        header.theme_wanted.connect(self.switch_theme)
        header.menu_wanted.connect(self._menu)
        self.first_run.set_up.connect(self.set_up_job)
        self.first_run.demo.connect(self.load_demo)
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self.tick)

    def _shortcuts(self) -> None:
        self._own_keys = OwnKeys(self)
        for number, (key, _) in enumerate(PANES, start=1):
            self._shortcut(f"Ctrl+{number}", lambda k=key: self.open_pane(k))
        self._shortcut("F1", lambda: self.open_pane("help"))
        self._shortcut("Ctrl+B", self.switch_scale)
        self._shortcut("Ctrl+U", self.switch_units)
        self._shortcut("Ctrl+L", self.switch_theme)

    def _shortcut(self, keys: str, action: object) -> None:
        self._own_keys.add(QKeySequence(keys))
        QShortcut(QKeySequence(keys), self).activated.connect(action)

    def _restore(self) -> None:
        geometry = self.desk.bench.settings.text("window_geometry")
        if not geometry or not self.restoreGeometry(QByteArray.fromBase64(geometry.encode())):
            self.resize(1280, 800)
        self._key = self.desk.bench.settings.text("last_pane")
        if self._key not in dict(PANES):
            self._key = "before_mixing"
        self._relook()
        self._show_choices()
        self.show_job(self.desk.bench.job())

    # --- what is shown -------------------------------------------------------------------

    @Slot()
    def start(self) -> None:
        """Begin what needs the heavy libraries; called once the window is on screen."""
        self._timer.start()
        self.before_mixing.focus_first()
        self._load_pane()
        self.desk.watch.begin()
        self.desk.sensing.begin()
        self.forecasts.tick()

    def reload(self) -> None:
        """Job, products or readings changed."""
        self.show_job(self.desk.bench.job())
        self._load_pane()

    def show_job(self, job: Job | None) -> None:
        """Show a job's name and the pane in hand, or the first page where there is none."""
        self._job = job
        self.header.show_job(job)
        self._raise_pane()
        self._show_clock()

    def open_pane(self, key: str) -> None:
        """Show a pane and work it out anew."""
        self._key = key
        self.desk.remember("last_pane", key)
        self._raise_pane()
        self._load_pane()
        if self._job is not None:
            self._pane().setFocus()

    def mix_batch(self, coat_id: str) -> None:
        """Open the form of a batch for a coat."""
        from advisor.ui.panes.batch import BatchPane

        self.open_pane("batch")
        pane = self._pane()
        if isinstance(pane, BatchPane) and self._job is not None:
            pane.mix(coat_id)

    def _raise_pane(self) -> None:
        if self._job is None and self._key != "help":
            self.stack.setCurrentWidget(self.first_run)
            self.header.show_pane("before_mixing")
            return
        self.stack.setCurrentWidget(self._pane())
        self.header.show_pane(self._key)

    def _panes(self) -> dict[str, QWidget]:
        return {
            "before_mixing": self.before_mixing,
            "tonight": self.tonight,
            "coming_days": self.coming_days,
            "shop": self.shop,
            "help": self.help,
        }

    def _pane(self) -> QWidget:
        return self.late.pane(self._key) if self._key in MAKERS else self._panes()[self._key]

    def _load_pane(self) -> None:
        if self._job is None:
            return
        if self._key == "before_mixing":
            latest = self.desk.bench.latest_values(self.desk.now_s())
            self.before_mixing.show_job(self._job, latest)
        elif self._key == "tonight":
            self.tonight.refresh()
        elif self._key == "coming_days":
            self.coming_days.refresh()
        elif self._key == "shop":
            self.shop.refresh()
        elif self._key in MAKERS:
            self.late.refresh(self._key)

    def tick(self) -> None:
        """Half a minute went by."""
        self._show_clock()
        if self._job is not None:
            self.forecasts.learn()
        pane = self.stack.currentWidget()
        if pane is self.before_mixing and self.desk.sensing.states and self._job is not None:
            latest = self.desk.bench.latest_values(self.desk.now_s())
            self.before_mixing.work.show_latest(latest)  # what the sensors brought since
        if pane in (self.before_mixing, self.tonight, self.coming_days, self.shop):
            pane.tick()
        else:
            self.late.tick(pane)
        self.forecasts.tick()
        self.phone.tick()
        self.upkeep.tick()

    def _show_clock(self) -> None:
        self.header.show_clock(self.desk.now_s(), self.desk.zone)

    # --- choices -------------------------------------------------------------------------

    def switch_units(self) -> None:
        """Metric to US and back."""
        self.desk.set_units("metric" if self.desk.units == "us" else "us")

    def switch_theme(self) -> None:
        """Light, dark, high contrast, light."""
        at = THEMES.index(self.desk.look.palette.name)
        name = THEMES[(at + 1) % len(THEMES)]
        self.desk.remember("theme", name)
        self.desk.look.set_theme(name)

    def switch_scale(self) -> None:
        """Bench scale on or off."""
        big = self.desk.look.scale_pct != BENCH_PCT
        scale = BENCH_PCT if big else 100
        self.desk.remember("scale_pct", scale)
        self.desk.look.set_scale(scale)

    def _show_choices(self) -> None:
        self.header.show_choices(self.desk.units, self.desk.look.palette.name)

    def _relook(self) -> None:
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.setStyleSheet(self.desk.look.stylesheet())
        self._show_choices()

    # --- menu ----------------------------------------------------------------------------

    def _menu(self, key: str) -> None:
        actions = {
            "job": self.set_up_job,
            "import": self.import_file,
            "demo": self.load_demo,
            "units": self.switch_units,
            "theme": self.switch_theme,
            "scale": self.switch_scale,
        }
        actions[key]()

    def set_up_job(self) -> None:
        """Open the job set-up."""
        from advisor.ui.dialogs.job_dialog import JobDialog

        self._run(JobDialog(self.desk.bench, self.desk.now_s(), self))

    def import_file(self) -> None:
        """Open the import."""
        from advisor.ui.dialogs.import_dialog import ImportDialog

        self._run(ImportDialog(self.desk.bench, self.desk.now_s(), self))

    def _run(self, dialog: QDialog) -> None:
        dialog.accepted.connect(self.desk.changed)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def load_demo(self) -> None:
        """Set the demo job up in the background, then show it."""
        bench, now_s = self.desk.bench, self.desk.now_s()
        self.desk.messages.note("Setting up the demo job …")
        self.desk.operations.write(lambda: bench.load_demo(now_s), self._demo_loaded)

    def _demo_loaded(self, _: object) -> None:
        self.desk.messages.hide()
        self.desk.changed.emit()
        # After the first answer: the record of the demo's crew takes a second.
        bench, now_s = self.desk.bench, self.desk.now_s()
        self.desk.operations.write(lambda: bench.keep_demo_record(now_s), self._demo_record_kept)

    def _demo_record_kept(self, kept: object) -> None:
        if kept:
            self.desk.changed.emit()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        """Back from being minimised: the bench shows what it left out."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange and not self.isMinimized():
            self.desk.watch.ask()
            self.late.tick(self.stack.currentWidget())

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Keep size and place, let the worker end."""
        geometry = bytes(self.saveGeometry().toBase64().data()).decode()
        self.desk.remember("window_geometry", geometry)
        self._timer.stop()
        self.desk.close()
        super().closeEvent(event)
