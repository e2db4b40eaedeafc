"""A slider for gloves: caption, number and a track as high as a target."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QSlider, QVBoxLayout, QWidget

from advisor.ui.theme import TARGET, Look
from advisor.ui.widgets.parts import restyle, text


class Track(QSlider):
    """The slider itself: a press anywhere brings the handle there."""

    def __init__(self, look: Look) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self._look = look
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        look.changed.connect(self.updateGeometry)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a target's height."""
        return QSize(self._look.px(96), self._look.px(TARGET))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Return the least a finger can move along."""
        return QSize(self._look.px(80), self._look.px(TARGET))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Bring the handle under the finger."""
        if event.button() == Qt.MouseButton.LeftButton and self.isEnabled():
            self.setSliderDown(True)
            self._go(event.position().x())
            event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Follow the finger."""
        if self.isSliderDown():
            self._go(event.position().x())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Let go."""
        self.setSliderDown(False)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Leave the wheel to the page."""
        event.ignore()

    def x_of(self, position: int) -> float:
        """Return where a position lies, px."""
        half = self._look.px(11)
        span = max(1, self.maximum() - self.minimum())
        return half + (position - self.minimum()) / span * (self.width() - 2 * half)

    def _go(self, x: float) -> None:
        half = self._look.px(11)
        share = (x - half) / max(1.0, self.width() - 2 * half)
        self.setValue(round(self.minimum() + share * (self.maximum() - self.minimum())))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw track, the way gone from rest, and the handle."""
        look, px = self._look, self._look.px
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        on = self.isEnabled()
        y, left, right = self.height() / 2, self.x_of(self.minimum()), self.x_of(self.maximum())
        rest, here = self.x_of(int(self.property("rest") or 0)), self.x_of(self.value())
        for x0, x1, role in ((left, right, "grey"), (rest, here, "dew" if on else "grey")):
            width = px(3) if role == "grey" else px(7)
            painter.setPen(QPen(look.colour(role), width, c=Qt.PenCapStyle.RoundCap))
            painter.drawLine(QPointF(x0, y), QPointF(x1, y))
        handle = QRectF(0, 0, px(20), px(34))
        handle.moveCenter(QPointF(here, y))
        painter.setBrush(look.colour("card" if on else "paper"))
        ring = ("dew", px(4)) if self.hasFocus() else ("ink" if on else "grey", px(2))
        painter.setPen(QPen(look.colour(ring[0]), ring[1]))
        painter.drawRoundedRect(handle, px(6), px(6))
        painter.end()


class Lever(QWidget):
    """One thing to change: `changed` while it is moved. `values` are what the positions mean."""

    changed = Signal()

    def __init__(
        self,
        look: Look,
        caption: str,
        values: Sequence[float],
        say: Callable[[float], str],
        rest: float = 0.0,
    ) -> None:
        super().__init__()
        self._look, self._say, self._rest = look, say, rest
        self._values: tuple[float, ...] = ()
        self.caption = text(caption, "small")
        self.number = text("", "grey")
        self.track = Track(look)
        self.track.setAccessibleName(caption)
        self.caption.setBuddy(self.track)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for part in (self.caption, self.number, self.track):
            column.addWidget(part)
        self.set_values(values)
        self.track.valueChanged.connect(self._moved)

    @property
    def value(self) -> float:
        """Return what the handle stands at, in house units."""
        return self._values[self.track.value()]

    def set_values(self, values: Sequence[float]) -> None:
        """Give the positions other meanings and go to rest; `changed` is not sent."""
        self._values = tuple(values)
        self.track.blockSignals(True)
        self.track.setRange(0, len(self._values) - 1)
        self.track.setPageStep(max(1, len(self._values) // 8))
        self.track.setProperty("rest", self._nearest(self._rest))
        self.track.setValue(self._nearest(self._rest))
        self.track.blockSignals(False)
        self.write()

    def show_value(self, value: float) -> None:
        """Stand at the position nearest to a value; `changed` is not sent."""
        self.track.blockSignals(True)
        self.track.setValue(self._nearest(value))
        self.track.blockSignals(False)
        self.write()

    def write(self) -> None:
        """Write the number anew, in the reader's units."""
        words = self._say(self.value)
        moved = self.track.value() != self.track.property("rest")
        self.number.setText(words)
        restyle(self.number, "role", "strong" if moved else "grey")
        self.track.setAccessibleDescription(words)
        self.track.update()

    def _nearest(self, value: float) -> int:
        return min(range(len(self._values)), key=lambda k: abs(self._values[k] - value))

    def _moved(self) -> None:
        self.write()
        self.changed.emit()
