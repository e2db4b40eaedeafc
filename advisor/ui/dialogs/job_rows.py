"""Rows of a job: areas and coats, each with its own errors, moved and removed by buttons."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from advisor.base.units import AREA, PACE, THICKNESS, Units, format_value
from advisor.climate.skin import USUAL_THICKNESS_MM
from advisor.planning.job import METHODS, SUBSTRATES, Area, Coat
from advisor.planning.words import Words
from advisor.ui.dialogs.fields import (
    ChoiceField,
    Field,
    LineField,
    NumberField,
    SwitchField,
    button,
)
from advisor.ui.widgets.parts import text

Options = list[tuple[str, str]]
_GRP = "fibreglass (GRP)"
#: What an area outdoors faces, by compass, and how it leans, by eye.
HEADINGS = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
            "north-west")  # fmt: skip
TILTS = (("90", "upright, a side"), ("60", "leaning"), ("30", "sloping"), ("0", "flat, a deck"))
_COLOURS = (("white", "white"), ("pale", "pale"), ("middle", "middling"), ("dark", "dark"),
            ("black", "black"))  # fmt: skip
_ORDERS = (("same", "same end first"), ("reverse", "other end first"))


class Row(QFrame):
    """One row. `changed` when edited; `moved` by -1 or 1; `removed` when taken out."""

    changed = Signal()
    moved = Signal(int)
    removed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("inset")
        self.grid = QGridLayout()
        self.up = button("↑", "Move up")
        self.down = button("↓", "Move down")
        self.remove = button("Remove")
        self.up.clicked.connect(lambda: self.moved.emit(-1))
        self.down.clicked.connect(lambda: self.moved.emit(1))
        self.remove.clicked.connect(self.removed)
        tools = QHBoxLayout()
        self.note = text("", "small")
        tools.addWidget(self.note, 1)
        for each in (self.up, self.down, self.remove):
            each.setProperty("step", each is not self.remove)
            tools.addWidget(each)
        column = QVBoxLayout(self)
        column.addLayout(self.grid)
        column.addLayout(tools)

    def fields(self) -> list[Field]:
        """Return the row's fields in reading order."""
        return list(self.findChildren(Field))

    def _place(self, fields: list[tuple[Field, int, int, int]]) -> None:
        for field, row, column, span in fields:
            self.grid.addWidget(field, row, column, 1, span)
            field.changed.connect(self.changed)
        for column in range(self.grid.columnCount()):
            self.grid.setColumnStretch(column, 1)


