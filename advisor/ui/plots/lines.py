"""Draws surface and dew point as two lines, with the space between them as the margin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QPainter, QPen, QPolygonF
from shiboken6 import VoidPtr

from advisor.base import units as u
from advisor.ui.plots.axis import Axis
from advisor.ui.plots.picture import WeekPicture
from advisor.ui.theme import Look

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curves:
    """What lies on show: pixels of time [n], both lines in display units [n], margin in K [n].

    `soft` are pairs of low and high [n] round surface and dew point, in display units.
    """

    x: FloatArray
    surface: FloatArray
    wet: FloatArray
    margin_k: FloatArray
    soft: tuple[tuple[FloatArray, FloatArray], ...] = ()


def curves(picture: WeekPicture, axis: Axis, units: u.Units) -> Curves:
    """Cut out what is on show, at most about one point for two pixels: it is drawn live."""
    inside = np.flatnonzero((picture.time_s >= axis.first_s) & (picture.time_s <= axis.last_s))
    step = max(1, round(len(inside) / max(1.0, (axis.right - axis.left) / 2)))
    inside = inside[::step]
    shares = (picture.time_s[inside] - axis.first_s) / (axis.last_s - axis.first_s)
    surface, wet = picture.surface_c[inside], picture.wet_c[inside]
    return Curves(
        axis.left + shares * (axis.right - axis.left),
        u.to_display(surface, u.TEMPERATURE, units),
        u.to_display(wet, u.TEMPERATURE, units),
        surface - wet,
        _soft(picture, inside, units),
    )


def _soft(
    picture: WeekPicture, inside: NDArray[np.int64], units: u.Units
) -> tuple[tuple[FloatArray, FloatArray], ...]:
    band = picture.band
    if band is None:
        return ()
    low_s, high_s, low_d, high_d = (
        u.to_display(edge[inside], u.TEMPERATURE, units)
        for edge in (band.surface_low_c, band.surface_high_c, band.dew_low_c, band.dew_high_c)
    )
    return (low_s, high_s), (low_d, high_d)


@dataclass(frozen=True)
class Heights:
    """Values to pixels: `low`..`high` in display units over `bottom`..`top`."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: FloatArray) -> FloatArray:
        """Pixels of values."""
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)

    def ticks(self, apart: float) -> list[float]:
        """Round values to label, every 5 to 50, at least `apart` pixels from each other."""
        px_each = (self.bottom - self.top) / (self.high - self.low)
        step = next((s for s in (5.0, 10.0, 20.0) if s * px_each >= apart), 50.0)
        if self.high - self.low > 30:
            step = max(step, 10.0)
        first = np.ceil(self.low / step) * step
        return [float(v) for v in np.arange(first, self.high + 1e-9, step)]


def heights(shown: Curves, top: float, bottom: float) -> Heights:
    """Leave a little air above and below both lines."""
    values = np.concatenate((shown.surface, shown.wet, *(e for pair in shown.soft for e in pair)))
    values = values[~np.isnan(values)]
    low, high = (0.0, 20.0) if len(values) == 0 else (float(values.min()), float(values.max()))
    room = max(1.0, 0.10 * (high - low))
    return Heights(low - room, high + room, top, bottom)


def draw_grid(painter: QPainter, look: Look, axis: Axis, scale: Heights) -> None:
    """Thin lines and labels of temperature."""
    painter.setFont(look.font(13))
    for value in scale.ticks(look.px(17)):
        y = float(scale.y(np.array([value]))[0])
        painter.setPen(QPen(look.colour("line"), 1))
        painter.drawLine(QPointF(axis.left, y), QPointF(axis.right, y))
        painter.setPen(look.colour("grey"))
        box = QRectF(axis.left - look.px(60), y - look.px(10), look.px(52), look.px(20))
        flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(box, flags, f"{value + 0.0:.0f}°")


