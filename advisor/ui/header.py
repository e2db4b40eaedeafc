"""The bar on top: the job, the panes, the clock, units, light or dark, the menu."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, SignalInstance
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
)

from advisor.base.units import Units
from advisor.planning.job import Job
from advisor.ui.theme import Look
from advisor.ui.widgets.elided import Elided
from advisor.ui.widgets.parts import text

PANES = (
    ("before_mixing", "Before you mix"),
    ("tonight", "Tonight"),
    ("coming_days", "Coming days"),
    ("shop", "Shop"),
    ("help", "Help"),
)
MENU = (
    ("job", "&Job set-up…"),
    ("import", "&Import readings or a forecast…"),
    ("demo", "Open the &demo job"),
    ("units", "Metric or US &units\tCtrl+U"),
    ("scale", "&Bench scale\tCtrl+B"),
)


class Header(QFrame):
    """Emits what was asked for; decides nothing."""

    pane_wanted = Signal(str)
    units_wanted = Signal()
    theme_wanted = Signal()
    menu_wanted = Signal(str)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("header")
        self._look = look
        self.job_name = Elided("No job yet", "title")
        self.place = Elided("", "small")
        self.clock = text("", "strong")
        self.units = self._button("", "Metric or US units (Ctrl+U)", self.units_wanted)
        self.theme = self._button("", "Light, dark, high contrast (Ctrl+L)", self.theme_wanted)
        self.tabs = {key: self._tab(key, name) for key, name in PANES}
        self.menu = self._menu()
        self._lay_out()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(20, 6, 12, 6)
        row.setSpacing(4)
        names = QVBoxLayout()
        names.setSpacing(0)
        names.addWidget(self.job_name)
        names.addWidget(self.place)
        row.addLayout(names)
        row.addSpacing(16)
        group = QButtonGroup(self)
        for tab in self.tabs.values():
            group.addButton(tab)
            row.addWidget(tab)
        row.addStretch(1)
        row.addWidget(self.clock)
        row.addSpacing(6)
        for button in (self.units, self.theme, self.menu):
            row.addWidget(button)

    def _tab(self, key: str, name: str) -> QPushButton:
        tab = QPushButton(name)
        tab.setCheckable(True)
        tab.setProperty("tab", True)
        tab.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        tab.clicked.connect(lambda: self.pane_wanted.emit(key))
        return tab

    def _button(self, words: str, hint: str, signal: SignalInstance) -> QPushButton:
        button = QPushButton(words)
        button.setToolTip(hint)
        button.setAccessibleName(hint)
        button.clicked.connect(signal)
        return button

    def _menu(self) -> QToolButton:
        button = QToolButton()
        button.setText("Menu")
        button.setAccessibleName("Menu")
        button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(button)
        for key, words in MENU:
            action = menu.addAction(words)
            action.triggered.connect(lambda _=False, k=key: self.menu_wanted.emit(k))
        button.setMenu(menu)
        return button

    def show_job(self, job: Job | None) -> None:
        """Show whose work this is."""
        self.job_name.setText("No job yet" if job is None else job.name)
        self.place.setText("" if job is None else job.place)
        self.place.setVisible(bool(self.place.text()))
        for key, tab in self.tabs.items():
            tab.setEnabled(job is not None or key in ("before_mixing", "help"))

    def show_pane(self, key: str) -> None:
        """Mark the pane in hand."""
        self.tabs[key].setChecked(True)

    def show_clock(self, now_s: float, zone: ZoneInfo) -> None:
        """Show day and clock of the shop."""
        local = datetime.fromtimestamp(now_s, zone)
        self.clock.setText(f"{local.strftime('%a')} {local.day} {local.strftime('%b %H:%M')}")

    def show_choices(self, units: Units, theme: str) -> None:
        """Show units and palette in force."""
        self.units.setText("°C" if units == "metric" else "°F")
        self.theme.setText(theme.capitalize())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Leave out what is only nice to have where there is little room."""
        super().resizeEvent(event)
        room = self.width() * 100 / self._look.scale_pct
        self.clock.setVisible(room > 1210)
        self.theme.setVisible(room > 1000)
        self.job_name.setVisible(room > 860)
        self.place.setVisible(room > 860 and bool(self.place.text()))
        self.units.setVisible(room > 730)  # it stands in the menu too
