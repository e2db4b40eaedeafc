"""Readings ready to be drawn, and how each origin is drawn: lines, thin lines, points, doubts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPen, QPolygonF

from advisor.base import units as u
from advisor.climate.quality import HOLE_S
from advisor.climate.reading_strands import HOLE_STEPS, Strand
from advisor.climate.readings import Origin
from advisor.ui.plots.axis import Axis
from advisor.ui.plots.lines import Curves, Heights, draw_margin, polygon, runs
from advisor.ui.theme import Look

FloatArray = NDArray[np.float64]
#: The space between the lines is filled up to this length of step: in a longer one the lowest
#: surface and the highest dew point may be hours apart.
FILLED_TO_S = 1024
#: Line, its role, the edge that counts against the margin (0 lowest, 1 highest).
EDGES = (("wet_point_c", "dew", 1), ("surface_temp_c", "surface", 0), ("air_temp_c", "grey", 0))
#: Width in px of what a sensor sent and of what was imported.
WIDTHS: Mapping[Origin, float] = MappingProxyType({Origin.MEASURED: 2.6, Origin.IMPORTED: 1.5})


@dataclass(frozen=True, eq=False)
class Ribbon:
    """One origin, in display units. `time_s` [n]; `lines` [2, n] of each line, NaN in holes.

    `drawn` [2, n] are the same lines, straight over moments at which another sensor was read.
    `margin_k` [n] from the highest dew point drawn to the lowest surface; `doubtful` [n].
    """

    origin: Origin
    step_s: int
    time_s: FloatArray
    lines: Mapping[str, FloatArray]
    drawn: Mapping[str, FloatArray]
    margin_k: FloatArray
    doubtful: NDArray[np.bool_]

    def cut(self, axis: Axis) -> Ribbon:
        """Return what is on show and the next point on either side."""
        first = max(0, int(np.searchsorted(self.time_s, axis.first_s)) - 1)
        last = int(np.searchsorted(self.time_s, axis.last_s, side="right")) + 1
        here = slice(first, last)
        return Ribbon(
            self.origin,
            self.step_s,
            self.time_s[here],
            {name: pair[:, here] for name, pair in self.lines.items()},
            {name: pair[:, here] for name, pair in self.drawn.items()},
            self.margin_k[here],
            self.doubtful[here],
        )

    def x(self, axis: Axis) -> FloatArray:
        """Return pixels of the points."""
        share = (self.time_s - axis.first_s) / (axis.last_s - axis.first_s)
        return np.asarray(axis.left + share * (axis.right - axis.left), dtype=np.float64)


def ribbon(strand: Strand, units: u.Units) -> Ribbon:
    """Turn a strand into what is drawn; a line is broken where nothing was read for long."""
    breaks, drawn = np.zeros(0, np.int64), strand.lines
    if strand.origin is not Origin.TYPED:
        breaks = np.flatnonzero(np.diff(strand.time_s) > strand.hole_s) + 1
        drawn = {name: joined(strand.time_s, pair) for name, pair in strand.lines.items()}
    margin = drawn["surface_temp_c"][0] - drawn["wet_point_c"][1]

    def shown(lines: Mapping[str, FloatArray]) -> Mapping[str, FloatArray]:
        return {name: u.to_display(np.insert(pair, breaks, np.nan, axis=1), u.TEMPERATURE, units)
                for name, pair in lines.items()}  # fmt: skip

    return Ribbon(
        strand.origin,
        strand.step_s,
        np.insert(strand.time_s, breaks, strand.time_s[breaks - 1] if len(breaks) else []),
        shown(strand.lines),
        shown(drawn),
        np.insert(margin, breaks, np.nan),
        np.insert(strand.doubtful > 0, breaks, False),
    )


def joined(time_s: FloatArray, pair: FloatArray) -> FloatArray:
    """Return a line [2, n] that runs straight over moments at which it was not read itself.

    Sensors of one zone are read at moments of their own; over more than some of its own usual
    steps, and never over more than `HOLE_S`, nothing is drawn.
    """
    there = np.flatnonzero(~np.isnan(pair[0]))
    if len(there) < 2 or len(there) == len(time_s):
        return pair
    apart = np.diff(time_s[there])
    close = apart <= min(HOLE_STEPS * float(np.median(apart)), HOLE_S)
    after = np.searchsorted(there, np.arange(len(time_s)))
    within = np.isnan(pair[0]) & (after > 0) & (after < len(there))
    within[within] = close[after[within] - 1]
    made = pair.copy()
    for edge in made:
        edge[within] = np.interp(time_s[within], time_s[there], edge[there])
    return made


def shown_lines(ribbons: tuple[Ribbon, ...]) -> tuple[str, ...]:
    """Return which lines are drawn: the air only where no surface was read at all."""
    surface = any(not np.isnan(r.lines["surface_temp_c"]).all() for r in ribbons)
    return ("wet_point_c", "surface_temp_c") if surface else ("wet_point_c", "air_temp_c")


def heights(ribbons: tuple[Ribbon, ...], box: QRectF) -> Heights:
    """Leave a little air above and below all that is drawn."""
    names = shown_lines(ribbons)
    values = np.concatenate([r.lines[n].ravel() for r in ribbons for n in names] or [np.zeros(0)])
    values = values[~np.isnan(values)]
    low, high = (0.0, 20.0) if len(values) == 0 else (float(values.min()), float(values.max()))
    room = max(1.0, 0.08 * (high - low))
    return Heights(low - room, high + room, box.top(), box.bottom())


def draw_ribbon(
    painter: QPainter, look: Look, part: Ribbon, axis: Axis, scale: Heights, names: tuple[str, ...]
) -> None:
    """Draw a cut-out ribbon: band from lowest to highest, the edges that count, or points."""
    x = part.x(axis)
    if part.origin is Origin.TYPED:
        for name, role, edge in EDGES:
            if name in names:
                _points(painter, look, x, scale.y(part.lines[name][edge]), role)
        return
    for name, role, edge in EDGES:
        if name in names:
            _line(painter, look, x, part, (name, role, edge), scale)


def draw_filling(
    painter: QPainter, look: Look, parts: tuple[Ribbon, ...], axis: Axis, scale: Heights
) -> None:
    """Fill the space between the lines of each log: the sensors', an imported one where they miss.

    Where both speak, one of them is filled: two fillings on each other tell nothing.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    for part in (p for origin in WIDTHS for p in parts if p.origin is origin):
        if part.step_s > FILLED_TO_S:
            continue
        edges = part.drawn["surface_temp_c"][0], part.drawn["wet_point_c"][1]
        shown = Curves(part.x(axis), *edges, part.margin_k)
        draw_margin(painter, look, shown, scale, 0.0)
        rest = not_filled(shown, axis, scale)
        painter.setClipPath(rest, Qt.ClipOperation.IntersectClip)
    painter.restore()