def draw_margin(
    painter: QPainter, look: Look, shown: Curves, scale: Heights, limit_k: float
) -> None:
    """Warm where there is enough, hatched where there is too little, solid blue where wet."""
    states = np.where(shown.margin_k >= limit_k, 2, np.where(shown.margin_k > 0, 1, 0))
    states = np.where(np.isnan(shown.margin_k), -1, states)
    edges = np.flatnonzero(np.diff(states)) + 1
    runs = zip(np.concatenate(([0], edges)), np.concatenate((edges, [len(states)])), strict=True)
    painter.setPen(Qt.PenStyle.NoPen)
    for first, last in runs:
        if first < len(states) and states[first] >= 0:
            painter.setBrush(margin_brush(look, int(states[first])))
            painter.drawPolygon(_between(shown, scale, int(first), min(int(last) + 1, len(states))))


def margin_brush(look: Look, state: int) -> QBrush:
    """Return the filling of enough (2), too little (1) and wet (0)."""
    if state == 2:
        return QBrush(look.colour("warm"))
    if state == 1:
        return QBrush(look.colour("dew", 190), Qt.BrushStyle.BDiagPattern)
    return QBrush(look.colour("dew", 215))


def _between(shown: Curves, scale: Heights, first: int, last: int) -> QPolygonF:
    cut = slice(first, last)
    keep = ~np.isnan(shown.margin_k[cut])
    x = shown.x[cut][keep]
    upper, lower = scale.y(shown.surface[cut][keep]), scale.y(shown.wet[cut][keep])
    return polygon(np.concatenate((x, x[::-1])), np.concatenate((upper, lower[::-1])))


def draw_soft_edges(painter: QPainter, look: Look, shown: Curves, scale: Heights) -> None:
    """Shade from the 10th to the 90th percentile round each line: the further, the softer."""
    painter.setPen(Qt.PenStyle.NoPen)
    for (low, high), role in zip(shown.soft, ("surface", "dew"), strict=False):
        painter.setBrush(look.colour(role, 70))
        for first, last in runs(~np.isnan(low) & ~np.isnan(high)):
            cut = slice(first, last)
            x, upper, lower = shown.x[cut], scale.y(high[cut]), scale.y(low[cut])
            there = np.concatenate((x, x[::-1]))
            painter.drawPolygon(polygon(there, np.concatenate((upper, lower[::-1]))))


def draw_as_it_is(painter: QPainter, look: Look, was: Curves, scale: Heights) -> None:
    """Draw the outlook's own lines thin behind a what-if."""
    painter.setPen(QPen(look.colour("grey", 190), max(1, look.px(1)), Qt.PenStyle.DotLine))
    for values in (was.surface, was.wet):
        for piece in pieces(was.x, scale.y(values)):
            painter.drawPolyline(piece)


def draw_lines(painter: QPainter, look: Look, shown: Curves, scale: Heights) -> None:
    """Surface as a solid line, dew point dashed, so that they part without colour."""
    for values, role, style, width in (
        (shown.wet, "dew", Qt.PenStyle.DashLine, 2.0),
        (shown.surface, "surface", Qt.PenStyle.SolidLine, 2.6),
    ):
        pen = QPen(look.colour(role), look.px(10) * width / 10, style)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        for piece in pieces(shown.x, scale.y(values)):
            painter.drawPolyline(piece)


def pieces(x: FloatArray, y: FloatArray) -> list[QPolygonF]:
    """Cut a line where it has holes."""
    return [polygon(x[i:j], y[i:j]) for i, j in runs(~np.isnan(y))]


def polygon(x: FloatArray, y: FloatArray) -> QPolygonF:
    """Return the points, written straight into Qt's own memory: one by one is too slow to drag."""
    made = QPolygonF()
    if len(x) == 0:
        return made
    made.resize(len(x))
    memory = VoidPtr(made.data(), 16 * len(x), True)  # type: ignore[call-arg, arg-type]
    points = np.frombuffer(memory, dtype=np.float64).reshape(-1, 2)  # type: ignore[call-overload]
    points[:, 0], points[:, 1] = x, y
    return made


def runs(whole: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and one past last of each stretch that is true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], whole, [False])).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
