"""A countdown to be read at two metres, and how much of the time is left as a bar."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from advisor.ui.theme import Look
from advisor.ui.while_seen import WhileSeen
from advisor.ui.widgets.parts import text

#: Largest and smallest size of the figures, px at 100 %. Figures of 12 mm are read at two metres
#: without effort (a 200th of the distance and a little more; common practice for signs).
LARGEST, SMALLEST = 240, 64
TICK_MS = 1_000
#: Size of the units and of the seconds beside the large figures.
UNIT_SHARE, SMALL_SHARE = 0.22, 0.3


@dataclass(frozen=True)
class Until:
    """What is counted down to. Times UTC seconds; `mark_s` is a moment shown on the bar.

    `over` is the caption once `end_s` is past: the figures then count up.
    """

    caption: str
    over: str
    begin_s: float
    end_s: float | None
    mark_s: float | None = None


def figures(left_s: float) -> tuple[str, str]:
    """Return hours and minutes, or minutes and seconds: with units, as no time of day."""
    whole = int(abs(left_s))
    sign = "+" if left_s < 0 else ""
    hours, rest = divmod(whole, 3600)
    minutes, seconds = divmod(rest, 60)
    if hours:
        return f"{sign}{hours} h {minutes:02d} min", ""
    return f"{sign}{minutes} min", f" {seconds:02d} s"


def _pieces(large: str, small: str) -> list[tuple[str, float, bool]]:
    """Return the texts from left to right with their share of the size; numbers are bold."""
    found = [(part, UNIT_SHARE if "h" in part or "m" in part else 1.0)
             for part in re.split(r"( h | min)", large) if part]  # fmt: skip
    return [*((part, share, share == 1.0) for part, share in found), (small, SMALL_SHARE, False)]


class Figures(QWidget):
    """The painted figures, as large as the width allows."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.large, self.small, self.role = "–", "", "ink"
        self._largest = LARGEST
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    def show_figures(self, large: str, small: str, role: str) -> None:
        """Show other figures; nothing is drawn anew where they are the same."""
        if (large, small, role) != (self.large, self.small, self.role):
            self.large, self.small, self.role = large, small, role
            self.setAccessibleName(f"{large}{small}")
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return room for the largest figures."""
        return QSize(self._look.px(300), self._look.px(self.size_px() * 0.86))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Take the height of the figures at the new width."""
        super().resizeEvent(event)
        self.updateGeometry()

    def set_largest(self, size: int) -> None:
        """Keep the figures under a size, px at 100 %."""
        if size != self._largest:
            self._largest = size
            self.updateGeometry()
            self.update()

    def size_px(self) -> float:
        """Return the size of the figures at 100 %, as drawn now: all of them must fit."""
        usual = self._wide("00 h 00 min", " 00 s")
        fits = 100 * self.width() / max(usual, self._wide(self.large, self.small))
        return float(max(SMALLEST, min(self._largest, fits)))

    def _wide(self, large: str, small: str) -> float:
        """Return the width in px of figures of size 100."""
        return sum(
            QFontMetricsF(self._look.font(100 * share, bold=bold)).horizontalAdvance(piece)
            for piece, share, bold in _pieces(large, small)
        )

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw them on one line."""
        painter = QPainter(self)
        size = self.size_px()
        font = self._look.font(size, bold=True)
        base = self.height() - (self.height() - QFontMetricsF(font).capHeight()) / 2
        x = 0.0
        for piece, share, bold in _pieces(self.large, self.small):
            painter.setPen(self._look.colour(self.role if bold else "grey"))
            painter.setFont(self._look.font(size * share, bold=bold))
            painter.drawText(int(x), int(base), piece)
            x += QFontMetricsF(painter.font()).horizontalAdvance(piece)
        painter.end()


class LeftBar(QWidget):
    """What is left, filled; the mark is where the comfortable part ends."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.left, self.mark, self.role = 1.0, None, "go"
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    left: float
    mark: float | None
    role: str

    def show_left(self, left: float, mark: float | None, role: str) -> None:
        """Show the share left, 1 to 0, and where on it the mark is."""
        steps = self.width() or 1
        if round(left * steps) != round(self.left * steps) or (mark, role) != (
            self.mark, self.role,
        ):  # fmt: skip
            self.left, self.mark, self.role = left, mark, role
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a thick line."""
        return QSize(100, self._look.px(22))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw it: empty is an outline, so that the filling alone says how much."""
        painter = QPainter(self)
        box = QRectF(self.rect()).adjusted(1, 3, -1, -3)
        painter.setPen(QPen(self._look.colour(self.role), 2))
        painter.drawRect(box)
        painter.fillRect(QRectF(box.left(), box.top(), box.width() * self.left, box.height()),
                         self._look.colour(self.role))  # fmt: skip
        if self.mark is not None:
            x = box.left() + box.width() * self.mark
            painter.setPen(QPen(self._look.colour("ink"), 3, c=Qt.PenCapStyle.FlatCap))
            painter.drawLine(int(x), 0, int(x), self.height())
        painter.end()


class Countdown(QWidget):
    """Counts down to one moment, once a second while it can be seen."""

    def __init__(self, look: Look, clock: Callable[[], float]) -> None:
        super().__init__()
        self._clock = clock
        self.until: Until | None = None
        self.caption = text("", "aim", wrap=True)
        self.figures, self.bar = Figures(look), LeftBar(look)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for part in (self.caption, self.figures, self.bar):
            column.addWidget(part)
        self.ticks = WhileSeen(self, TICK_MS)
        self.ticks.tick.connect(self.count)

    def show_until(self, until: Until | None) -> None:
        """Count down to another moment; None for nothing."""
        self.until = until
        if not self.window().isMinimized():  # else it counts when it is seen again
            self.count()
        self.ticks.want(until is not None and until.end_s is not None)

    def count(self) -> None:
        """Show what is left now."""
        until = self.until
        if until is None or until.end_s is None:
            self.caption.setText(until.caption if until else "")
            self.figures.show_figures("–", "", "grey")
            self.bar.hide()
            return
        left_s = until.end_s - self._clock()
        self.caption.setText(until.caption if left_s >= 0 else until.over)
        close = until.mark_s is not None and self._clock() >= until.mark_s
        self.figures.show_figures(*figures(left_s), "sand" if left_s < 0 else "ink")
        self._show_bar(until, until.end_s, left_s, "sand" if left_s < 0 else "close" if close
                       else "go")  # fmt: skip

    def _show_bar(self, until: Until, end_s: float, left_s: float, role: str) -> None:
        whole = max(1.0, end_s - until.begin_s)
        mark = None if until.mark_s is None else (end_s - until.mark_s) / whole
        self.bar.show_left(min(1.0, max(0.0, left_s / whole)), mark, role)
        self.bar.show()
