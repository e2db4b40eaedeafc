"""The picture of the week: both lines, the margin between them, a lane for every coat."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.base.units import Units
from advisor.climate.series import GRID_S
from advisor.ui.plots import lanes, lines
from advisor.ui.plots.axis import Axis, days_between, first_midnight
from advisor.ui.plots.legend import draw_legend
from advisor.ui.plots.picture import LanePicture, WeekPicture
from advisor.ui.theme import Look

#: Widths and heights in px at 100 %.
NAMES, RIGHT, DAY_ROW, LANE_MIN, LANE_MAX, CHART_MIN = 276, 14, 30, 46, 60, 116
#: Height in px at 100 % of the plate that says the picture is a what-if.
PLATE = 28
WEEK_S = 7 * 86400.0


class WeekView(QWidget):
    """`chosen` with lane and position of the start that is marked."""

    chosen = Signal(int, int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._picture: WeekPicture | None = None
        self._what_if = ""
        self._was: WeekPicture | None = None
        self._axis = Axis(0.0, WEEK_S)
        self._zone, self._units = ZoneInfo("UTC"), "metric"
        self._lane, self._start = 0, 0
        self._kept_s: float | None = None
        self._drag: tuple[float, Axis] | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Coming days: arrow keys choose a start")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        look.changed.connect(self._relook)

    # --- what is shown -------------------------------------------------------------------

    @property
    def selection(self) -> tuple[int, int]:
        """Return lane and position of the chosen start."""
        return self._lane, self._start

    @property
    def axis(self) -> Axis:
        """Return the stretch of time on show."""
        return self._axis

    @property
    def what_if(self) -> str:
        """Return the change on show in words, "" while the outlook itself is."""
        return self._what_if

    def show_what_if(self, words: str, was: WeekPicture | None = None) -> None:
        """Say on the picture that it is a what-if, over the outlook as it is; "" for none."""
        self._what_if, self._was = words, was if words else None
        self.setAccessibleDescription(f"what if: {words}" if words else "")
        self.update()

    def show_week(self, picture: WeekPicture, zone: ZoneInfo, units: Units) -> None:
        """Show a picture; the chosen lane and moment are kept where they still exist.

        `chosen` is emitted even where they are, since what there is to tell may have changed.
        """
        kept_s = self._kept_s
        first = kept_s is None
        self._picture, self._zone, self._units = picture, zone, units
        if first:
            self._axis = self._home()
        self._relook()
        self._lane = min(self._lane, max(0, len(picture.lanes) - 1))
        if picture.lanes:
            self._choose(self._lane, picture.now_s if kept_s is None else kept_s)

    def clear(self) -> None:
        """Show nothing: what was shown is no longer known to be true."""
        self._picture = None
        self._relook()

    def lane(self) -> LanePicture | None:
        """Return the lane in hand."""
        if self._picture is None or not self._picture.lanes:
            return None
        return self._picture.lanes[self._lane]

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Leave room for the chart and every lane."""
        count = 0 if self._picture is None else len(self._picture.lanes)
        px = self._look.px
        return QSize(px(420), px(DAY_ROW + CHART_MIN + 14) + count * px(LANE_MIN))

    def sizeHint(self) -> QSize:  # noqa: N802
        """Same as the least."""
        return self.minimumSizeHint()

    def _relook(self) -> None:
        self.setMinimumHeight(self.minimumSizeHint().height())
        self.updateGeometry()
        self.update()

    def _home(self) -> Axis:
        assert self._picture is not None
        first_s = first_midnight(self._picture.now_s, self._zone)
        return Axis(first_s, first_s + WEEK_S)

    def _chosen_s(self) -> float | None:
        lane = self.lane()
        if lane is None or self._start >= len(lane.starts_s):
            return None
        return float(lane.starts_s[self._start])

    def _choose(self, lane: int, at_s: float) -> None:
        assert self._picture is not None
        near = self._picture.lanes[lane].nearest(at_s)
        if near is None:
            return
        self._lane, self._start, self._kept_s = lane, near, self._picture.lanes[lane].starts_s[near]
        self.update()
        self.chosen.emit(lane, near)

    # --- geometry ------------------------------------------------------------------------

    def _laid_axis(self) -> Axis:
        px = self._look.px
        left, right = px(NAMES), self.width() - px(RIGHT)
        return Axis(self._axis.first_s, self._axis.last_s, left, right)

    def _chart(self) -> QRectF:
        px = self._look.px
        count = 0 if self._picture is None else len(self._picture.lanes)
        room = self.height() - px(DAY_ROW + 14)
        lane = self._lane_height()
        return QRectF(0, px(DAY_ROW), self.width(), room - count * lane)

    def _lane_height(self) -> float:
        px = self._look.px
        count = 0 if self._picture is None else len(self._picture.lanes)
        if count == 0:
            return 0.0
        room = self.height() - px(DAY_ROW + 14) - px(CHART_MIN) * 1.9
        return min(max(room / count, px(LANE_MIN)), px(LANE_MAX))

    def lane_box(self, k: int) -> QRectF:
        """Return where a lane lies."""
        top = self._chart().bottom() + self._look.px(10) + k * self._lane_height()
        return QRectF(0, top, self.width(), self._lane_height())

    def _lane_at(self, y: float) -> int | None:
        if self._picture is None:
            return None
        for k in range(len(self._picture.lanes)):
            if self.lane_box(k).top() <= y < self.lane_box(k).bottom():
                return k
        return None

    # --- drawing -------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw everything; nothing is computed here but pixels."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.colour("card"))
        if self._picture is not None:
            axis = self._laid_axis()
            self._draw_nights(painter, axis, self._picture)
            self._draw_days(painter, axis, self._picture)
            self._draw_chart(painter, axis, self._picture.of_lane(self._lane))
            self._draw_lanes(painter, axis, self._picture)
            self._draw_now(painter, axis, self._picture)
            if self._what_if:
                self._draw_plate(painter, axis, self._chart())
        if self.hasFocus():
            painter.setPen(QPen(self._look.colour("dew"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _draw_nights(self, painter: QPainter, axis: Axis, picture: WeekPicture) -> None:
        for first_s, last_s in picture.nights:
            left = max(axis.left, axis.x(first_s))
            right = min(axis.right, axis.x(last_s))
            if right > left:
                box = QRectF(left, self._look.px(DAY_ROW), right - left, self.height())
                painter.fillRect(box, self._look.colour("night"))

    def _draw_days(self, painter: QPainter, axis: Axis, picture: WeekPicture) -> None:
        look = self._look
        for day in days_between(axis.first_s, axis.last_s, picture.now_s, self._zone):
            left, right = max(axis.left, axis.x(day.start_s)), min(axis.right, axis.x(day.end_s))
            if right - left < look.px(40):
                continue
            painter.setPen(QPen(look.colour("line"), 1))
            painter.drawLine(QPointF(left, look.px(6)), QPointF(left, self.height()))
            box = QRectF(left + look.px(8), 0, right - left - look.px(8), look.px(DAY_ROW))
            painter.setFont(look.font(14, bold=True))
            painter.setPen(look.colour("ink"))
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, day.name)
            used = painter.fontMetrics().horizontalAdvance(day.name) + look.px(8)
            painter.setFont(look.font(13))
            if used + painter.fontMetrics().horizontalAdvance(day.strength) < box.width():
                painter.setPen(look.colour("grey"))
                painter.drawText(
                    box.adjusted(used, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, day.strength
                )

    def _draw_chart(self, painter: QPainter, axis: Axis, picture: WeekPicture) -> None:
        look, chart = self._look, self._chart()
        units: Units = "us" if self._units == "us" else "metric"
        shown = lines.curves(picture, axis, units)
        top = chart.top() + look.px(6 + (PLATE if self._what_if else 0))
        scale = lines.heights(shown, top, chart.bottom() - look.px(6))
        limit = self._limit_k(picture)
        lines.draw_grid(painter, look, axis, scale)
        lines.draw_margin(painter, look, shown, scale, limit)
        lines.draw_soft_edges(painter, look, shown, scale)
        if self._was is not None:
            lines.draw_as_it_is(painter, look, lines.curves(self._was, axis, units), scale)
        lines.draw_lines(painter, look, shown, scale)
        names = QRectF(0, chart.top(), look.px(NAMES - 50), chart.height())
        draw_legend(painter, look, names, limit, units, soft=bool(shown.soft))

    def _draw_plate(self, painter: QPainter, axis: Axis, chart: QRectF) -> None:
        """Say across the chart that nobody looks at the outlook itself."""
        look = self._look
        plate = QRectF(axis.left, chart.top(), axis.right - axis.left, look.px(PLATE - 4))
        painter.fillRect(plate, look.colour("ink"))
        painter.setPen(look.colour("card"))
        painter.setFont(look.font(14, bold=True))
        inner = plate.adjusted(look.px(10), 0, -look.px(10), 0)
        short = painter.fontMetrics().elidedText(
            f"What if: {self._what_if}", Qt.TextElideMode.ElideRight, int(inner.width())
        )
        painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter, short)

    def _limit_k(self, picture: WeekPicture) -> float:
        lane = self.lane()
        if lane is None:
            return picture.limit_k
        return lane.lane.judged.case.product.limits.margin_k

    def _draw_lanes(self, painter: QPainter, axis: Axis, picture: WeekPicture) -> None:
        look = self._look
        for k, lane in enumerate(picture.lanes):
            box = self.lane_box(k)
            names = QRectF(box.left(), box.top(), look.px(NAMES), box.height())
            painter.setPen(QPen(look.colour("line"), 1))
            painter.drawLine(box.topLeft(), box.topRight())
            lanes.draw_names(painter, look, lane, names, k == self._lane)
            lanes.draw_bars(painter, look, axis, lane, box)
            if k == self._lane and self._start < len(lane.starts_s):
                lanes.draw_trail(painter, look, axis, lane.trail(self._start), box)
                lanes.draw_start(painter, look, axis, float(lane.starts_s[self._start]), box)

    def _draw_now(self, painter: QPainter, axis: Axis, picture: WeekPicture) -> None:
        look, x = self._look, axis.x(picture.now_s)
        if not axis.left <= x <= axis.right:
            return
        painter.setPen(QPen(look.colour("ink"), look.px(2)))
        painter.drawLine(QPointF(x, look.px(DAY_ROW)), QPointF(x, self.height()))
        painter.setFont(look.font(13, bold=True))
        width = painter.fontMetrics().horizontalAdvance("now") + look.px(8)
        plate = QRectF(x, self._chart().bottom() - look.px(20), width, look.px(20))
        painter.fillRect(plate, look.colour("ink"))
        painter.setPen(look.colour("card"))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, "now")

    # --- hands ---------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Hover chooses a start; a drag moves the time."""
        if self._drag is not None:
            x0, axis = self._drag
            self._axis = axis.moved(axis.at(x0) - axis.at(event.position().x()))
            self.update()
            return
        lane = self._lane_at(event.position().y())
        if lane is not None and event.position().x() >= self._look.px(NAMES):
            self._choose(lane, self._laid_axis().at(event.position().x()))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Take hold, and choose what is under the finger."""
        self.mouseMoveEvent(event)
        self._drag = (event.position().x(), self._laid_axis())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Let go."""
        self._drag = None

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Zoom about the pointer; with Shift or sideways, move."""
        delta = event.angleDelta()
        if delta.x() or event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            turn = delta.x() or delta.y()
            self._axis = self._axis.moved(
                -turn / 120 * 0.1 * (self._axis.last_s - self._axis.first_s)
            )
        else:
            about_s = self._laid_axis().at(event.position().x())
            self._axis = self._axis.zoomed(0.8 ** (delta.y() / 120), about_s)
        self.update()
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Arrows choose, plus and minus zoom, Home goes to now."""
        if self._picture is None or not self._key(event):
            super().keyPressEvent(event)

    def _key(self, event: QKeyEvent) -> bool:
        key, held = event.key(), event.modifiers()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            sign = 1 if key == Qt.Key.Key_Right else -1
            if held & Qt.KeyboardModifier.ShiftModifier:
                self._to_window(sign)
            else:
                hour = bool(held & Qt.KeyboardModifier.ControlModifier)
                self._step(sign * (3600 if hour else GRID_S))
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._to_lane(1 if key == Qt.Key.Key_Down else -1)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(0.7)
        elif key == Qt.Key.Key_Minus:
            self.zoom(1 / 0.7)
        elif key == Qt.Key.Key_Home:
            self.home()
        else:
            return False
        return True

    def zoom(self, factor: float) -> None:
        """Zoom about the chosen start."""
        middle = (self._axis.first_s + self._axis.last_s) / 2
        self._axis = self._axis.zoomed(factor, self._chosen_s() or middle)
        self.update()

    def home(self) -> None:
        """Show the week from today and choose now."""
        if self._picture is None:
            return
        self._axis = self._home()
        if self._picture.lanes:
            self._choose(self._lane, self._picture.now_s)
        self.update()

    def _step(self, by_s: float) -> None:
        at_s = self._chosen_s()
        if at_s is not None:
            self._go_to(at_s + by_s)

    def _go_to(self, at_s: float) -> None:
        self._choose(self._lane, at_s)
        self._axis = self._axis.showing(self._chosen_s() or at_s)

    def _to_lane(self, by: int) -> None:
        at_s = self._chosen_s()
        if self._picture is not None and at_s is not None:
            wanted = min(max(self._lane + by, 0), len(self._picture.lanes) - 1)
            self._choose(wanted, at_s)

    def _to_window(self, sign: int) -> None:
        """Jump to the next or previous go or close call."""
        lane, at_s = self.lane(), self._chosen_s()
        if lane is None or at_s is None:
            return
        opens = [b.first_s for b in lane.bars if b.kind in ("go", "close")]
        beyond = [s for s in opens if (s - at_s) * sign > 0]
        if beyond:
            self._go_to(min(beyond) if sign > 0 else max(beyond))
