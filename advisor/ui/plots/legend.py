"""What the lines and fillings of the week mean."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from advisor.base import units as u
from advisor.ui.plots.lines import margin_brush
from advisor.ui.theme import Look

#: Key of the soft edge, beside the states of the margin.
SOFT = 3


def draw_legend(
    painter: QPainter,
    look: Look,
    box: QRectF,
    limit_k: float,
    units: u.Units,
    *,
    soft: bool = False,
) -> None:
    """Draw the legend at the left of the chart; rows that do not fit are left out."""
    limit = u.format_difference(limit_k, units)
    rows: tuple[tuple[str, str | int], ...] = (
        ("Coldest spot", "surface"),
        ("Dew point", "dew"),
        (f"over {limit}", 2),
        (f"under {limit}", 1),
        ("wet", 0),
        *((("8 of 10 courses", SOFT),) if soft else ()),
    )
    row = look.px(25)
    left = box.left() + look.px(16)
    for k, (words, key) in enumerate(rows):
        y = box.top() + look.px(6) + k * row
        if y + look.px(20) > box.bottom():
            return
        swatch = QRectF(left, y + look.px(5), look.px(28), look.px(16))
        if isinstance(key, str):
            _stroke(painter, look, swatch, key)
        else:
            painter.setPen(QPen(look.colour("grey"), 1))
            painter.setBrush(look.colour("surface", 70) if key == SOFT else margin_brush(look, key))
            painter.drawRect(swatch)
        painter.setFont(look.font(13, bold=isinstance(key, str)))
        painter.setPen(look.colour(key if isinstance(key, str) else "ink"))
        text = QRectF(swatch.right() + look.px(8), y, box.right() - swatch.right(), look.px(25))
        painter.drawText(text, Qt.AlignmentFlag.AlignVCenter, words)


def _stroke(painter: QPainter, look: Look, swatch: QRectF, role: str) -> None:
    style = Qt.PenStyle.DashLine if role == "dew" else Qt.PenStyle.SolidLine
    painter.setPen(QPen(look.colour(role), look.px(3), style))
    y = swatch.center().y()
    painter.drawLine(QPointF(swatch.left(), y), QPointF(swatch.right(), y))
