"""The verdict as a shape: filling means permission."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.planning.verdict_words import Verdict
from advisor.ui.theme import Look

Kind = Literal["go", "close", "wait", "unknown", "sand", "working"]

WORDS: Mapping[Kind, str] = MappingProxyType(
    {
        "go": "Go",
        "close": "Close call",
        "wait": "Wait",
        "unknown": "Can't tell",
        "sand": "Sand first",
        "working": "Working it out",
    }
)
ROLES: Mapping[Kind, str] = MappingProxyType({
    "go": "go", "close": "close", "wait": "wait",
    "unknown": "unknown", "sand": "sand", "working": "grey",
})  # fmt: skip


def kind_of(verdict: Verdict, sand_first: bool) -> Kind:
    """Return the shape of a verdict."""
    if sand_first and verdict is Verdict.WAIT:
        return "sand"
    kinds: dict[Verdict, Kind] = {
        Verdict.GO: "go",
        Verdict.BORDERLINE: "close",
        Verdict.UNKNOWN: "unknown",
        Verdict.WAIT: "wait",
    }
    return kinds[verdict]


def paint_mark(painter: QPainter, box: QRectF, kind: Kind, colour: QColor) -> None:
    """Draw a verdict's shape inside a square box."""
    stroke = max(1.5, box.width() * 0.11)
    inner = box.adjusted(stroke / 2, stroke / 2, -stroke / 2, -stroke / 2)
    pen = QPen(colour, stroke)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if kind == "go":
        painter.setBrush(colour)
        painter.drawEllipse(inner)
    elif kind == "close":
        painter.drawEllipse(inner)
        painter.setBrush(colour)
        painter.drawChord(inner, 180 * 16, 180 * 16)
    elif kind == "wait":
        painter.drawEllipse(inner)
    elif kind == "sand":
        _paint_grain(painter, inner, colour, stroke)
    else:
        _paint_broken_ring(painter, inner, pen, 3 if kind == "unknown" else 8)


def _paint_broken_ring(painter: QPainter, box: QRectF, pen: QPen, pieces: int) -> None:
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    step = 360 / pieces
    for k in range(pieces):
        painter.drawArc(box, int((90 + k * step + step * 0.16) * 16), int(step * 0.68 * 16))


def _paint_grain(painter: QPainter, box: QRectF, colour: QColor, stroke: float) -> None:
    painter.setPen(QPen(colour, stroke * 0.7, j=Qt.PenJoinStyle.MiterJoin))
    painter.drawRect(box)
    painter.save()
    painter.setClipRect(box)
    painter.setPen(QPen(colour, max(1.0, stroke * 0.4)))
    step = max(3.5, box.width() / 6)
    offset = -box.height()
    while offset < box.width():
        start = QPointF(box.left() + offset, box.bottom())
        painter.drawLine(start, start + QPointF(box.height(), -box.height()))
        offset += step
    painter.restore()


def grain_brush(colour: QColor) -> QBrush:
    """Return the filling of "sand first" in a lane."""
    return QBrush(colour, Qt.BrushStyle.BDiagPattern)


class VerdictMark(QWidget):
    """A painted verdict shape of a fixed size."""

    def __init__(self, look: Look, size: int, kind: Kind = "working") -> None:
        super().__init__()
        self._look = look
        self._size = size
        self._kind: Kind = kind
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)
        self.set_kind(kind)

    def set_size(self, size: int) -> None:
        """Change the side, px at 100 %."""
        self._size = size
        self.updateGeometry()

    @property
    def kind(self) -> Kind:
        """Return the shape on show."""
        return self._kind

    def set_kind(self, kind: Kind) -> None:
        """Show another shape."""
        self._kind = kind
        self.setAccessibleName(WORDS[kind])
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a square."""
        side = self._look.px(self._size)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the shape."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        paint_mark(painter, box, self._kind, self._look.colour(ROLES[self._kind]))
        painter.end()
