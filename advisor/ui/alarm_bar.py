"""What is due, over every pane: seen and heard across a shed, until somebody says so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QApplication, QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from advisor.planning.words import duration
from advisor.ui.bench_watch import BenchWatch
from advisor.ui.theme import Look
from advisor.ui.while_seen import WhileSeen
from advisor.ui.widgets.parts import BigButton, restyle, text

if TYPE_CHECKING:
    from advisor.work.live_views import Alarm, LiveBench

#: The shape changes this often, ms. Two changes are one flash: one a second, urgent two. WCAG
#: 2.3.1 allows three; one large shape flashing faster can start a seizure.
CHANGE_MS, URGENT_MS = 500, 250
#: Side of the shape, px; larger only at the largest scales.
SHAPE = 76
#: Not told as overdue before, s.
LATE_S = 60.0


class AlarmShape(QWidget):
    """A standing diamond, filled and empty in turn."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.filled = True
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    def turn(self) -> None:
        """Fill or empty it."""
        self.filled = not self.filled
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a square."""
        side = max(SHAPE, self._look.px(SHAPE * 0.7))
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colour, wide = self._look.colour("card"), self._look.px(7)
        box = QRectF(self.rect()).adjusted(wide, wide, -wide, -wide)
        middle = box.center()
        corners = (QPointF(middle.x(), box.top()), QPointF(box.right(), middle.y()),
                   QPointF(middle.x(), box.bottom()), QPointF(box.left(), middle.y()))  # fmt: skip
        painter.setPen(QPen(colour, wide, j=Qt.PenJoinStyle.MiterJoin))
        painter.setBrush(colour if self.filled else Qt.BrushStyle.NoBrush)
        painter.drawPolygon(QPolygonF(corners))
        painter.end()


class AlarmBar(QFrame):
    """Shows the oldest alarm; **Heard** puts that one away and shows the next."""

    def __init__(self, watch: BenchWatch, look: Look) -> None:
        super().__init__()
        self.setObjectName("alarm")
        self._watch = watch
        self._key = ""
        self.shape = AlarmShape(look)
        self.title = text("", "alarm", wrap=True)
        self.words = text("", "alarm_words", wrap=True)
        self.late = text("", "alarm_words", wrap=True)
        self.heard = BigButton("Heard")
        self.heard.setProperty("alarm", True)
        self.heard.clicked.connect(self._heard)
        self._lay_out()
        self.flash = WhileSeen(self, CHANGE_MS)
        self.flash.tick.connect(self.shape.turn)
        self.hide()
        watch.viewed.connect(self.show_view)

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(20, 12, 20, 12)
        row.setSpacing(20)
        words = QVBoxLayout()
        words.setSpacing(2)
        for label in (self.late, self.title, self.words):
            words.addWidget(label)
        row.addWidget(self.shape)
        row.addLayout(words, 1)
        row.addWidget(self.heard)

    def show_view(self, view: LiveBench | None) -> None:
        """Show what is due and not heard, the oldest first."""
        alarms = view.alarms if view else ()
        if view is None or not alarms:
            self._key = ""
            self.flash.want(False)
            self.hide()
            return
        first, more = alarms[0], alarms[1:]
        if first.key != self._key:
            self._key = first.key
            QApplication.alert(self.window())
        self.heard.setEnabled(True)
        self._show_words(first, more, view.now_s)
        self.show()
        urgent = any(alarm.urgent for alarm in alarms)
        restyle(self, "urgent", first.urgent)
        self.flash.want(True, URGENT_MS if urgent else CHANGE_MS)

    def _show_words(self, first: Alarm, more: tuple[Alarm, ...], now_s: float) -> None:
        self.title.setText(first.title)
        then = f"Then: {', '.join(alarm.title for alarm in more)}." if more else ""
        told = " ".join(part for part in (first.text, then) if part)
        self.words.setText(told)
        self.words.setVisible(bool(told))
        late_s = now_s - first.due_s
        late = f"{duration(late_s / 3600)} overdue" if late_s >= LATE_S else ""
        if late and self._watch.slept_s:
            late += f"; this computer slept {duration(self._watch.slept_s / 3600)}"
        self.late.setText(late)
        self.late.setVisible(bool(late))
        self.setAccessibleName(f"Alarm: {late} {first.title}. {told}")

    def _heard(self) -> None:
        self.heard.setEnabled(False)
        self._watch.heard(self._key)
