"""Set up a sensor: a log file or folder that is followed, or values sent over MQTT."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Literal, cast

from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.climate.live.sensor import Broker, Sensor
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import (
    ChoiceField,
    Field,
    LineField,
    SwitchField,
    button,
    positive,
    zone_field,
)
from advisor.ui.dialogs.sensor_values import ValueRows
from advisor.ui.operations import Failure, Operations
from advisor.ui.widgets.parts import BigButton, Tall, card, size_to_screen, text
from advisor.ui.widgets.twice_pressed import TwicePressed
from advisor.work.readings_look import Zone

Kind = Literal["file", "folder", "mqtt"]
KINDS = (
    ("file", "A log file that grows"),
    ("folder", "A folder of log files"),
    ("mqtt", "Sent over MQTT"),
)
ABOUT = (
    "Its readings are kept as they come, each with its time and zone. A stale or doubtful value "
    "never stands for the air of now."
)
_PORTS = (1, 65535)


class SensorDialog(QDialog):
    """Keeps nothing before Keep. A new sensor for None."""

    def __init__(
        self,
        desk: Desk,
        zones: tuple[Zone, ...],
        sensor: Sensor | None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("A sensor")
        self._desk, self._tried, self._left = desk, False, False
        self.known = sensor
        self._sensor = sensor or Sensor(uuid.uuid4().hex[:12], "", "file")
        self._make_fields(zones)
        self._lay_out()
        self._connect()
        self._show_kind()
        size_to_screen(self, 760, 700, desk.look.scale_pct)

    # --- fields --------------------------------------------------------------------------

    def _make_fields(self, zones: tuple[Zone, ...]) -> None:
        sensor = self._sensor
        broker = sensor.broker or Broker("")
        places = [("" if k == 0 else zone.area, zone.name) for k, zone in enumerate(zones)]
        self.name = LineField("Name", sensor.name, "such as: by the keel")
        self.zone = ChoiceField("Where it hangs", places, sensor.zone)
        if not sensor.zone:
            self.zone.box.setCurrentIndex(0)
        self.kind = ChoiceField("How its readings come", list(KINDS), sensor.kind)
        self.on = SwitchField("Follow it", "its readings are taken in", on=sensor.on)
        self.step = LineField("A reading every, seconds", f"{sensor.step_s:g}")
        self.instrument = LineField("Instrument", sensor.instrument, "type and serial number")
        self.path = LineField("File", sensor.path)
        self.choose = button("Choose…")
        self.time_zone = zone_field("Time zone of its clock", sensor.time_zone, "as the job")
        self.host = LineField("Broker", broker.host, "name or address")
        self.port = LineField("Port", str(broker.port))
        self.user = LineField("User", broker.user, "if the broker asks")
        self.password = LineField("Password, kept readable", broker.password)
        self.password.line.setEchoMode(self.password.line.EchoMode.Password)
        self.tls = SwitchField("Encrypted", "the broker speaks TLS", on=broker.tls)
        self.time_path = LineField("Where the message says its time", sensor.time_path,
                                   "JSON path; empty: when it comes in")  # fmt: skip
        self.values = ValueRows(sensor.values)

    def _lay_out(self) -> None:
        self.file_card, self.mqtt_card = self._file_card(), self._mqtt_card()
        self.said = text("", "bad", wrap=True)
        self.said.hide()
        page = Tall()
        column = QVBoxLayout(page)
        column.setSpacing(12)
        column.addWidget(text(ABOUT, "small", wrap=True))
        head = ((self.name, self.zone), (self.kind, self.on), (self.step, self.instrument))
        for part in (_framed(head), self.file_card, self.mqtt_card):
            column.addWidget(part)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(page)
        outer = QVBoxLayout(self)
        outer.addWidget(scroll, 1)
        outer.addWidget(self.said)
        outer.addLayout(self._buttons())

    def _file_card(self) -> QFrame:
        frame, column = card()
        row = QHBoxLayout()
        row.addWidget(self.path, 1)
        row.addWidget(self.choose)
        column.addLayout(row)
        column.addWidget(self.time_zone)
        return frame

    def _mqtt_card(self) -> QFrame:
        frame, column = card()
        column.addWidget(_grid(((self.host, self.port), (self.user, self.password),
                                (self.tls, self.time_path))))  # fmt: skip
        column.addWidget(text("What it sends", "title"))
        column.addWidget(self.values)
        return frame

    def _buttons(self) -> QHBoxLayout:
        self.remove = TwicePressed("Take away", "Press again: it is taken away")
        self.remove.setVisible(self.known is not None)
        self.cancel, self.keep = button("Cancel"), BigButton("&Keep this sensor", main=True)
        self.keep.setAutoDefault(False)
        row = QHBoxLayout()
        row.addWidget(self.remove)
        row.addStretch(1)
        row.addWidget(self.cancel)
        row.addWidget(self.keep)
        return row

    def _connect(self) -> None:
        self.kind.changed.connect(self._show_kind)
        self.choose.clicked.connect(self._ask)
        self.cancel.clicked.connect(self.reject)
        self.keep.clicked.connect(self.accept)
        self.remove.meant.connect(self._take_away)
        for field in self._fields():
            field.changed.connect(self._check)

    def _fields(self) -> tuple[Field, ...]:
        return (self.name, self.kind, self.step, self.path, self.host, self.port)

    def _show_kind(self) -> None:
        mqtt = self.kind.key == "mqtt"
        self.file_card.setVisible(not mqtt)
        self.mqtt_card.setVisible(mqtt)
        self.path.show_caption("Folder" if self.kind.key == "folder" else "File")
        self._check()

    # --- what is kept --------------------------------------------------------------------

    def sensor(self) -> Sensor | None:
        """Return the sensor as set up; None, with every problem shown, where something lacks."""
        self._tried = True
        if self._check():
            return None
        mqtt = self.kind.key == "mqtt"
        broker = Broker(self.host.value, int(self.port.value), self.user.value,
                        self.password.line.text(), self.tls.on)  # fmt: skip
        return replace(
            self._sensor,
            name=self.name.value,
            kind=cast(Kind, self.kind.key),
            zone=self.zone.key,
            on=self.on.on,
            step_s=positive(self.step.value) or self._sensor.step_s,
            instrument=self.instrument.value,
            path="" if mqtt else self.path.value,
            time_zone=self.time_zone.value,
            broker=broker if mqtt else None,
            values=self.values.values() if mqtt else (),
            time_path=self.time_path.value if mqtt else "",
        )

    def accept(self) -> None:
        """Keep the sensor."""
        made = self.sensor()
        if made is None:
            return
        sensors = self._desk.bench.sensors
        self._write(self._desk.operations, lambda: sensors.save(made))

    def _take_away(self) -> None:
        """Take it away; waits, with the sensors, for a share that does not answer."""
        sensors, sensor_id = self._desk.bench.sensors, self._sensor.id
        self._write(self._desk.sensing.operations, lambda: sensors.remove(sensor_id))

    def _write(self, worker: Operations, work: Callable[[], None]) -> None:
        self._wait(True)
        worker.write(work, lambda _: self._kept(), self._failed)

    def reject(self) -> None:
        """Leave; what is being kept is still kept, and told to the window."""
        self._left = True
        super().reject()

    def _kept(self) -> None:
        if self._left:
            self._desk.changed.emit()
        else:
            self.done(QDialog.DialogCode.Accepted)

    def _wait(self, keeping: bool) -> None:
        for each in (self.keep, self.remove):
            each.setEnabled(not keeping)

    def _failed(self, failure: Failure) -> None:
        if self._left:
            self._desk.messages.failure(failure)
            return
        self._wait(False)
        self._say(failure.text)

    def _check(self) -> list[Field]:
        mqtt = self.kind.key == "mqtt"
        problems: dict[Field, str] = {
            self.name: "" if self.name.value else "give it a name",
            self.step: "" if positive(self.step.value) else "seconds, above 0",
            self.path: "" if mqtt or self.path.value else "choose what is followed",
            self.host: "" if self.host.value or not mqtt else "the broker's name or address",
            self.port: "" if not mqtt or _is_port(self.port.value) else "1 to 65535",
        }
        wrong = [f for f, problem in problems.items() if not f.judge(problem, always=self._tried)]
        if mqtt:
            wrong += self.values.check(always=self._tried)
        self._say("")
        return wrong

    def _say(self, words: str) -> None:
        self.said.setText(words)
        self.said.setVisible(bool(words))

    def _ask(self) -> None:
        folder = self._desk.bench.settings.text("last_folder")
        if self.kind.key == "folder":
            name = QFileDialog.getExistingDirectory(self, "The folder that is followed", folder)
        else:
            name, _ = QFileDialog.getOpenFileName(self, "The log that is followed", folder)
        if name:
            self.path.show_text(name)
            self._check()


def _is_port(words: str) -> bool:
    low, high = _PORTS
    return words.isascii() and words.isdigit() and low <= int(words) <= high


def _grid(rows: tuple[tuple[Field, Field], ...]) -> QWidget:
    holder = QWidget()
    grid = QGridLayout(holder)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(14)
    for k, pair in enumerate(rows):
        for column, field in enumerate(pair):
            grid.addWidget(field, k, column)
            grid.setColumnStretch(column, 1)
    return holder


def _framed(rows: tuple[tuple[Field, Field], ...]) -> QFrame:
    frame, column = card()
    column.addWidget(_grid(rows))
    return frame
