"""The key above the picture of the readings: only what is on show, as it is drawn there."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from advisor.climate.readings import Origin
from advisor.ui.plots.readings_picture import WIDTHS, Ribbon, diamond
from advisor.ui.theme import Look

#: Height of a line in px at 100 %.
LINE = 26
#: What each sign is called, in the order shown.
WORDS = (
    ("surface", "coldest spot"),
    ("air", "air"),
    ("dew", "dew point"),
    ("band", "lowest to highest"),
    (Origin.MEASURED, "by a sensor"),
    (Origin.IMPORTED, "imported"),
    (Origin.TYPED, "typed"),
    ("doubt", "in doubt"),
)


def signs(parts: tuple[Ribbon, ...], names: tuple[str, ...]) -> tuple[str, ...]:
    """Return which signs are on show."""
    here = {part.origin for part in parts if len(part.time_s)}
    found = {"dew", "surface" if "surface_temp_c" in names else "air"} | {str(o) for o in here}
    if any(part.step_s for part in parts):
        found.add("band")
    if any(part.doubtful.any() for part in parts):
        found.add("doubt")
    return tuple(str(key) for key, _ in WORDS if str(key) in found)


def draw_key(
    painter: QPainter, look: Look, box: QRectF, parts: tuple[Ribbon, ...], names: tuple[str, ...]
) -> None:
    """Draw signs and words from the left, in as many lines as there is height for."""
    painter.setFont(look.font(13))
    words = {str(key): told for key, told in WORDS}
    gap, wide, high = look.px(14), look.px(26), look.px(LINE)
    left, top = box.left(), box.top()
    for key in signs(parts, names):
        told = painter.fontMetrics().horizontalAdvance(words[key]) + 2
        if left > box.left() and left + wide + look.px(6) + told > box.right():
            left, top = box.left(), top + high
        if top + high > box.bottom() + 1:
            return
        _sign(painter, look, QRectF(left, top, wide, high), key)
        painter.setPen(look.colour("ink"))
        place = QRectF(left + wide + look.px(6), top, told, high)
        painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, words[key])
        left = place.right() + gap


def _sign(painter: QPainter, look: Look, box: QRectF, key: str) -> None:
    middle = box.center()
    if key == "band":
        painter.fillRect(box.adjusted(0, look.px(7), 0, -look.px(7)), look.colour("surface", 80))
    elif key == Origin.TYPED:
        painter.setPen(QPen(look.colour("surface"), look.px(2)))
        painter.setBrush(look.colour("surface"))
        painter.drawPolygon(diamond(middle, look.px(6)))
    elif key == "doubt":
        painter.setPen(QPen(look.colour("sand"), look.px(2)))
        half = look.px(4)
        for slant in (1, -1):
            by = QPointF(half, slant * half)
            painter.drawLine(middle - by, middle + by)
    else:
        painter.setPen(_pen(look, key))
        painter.drawLine(QPointF(box.left(), middle.y()), QPointF(box.right(), middle.y()))


def _pen(look: Look, key: str) -> QPen:
    role = {"surface": "surface", "dew": "dew", "air": "grey"}.get(key, "ink")
    width = WIDTHS.get(Origin(key), 2.0) if key in set(Origin) else 2.0
    style = Qt.PenStyle.DashLine if key == "dew" else Qt.PenStyle.SolidLine
    return QPen(look.colour(role), look.px(10) * width / 10, style, Qt.PenCapStyle.FlatCap)