class AreaRow(Row):
    """A part painted as one. `key` stands for it while the form is open."""

    def __init__(self, key: str, units: Units, base: Area | None = None) -> None:
        super().__init__()
        self.key, self.base = key, base
        self.name = LineField("Area", base.name if base else "", "such as port side")
        self.extent = NumberField("Size", AREA, units, base.area_m2 if base else None)
        kinds = [(kind, _GRP if kind == "grp" else kind) for kind in SUBSTRATES]
        self.substrate = ChoiceField("Made of", kinds, base.substrate if base else "timber")
        self.outdoors = SwitchField(
            "Place", "outdoors, in rain and wind", base.outdoors if base else False
        )
        self.thickness = NumberField(
            "Thickness", THICKNESS, units, base.thickness_mm if base else None
        )
        self._units = units
        self._make_outdoors(base)
        self._place(
            [(self.name, 0, 0, 2), (self.extent, 0, 2, 1), (self.substrate, 0, 3, 1),
             (self.thickness, 0, 4, 1), (self.outdoors, 1, 0, 2), (self.heading, 1, 2, 1),
             (self.tilt, 1, 3, 1), (self.colour, 1, 4, 1)]
        )  # fmt: skip
        for field in (self.substrate, self.outdoors):
            field.changed.connect(self._show_outdoors)
        self._show_outdoors()

    def _make_outdoors(self, base: Area | None) -> None:
        heading = None if base is None else base.heading_deg
        tilt = 90.0 if base is None else base.tilt_deg
        sides = [("", "not said"), *((f"{45.0 * k:g}", side) for k, side in enumerate(HEADINGS))]
        self.heading = ChoiceField("It faces", _with(sides, heading, "°"), _key(heading))
        self.heading.box.setCurrentIndex(self.heading.box.findData(_key(heading)))
        self.tilt = ChoiceField("It stands", _with(list(TILTS), tilt, "° from flat"), _key(tilt))
        colour = base.colour if base else "middle"
        self.colour = ChoiceField("Its colour", list(_COLOURS), colour)

    def _show_outdoors(self) -> None:
        """Ask for what the sun falls on only where it falls; say the usual thickness."""
        for field in (self.heading, self.tilt, self.colour):
            field.setVisible(self.outdoors.on)
        usual = USUAL_THICKNESS_MM.get(self.substrate.key)
        hint = "" if usual is None else format_value(usual, THICKNESS, self._units)
        self.thickness.line.setPlaceholderText(f"usual {hint}" if hint else "")

    @property
    def heading_deg(self) -> float | None:
        """Return the bearing the area faces, None where it is not said."""
        return float(self.heading.key) if self.heading.key else None

    def check(self, taken: list[str], *, always: bool) -> list[Field]:
        """Return the fields with a problem; `taken` are the names of the areas above."""
        name = self.name.value
        twice = f"there is already an area called {name}" if name in taken else ""
        found = {
            self.name: twice or ("" if name else "give it a name"),
            self.extent: "" if self.extent.number else "a number above 0",
            self.thickness: "" if self.thickness.number or not self.thickness.value
            else "a number above 0, or nothing",
        }  # fmt: skip
        return [
            field for field, problem in found.items() if not field.judge(problem, always=always)
        ]

    def values(self) -> tuple[object, ...]:
        """Return what the form holds, to tell whether anything changed."""
        return (
            self.key, self.name.value, self.extent.value, self.substrate.key, self.outdoors.on,
            self.thickness.value, self.heading.key, self.tilt.key, self.colour.key,
        )  # fmt: skip


class CoatRow(Row):
    """One coat on one area."""

    def __init__(self, units: Units, words: Words, base: Coat | None = None) -> None:
        super().__init__()
        self.base = base
        self._known: set[str] = set()
        self.name = LineField("Coat", base.name if base else "", "such as first gloss")
        self.area = ChoiceField("On", [])
        self.product = ChoiceField("Product", [])
        methods = [(method, "roller" if method == "roll" else method) for method in METHODS]
        self.method = ChoiceField("With", methods, base.method if base else "brush")
        self.pace = NumberField("Pace", PACE, units, base.pace_m2_per_h if base else None)
        reverse = base is not None and base.reverse
        self.order = ChoiceField(
            "Painted, against the coat below", list(_ORDERS), "reverse" if reverse else "same"
        )
        self._place(
            [(self.name, 0, 0, 2), (self.area, 0, 2, 2), (self.product, 0, 4, 3),
             (self.method, 1, 0, 2), (self.pace, 1, 2, 2), (self.order, 1, 4, 3)]
        )  # fmt: skip
        if base is not None and base.laid is not None:
            start, end = (words.iso(moment) for moment in (base.laid.start_s, base.laid.end_s))
            self.note.setText(f"laid {start[:10]}, {start[11:16]} to {end[11:16]}")

    def set_areas(self, options: Options, key: str = "") -> None:
        """Offer the areas of the form, keeping the choice while it is there."""
        self.area.set_options(options, key or self.area.key)

    def set_products(self, options: Options, key: str = "") -> None:
        """Offer the products of the shelf; one that is missing stays chosen and is told."""
        wanted = key or self.product.key
        known = {name for name, _ in options}
        missing = [(wanted, f"{wanted}, not here")] if wanted and wanted not in known else []
        self._known = known
        self.product.set_options([*options, *missing], wanted)

    def check(self, *, always: bool) -> list[Field]:
        """Return the fields with a problem."""
        product = self.product.key
        lost = f"add the product file of {product}, or choose another"
        found = {
            self.name: "" if self.name.value else "give it a name",
            self.area: "" if self.area.key else "choose an area",
            self.product: lost if product not in self._known else "",
            self.pace: "" if self.pace.number else "a number above 0",
        }
        if not product:
            found[self.product] = "choose a product"
        return [
            field for field, problem in found.items() if not field.judge(problem, always=always)
        ]

    def values(self) -> tuple[object, ...]:
        """Return what the form holds, to tell whether anything changed."""
        return (
            self.name.value, self.area.key, self.product.key, self.method.key,
            self.pace.value, self.order.key, None if self.base is None else self.base.id,
        )  # fmt: skip


