"""Draws a coat's lane: what each start is, and the trail of the film of the chosen one."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF

from advisor.climate.series import GRID_S
from advisor.ui.plots.axis import Axis
from advisor.ui.plots.picture import Bar, LanePicture, Trail
from advisor.ui.theme import Look
from advisor.ui.widgets.verdict_mark import ROLES, grain_brush


def draw_names(painter: QPainter, look: Look, lane: LanePicture, box: QRectF, on: bool) -> None:
    """Coat and area at the left; a bar marks the lane in hand."""
    if on:
        painter.fillRect(
            QRectF(box.left(), box.top(), look.px(5), box.height()), look.colour("ink")
        )
    inner = box.adjusted(look.px(16), 0, -look.px(8), 0)
    half = inner.height() / 2
    for k, (words, role, bold, size) in enumerate(
        ((lane.title, "ink", True, 13), (lane.under, "grey", False, 13))
    ):
        painter.setFont(look.font(size, bold=bold))
        painter.setPen(look.colour(role))
        line = QRectF(inner.left(), inner.top() + k * half, inner.width(), half)
        line.adjust(0, 2 if k == 0 else -2, 0, 2 if k == 0 else -2)
        short = painter.fontMetrics().elidedText(
            words, Qt.TextElideMode.ElideRight, int(inner.width())
        )
        painter.drawText(line, Qt.AlignmentFlag.AlignVCenter, short)


def draw_bars(painter: QPainter, look: Look, axis: Axis, lane: LanePicture, box: QRectF) -> None:
    """Full height go, half height close call, dotted can't tell, grain sand first."""
    room = box.adjusted(0, look.px(6), 0, -look.px(8))
    painter.setPen(QPen(look.colour("line"), 1))
    painter.drawLine(QPointF(axis.left, room.bottom()), QPointF(axis.right, room.bottom()))
    for bar in lane.bars:
        left = max(axis.left, axis.x(bar.first_s))
        right = min(axis.right, axis.x(bar.last_s + GRID_S))
        if right > axis.left and left < axis.right:
            _draw_bar(painter, look, bar, QRectF(left, room.top(), right - left, room.height()))


def _draw_bar(painter: QPainter, look: Look, bar: Bar, box: QRectF) -> None:
    colour = look.colour(ROLES[bar.kind])
    painter.setPen(Qt.PenStyle.NoPen)
    if bar.kind == "go":
        painter.setBrush(colour)
        painter.drawRoundedRect(box, 3, 3)
    elif bar.kind == "close":
        painter.setBrush(colour)
        painter.drawRoundedRect(box.adjusted(0, box.height() / 2, 0, 0), 3, 3)
    elif bar.kind == "sand":
        painter.setPen(QPen(colour, 1))
        painter.setBrush(grain_brush(colour))
        painter.drawRect(box)
        _label(painter, look, "sand first", box, "sand")
    else:
        pen = QPen(colour, look.px(3), Qt.PenStyle.DotLine)
        painter.setPen(pen)
        middle = box.center().y()
        painter.drawLine(QPointF(box.left(), middle), QPointF(box.right(), middle))
        _label(painter, look, "can't tell", box, "unknown")


def _label(painter: QPainter, look: Look, words: str, box: QRectF, role: str) -> None:
    """Write into a bar where there is room, on a plate so that it can be read."""
    painter.setFont(look.font(13, bold=True))
    width = painter.fontMetrics().horizontalAdvance(words) + look.px(14)
    if width > box.width():
        return
    plate = QRectF(0, 0, width, look.px(20))
    plate.moveCenter(box.center())
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(look.colour("card"))
    painter.drawRect(plate)
    painter.setPen(look.colour(role))
    painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, words)


def draw_start(painter: QPainter, look: Look, axis: Axis, at_s: float, box: QRectF) -> None:
    """Mark the chosen start."""
    x = axis.x(at_s)
    if not axis.left <= x <= axis.right:
        return
    half = look.px(6)
    painter.setPen(QPen(look.colour("ink"), look.px(2)))
    painter.drawLine(QPointF(x, box.top() + 2), QPointF(x, box.bottom() - 2))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(look.colour("ink"))
    top = box.top() + 1
    painter.drawPolygon(
        QPolygonF([QPointF(x - half, top), QPointF(x + half, top), QPointF(x, top + half * 1.4)])
    )


def draw_trail(painter: QPainter, look: Look, axis: Axis, trail: Trail, box: QRectF) -> None:
    """Brush, then thickening to tack-free (ring) and can take dew (dot)."""
    if trail.first_patch_s is None or trail.last_patch_s is None:
        return
    y = box.bottom() - look.px(4)
    painter.save()
    painter.setClipRect(QRectF(axis.left, box.top(), axis.right - axis.left, box.height() + 8))
    colour = look.colour("surface")
    painter.setPen(QPen(colour, look.px(6), c=Qt.PenCapStyle.FlatCap))
    painter.drawLine(
        QPointF(axis.x(trail.first_patch_s), y), QPointF(axis.x(trail.last_patch_s), y)
    )
    end_s = trail.dew_safe_s or trail.tack_free_s
    if end_s is not None:
        _wedge(painter, look, axis.x(trail.last_patch_s), axis.x(end_s), y)
    ring = look.px(5)
    if trail.tack_free_s is not None:
        painter.setPen(QPen(colour, look.px(2)))
        painter.setBrush(look.colour("card"))
        painter.drawEllipse(QPointF(axis.x(trail.tack_free_s), y), ring, ring)
    if trail.dew_safe_s is not None:
        painter.setBrush(colour)
        painter.drawEllipse(QPointF(axis.x(trail.dew_safe_s), y), ring, ring)
    painter.restore()


def _wedge(painter: QPainter, look: Look, x0: float, x1: float, y: float) -> None:
    thin, thick = look.px(1), look.px(3)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(look.colour("surface", 170))
    painter.drawPolygon(
        QPolygonF(
            [QPointF(x0, y - thin), QPointF(x1, y - thick), QPointF(x1, y + thick),
             QPointF(x0, y + thin)]
        )
    )  # fmt: skip
