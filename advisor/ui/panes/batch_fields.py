"""The fields of a batch: a row for each part and the thinner, each number judged as typed."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from advisor.base import units as u
from advisor.base.errors import RangeError
from advisor.record.canonical import Json
from advisor.ui.dialogs.fields import LineField
from advisor.ui.widgets.parts import capital
from advisor.ui.widgets.reading_box import BoxKind, parse_reading, told_beside
from advisor.work.live_views import PartMixed

#: What is measured, by how the ratio is: no pot holds a tonne.
MEASURED = MappingProxyType({"volume": u.VOLUME, "mass": u.MASS})
MOST = 1_000.0
THINNER_KIND = BoxKind("Thinner", u.PERCENT, 0.0, 100.0, 1.0)


def amount_kind(part: str, ratio_by: str) -> BoxKind:
    """Return what the amount of a part is, by volume or by mass."""
    return BoxKind(capital(part), MEASURED[ratio_by], 0.0, MOST, 0.1)


class NumberLine(LineField):
    """A number or nothing; judged as the boxes of the readings are, at every change."""

    def __init__(self, kind: BoxKind, value: str = "", units: u.Units = "metric") -> None:
        super().__init__("", value)
        self.line.textChanged.connect(self._judge)
        self.show_kind(kind, units)

    def show_kind(self, kind: BoxKind, units: u.Units = "metric") -> None:
        """Take another number, such as in kg and no longer in L."""
        self.kind, self._units = kind, units
        self.show_caption(f"{kind.name}, {u.label(kind.quantity, units)}")
        self._judge()

    @property
    def kept(self) -> dict[str, Json] | None:
        """Return the number as it is kept, None where there is none."""
        return None if self.error or not self.value else self._parsed()

    def _parsed(self) -> dict[str, Json]:
        return parse_reading(self.value, self.kind, self._units)

    def _judge(self) -> None:
        problem = ""
        if self.value:
            try:
                self._parsed()
            except RangeError as error:
                problem = told_beside(error)
        self.judge(problem, always=True)


class PartRow:
    """What is asked of one part: how much, and what stands on its tin."""

    def __init__(self, part: PartMixed, kind: BoxKind, value: str) -> None:
        self.part = part
        self.amount = NumberLine(kind, value)
        self.batch = LineField("Lot number on the tin", part.batch)
        self.expiry = LineField("Use by", part.expiry, "2027-03")

    def fields(self) -> tuple[LineField, LineField, LineField]:
        """Return them from left to right."""
        return self.amount, self.batch, self.expiry

    def tin(self) -> PartMixed:
        """Return what stands on the tin."""
        return replace(self.part, batch=self.batch.value, expiry=self.expiry.value)

    def mixed(self, ratio_by: str) -> PartMixed:
        """Return what was typed."""
        unit = u.label(MEASURED[ratio_by], "metric")
        return replace(self.tin(), amount=number_text(self.amount.value), unit=unit)


def number_text(typed: str) -> str:
    """Return a number as it is kept: a point for a comma, nothing else touched."""
    return typed.strip().replace(",", ".").replace("−", "-")
