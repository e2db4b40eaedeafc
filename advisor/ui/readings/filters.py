"""What the table of readings shows: which source, which day, only what is in doubt."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from advisor.climate.reading_pages import Wanted
from advisor.climate.reading_store import OBSERVED
from advisor.climate.readings import Origin
from advisor.planning.words import Words
from advisor.ui.dialogs.fields import Choice, button

_SOURCES = (
    ("", "Every source"),
    ("typed", "Typed"),
    ("measured", "By a sensor"),
    ("imported", "Imported"),
)
_DAYS = (("", "All days"), ("day", "One day"), ("shown", "As in the picture"))


class Filters(QWidget):
    """`changed` when another choice was made."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.day: date | None = None
        self.source, self.days = _choice(_SOURCES, "Source"), _choice(_DAYS, "Days")
        self.earlier, self.later = button("◀", "A day earlier"), button("▶", "A day later")
        self.doubtful = QPushButton("Only doubtful")
        self.doubtful.setCheckable(True)
        self.doubtful.setAutoDefault(False)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        for part in (self.source, self.earlier, self.days, self.later, self.doubtful):
            row.addWidget(part)
        self.source.activated.connect(self._change)
        self.days.activated.connect(self._pick_days)
        self.earlier.clicked.connect(lambda: self._step(-1))
        self.later.clicked.connect(lambda: self._step(1))
        self.doubtful.toggled.connect(self._change)
        self._show_steps()

    def set_today(self, today: date) -> None:
        """Tell the day that "one day" begins with, until another is chosen."""
        if self.day is None or self.days.currentData() != "day":
            self.day = today

    def by_picture(self) -> bool:
        """Whether the table follows the stretch of the picture."""
        return bool(self.days.currentData() == "shown")

    def wanted(self, area: str, words: Words, shown: tuple[float, float]) -> Wanted:
        """Return which rows are asked for; `shown` is the stretch of the picture, UTC seconds."""
        source = str(self.source.currentData())
        first, last = self._span(words, shown)
        return Wanted(
            (area,),
            (Origin(source),) if source else OBSERVED,
            first,
            last,
            self.doubtful.isChecked(),
        )

    def narrow(self) -> bool:
        """Whether anything is left out."""
        return bool(
            self.source.currentData() or self.days.currentData() or self.doubtful.isChecked()
        )

    def _span(self, words: Words, shown: tuple[float, float]) -> tuple[int | None, int | None]:
        key = self.days.currentData()
        if key == "shown":
            return int(shown[0]), int(shown[1])
        if key != "day" or self.day is None:
            return None, None
        ends = [datetime(d.year, d.month, d.day, tzinfo=words.zone).timestamp()
                for d in (self.day, self.day + timedelta(days=1))]  # fmt: skip
        return int(ends[0]), int(ends[1]) - 1

    def _pick_days(self) -> None:
        self._show_steps()
        self._change()

    def _step(self, days: int) -> None:
        if self.day is not None:
            self.day += timedelta(days=days)
        self._show_steps()
        self._change()

    def _show_steps(self) -> None:
        one = self.days.currentData() == "day"
        for step in (self.earlier, self.later):
            step.setVisible(one)
        at = self.days.findData("day")
        named = one and self.day is not None
        words = (
            f"{self.day:%a} {self.day.day} {self.day:%b %Y}" if named and self.day else _DAYS[1][1]
        )
        self.days.setItemText(at, words)

    def _change(self, *_: object) -> None:
        self.changed.emit()


def _choice(options: tuple[tuple[str, str], ...], name: str) -> Choice:
    made = Choice()
    for key, words in options:
        made.addItem(words, key)
    made.setAccessibleName(name)
    return made
