"""Colours by role, sizes by role, one scale. Nothing else in the window names a colour."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication

from advisor.ui.stylesheet import stylesheet

#: Type scale in px at 100 %.
VERDICT, READING, CLOCK, TITLE, BODY, SMALL = 56, 36, 40, 17, 15, 13
#: Smallest side of anything a gloved finger has to hit, px at 100 %.
TARGET = 44
#: The bench scale, one key away.
BENCH_PCT = 150


@dataclass(frozen=True)
class Palette:
    """Colours as "#rrggbb". `grey` is for text, `line` for rules, `*_fill` for large marks."""

    name: str
    ink: str
    grey: str
    line: str
    paper: str
    card: str
    field: str
    button: str
    header: str
    header_ink: str
    header_grey: str
    go: str
    on_go: str
    close: str
    wait: str
    sand: str
    unknown: str
    surface: str
    dew: str
    warm: str
    night: str
    caution: str
    caution_line: str


LIGHT = Palette(
    "light", ink="#1b2733", grey="#53616e", line="#cbd3da", paper="#f5f3ee", card="#ffffff",
    field="#faf8f4", button="#e3e8ee", header="#243240", header_ink="#ffffff",
    header_grey="#b9c6d2", go="#0b7459", on_go="#ffffff", close="#8f5f00", wait="#4a5b6c",
    sand="#86408a", unknown="#53616e", surface="#b0440d", dew="#1a66ad", warm="#f7d9c3",
    night="#edf1f5", caution="#fff6e4", caution_line="#e3c98f",
)  # fmt: skip
DARK = Palette(
    "dark", ink="#eef2f5", grey="#aebac5", line="#3d4a57", paper="#12181e", card="#1b242d",
    field="#232e39", button="#2f3c49", header="#2b3947", header_ink="#ffffff",
    header_grey="#aebac5", go="#3fc79a", on_go="#0a1a14", close="#e5b04a", wait="#a5b6c7",
    sand="#d79add", unknown="#b3bfca", surface="#f5945a", dew="#74b8f5", warm="#5a3826",
    night="#141c26", caution="#2d2719", caution_line="#6b5a2c",
)  # fmt: skip
CONTRAST = Palette(
    "high contrast", ink="#000000", grey="#262626", line="#595959", paper="#ffffff", card="#ffffff",
    field="#ffffff", button="#ffffff", header="#000000", header_ink="#ffffff",
    header_grey="#ffffff", go="#00513c", on_go="#ffffff", close="#633f00", wait="#22303d",
    sand="#5c1762", unknown="#262626", surface="#8a2f00", dew="#003f87", warm="#ffd9bd",
    night="#e8e8e8", caution="#ffffff", caution_line="#000000",
)  # fmt: skip
PALETTES = (LIGHT, DARK, CONTRAST)


def palette(name: str) -> Palette:
    """Return a palette by name; "system" follows the desktop's light or dark."""
    for one in PALETTES:
        if one.name == name:
            return one
    hints = QGuiApplication.styleHints()
    dark = hints is not None and hints.colorScheme().name == "Dark"
    return DARK if dark else LIGHT


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    low, high = sorted((_luminance(first), _luminance(second)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    parts = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


class Look(QObject):
    """The palette and scale in force. Painted widgets ask it; `changed` tells them to."""

    changed = Signal()

    def __init__(self, theme: str = "system", scale_pct: int = 100) -> None:
        super().__init__()
        self._palette = palette(theme)
        self._scale_pct = scale_pct

    @property
    def palette(self) -> Palette:
        """Return the palette in force."""
        return self._palette

    @property
    def scale_pct(self) -> int:
        """Return the scale of text and controls in %."""
        return self._scale_pct

    def set_theme(self, name: str) -> None:
        """Change the palette."""
        self._palette = palette(name)
        self.changed.emit()

    def set_scale(self, scale_pct: int) -> None:
        """Change the scale of text and controls, in %."""
        self._scale_pct = scale_pct
        self.changed.emit()

    def px(self, size: float) -> int:
        """Size on screen of a size at 100 %."""
        return max(1, round(size * self._scale_pct / 100))

    def colour(self, role: str, alpha: int = 255) -> QColor:
        """Colour of a role, such as "ink" or "go"."""
        colour = QColor(getattr(self._palette, role))
        colour.setAlpha(alpha)
        return colour

    def font(self, size: float, *, bold: bool = False) -> QFont:
        """Font for painting, `size` in px at 100 %."""
        font = QFont(QGuiApplication.font())
        font.setPixelSize(self.px(size))
        font.setBold(bold)
        return font

    def stylesheet(self) -> str:
        """Return the style of all plain widgets."""
        return stylesheet(self)