def not_filled(shown: Curves, axis: Axis, scale: Heights) -> QPainterPath:
    """Return the stretches on show in which a margin is not known."""
    high = scale.bottom - scale.top
    rest, left = QPainterPath(), axis.left
    for first, last in runs(~np.isnan(shown.margin_k)):
        rest.addRect(left, scale.top, max(0.0, float(shown.x[first]) - left), high)
        left = max(left, float(shown.x[last - 1]))
    rest.addRect(left, scale.top, max(0.0, axis.right - left), high)
    return rest


def _line(
    painter: QPainter,
    look: Look,
    x: FloatArray,
    part: Ribbon,
    which: tuple[str, str, int],
    scale: Heights,
) -> None:
    name, role, edge = which
    low, high = part.drawn[name]
    if part.step_s:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(look.colour(role, 80))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # twice as quick, same look
        for first, last in runs(~np.isnan(low)):
            cut = slice(first, last)
            both = np.concatenate((scale.y(high[cut]), scale.y(low[cut])[::-1]))
            painter.drawPolygon(polygon(np.concatenate((x[cut], x[cut][::-1])), both))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    width = look.px(10) * WIDTHS[part.origin] / 10
    style = Qt.PenStyle.DashLine if role == "dew" else Qt.PenStyle.SolidLine
    painter.setPen(QPen(look.colour(role), width, style, Qt.PenCapStyle.FlatCap))
    y = scale.y((low, high)[edge])
    for first, last in runs(~np.isnan(y)):
        if last - first == 1:  # alone between two holes: a line of no length would not show
            painter.drawPoint(QPointF(float(x[first]), float(y[first])))
        else:
            painter.drawPolyline(polygon(x[first:last], y[first:last]))


def _points(painter: QPainter, look: Look, x: FloatArray, y: FloatArray, role: str) -> None:
    """Typed values: a full diamond on the surface, a hollow one at the dew point."""
    painter.setPen(QPen(look.colour(role), look.px(2)))
    painter.setBrush(look.colour("card" if role == "dew" else role))
    half = look.px(6)
    there = ~np.isnan(y)
    for across, down in zip(x[there].tolist(), y[there].tolist(), strict=True):
        painter.drawPolygon(diamond(QPointF(across, down), half))


def diamond(centre: QPointF, half: float) -> QPolygonF:
    """Return a square on its corner."""
    steps = ((0.0, -half), (half, 0.0), (0.0, half), (-half, 0.0))
    return QPolygonF([centre + QPointF(dx, dy) for dx, dy in steps])


def draw_doubts(painter: QPainter, look: Look, part: Ribbon, axis: Axis, box: QRectF) -> None:
    """Cross out doubtful moments in a strip at the foot, at most one cross for each few pixels."""
    x = part.x(axis)[part.doubtful]
    x = x[(x >= axis.left) & (x <= axis.right)]
    half = look.px(4)
    painter.setPen(QPen(look.colour("sand"), look.px(2)))
    y = box.bottom() - half - 2
    for across in (np.unique(x // (2 * half)) * 2 * half + half).tolist():
        painter.drawLine(QPointF(across - half, y - half), QPointF(across + half, y + half))
        painter.drawLine(QPointF(across - half, y + half), QPointF(across + half, y - half))


def holes(ribbons: tuple[Ribbon, ...], axis: Axis, least_px: float) -> list[tuple[float, float]]:
    """Return stretches on show, in px, in which nothing at all was read, if they are wide."""
    times = [r.x(axis)[~np.isnan(r.lines["wet_point_c"][0])] for r in ribbons]
    x = np.sort(np.concatenate([*times, [axis.left, axis.right]]))
    x = x[(x >= axis.left) & (x <= axis.right)]
    wide = np.flatnonzero(np.diff(x) >= least_px)
    return [(float(x[k]), float(x[k + 1])) for k in wide]


def nearest(ribbons: tuple[Ribbon, ...], at_s: float) -> tuple[Ribbon, int] | None:
    """Return the point nearest to a moment, and whose it is."""
    best: tuple[float, Ribbon, int] | None = None
    for one in ribbons:
        there = np.flatnonzero(~np.isnan(one.lines["wet_point_c"][0])
                               | ~np.isnan(one.lines["surface_temp_c"][0])
                               | ~np.isnan(one.lines["air_temp_c"][0]))  # fmt: skip
        if not len(there):
            continue
        k = int(there[np.abs(one.time_s[there] - at_s).argmin()])
        away = abs(float(one.time_s[k]) - at_s)
        if best is None or away < best[0]:
            best = (away, one, k)
    return None if best is None else (best[1], best[2])