def _key(degrees: float | None) -> str:
    return "" if degrees is None else f"{degrees:g}"


def _with(options: Options, degrees: float | None, words: str) -> Options:
    """Offer an angle of a job file too, where it is none of the usual ones."""
    known = degrees is None or _key(degrees) in dict(options)
    return options if known else [*options, (_key(degrees), f"{degrees:g}{words}")]


AnyRow = TypeVar("AnyRow", AreaRow, CoatRow)


class _Signals(QObject):
    changed = Signal()


class RowList(Generic[AnyRow]):
    """Rows in order under a title, with a button that adds one. `widget` goes into the page."""

    def __init__(self, title: str, about: str, add: str, make: Callable[[], AnyRow]) -> None:
        self.rows: list[AnyRow] = []
        self.widget = QWidget()
        self.add = button(add)
        self.add.clicked.connect(lambda: self.append(make(), focus=True))
        self.problem = text("", "bad", wrap=True)
        self._signals = _Signals(self.widget)
        self.changed = self._signals.changed
        self._column = QVBoxLayout()
        self._column.setSpacing(8)
        outer = QVBoxLayout(self.widget)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(text(title, "title"))
        outer.addWidget(text(about, "small", wrap=True))
        outer.addLayout(self._column)
        outer.addWidget(self.problem)
        outer.addWidget(self.add)

    def append(self, row: AnyRow, *, focus: bool = False) -> None:
        """Put a row at the end."""
        row.changed.connect(self.changed)
        row.moved.connect(lambda step: self.move(row, step))
        row.removed.connect(lambda: self.take(row))
        self.rows.append(row)
        self._column.addWidget(row)
        self._mark_ends()
        if focus:
            row.name.line.setFocus()
        self.changed.emit()

    def move(self, row: AnyRow, step: int) -> None:
        """Move a row up (-1) or down (1); at the end nothing happens."""
        at = self.rows.index(row)
        to = at + step
        if not 0 <= to < len(self.rows):
            return
        self.rows.insert(to, self.rows.pop(at))
        self._column.removeWidget(row)
        self._column.insertWidget(to, row)
        self._reorder_tabs()
        self._mark_ends()
        self.changed.emit()

    def take(self, row: AnyRow) -> None:
        """Take a row out."""
        self.rows.remove(row)
        self._column.removeWidget(row)
        row.hide()
        row.setParent(None)
        row.deleteLater()
        self._mark_ends()
        self.changed.emit()

    def clear(self) -> None:
        """Take every row out."""
        while self.rows:
            self.take(self.rows[-1])

    def _mark_ends(self) -> None:
        for k, row in enumerate(self.rows):
            row.up.setEnabled(k > 0)
            row.down.setEnabled(k < len(self.rows) - 1)

    def _reorder_tabs(self) -> None:
        """Tab goes through the rows as they stand."""
        chain: list[QWidget] = []
        for row in self.rows:
            chain += [field.editor for field in row.fields()]
            chain += [row.up, row.down, row.remove]
        for before, after in zip(chain, [*chain[1:], self.add], strict=True):
            QWidget.setTabOrder(before, after)
