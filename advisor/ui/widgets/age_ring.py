"""The age of a reading as a ring that runs out, broken once it no longer counts as now."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.ui.theme import Look


class AgeRing(QWidget):
    """`share` 1 is just taken, 0 too old; None where nothing was read."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._share: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    @property
    def stale(self) -> bool:
        """Whether the ring is drawn broken."""
        return self._share is None or self._share <= 0

    def set_share(self, share: float | None) -> None:
        """Show how much of its time the reading has left."""
        if share != self._share:
            self._share = share
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a small square."""
        side = self._look.px(20)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the ring."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        width = self._look.px(4)
        box = QRectF(self.rect()).adjusted(width, width, -width, -width)
        pen = QPen(self._look.colour("close" if self.stale else "line"), width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if self.stale:
            painter.setPen(pen)
            for k in range(4):
                painter.drawArc(box, (20 + 90 * k) * 16, 50 * 16)
        else:
            painter.setPen(pen)
            painter.drawEllipse(box)
            pen.setColor(self._look.colour("go"))
            painter.setPen(pen)
            painter.drawArc(box, 90 * 16, -int((self._share or 0) * 360 * 16))
        painter.end()
