"""Readings over minutes to years: pan and zoom by hand, wheel or keys; a tap picks a moment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.base import units as u
from advisor.ui.plots.axis import Axis
from advisor.ui.plots.lines import Heights, draw_grid
from advisor.ui.plots.readings_key import LINE, draw_key
from advisor.ui.plots.readings_picture import (
    Ribbon,
    draw_doubts,
    draw_filling,
    draw_ribbon,
    heights,
    holes,
    nearest,
    shown_lines,
)
from advisor.ui.plots.time_ticks import ticks
from advisor.ui.theme import Look

#: Closest and furthest view, seconds.
CLOSEST_S, FURTHEST_S = 600.0, 40 * 366 * 86400.0
#: So many views are fetched at once, so that a hand can move on while the next are on the way.
VIEWS = 3.0
#: Sizes in px at 100 %: labels at the left, moments below, a margin.
LEFT, FOOT, RIGHT = 44, 26, 8
#: Width from which the key has one line, px at 100 %.
ONE_LINE_FROM = 740
LEAST_HEIGHT = 220
#: A press that moves less than this is a tap.
TAP_PX = 6.0
#: Px a moment's words take, and the least width of a hole that is named.
TICK_PX, HOLE_PX = 76, 110


@dataclass(frozen=True, eq=False)
class Fetched:
    """What was fetched for [`first_s`, `last_s`] at `points` steps."""

    first_s: float
    last_s: float
    points: int
    ribbons: tuple[Ribbon, ...]

    @property
    def step_s(self) -> float:
        """Return how fine this was asked for, seconds."""
        return (self.last_s - self.first_s) / max(1, self.points)

    @property
    def whole(self) -> bool:
        """Whether every row is in it one by one: closer up there is nothing more to see."""
        return all(one.step_s == 0 for one in self.ribbons)


class ReadingsPlot(QWidget):
    """`wanted` with first, last and steps when more is needed; `picked` with a moment tapped.

    `moved` when the stretch on show changed.
    """

    wanted = Signal(float, float, int)
    picked = Signal(float)
    moved = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.axis = Axis(0.0, 86400.0)
        self.fetched: Fetched | None = None
        self.moment_s: float | None = None
        self.words = ""
        self._asked: tuple[float, float, int] | None = None
        self._reach: tuple[float, float] | None = None
        self._zone, self._units = ZoneInfo("UTC"), "metric"
        self._scale = Heights(0.0, 20.0, 0.0, 1.0)
        self._press: tuple[float, Axis] | None = None
        self._dragging = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Picture of the readings")
        look.changed.connect(self.update)

    # --- what is shown -------------------------------------------------------------------

    def set_reader(self, zone: ZoneInfo, units: u.Units) -> None:
        """Take over the reader's zone and units; ribbons come anew in other units."""
        self._zone, self._units = zone, units
        self.update()

    def set_reach(self, reach: tuple[float, float] | None) -> None:
        """Tell from when to when there are readings, UTC seconds."""
        self._reach = reach

    def show_view(self, first_s: float, last_s: float) -> None:
        """Show a stretch of time and ask for what it needs."""
        span = min(max(last_s - first_s, CLOSEST_S), FURTHEST_S)
        middle = (first_s + last_s) / 2
        self._go(replace(self.axis, first_s=middle - span / 2, last_s=middle + span / 2))

    def show_fetched(self, fetched: Fetched) -> None:
        """Draw what came in."""
        self.fetched, self._asked = fetched, None
        self._scale = heights(fetched.ribbons, self._box())
        self._need()
        self.update()

    def ask_again(self) -> None:
        """Fetch anew what is on show, such as after a new reading."""
        self._asked = None
        self._want()

    def forget(self) -> None:
        """Drop what was fetched, such as for another zone."""
        self.fetched, self._asked, self.moment_s = None, None, None
        self.update()

    def say(self, words: str) -> None:
        """Say why there is nothing to see; "" takes it back."""
        self.words = words
        self.setAccessibleDescription(words)
        self.update()

    def show_moment(self, at_s: float | None) -> None:
        """Mark a moment and bring it into view."""
        self.moment_s = at_s
        if at_s is not None and not self.axis.first_s <= at_s <= self.axis.last_s:
            half = (self.axis.last_s - self.axis.first_s) / 2
            self.show_view(at_s - half, at_s + half)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a wide picture."""
        return QSize(self._look.px(600), self._look.px(LEAST_HEIGHT))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Return the least that can be read."""
        return QSize(self._look.px(260), self._look.px(LEAST_HEIGHT))

    # --- moving --------------------------------------------------------------------------

    def zoom(self, factor: float, about_s: float | None = None) -> None:
        """Closer for a factor under 1; the moment `about_s`, else the middle, stays in place."""
        axis = self.axis
        span = axis.last_s - axis.first_s
        about = (axis.first_s + axis.last_s) / 2 if about_s is None else about_s
        wide = min(max(span * factor, CLOSEST_S), FURTHEST_S)
        first = about - (about - axis.first_s) / span * wide
        self._go(replace(axis, first_s=first, last_s=first + wide))

    def pan(self, views: float) -> None:
        """Move by so many views, later for a positive number."""
        self._go(self.axis.moved(views * (self.axis.last_s - self.axis.first_s)))

    def _go(self, axis: Axis) -> None:
        """Take over a stretch, kept in touch with where there are readings."""
        if self._reach is not None:
            half = (axis.last_s - axis.first_s) / 2
            first, last = self._reach
            ahead = max(0.0, first - half - axis.first_s)
            axis = axis.moved(ahead) if ahead else axis.moved(min(0.0, last + half - axis.last_s))
        self.axis = axis
        self._need()
        self.moved.emit()
        self.update()

    def _need(self) -> None:
        """Ask for more where the view nears the end of what is here, or is too fine for it."""
        axis, have = self.axis, self.fetched
        if self._reach is None or not self.isVisible():
            return
        margin = 0.3 * (axis.last_s - axis.first_s)
        step_s = (axis.last_s - axis.first_s) / max(1.0, axis.right - axis.left)
        if have is not None:
            inside = have.first_s <= axis.first_s - margin and axis.last_s + margin <= have.last_s
            fine = have.whole or step_s > have.step_s / 1.9
            if inside and fine:
                return
        self._want()

    def _want(self) -> None:
        axis = self.axis
        side = (VIEWS - 1) / 2 * (axis.last_s - axis.first_s)
        points = int(VIEWS * max(1.0, axis.right - axis.left))
        asked = (axis.first_s - side, axis.last_s + side, points)
        if self._asked is not None and self._covers(self._asked, axis):
            return
        self._asked = asked
        self.wanted.emit(*asked)

    @staticmethod
    def _covers(asked: tuple[float, float, int], axis: Axis) -> bool:
        """Whether what is on the way will do."""
        first, last, points = asked
        step_s = (axis.last_s - axis.first_s) / max(1.0, axis.right - axis.left)
        inside = first <= axis.first_s and axis.last_s <= last
        return inside and step_s > (last - first) / points / 1.9

    # --- drawing -------------------------------------------------------------------------

    def _box(self) -> QRectF:
        px = self._look.px
        key = self._key_high()
        wide, high = self.width() - px(LEFT) - px(RIGHT), self.height() - key - px(FOOT)
        return QRectF(px(LEFT), key, max(1, wide), max(1, high))

    def _key_high(self) -> int:
        one = self.width() >= self._look.px(ONE_LINE_FROM)
        return self._look.px(LINE if one else 2 * LINE) + 2

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Lay the same stretch over the new width."""
        super().resizeEvent(event)
        self._fit()

    def showEvent(self, event: object) -> None:  # noqa: N802
        """Ask for what the view needs now that somebody looks."""
        self._fit()

    def _fit(self) -> None:
        box = self._box()
        self.axis = replace(self.axis, left=box.left(), right=box.right())
        self._scale = replace(self._scale, top=box.top(), bottom=box.bottom())
        self._need()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw moments, degrees, every origin, doubts, holes, the moment picked."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box, axis = self._box(), self.axis
        painter.fillRect(box, self._look.colour("field"))
        self._draw_ticks(painter, box)
        parts = tuple(one.cut(axis) for one in self.fetched.ribbons) if self.fetched else ()
        if self.words or not self.fetched or not self.fetched.ribbons:
            self._draw_words(painter, box)
        else:
            draw_grid(painter, self._look, axis, self._scale)
            self._draw_parts(painter, box, parts)
            draw_key(painter, self._look, self._key_box(), parts, shown_lines(self.fetched.ribbons))
        self._draw_moment(painter, box)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._look.colour("dew"), 2))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    def _key_box(self) -> QRectF:
        return QRectF(self._look.px(LEFT), 0, self._box().width(), self._key_high())

    def _draw_parts(self, painter: QPainter, box: QRectF, parts: tuple[Ribbon, ...]) -> None:
        assert self.fetched is not None
        names = shown_lines(self.fetched.ribbons)
        painter.save()
        painter.setClipRect(box)
        self._draw_holes(painter, box, parts)
        draw_filling(painter, self._look, parts, self.axis, self._scale)
        for part in reversed(parts):  # typed values last, over the lines
            draw_ribbon(painter, self._look, part, self.axis, self._scale, names)
        for part in parts:
            draw_doubts(painter, self._look, part, self.axis, box)
        painter.restore()

    def _draw_holes(self, painter: QPainter, box: QRectF, parts: tuple[Ribbon, ...]) -> None:
        painter.setFont(self._look.font(13))
        painter.setPen(self._look.colour("grey"))
        for first, last in holes(parts, self.axis, self._look.px(HOLE_PX)):
            place = QRectF(first, box.top(), last - first, box.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignCenter, "nothing read")

    def _draw_ticks(self, painter: QPainter, box: QRectF) -> None:
        look, axis = self._look, self.axis
        most = int(box.width() / look.px(TICK_PX))
        for tick in ticks(axis.first_s, axis.last_s, self._zone, most):
            x = axis.x(tick.at_s)
            painter.setPen(QPen(look.colour("grey" if tick.strong else "line"), 1))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom() + look.px(5)))
            painter.setFont(look.font(13, bold=tick.strong))
            painter.setPen(look.colour("ink" if tick.strong else "grey"))
            half = painter.fontMetrics().horizontalAdvance(tick.words) / 2 + 1
            middle = min(x, self.width() - half)  # the last one is told whole
            place = QRectF(middle - half, box.bottom() + look.px(4), 2 * half, look.px(FOOT - 4))
            painter.drawText(place, Qt.AlignmentFlag.AlignHCenter, tick.words)

    def _draw_words(self, painter: QPainter, box: QRectF) -> None:
        words = self.words or ("nothing read here" if self.fetched else "")
        painter.setFont(self._look.font(15))
        painter.setPen(self._look.colour("grey"))
        side = self._look.px(20)
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        painter.drawText(box.adjusted(side, 0, -side, 0), int(flags), words)

    def _draw_moment(self, painter: QPainter, box: QRectF) -> None:
        if self.moment_s is None or not box.left() <= self.axis.x(self.moment_s) <= box.right():
            return
        x = self.axis.x(self.moment_s)
        painter.setPen(QPen(self._look.colour("ink"), self._look.px(2)))
        painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))

    # --- hand and keys -------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Begin a drag or a tap."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._press, self._dragging = (event.position().x(), self.axis), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Move with the hand."""
        if self._press is None:
            return
        start, axis = self._press
        moved = event.position().x() - start
        if self._dragging or abs(moved) > TAP_PX:
            self._dragging = True
            px_s = (axis.last_s - axis.first_s) / max(1.0, axis.right - axis.left)
            self._go(axis.moved(-moved * px_s))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """End a drag; a tap picks the moment nearest to it that was read."""
        press, self._press = self._press, None
        if press is None or self._dragging or not self._box().contains(event.position()):
            return
        at_s = self.axis.at(event.position().x())
        found = nearest(self.fetched.ribbons, at_s) if self.fetched else None
        self.moment_s = at_s if found is None else float(found[0].time_s[found[1]])
        self.update()
        self.picked.emit(self.moment_s)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Zoom about the pointer; sideways moves."""
        turned = event.angleDelta()
        if abs(turned.x()) > abs(turned.y()):
            self.pan(-turned.x() / 1200)
        else:
            self.zoom(0.8 ** (turned.y() / 120), self.axis.at(event.position().x()))
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Arrows move, plus and minus zoom, Home and End go to the first and last reading."""
        keys = {
            Qt.Key.Key_Left: lambda: self.pan(-0.2),
            Qt.Key.Key_Right: lambda: self.pan(0.2),
            Qt.Key.Key_Plus: lambda: self.zoom(0.5),
            Qt.Key.Key_Up: lambda: self.zoom(0.5),
            Qt.Key.Key_Minus: lambda: self.zoom(2.0),
            Qt.Key.Key_Down: lambda: self.zoom(2.0),
            Qt.Key.Key_Home: lambda: self._to_end(0),
            Qt.Key.Key_End: lambda: self._to_end(1),
        }
        action = keys.get(Qt.Key(event.key()))
        if action is None:
            super().keyPressEvent(event)
        else:
            action()

    def _to_end(self, which: int) -> None:
        if self._reach is not None:
            half = (self.axis.last_s - self.axis.first_s) / 2
            self.show_view(self._reach[which] - half, self._reach[which] + half)
