"""Asks when a coat went on: first patch and last patch, laid over the page."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QWidget

from advisor.base.errors import RangeError
from advisor.planning.words import Words
from advisor.ui.widgets.parts import BigButton, text


def clock_before(typed: str, latest_s: float, zone: ZoneInfo, name: str) -> float:
    """Return the last moment up to `latest_s` with a clock time such as "9:40", UTC seconds."""
    digits = typed.strip().replace(".", ":")
    try:
        hour, minute = (int(part) for part in digits.split(":"))
        day = datetime.fromtimestamp(latest_s, zone)
        found = day.replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError as error:
        raise RangeError(name, typed.strip() or "nothing", "a clock time such as 09:40") from error
    while found.timestamp() > latest_s:
        found -= timedelta(days=1)
    return found.timestamp()


class CoatOn(QFrame):
    """`given` with the id of the coat it was opened for, first and last patch in UTC seconds."""

    given = Signal(str, float, float)

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self._page = page
        self.setObjectName("overlay")
        self._words: Words | None = None
        self._now_s = 0.0
        self._coat_id = ""
        self.title = text("", "title", wrap=True)
        self.first, self.last = self._field("First patch"), self._field("Last patch")
        self.told = text("", wrap=True)
        self.problem = text("", "bad", wrap=True)
        self._lay_out()
        self.hide()

    def _field(self, name: str) -> QLineEdit:
        field = QLineEdit()
        field.setObjectName("time")
        field.setAccessibleName(name)
        field.setMaxLength(5)
        field.textChanged.connect(self._tell)
        return field

    def _lay_out(self) -> None:
        grid = QGridLayout(self)
        grid.setContentsMargins(24, 20, 24, 20)
        grid.setSpacing(12)
        grid.addWidget(self.title, 0, 0, 1, 4)
        for row, (name, field) in enumerate(
            (("First patch", self.first), ("Last patch", self.last))
        ):
            grid.addWidget(text(name), row + 1, 0)
            grid.addWidget(field, row + 1, 1)
            grid.addWidget(self._step("−", field, -5), row + 1, 2)
            grid.addWidget(self._step("+", field, 5), row + 1, 3)
        grid.addWidget(self.told, 3, 0, 1, 4)
        grid.addWidget(self.problem, 4, 0, 1, 4)
        buttons = QHBoxLayout()
        keep, away = BigButton("Coat is on", main=True), BigButton("Not yet")
        keep.clicked.connect(self._keep)
        away.clicked.connect(self.hide)
        buttons.addWidget(keep)
        buttons.addWidget(away)
        grid.addLayout(buttons, 5, 0, 1, 4)

    def _step(self, sign: str, field: QLineEdit, minutes: int) -> QPushButton:
        button = QPushButton(sign)
        button.setProperty("step", True)
        button.setAutoRepeat(True)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.clicked.connect(lambda: self._move(field, minutes))
        return button

    def _move(self, field: QLineEdit, minutes: int) -> None:
        try:
            hour, minute = (int(part) for part in field.text().split(":"))
        except ValueError:
            return
        at = (hour * 60 + minute + minutes) % (24 * 60)
        field.setText(f"{at // 60:02d}:{at % 60:02d}")

    def ask(
        self, coat_id: str, coat: str, first_s: float, last_s: float, words: Words, now_s: float
    ) -> None:
        """Show with likely times; nothing is kept until the button is pressed."""
        self._coat_id, self._words, self._now_s = coat_id, words, now_s
        self.title.setText(f"When did it go on? {coat}")
        for field, at_s in ((self.first, first_s), (self.last, last_s)):
            field.setText(datetime.fromtimestamp(at_s, words.zone).strftime("%H:%M"))
        page = self._page
        self.setFixedWidth(min(page.width() - 16, max(420, page.width() // 3)))
        self.adjustSize()
        self.move((page.width() - self.width()) // 2, max(8, (page.height() - self.height()) // 3))
        self.show()
        self.raise_()
        self.first.setFocus()
        self.first.selectAll()

    def times(self) -> tuple[float, float]:
        """Return first and last patch in UTC seconds; RangeError says what would do."""
        assert self._words is not None
        zone = self._words.zone
        last_s = clock_before(self.last.text(), self._now_s, zone, "last patch")
        return clock_before(self.first.text(), last_s, zone, "first patch"), last_s

    def _tell(self) -> None:
        if self._words is None:
            return
        try:
            first_s, last_s = self.times()
        except RangeError as error:
            self.problem.setText(str(error))
            self.told.setText("")
            return
        self.problem.setText("")
        day = Words(self._words.units, self._words.zone)
        self.told.setText(f"{day.moment(first_s)} to {day.moment(last_s)}")

    def _keep(self) -> None:
        try:
            first_s, last_s = self.times()
        except RangeError:
            return
        self.hide()
        self.given.emit(self._coat_id, first_s, last_s)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Enter keeps; Escape puts the sheet away, and it opens with fresh times again."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._keep()
        elif event.key() == Qt.Key.Key_Escape:
            self.hide()
        else:
            super().keyPressEvent(event)
