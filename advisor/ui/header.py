"""The bar on top: the job, the panes, the clock, units, light or dark, the menu."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, SignalInstance
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from advisor.base.units import Units
from advisor.planning.job import Job
from advisor.ui.theme import Look
from advisor.ui.widgets.elided import Elided
from advisor.ui.widgets.parts import text

PANES = (
    ("before_mixing", "Before you mix"),
    ("batch", "At the bench"),
    ("tonight", "Tonight"),
    ("coming_days", "Coming days"),
    ("readings", "Readings"),
    ("record", "Record"),
    ("shop", "Shop"),
    ("help", "Help"),
)
#: What stays on the bar as room gets short, the most needed first; the rest is in the menu.
STAY = ("before_mixing", "batch", "tonight", "coming_days", "record", "readings", "shop", "help")
MENU = (
    ("job", "&Job set-up…"),
    ("import", "&Import readings or a forecast…"),
    ("demo", "Open the &demo job"),
    ("units", "Metric or US &units\tCtrl+U"),
    ("theme", "&Light, dark, high contrast\tCtrl+L"),
    ("scale", "&Bench scale\tCtrl+B"),
)
#: Narrowest the job's name may be cut to, the bar's own edges, and its gaps, px at 100 %.
NAME, EDGES, GAP = 110, 92, 4


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
        self._checked = "before_mixing"
        self.in_menu: dict[str, QAction] = {}
        self.menu = self._menu()
        self._lay_out()
        look.changed.connect(self.fit)

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(20, 6, 12, 6)
        row.setSpacing(GAP)
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
        tab = QPushButton("?" if key == "help" else name)
        tab.setAccessibleName(name)
        tab.setToolTip(name if key == "help" else "")
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
        for key, words in PANES:
            self.in_menu[key] = menu.addAction(words)
            self.in_menu[key].triggered.connect(lambda _=False, k=key: self.pane_wanted.emit(k))
        menu.addSeparator()
        for key, words in MENU:
            action = menu.addAction(words)
            action.triggered.connect(lambda _=False, k=key: self.menu_wanted.emit(k))
        button.setMenu(menu)
        return button

    def show_job(self, job: Job | None) -> None:
        """Show whose work this is."""
        self.job_name.setText("No job yet" if job is None else job.name)
        self.place.setText("" if job is None else job.place)
        for key, tab in self.tabs.items():
            tab.setEnabled(job is not None or key in ("before_mixing", "help"))
            self.in_menu[key].setEnabled(tab.isEnabled())
        self.fit()

    def show_pane(self, key: str) -> None:
        """Mark the pane in hand."""
        self.tabs[key].setChecked(True)
        self._checked = key
        self.fit()

    def show_clock(self, now_s: float, zone: ZoneInfo) -> None:
        """Show day and clock of the shop."""
        local = datetime.fromtimestamp(now_s, zone)
        self.clock.setText(local.strftime("%a %H:%M"))
        self.clock.setToolTip(f"{local.day} {local.strftime('%B %Y')}")

    def show_choices(self, units: Units, theme: str) -> None:
        """Show units and palette in force."""
        self.units.setText("°C" if units == "metric" else "°F")
        self.theme.setText(theme.capitalize())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Leave out what is only nice to have where there is little room."""
        super().resizeEvent(event)
        self.fit()

    def fit(self) -> None:
        """Show what there is room for, the most needed first; the menu has what is left out."""
        room = self.width() - self._look.px(EDGES) - self.menu.sizeHint().width()
        open_yet = True
        for widget, wide in self._by_need():
            room -= wide + GAP
            open_yet = open_yet and room >= 0
            widget.setVisible(open_yet)
        self.place.setVisible(not self.job_name.isHidden() and bool(self.place.text()))
        for key, tab in self.tabs.items():
            self.in_menu[key].setVisible(tab.isHidden())

    def _by_need(self) -> list[tuple[QWidget, int]]:
        """Return what may be left out with its width, the most needed first."""
        keys = sorted(STAY, key=lambda key: (key != self._checked, STAY.index(key)))
        tabs = [(self.tabs[key], self.tabs[key].sizeHint().width()) for key in keys]
        name = min(self._look.px(NAME), self.job_name.sizeHint().width())
        rest = [(self.clock, self.clock.sizeHint().width()), (self.job_name, name)]
        return [*tabs, *rest, *((b, b.sizeHint().width()) for b in (self.units, self.theme))]
