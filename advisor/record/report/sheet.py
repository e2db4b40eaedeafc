"""The paper: page size, margins, pens and the cursor; drawing in millimetres."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor.record.report.blocks import Run, Tone
from advisor.record.report.letters import FAMILY, Letters, lines_of

if TYPE_CHECKING:
    from fpdf import FPDF

Colour = tuple[int, int, int]
MARGIN = 15.0
TOP, FOOT = 18.0, 18.0
#: Line height over type size.
_LEADING = 1.28
_MM_PER_PT = 25.4 / 72
INK: Mapping[Tone, Colour] = MappingProxyType(
    {
        "plain": (20, 20, 20),
        "quiet": (90, 90, 90),
        "good": (0, 95, 60),
        "bad": (165, 20, 10),
        "doubt": (125, 75, 0),
    }
)


@dataclass(eq=False)
class Sheet:
    """A document being written. `y` is the cursor in mm from the top."""

    pdf: FPDF
    letters: Letters
    y: float = TOP

    @property
    def width(self) -> float:
        """Width between the margins, mm."""
        return float(self.pdf.w) - 2 * MARGIN

    @property
    def bottom(self) -> float:
        """Where a page's content ends, mm."""
        return float(self.pdf.h) - FOOT

    @property
    def room(self) -> float:
        """What is left of the page, mm."""
        return self.bottom - self.y

    @property
    def fresh(self) -> bool:
        """Whether nothing stands on the page yet."""
        return self.y <= TOP

    def new_page(self) -> None:
        """Begin a page."""
        self.pdf.add_page()
        self.y = TOP

    def need(self, height: float) -> None:
        """Begin a page unless `height` mm are left on this one."""
        if height > self.room and not self.fresh:
            self.new_page()

    def broken(self, runs: tuple[Run, ...], width: float, size_pt: float) -> list[list[Run]]:
        """Break runs into lines."""
        return lines_of(self.letters, runs, width, size_pt)

    def line(self, runs: Sequence[Run], x: float, top: float, size_pt: float) -> None:
        """Print one line that has been broken, its top at `top`."""
        base = top + size_pt * _MM_PER_PT
        for run in runs:
            self.pdf.set_font(FAMILY, "B" if run.bold else "", size_pt)
            self.pdf.set_text_color(*INK[run.tone])
            if run.text:
                self.pdf.text(x, base, run.text)
            wide = self.letters.width(run.text, size_pt, bold=run.bold)
            if run.struck:
                inner = self.letters.width(run.text.rstrip(" "), size_pt, bold=run.bold)
                middle = base - 0.3 * size_pt * _MM_PER_PT
                self.stroke(INK[run.tone], 0.25)
                self.pdf.line(x, middle, x + inner, middle)
            x += wide

    def stroke(self, colour: Colour, width: float, dash: float = 0, gap: float = 0) -> None:
        """Choose the pen; `dash` and `gap` in mm, 0 for a whole line."""
        self.pdf.set_draw_color(*colour)
        self.pdf.set_line_width(width)
        self.pdf.set_dash_pattern(dash=dash, gap=gap)

    def word(
        self, text: str, x: float, base: float, size_pt: float, *, tone: Tone = "plain",
        align: str = "left",
    ) -> None:  # fmt: skip
        """Print a short word on a picture, by its base line."""
        shown = self.letters.printable(text).replace("\n", " ")
        wide = self.letters.width(shown, size_pt)
        left = x - (wide if align == "right" else wide / 2 if align == "middle" else 0)
        self.pdf.set_font(FAMILY, "", size_pt)
        self.pdf.set_text_color(*INK[tone])
        self.pdf.text(left, base, shown)


def line_height(size_pt: float) -> float:
    """Return the height of a line in mm."""
    return size_pt * _LEADING * _MM_PER_PT
