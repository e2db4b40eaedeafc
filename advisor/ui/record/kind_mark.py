"""A small drawing for each kind of entry; its name always stands beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.record.kinds import KINDS
from advisor.ui.theme import Look

_ROLES: Mapping[str, str] = MappingProxyType(
    {"reading": "dew", "import": "dew", "defect": "sand", "non-conformance": "sand",
     "application": "go", "batch": "go", "film": "go", "correction": "close"}
)  # fmt: skip


class KindMark(QWidget):
    """Drawn for one kind of entry."""

    def __init__(self, look: Look, kind: str, size: int = 26) -> None:
        super().__init__()
        self._look, self._kind, self._size = look, kind, size
        known = KINDS.get(kind)
        self.setAccessibleName(kind if known is None else known.label)
        self.setToolTip(self.accessibleName())
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a square."""
        side = self._look.px(self._size)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw it inside a unit square."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        side = min(self.width(), self.height())
        painter.scale(side / 20, side / 20)
        colour = self._look.colour(_ROLES.get(self._kind, "grey"))
        pen = QPen(colour, 2.2)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        _DRAWN.get(self._kind, _plain)(painter)
        painter.end()


def _lines(painter: QPainter, *ends: tuple[float, float, float, float]) -> None:
    painter.drawLines([QLineF(*one) for one in ends])


def _filled(painter: QPainter, draw: Callable[[], None]) -> None:
    painter.setBrush(painter.pen().color())
    draw()
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _plain(painter: QPainter) -> None:
    _lines(painter, (4, 6, 16, 6), (4, 10, 16, 10), (4, 14, 11, 14))


def _reading(painter: QPainter) -> None:
    """Two lines with the room between them: the surface over the dew point."""
    _lines(painter, (3, 7, 8, 4), (8, 4, 17, 8), (3, 15, 17, 15), (10, 8, 10, 13))


def _import(painter: QPainter) -> None:
    _lines(painter, (10, 3, 10, 12), (6, 8.5, 10, 12), (14, 8.5, 10, 12), (4, 17, 16, 17))


def _preparation(painter: QPainter) -> None:
    """The grain of sanding."""
    painter.drawRect(QRectF(3.5, 3.5, 13, 13))
    _lines(painter, (4, 11, 11, 4), (4, 16, 16, 4), (9, 16, 16, 9))


def _batch(painter: QPainter) -> None:
    """Two parts into one pot."""
    _lines(painter, (4, 9, 6, 17), (6, 17, 14, 17), (14, 17, 16, 9), (4, 9, 16, 9),
           (7, 3, 9, 7), (13, 3, 11, 7))  # fmt: skip


def _batch_end(painter: QPainter) -> None:
    _lines(painter, (4, 4, 6, 17), (6, 17, 14, 17), (14, 17, 16, 4), (8, 8, 12, 12), (12, 8, 8, 12))


def _application(painter: QPainter) -> None:
    """A brush stroke."""
    pen = painter.pen()
    wide = QPen(pen.color(), 5)
    wide.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(wide)
    _lines(painter, (2, 13, 18, 13))
    painter.setPen(pen)
    _lines(painter, (9, 10, 15, 3))


def _film(painter: QPainter) -> None:
    """The comb on the wet film."""
    _lines(painter, (3, 4, 17, 4), (3, 4, 3, 14), (17, 4, 17, 14), (7.5, 4, 7.5, 9),
           (12.5, 4, 12.5, 11), (2, 17, 18, 17))  # fmt: skip


def _observation(painter: QPainter) -> None:
    painter.drawEllipse(QRectF(3, 5, 14, 10))
    _filled(painter, lambda: painter.drawEllipse(QPointF(10, 10), 1.6, 1.6))


def _defect(painter: QPainter) -> None:
    """A lifting flake."""
    _lines(painter, (2, 15, 8, 15), (8, 15, 12, 9), (12, 9, 17, 6), (11, 15, 18, 15))


def _photo(painter: QPainter) -> None:
    painter.drawRect(QRectF(3, 5, 14, 11))
    painter.drawEllipse(QPointF(10, 10.5), 3, 3)


def _departure(painter: QPainter) -> None:
    _lines(painter, (3, 15, 10, 15), (10, 15, 16, 5), (16, 5, 11.5, 6.5), (16, 5, 17, 9.5))


def _correction(painter: QPainter) -> None:
    """A line through what stood there; it stays to be read."""
    _lines(painter, (4, 5, 16, 5), (4, 15, 12, 15), (2, 10, 18, 10))


def _sign_off(painter: QPainter) -> None:
    _lines(painter, (3, 17, 17, 17), (4, 11, 8, 14), (8, 14, 16, 4))


def _instrument(painter: QPainter) -> None:
    painter.drawArc(QRectF(3, 5, 14, 14), 0, 180 * 16)
    _lines(painter, (10, 12, 13.5, 7.5), (3, 14, 17, 14))


_DRAWN: Mapping[str, Callable[[QPainter], None]] = MappingProxyType({
    "reading": _reading, "import": _import, "preparation": _preparation, "batch": _batch,
    "batch end": _batch_end, "application": _application, "film": _film,
    "observation": _observation, "defect": _defect, "photo": _photo,
    "non-conformance": _departure, "correction": _correction, "sign-off": _sign_off,
    "instrument": _instrument, "job": _plain,
})  # fmt: skip
