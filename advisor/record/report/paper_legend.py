"""What the lines of a coat's chart mean, with how many readings each source gave."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType

from advisor.record.report.sheet import MARGIN, Colour, Sheet
from advisor.record.review_types import CoatReview

LEGEND_MM = 9.0
SURFACE: Colour = (20, 20, 20)
LIMIT: Colour = (165, 20, 10)
LIMIT_DASH = (1.6, 0.8)
SHADE: Colour = (214, 230, 240)
WET: Colour = (240, 170, 160)
WORK: Colour = (236, 226, 200)
#: Line form by source: dash and gap in mm; a typed reading also gets a square.
FORMS: Mapping[str, tuple[float, float]] = MappingProxyType({
    "measured": (0, 0), "imported": (2.4, 0.7), "typed": (0.5, 0.9),
})  # fmt: skip
_PT = 6.5
_ROW_MM = 3.8
_SAMPLE_MM = 9.0
#: What one entry of the legend is: text, pen, width, dash and gap.
_Sample = tuple[str, Colour, float, tuple[float, float]]


def print_legend(sheet: Sheet, coat: CoatReview) -> None:
    """Print the legend under the chart, as many rows as it takes."""
    x = MARGIN
    for text, ink, width, dash in _samples(coat):
        long = _SAMPLE_MM + 1.5 + sheet.letters.width(text, _PT)
        if x + long > MARGIN + sheet.width:
            x, sheet.y = MARGIN, sheet.y + _ROW_MM
        _sample(sheet, x, ink, width, dash, typed=text.startswith("typed"))
        sheet.word(text, x + _SAMPLE_MM + 1.5, sheet.y + 0.9, _PT)
        x += long + 4
    x, sheet.y = MARGIN, sheet.y + _ROW_MM
    fills = (("above the dew point", SHADE), ("at or below it: wet", WET), ("application", WORK))
    for text, fill in fills:
        sheet.pdf.set_fill_color(*fill)
        sheet.pdf.rect(x, sheet.y - 1.3, 5, 2.6, style="F")
        sheet.word(text, x + 6.5, sheet.y + 0.9, _PT)
        x += 11 + sheet.letters.width(text, _PT)
    sheet.y += 4


def _samples(coat: CoatReview) -> list[_Sample]:
    counts = Counter(coat.readings.source)
    found: list[_Sample] = []
    for source, dash in FORMS.items():
        if counts[source]:
            many = "reading" if counts[source] == 1 else "readings"
            found.append((f"{source}: {counts[source]} {many}", SURFACE, 0.5, dash))
    found.append(("limit in force", LIMIT, 0.25, LIMIT_DASH))
    doubtful = int(coat.readings.doubtful.sum())
    if doubtful:
        found.append((f"× in doubt: {doubtful}", LIMIT, 0, (0, 0)))
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
