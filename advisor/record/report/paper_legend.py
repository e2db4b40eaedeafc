"""What the lines of a coat's chart mean, with how many readings each source gave."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from advisor.record.report.sheet import MARGIN, Colour, Sheet
from advisor.record.review_types import CoatReview

LEGEND_MM = 9.0
_INK: Colour = (20, 20, 20)
_LIMIT: Colour = (165, 20, 10)
_PT = 6.5
_ROW_MM = 3.8
_SAMPLE_MM = 9.0
#: What one entry of the legend is: text, pen, width, dash and gap.
_Sample = tuple[str, Colour, float, tuple[float, float]]


def print_legend(sheet: Sheet, coat: CoatReview, forms: Mapping[str, tuple[float, float]]) -> None:
    """Print the legend under the chart, as many rows as it takes."""
    x = MARGIN
    for text, ink, width, dash in _samples(coat, forms):
        long = _SAMPLE_MM + 1.5 + sheet.letters.width(text, _PT)
        if x + long > MARGIN + sheet.width:
            x, sheet.y = MARGIN, sheet.y + _ROW_MM
        _sample(sheet, x, ink, width, dash, typed=text.startswith("typed"))
        sheet.word(text, x + _SAMPLE_MM + 1.5, sheet.y + 0.9, _PT)
        x += long + 4
    x, sheet.y = MARGIN, sheet.y + _ROW_MM
    for text, fill in (("above the dew point", (214, 230, 240)), ("at or below it: wet",
                       (240, 170, 160)), ("application", (236, 226, 200))):  # fmt: skip
        sheet.pdf.set_fill_color(*fill)
        sheet.pdf.rect(x, sheet.y - 1.3, 5, 2.6, style="F")
        sheet.word(text, x + 6.5, sheet.y + 0.9, _PT)
        x += 11 + sheet.letters.width(text, _PT)
    sheet.y += 4


def _samples(coat: CoatReview, forms: Mapping[str, tuple[float, float]]) -> list[_Sample]:
    counts = Counter(coat.readings.source)
    found: list[_Sample] = []
    for source, dash in forms.items():
        if counts[source]:
            many = "reading" if counts[source] == 1 else "readings"
            found.append((f"{source}: {counts[source]} {many}", _INK, 0.5, dash))
    found.append(("limit in force", _LIMIT, 0.25, (1.6, 0.8)))
    doubtful = int(coat.readings.doubtful.sum())
    if doubtful:
        found.append((f"× in doubt: {doubtful}", _LIMIT, 0, (0, 0)))
    return found


def _sample(
    sheet: Sheet, x: float, ink: Colour, width: float, dash: tuple[float, float], *, typed: bool
) -> None:
    if width:
        sheet.stroke(ink, width, *dash)
        sheet.pdf.line(x, sheet.y, x + _SAMPLE_MM, sheet.y)
        sheet.stroke(ink, 0.3)
    if typed:
        sheet.pdf.rect(x + _SAMPLE_MM / 2 - 0.7, sheet.y - 0.7, 1.4, 1.4)
