"""The letters of the report's type: what it can print, and what stands for what it cannot."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.record.report.blocks import Run
from advisor.record.report.say import HELD

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "report"
_FILES = (("", "DejaVuSans.ttf"), ("B", "DejaVuSans-Bold.ttf"))
#: Controls, marks of the writing direction and joiners leave nothing to see, or move what is seen.
_UNSEEN = frozenset({"Cc", "Cf", "Cs"})


@dataclass(frozen=True, eq=False)
class Letters:
    """Widths and presence of letters in the two faces. `pdf` has both fonts loaded."""

    pdf: FPDF
    _widths: dict[tuple[bool, str], float] = field(default_factory=dict)

    @cached_property
    def _known(self) -> frozenset[int]:
        return frozenset(self.pdf.fonts[FAMILY].cmap) & frozenset(self.pdf.fonts[f"{FAMILY}B"].cmap)

    def printable(self, text: str) -> str:
        """Return text of which every letter can be printed; others show as [U+4E2D].

        Written out, a letter that is missing is seen to be there, and which one it is.
        """
        text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\t", "    "))
        return "".join(self._one(letter) for letter in text)

    def _one(self, letter: str) -> str:
        if letter == "\n":
            return letter
        category = unicodedata.category(letter)
        if category in ("Zl", "Zp") or letter in "\r\v\f\x85":
            return "\n"
        if category in _UNSEEN or ord(letter) not in self._known:
            return f"[U+{ord(letter):04X}]"
        return letter

    def width(self, text: str, size_pt: float, *, bold: bool = False) -> float:
        """Return the width of printable text in mm; without kerning it is the letters' sum."""
        key = (bold, text)
        if key not in self._widths:  # the same words come again and again
            self._widths[key] = sum(self._width(letter, bold) for letter in text)
        return self._widths[key] * size_pt

    def _width(self, letter: str, bold: bool) -> float:
        key = (bold, letter)
        if key not in self._widths:
            self.pdf.set_font(FAMILY, "B" if bold else "", 1)
            self._widths[key] = float(self.pdf.get_string_width(letter))
        return self._widths[key]


def load_letters(pdf: FPDF, folder: Path) -> Letters:
    """Give a document the two embedded faces."""
    for style, name in _FILES:
        pdf.add_font(FAMILY, style, folder / name)
    return Letters(pdf)


def close_letters(pdf: FPDF) -> None:
    """Close the font files, which stay open while a document is written."""
    for font in pdf.fonts.values():
        font.ttfont.close()


def lines_of(
    letters: Letters, runs: tuple[Run, ...], width: float, size_pt: float
) -> list[list[Run]]:
    """Break runs into lines no wider than `width` mm; a word too long is broken where it must."""
    lines: list[list[Run]] = [[]]
    used = 0.0
    for run in runs:
        for word in _words(letters.printable(run.text)):
            if word == "\n":
                lines.append([])
                used = 0.0
                continue
            wide = letters.width(word.rstrip(" "), size_pt, bold=run.bold)
            if used + wide > width and used > 0:
                lines.append([])
                used = 0.0
            for part in _parts(letters, word, width, size_pt, run.bold):
                if lines[-1] and used + letters.width(part.rstrip(" "), size_pt,
                                                      bold=run.bold) > width:  # fmt: skip
                    lines.append([])
                    used = 0.0
                lines[-1].append(Run(part, run.tone, run.bold, run.struck))
                used += letters.width(part, size_pt, bold=run.bold)
    return [_joined(line) for line in lines]


def _words(text: str) -> list[str]:
    """Split behind spaces; a line feed is a word of its own."""
    words: list[str] = []
    for n, line in enumerate(text.split("\n")):
        if n:
            words.append("\n")
        word = ""
        for letter in line:
            word += letter
            if letter == " ":
                words.append(word)
                word = ""
        if word:
            words.append(word)
    return words


def _parts(letters: Letters, word: str, width: float, size_pt: float, bold: bool) -> list[str]:
    """Cut a word that fits no line into pieces that do; one letter always fits."""
    if letters.width(word.rstrip(" "), size_pt, bold=bold) <= width:
        return [word]
    parts = [""]
    for letter in word:
        if parts[-1] and letters.width(parts[-1] + letter, size_pt, bold=bold) > width:
            kept = _last_break(parts[-1])
            parts[-1:] = [parts[-1][:kept], parts[-1][kept:]]
        parts[-1] += letter
    return parts


def _last_break(part: str) -> int:
    """Return how much of a part stays on its line: up to its last hyphen or the like, or all."""
    after = max(part.rfind(sign) for sign in "-_/.,;") + 1
    return after if after > len(part) // 3 else len(part)


def _joined(line: list[Run]) -> list[Run]:
    """Join neighbours of one dress, so that a search in the file finds whole phrases."""
    joined: list[Run] = []
    for held in line:
        run = replace(held, text=held.text.replace(HELD, " "))
        last = joined[-1] if joined else None
        if last and (last.tone, last.bold, last.struck) == (run.tone, run.bold, run.struck):
            joined[-1] = Run(last.text + run.text, run.tone, run.bold, run.struck)
        else:
            joined.append(run)
    return joined
