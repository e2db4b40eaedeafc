"""How a forecast source stands, as a shape and in words: the ring is broken once it is old."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.planning.words import Words, duration
from advisor.ui.theme import Look
from advisor.work.views import SourceView

#: State of a source to the words beside its mark.
STATES: Mapping[str, str] = MappingProxyType({
    "off": "not in use",
    "waiting": "nothing fetched yet",
    "fresh": "fresh",
    "old": "old",
    "failed": "last try failed",
})  # fmt: skip
_ROLES: Mapping[str, str] = MappingProxyType(
    {"off": "grey", "waiting": "grey", "fresh": "go", "old": "close", "failed": "sand"}
)


class SourceMark(QWidget):
    """Full disc fresh, broken ring old, crossed ring failed, dotted ring waiting, thin ring off."""

    def __init__(self, look: Look, size: int = 22) -> None:
        super().__init__()
        self._look, self._size = look, size
        self.state = "off"
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    def set_state(self, state: str) -> None:
        """Show another state."""
        self.state = state
        self.setAccessibleName(STATES.get(state, state))
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a square."""
        side = self._look.px(self._size)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the shape."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide = self._look.px(3)
        box = QRectF(self.rect()).adjusted(wide, wide, -wide, -wide)
        colour = self._look.colour(_ROLES.get(self.state, "grey"))
        pen = QPen(colour, self._look.px(2) if self.state == "off" else wide)
        if self.state == "waiting":
            pen.setStyle(Qt.PenStyle.DotLine)
        painter.setPen(pen)
        if self.state == "old":
            for k in range(3):
                painter.drawArc(box, (90 + 120 * k + 20) * 16, 80 * 16)
        else:
            if self.state == "fresh":
                painter.setBrush(colour)
            painter.drawEllipse(box)
        if self.state == "failed":
            half = box.width() * 0.22
            for slant in (1, -1):
                by = QPointF(half, slant * half)
                painter.drawLine(box.center() - by, box.center() + by)
        painter.end()


def ages(source: SourceView, words: Words) -> str:
    """Return "issued 06:00, 2 h 10 min old", with the time of fetching where that is all."""
    known = source.issued_s if source.issued_s is not None else source.fetched_s
    if known is None or words.now_s is None:
        return ""
    how = "issued" if source.issued_s is not None else "fetched"
    old = max(0.0, words.now_s - known) / 3600
    ago = "just now" if old < 1 / 60 else f"{duration(old)} old"
    return f"{how} {words.moment(known)}, {ago}"


def source_line(source: SourceView, words: Words) -> str:
    """Return the source, its age, what is wrong with it and its credit, in one line."""
    trouble = {
        "old": "too old to lean on",
        "failed": source.text or STATES["failed"],
        "waiting": source.text or STATES["waiting"],
        "off": STATES["off"],
    }.get(source.state, "")
    parts = (source.name, ages(source, words), trouble, source.credit)
    return "; ".join(part for part in (", ".join(p for p in parts[:2] if p), *parts[2:]) if part)
