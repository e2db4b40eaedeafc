"""A panel of the chart: where a moment and a value stand on paper."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from advisor.base.units import Number
from advisor.record.report.sheet import MARGIN, Sheet
from advisor.record.review_types import FloatArray

LEFT_MM, RIGHT_MM = 12.0, 23.0


@dataclass(frozen=True)
class Panel:
    """A panel's place on paper in mm, and what it shows: UTC seconds and house values."""

    sheet: Sheet
    top: float
    height: float
    begin_s: float
    end_s: float
    low: float
    high: float

    @property
    def left(self) -> float:
        """Left edge, mm."""
        return MARGIN + LEFT_MM

    @property
    def width(self) -> float:
        """Width, mm."""
        return self.sheet.width - LEFT_MM - RIGHT_MM

    def x(self, time_s: Number) -> Number:
        """Return where a moment stands, mm."""
        return self.left + (time_s - self.begin_s) / (self.end_s - self.begin_s) * self.width

    def y(self, value: Number) -> Number:
        """Return where a value stands, mm."""
        return self.top + (self.high - value) / (self.high - self.low) * self.height

    def points(self, time_s: FloatArray, values: FloatArray) -> list[tuple[float, float]]:
        """Return where the readings of a column [n] stand, mm."""
        pairs = zip(self.x(time_s), self.y(values), strict=True)
        return [(float(x), float(y)) for x, y in pairs]

    @contextmanager
    def clipped(self) -> Iterator[None]:
        """Draw nothing outside the panel. Pens are restored in the file and in the library."""
        pdf = self.sheet.pdf
        with pdf.local_context(), pdf.rect_clip(self.left, self.top, self.width, self.height):
            yield
