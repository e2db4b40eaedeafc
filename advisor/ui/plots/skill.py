"""Past forecast of the shop against what happened: air above, dew point below."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from advisor.base import units as u
from advisor.planning.words import Words
from advisor.ui.plots.axis import days_between
from advisor.ui.plots.lines import Heights, pieces
from advisor.ui.theme import Look
from advisor.work.outlook_views import SkillView

FloatArray = NDArray[np.float64]
#: Sizes in px at 100 %: room for the labels at the left, the days below, the key above.
LEFT, DAYS, KEY, HEIGHT = 40, 22, 24, 230
#: What the lines mean: words, colour, stroke.
MEANINGS = (
    ("air", "surface", Qt.PenStyle.SolidLine),
    ("dew point", "dew", Qt.PenStyle.SolidLine),
    ("as said before", "ink", Qt.PenStyle.DashLine),
)


class SkillPicture(QWidget):
    """Thick lines are what happened, thin dashed ones what was said two days before."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._skill: SkillView | None = None
        self._words: Words | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.updateGeometry)

    def show_skill(self, skill: SkillView, words: Words) -> None:
        """Show figures; what is told is also the spoken description."""
        self._skill, self._words = skill, words
        self.setAccessibleName("Past forecast against what happened")
        self.setAccessibleDescription("; ".join(" ".join(row) for row in rows(skill, words.units)))
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a wide, low picture."""
        return QSize(self._look.px(260), self._look.px(HEIGHT))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Same as wished."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw key, grid, days and both pairs of lines."""
        if self._skill is None or self._words is None or len(self._skill.time_s) < 2:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        px = self._look.px
        box = QRectF(px(LEFT), px(KEY), self.width() - px(LEFT), self.height() - px(KEY + DAYS))
        pairs = _pairs(self._skill, self._words.units)
        scale = _heights(pairs, box)
        self._draw_key(painter)
        self._draw_grid(painter, box, scale)
        self._draw_days(painter, box)
        x = self._x(box)
        for (was, said), role in zip(pairs, ("surface", "dew"), strict=True):
            self._draw_line(painter, x, scale.y(said), role, said_before=True)
            self._draw_line(painter, x, scale.y(was), role, said_before=False)
        painter.end()

    def _x(self, box: QRectF) -> FloatArray:
        assert self._skill is not None
        time_s = self._skill.time_s
        share = (time_s - time_s[0]) / max(1.0, float(time_s[-1] - time_s[0]))
        return np.asarray(box.left() + share * box.width(), dtype=np.float64)

    def _draw_line(
        self, painter: QPainter, x: FloatArray, y: FloatArray, role: str, *, said_before: bool
    ) -> None:
        style = Qt.PenStyle.DashLine if said_before else Qt.PenStyle.SolidLine
        width = self._look.px(10) * (1.6 if said_before else 2.6) / 10
        painter.setPen(QPen(self._look.colour(role), width, style, Qt.PenCapStyle.FlatCap))
        for piece in pieces(x, y):
            painter.drawPolyline(piece)

    def _draw_key(self, painter: QPainter) -> None:
        look = self._look
        painter.setFont(look.font(13))
        metrics = painter.fontMetrics()
        wide = [look.px(25) + metrics.horizontalAdvance(words) + 4 for words, _, _ in MEANINGS]
        room = self.width() - sum(wide) - 2 * look.px(14)
        left = float(max(0, min(look.px(LEFT), room)))
        for (words, role, style), width in zip(MEANINGS, wide, strict=True):
            y = look.px(9)
            painter.setPen(QPen(look.colour(role), look.px(2), style))
            painter.drawLine(QPointF(left, y), QPointF(left + look.px(20), y))
            painter.setPen(look.colour("ink"))
            place = QRectF(left + look.px(25), 0, width - look.px(25), look.px(18))
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, words)
            left += width + look.px(14)

    def _draw_grid(self, painter: QPainter, box: QRectF, scale: Heights) -> None:
        look = self._look
        painter.setFont(look.font(13))
        for value in scale.ticks(look.px(17)):
            y = float(scale.y(np.array([value]))[0])
            painter.setPen(QPen(look.colour("line"), 1))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            painter.setPen(look.colour("grey"))
            place = QRectF(0, y - look.px(10), box.left() - look.px(6), look.px(20))
            flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(place, flags, f"{value + 0.0:.0f}°")

    def _draw_days(self, painter: QPainter, box: QRectF) -> None:
        assert self._skill is not None
        assert self._words is not None
        look, first, last = self._look, self._skill.time_s[0], self._skill.time_s[-1]
        painter.setFont(look.font(13))
        free_from = box.left()
        for day in days_between(float(first), float(last), float(last), self._words.zone):
            x = box.left() + (day.start_s - first) / max(1.0, last - first) * box.width()
            wide = painter.fontMetrics().horizontalAdvance(day.name)
            if x < free_from or x + wide > box.right():
                continue
            painter.setPen(QPen(look.colour("line"), 1))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, self.height()))
            painter.setPen(look.colour("grey"))
            place = QRectF(x + look.px(4), box.bottom() + look.px(2), wide + 4, look.px(20))
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, day.name)
            free_from = x + wide + look.px(12)


def rows(skill: SkillView, units: u.Units) -> list[tuple[str, str, str]]:
    """Return RMSE rows: what, air, dew point."""

    def row(name: str, air_k: float, dew_k: float) -> tuple[str, str, str]:
        return name, u.format_difference(air_k, units), u.format_difference(dew_k, units)

    return [
        row("this shop's forecast", skill.air_rmse_k, skill.dew_rmse_k),
        row("same as now", skill.air_same_as_now_k, skill.dew_same_as_now_k),
        row("same as outdoors", skill.air_same_as_outdoors_k, skill.dew_same_as_outdoors_k),
    ]


def _pairs(skill: SkillView, units: u.Units) -> list[tuple[FloatArray, FloatArray]]:
    return [
        (u.to_display(was, u.TEMPERATURE, units), u.to_display(said, u.TEMPERATURE, units))
        for was, said in (
            (skill.air_was_c, skill.air_said_c),
            (skill.dew_was_c, skill.dew_said_c),
        )
    ]


def _heights(pairs: list[tuple[FloatArray, FloatArray]], box: QRectF) -> Heights:
    values = np.concatenate([line for pair in pairs for line in pair])
    values = values[~np.isnan(values)]
    low, high = (0.0, 20.0) if len(values) == 0 else (float(values.min()), float(values.max()))
    room = max(1.0, 0.08 * (high - low))
    return Heights(low - room, high + room, box.top(), box.bottom())
