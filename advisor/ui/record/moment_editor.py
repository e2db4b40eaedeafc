"""A moment: its day and its clock time, empty until it is set."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta

from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget

from advisor.base.errors import RangeError
from advisor.planning.words import Words
from advisor.record.canonical import Json
from advisor.record.kinds import Field as Declared
from advisor.ui.record.editors import Editor
from advisor.work.moments import AHEAD_S, NOT_YET, UP_TO_NOW


class MomentEditor(Editor):
    """Day and clock of the shop. `now` gives UTC seconds for the button Now."""

    def __init__(self, declared: Declared, words: Words, now: Callable[[], float]) -> None:
        self._zone, self._now = words.zone, now
        holder = QWidget()
        self.day, self.clock = QLineEdit(), QLineEdit()
        self.day.setPlaceholderText("2026-05-31")
        self.clock.setPlaceholderText("09:40")
        self.day.setAccessibleName(f"{declared.label}: day")
        self.clock.setAccessibleName(f"{declared.label}: clock time")
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(self.day, 3)
        row.addWidget(self.clock, 2)
        for words_on, minutes in (("−", -5), ("+", 5)):
            row.addWidget(self._step(words_on, minutes, declared.label))
        self.set_now = QPushButton("Now")
        self.set_now.setAutoDefault(False)
        self.set_now.setAccessibleName(f"{declared.label}: now")
        self.set_now.clicked.connect(self._set_now)
        row.addWidget(self.set_now)
        super().__init__(declared, declared.label, holder)
        for line in (self.day, self.clock):
            line.textEdited.connect(self._touch)

    def _step(self, words: str, minutes: int, caption: str) -> QPushButton:
        button = QPushButton(words)
        button.setProperty("step", True)
        button.setAutoRepeat(True)
        button.setAutoDefault(False)
        button.setAccessibleName(f"{caption}: five minutes {'later' if minutes > 0 else 'earlier'}")
        button.clicked.connect(lambda: self._move(minutes))
        return button

    def _set_now(self) -> None:
        self.show_moment(self._now())
        self._touch()

    def _move(self, minutes: int) -> None:
        at_s = self._now() if not self.clock.text().strip() else self.moment()
        if at_s is not None:
            self.show_moment(at_s + minutes * 60)
            self._touch()

    def problem(self) -> str:
        """Return what is wrong; what is entered happened before now."""
        at_s = self.moment()
        if at_s is not None and at_s > self._now() + AHEAD_S:
            return f"found {NOT_YET}; accepted: {UP_TO_NOW}"
        return super().problem()

    def moment(self) -> float | None:
        """Return UTC seconds, None where it is empty or no time."""
        try:
            text = str(self.json())
        except RangeError:
            return None
        return datetime.fromisoformat(text).timestamp() if text else None

    def show_moment(self, at_s: float) -> None:
        """Show a moment, to the minute."""
        local = datetime.fromtimestamp(at_s, self._zone)
        self.day.setText(local.date().isoformat())
        self.clock.setText(local.strftime("%H:%M"))

    def json(self) -> Json:
        """Return ISO 8601 with the offset of the shop. A clock time alone is of the last day."""
        day, clock = self.day.text().strip(), self.clock.text().strip()
        if not day and not clock:
            return ""
        accepted = "a clock time such as 09:40 and a day such as 2026-05-31"
        try:
            hour, minute = (int(part) for part in clock.split(":"))
            on = date.fromisoformat(day) if day else self._today()
            found = datetime(on.year, on.month, on.day, hour, minute, tzinfo=self._zone)
        except ValueError as error:
            raise RangeError(self.declared.label, f"{day} {clock}".strip(), accepted) from error
        if not day and found.timestamp() > self._now():
            found -= timedelta(days=1)
        return found.isoformat()

    def show_json(self, value: Json) -> None:
        """Show a kept moment."""
        if value:
            self.show_moment(datetime.fromisoformat(str(value)).timestamp())
        else:
            self.day.clear()
            self.clock.clear()

    def _today(self) -> date:
        return datetime.fromtimestamp(self._now(), self._zone).date()
