"""What an MQTT sensor sends: for each quantity its topic, its place in the message, its unit."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QWidget

from advisor.climate.live.sensor import TopicValue
from advisor.ui.dialogs.fields import ChoiceField, Field, LineField
from advisor.ui.widgets.parts import text

_TEMPERATURE = ("°C", "°F", "K")
#: Quantity, its words, the units it may come in.
QUANTITIES = (
    ("air_temp_c", "Air", _TEMPERATURE),
    ("rh_pct", "Humidity", ("%",)),
    ("surface_temp_c", "Coldest spot", _TEMPERATURE),
    ("dew_point_c", "Dew point", _TEMPERATURE),
)


class ValueRows(QWidget):
    """A row for each quantity; a row without a topic is not sent."""

    def __init__(self, known: tuple[TopicValue, ...]) -> None:
        super().__init__()
        self.topics: dict[str, LineField] = {}
        self.paths: dict[str, LineField] = {}
        self.units: dict[str, ChoiceField] = {}
        # What this form has no row for, such as pressure, stays as it was.
        rows = {name for name, _, _ in QUANTITIES}
        self._others = tuple(value for value in known if value.quantity not in rows)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        given = {value.quantity: value for value in known}
        for k, (name, words, units) in enumerate(QUANTITIES):
            value = given.get(name, TopicValue("", "", name, units[0]))
            self._add(grid, k, words, value, units)
        for column, stretch in enumerate((0, 5, 4, 2)):
            grid.setColumnStretch(column, stretch)

    def _add(
        self,
        grid: QGridLayout,
        row: int,
        words: str,
        value: TopicValue,
        units: tuple[str, ...],
    ) -> None:
        name = value.quantity
        self.topics[name] = LineField("Topic", value.topic, "not sent")
        self.paths[name] = LineField("JSON path", value.path, "the whole message")
        self.units[name] = ChoiceField("Unit", [(u, u) for u in units], value.unit)
        grid.addWidget(text(words, "strong"), row, 0)
        fields = (self.topics[name], self.paths[name], self.units[name])
        for column, field in enumerate(fields, start=1):
            field.editor.setAccessibleName(f"{words}: {field.editor.accessibleName()}")
            grid.addWidget(field, row, column)

    def values(self) -> tuple[TopicValue, ...]:
        """Return what is sent."""
        found = tuple(
            TopicValue(topic.value, self.paths[name].value, name, self.units[name].key)
            for name, topic in self.topics.items()
            if topic.value
        )
        return (*found, *self._others)

    def check(self, *, always: bool) -> list[Field]:
        """Show what lacks; return the fields it lacks in."""
        first = next(iter(self.topics.values()))
        none = not self.values()
        return [] if first.judge("name one topic at least" if none else "", always=always) else [
            first
        ]  # fmt: skip
