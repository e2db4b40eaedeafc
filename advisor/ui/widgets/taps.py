"""One tap for each event: the likeliest is one big button, the others stand smaller beside it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.button_row import ButtonRow
from advisor.ui.widgets.parts import BigButton, restyle, text

#: The events a bench can offer, in the words of the buttons; "mix" is the way to the form.
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "start": "First patch is on",
        "patch": "Patch is on",
        "stop": "Stop here",
        "carry on": "Carry on",
        "finish": "Coat is on",
        "batch used up": "Batch used up",
        "batch discarded": "Batch thrown away",
        "reading": "Take readings",
        "film": "Measure the film",
        "mix": "Mix a batch",
    }
)
#: What takes something back or ends it is not drawn in the colour of permission.
HALTS = frozenset({"stop", "batch discarded"})
#: Width under which the likeliest tap gets a row of its own, and only the next few stand under
#: it until more are asked for, px at 100 %.
ROOMY, FEW = 1000, 3
#: Between the likeliest, the others and the time, px.
GAP = 14
#: Steps of "when it was", minutes, and the longest it can be ago.
STEP_MIN, MOST_MIN = 5, 240


class WhenStepper(QWidget):
    """Says how long ago the next tap was: now, unless stepped back."""

    def __init__(self) -> None:
        super().__init__()
        self.minutes = 0
        self.told = text("", "strong")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(self.told)
        for sign, by, name in (("−", STEP_MIN, "Earlier"), ("+", -STEP_MIN, "Later")):
            button = QPushButton(sign)
            button.setProperty("step", True)
            button.setAutoRepeat(True)
            button.setAccessibleName(f"{name}: when it was")
            button.clicked.connect(lambda _=False, by=by: self.step(by))
            row.addWidget(button)
        self.reset()

    def step(self, minutes: int) -> None:
        """Move the time back, or forward again up to now."""
        self.minutes = min(MOST_MIN, max(0, self.minutes + minutes))
        self.told.setText(f"{self.minutes} min ago" if self.minutes else "When: now")

    def reset(self) -> None:
        """Back to now."""
        self.minutes = 0
        self.step(0)


class Taps(QWidget):
    """`tapped` with the event and how many minutes ago it was."""

    tapped = Signal(str, int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._names = dict(WORDS)
        self._rest: tuple[str, ...] = ()
        self._arranged: bool | None = None
        self._short = self._holds = False
        self.likeliest: str = ""
        self.main = BigButton("", main=True)
        self.main.setProperty("huge", True)
        self.main.clicked.connect(self._tap_main)
        self.others = {event: BigButton(words) for event, words in WORDS.items()}
        for event, button in self.others.items():
            button.clicked.connect(lambda _=False, event=event: self._tap(event))
        self.more = BigButton("More")
        self.more.setCheckable(True)
        self.more.toggled.connect(self._offer)
        self.when = WhenStepper()
        self.row = ButtonRow(look, (*self.others.values(), self.more))
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(GAP)
        self.show_events(())
        self._arrange()
        look.changed.connect(self._arrange)

    @property
    def roomy(self) -> bool:
        """Whether all of them stand beside the likeliest."""
        return self.width() * 100 / self._look.scale_pct >= ROOMY

    def _fit_main(self) -> None:
        """Write the likeliest tap less large where its words would not fit beside the time."""
        restyle(self.main, "huge", not self._short)
        needed = self.main.sizeHint().width() + self.when.sizeHint().width() + 2 * GAP
        restyle(self.main, "huge", not self._short and (self.roomy or needed <= self.width()))

    def _arrange(self) -> None:
        beside = self.roomy or self._short
        if beside == self._arranged:
            return
        self._arranged = beside
        for part in (self.main, self.row, self.when):
            self._grid.removeWidget(part)
        row, column = (0, 1) if beside else (1, 0)
        self._grid.addWidget(self.main, 0, 0)
        self._grid.addWidget(self.row, row, column, 1, 1 if beside else 3)
        self._grid.addWidget(self.when, 0, 2)
        self._grid.setColumnStretch(1, 1)
        self._offer()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fold or unfold."""
        super().resizeEvent(event)
        self._arrange()
        self._fit_main()

    def set_short(self, short: bool) -> None:
        """Take one row, with a less tall button, where the page has little height."""
        if short != self._short:
            self._short = short
            self._fit_main()
            self._arrange()
            self._offer()

    def show_events(self, events: tuple[str, ...]) -> None:
        """Offer these, the likeliest first, and the way to the form of a batch."""
        known = [event for event in events if event in WORDS]
        first, *rest = known if "mix" in known else [*known, "mix"]
        if first != self.likeliest:
            self.more.setChecked(False)
        self.likeliest, self._rest = first, tuple(rest)
        self.main.setText(self._names[first])
        self.main.setAccessibleName(self._names[first])
        restyle(self.main, "halt", first in HALTS)
        self.when.setVisible(any(event not in ("mix", "reading", "film") for event in known))
        self._offer()
        self._fit_main()
        self.set_waiting(False)

    def _offer(self) -> None:
        tight, most = self._short or not self.roomy, 0 if self._short else FEW
        few = tight and not self.more.isChecked() and len(self._rest) > most + 1
        shown = self._rest[:most] if few else self._rest
        hidden = [event for event in self.others if event not in shown]
        for event, button in self.others.items():
            button.setVisible(event in shown)
        self.more.setVisible(tight and len(self._rest) > most + 1)
        self.more.setText("More" if few else "Fewer")
        ordered = [self.others[event] for event in (*shown, *hidden)]
        self.row.set_order((*ordered, self.more))

    def rename(self, event: str, words: str) -> None:
        """Call one button otherwise for now; "" for its usual words."""
        self._names[event] = words or WORDS[event]
        self.others[event].setText(self._names[event])
        if event == self.likeliest:
            self.main.setText(self._names[event])
            self._fit_main()

    def set_waiting(self, waiting: bool) -> None:
        """Take no second tap of the same glove while the first is being kept."""
        if waiting and self._focused():
            self._holds = True  # a button put out of use hands the focus on
        for button in (self.main, *self.others.values()):
            button.setEnabled(not waiting)
        if not waiting and self._holds:
            self._holds = False
            self.main.setFocus()

    def _focused(self) -> bool:
        return any(button.hasFocus() for button in (self.main, *self.others.values()))

    def _tap_main(self) -> None:
        self._tap(self.likeliest)

    def _tap(self, event: str) -> None:
        minutes = self.when.minutes
        self.when.reset()
        self.tapped.emit(event, minutes)
