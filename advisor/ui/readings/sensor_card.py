"""The sensors: how each stands, where it hangs, what it read last, what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from advisor.base import units as u
from advisor.climate.live.sensor import SensorState
from advisor.planning.words import Words, duration
from advisor.ui.dialogs.fields import button
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import BigButton, clear, text
from advisor.ui.widgets.source_mark import SourceMark

#: Each standing: the mark it is drawn with, and its word.
STANDINGS: Mapping[str, tuple[str, str]] = MappingProxyType({
    "live": ("fresh", "live"),
    "stale": ("old", "stale"),
    "lost": ("failed", "lost"),
    "waiting": ("waiting", "waiting for its first value"),
    "off": ("off", "switched off"),
})  # fmt: skip
#: What of a sensor's latest values is told, in this order.
TOLD = (
    ("surface_temp_c", "surface", u.TEMPERATURE),
    ("air_temp_c", "air", u.TEMPERATURE),
    ("rh_pct", "humidity", u.HUMIDITY),
    ("dew_point_c", "dew point", u.TEMPERATURE),
)
NONE_YET = (
    "No sensor is set up. A logger that writes a file, a folder of logs, or a sensor that sends "
    "over MQTT can be followed: its readings then come by themselves."
)


class SensorRow(QFrame):
    """One sensor; `change` with its state."""

    change = Signal(object)

    def __init__(self, look: Look, state: SensorState, zone: str, words: Words) -> None:
        super().__init__()
        self.setObjectName("box")
        self.state = state
        self.mark = SourceMark(look, 24)
        self.button = button("Change", f"Change {state.sensor.name}")
        self.button.clicked.connect(lambda: self.change.emit(self.state))
        self.name = text(state.sensor.name, "strong", wrap=True)
        self.stands, self.latest = text("", "small", wrap=True), text("", "", wrap=True)
        self.doubt = text("", "bad", wrap=True)
        self.where = text(zone, "small", wrap=True)
        self._lay_out()
        self.show_state(state, words)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(self.mark)
        head.addWidget(self.name, 1)
        head.addWidget(self.button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 6, 8, 8)
        column.setSpacing(2)
        column.addLayout(head)
        for part in (self.where, self.stands, self.latest, self.doubt):
            column.addWidget(part)

    def show_state(self, state: SensorState, words: Words) -> None:
        """Show how it stands now."""
        self.state = state
        mark, word = STANDINGS[state.standing]
        self.mark.set_state(mark)
        self.mark.setAccessibleName(word)
        self.stands.setText(stands(state, words))
        latest = latest_words(state, words.units)
        self.latest.setText(latest)
        self.latest.setVisible(bool(latest))
        self.doubt.setText(f"In doubt: {state.doubt}" if state.doubt else "")
        self.doubt.setVisible(bool(state.doubt))


class SensorCard(QFrame):
    """`add` for another sensor, `change` with a state, `type_one`, `bring_in` a log."""

    add = Signal()
    change = Signal(object)
    type_one = Signal()
    bring_in = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("card")
        self._look = look
        self.rows: tuple[SensorRow, ...] = ()
        self.none = text(NONE_YET, "small", wrap=True)
        self.trouble = text("", "bad", wrap=True)
        self.trouble.hide()
        self.type_button = BigButton("&Type a reading", main=True)
        self.import_button = button("&Import a log…")
        self.add_button = button("Set &up a sensor…")
        self._list = QVBoxLayout()
        self._list.setSpacing(8)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        column.addWidget(self.type_button)
        column.addWidget(self.import_button)
        column.addWidget(text("Sensors", "title"))
        for part in (self.trouble, self.none):
            column.addWidget(part)
        column.addLayout(self._list)
        column.addWidget(self.add_button)
        column.addStretch(1)
        self.type_button.clicked.connect(self.type_one)
        self.import_button.clicked.connect(self.bring_in)
        self.add_button.clicked.connect(self.add)

    def show_states(
        self, states: tuple[SensorState, ...], names: Mapping[str, str], words: Words
    ) -> None:
        """Show every sensor; rows stay where they are while the sensors are the same."""
        self.trouble.hide()
        self.none.setVisible(not states)
        if [row.state.sensor for row in self.rows] == [state.sensor for state in states]:
            for row, state in zip(self.rows, states, strict=True):
                row.show_state(state, words)
            return
        clear(self._list)
        self.rows = tuple(
            SensorRow(self._look, state, names.get(state.sensor.zone, state.sensor.zone), words)
            for state in states
        )
        for row in self.rows:
            row.change.connect(self.change)
            self._list.addWidget(row)

    def show_trouble(self, words: str) -> None:
        """Say that the sensors cannot be asked."""
        self.trouble.setText(words)
        self.trouble.show()


def stands(state: SensorState, words: Words) -> str:
    """Return "live, 12 s ago", with what the sensor itself says and how many rows came."""
    word = STANDINGS[state.standing][1]
    parts = [word if state.last_s is None else f"{word}: {ago(state.last_s, words)}"]
    if state.text and state.text != word:
        parts.append(state.text)
    if state.rows_in:
        counts = ((state.rows_repeated, "repeated"), (state.rows_refused, "refused"))
        odd = [f"{count} {what}" for count, what in counts if count]
        parts.append(", ".join((f"{state.rows_kept} of {state.rows_in} rows kept", *odd)))
    return "; ".join(parts)


def ago(at_s: float, words: Words) -> str:
    """Return how long ago, in seconds while that is what counts; the moment beside a long one."""
    old_s = max(0.0, (at_s if words.now_s is None else words.now_s) - at_s)
    if old_s < 90:
        return f"{old_s:.0f} s ago"
    told = f"{duration(old_s / 3600)} ago"
    return told if old_s < 6 * 3600 else f"{told}, {words.moment(at_s)}"


def latest_words(state: SensorState, units: u.Units) -> str:
    """Return the newest values that are good."""
    return ", ".join(
        f"{name} {u.format_value(state.latest[key], quantity, units)}"
        for key, name, quantity in TOLD
        if key in state.latest
    )
