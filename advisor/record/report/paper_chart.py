"""The chart of one coat: surface over dew point, humidity below, gaps left blank."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from advisor.base import units as u
from advisor.base.units import Quantity, Units
from advisor.planning.words import duration
from advisor.record.report.curves import (
    both,
    crossings,
    extent,
    pieces,
    time_ticks,
    value_ticks,
)
from advisor.record.report.name_places import Box, NamePlaces
from advisor.record.report.panel import RIGHT_MM, Panel
from advisor.record.report.paper_legend import (
    FORMS,
    LEGEND_MM,
    LIMIT,
    SHADE,
    SURFACE,
    WET,
    WORK,
    print_legend,
)
from advisor.record.report.paper_limits import (
    print_level_limits,
    print_margin_limits,
    print_names,
)
from advisor.record.report.say import Say
from advisor.record.report.sheet import MARGIN, Colour, Sheet
from advisor.record.review_types import CoatReview, FloatArray, TimeSpan

DEW: Colour = (0, 80, 160)
AIR: Colour = (130, 130, 130)
_GRID: Colour = (225, 225, 225)
_TEMPS_MM, _RH_MM, _AXIS_MM = 44.0, 15.0, 9.0
_SMALL_PT = 6.5
#: In a lower panel than this, words would stand on the limits.
_WORDY_MM = 30.0
#: Half a side of the square of a typed reading.
_MARK_MM = 0.7
#: Room above the chart for the names of up to three events, one above the other.
_EVENTS_MM = 7.0


def print_chart(sheet: Sheet, coat: CoatReview, say: Say) -> None:
    """Print the picture of a coat with its legend."""
    sheet.need(_TEMPS_MM + _RH_MM + _AXIS_MM + LEGEND_MM + _EVENTS_MM + 3)
    begin, end = extent(coat)
    units, readings = say.words.units, coat.readings
    temps = (readings.surface_temp_c, readings.dew_point_c, readings.air_temp_c)
    low, high = _range(temps, 4.0)
    upper = Panel(sheet, sheet.y + _EVENTS_MM, _TEMPS_MM, begin, end, low, high)
    rh_low, rh_high = _rh_range(readings.rh_pct)
    lower = Panel(sheet, upper.top + _TEMPS_MM + 3, _RH_MM, begin, end, rh_low, rh_high)
    for panel in (upper, lower):
        _backdrop(panel, coat)
    _values(upper, u.TEMPERATURE, units)
    _values(lower, u.HUMIDITY, units)
    _temperatures(upper, coat, say)
    with lower.clipped():
        named = print_level_limits(lower, coat, say, ("humidity",))
        _curve(lower, coat, readings.rh_pct, SURFACE, 0.4)
        print_names(lower, _places(lower, coat, (readings.rh_pct,)), named)
    _events(upper, coat)
    _names(upper, coat)
    sheet.word("humidity", lower.left + lower.width + 1.5, lower.top + 4, _SMALL_PT)
    _times(lower, say)
    sheet.stroke(SURFACE, 0.2)
    sheet.y = lower.top + _RH_MM + _AXIS_MM
    print_legend(sheet, coat)


def _temperatures(panel: Panel, coat: CoatReview, say: Say) -> None:
    """Print the space above the dew point, the limits, the three curves, the limits' names."""
    readings = coat.readings
    with panel.clipped():
        _margin(panel, coat)
        for dip in coat.dips:
            _dip(panel, dip)
        named = print_margin_limits(panel, coat, say)
        named += print_level_limits(panel, coat, say, ("surface_temp", "air_temp"))
        _curve(panel, coat, readings.air_temp_c, AIR, 0.2)
        _curve(panel, coat, readings.dew_point_c, DEW, 0.4)
        _curve(panel, coat, readings.surface_temp_c, SURFACE, 0.5)
        curves = (readings.air_temp_c, readings.dew_point_c, readings.surface_temp_c)
        print_names(panel, _places(panel, coat, curves), named)


def _places(panel: Panel, coat: CoatReview, curves: tuple[FloatArray, ...]) -> NamePlaces:
    """Return where names may stand in a panel: off its curves and the words of its gaps."""
    right, foot = panel.left + panel.width, panel.top + panel.height
    places = NamePlaces(Box(panel.left, panel.top, right, foot))
    for values in curves:
        for piece in pieces(coat, values):
            line = panel.points(piece.time_s, piece.values)
            places.keep_off(line)
            if piece.source == "typed":
                for x, y in line:
                    places.keep_off(((x - _MARK_MM, y), (x, y - _MARK_MM), (x + _MARK_MM, y)))
    for at_s in (coat.tack_free_s, coat.dew_safe_s):
        if at_s is not None:
            x = float(panel.x(at_s))
            places.keep_off(((x, panel.top), (x, foot)))
    for gap in coat.gaps:
        left, until = float(panel.x(gap.from_s)), float(panel.x(gap.to_s))
        places.taken.append(Box(left, panel.top, until, panel.top + 8))
    return places


def _range(columns: tuple[FloatArray, ...], least: float) -> tuple[float, float]:
    known = np.concatenate([c[~np.isnan(c)] for c in columns])
    if not len(known):
        return 0.0, 20.0
    low, high = float(known.min()), float(known.max())
    spare = max(0.08 * (high - low), (least - (high - low)) / 2, 0.5)
    return low - spare, high + spare


def _rh_range(rh_pct: FloatArray) -> tuple[float, float]:
    low = 40.0 if np.isnan(rh_pct).all() else min(40.0, float(np.nanmin(rh_pct)) - 5)
    return max(low, 0.0), 102.0


def _events(panel: Panel, coat: CoatReview) -> None:
    """Name application, tack-free and dew-safe above the chart, a step higher where close."""
    names = ((coat.started_s, "application"), (coat.tack_free_s, "tack-free"),
             (coat.dew_safe_s, "can take dew"))  # fmt: skip
    rights: list[float] = []
    for at_s, text in names:
        if at_s is not None:
            wide = panel.sheet.letters.width(text, _SMALL_PT)
            edge = panel.left + panel.width + RIGHT_MM - wide
            left = min(float(panel.x(at_s)) - wide / 2, edge)
            level = next((n for n, right in enumerate(rights) if right + 1 < left), len(rights))
            rights[level:] = [left + wide, *rights[level + 1 :]]
            panel.sheet.word(text, left, panel.top - 0.8 - 2.8 * level, _SMALL_PT)


def _backdrop(panel: Panel, coat: CoatReview) -> None:
    """Print the application span, the gaps, tack-free and dew-safe, and a frame."""
    sheet, pdf = panel.sheet, panel.sheet.pdf
    first, last = panel.x(coat.started_s), panel.x(coat.ended_s)
    pdf.set_fill_color(*WORK)
    pdf.rect(first, panel.top, max(last - first, 0.5), panel.height, style="F")
    for dip in coat.dips:
        _dip(panel, dip)
    for gap in coat.gaps:
        _no_reading(panel, gap.from_s, gap.to_s, duration(gap.hours))
    if not len(coat.readings.time_s):
        _no_reading(panel, panel.begin_s, panel.end_s, "")
    for at_s in (coat.tack_free_s, coat.dew_safe_s):
        if at_s is not None:
            sheet.stroke(AIR, 0.25, 1.2, 1.0)
            pdf.line(panel.x(at_s), panel.top, panel.x(at_s), panel.top + panel.height)
    sheet.stroke(AIR, 0.2)
    pdf.rect(panel.left, panel.top, panel.width, panel.height)


def _dip(panel: Panel, dip: TimeSpan) -> None:
    """Print the time at or below the dew point over the whole height, however short it was."""
    left, right = panel.x(dip.from_s), panel.x(dip.to_s)
    panel.sheet.pdf.set_fill_color(*WET)
    panel.sheet.pdf.rect(left, panel.top, max(right - left, 0.8), panel.height, style="F")


def _no_reading(panel: Panel, from_s: float, to_s: float, length: str) -> None:
    """Leave a gap white between two edges; in a panel with room for it that is said in words."""
    sheet, pdf = panel.sheet, panel.sheet.pdf
    left = panel.x(max(from_s, panel.begin_s))
    right = panel.x(min(to_s, panel.end_s))
    sheet.stroke(AIR, 0.15, 0.4, 0.6)
    for x in (left, right):
        pdf.line(x, panel.top, x, panel.top + panel.height)
    for n, text in enumerate(("no reading", length) if panel.height > _WORDY_MM else ()):
        wide = sheet.letters.width(text, _SMALL_PT)
        if wide < right - left - 1:
            sheet.word(text, (left + right) / 2, panel.top + 4 + 3 * n, _SMALL_PT, tone="doubt",
                       align="middle")  # fmt: skip


def _values(panel: Panel, quantity: Quantity, units: Units) -> None:
    """Print the values up the left edge in the reader's units."""
    sheet = panel.sheet
    low = u.to_display(panel.low, quantity, units)
    high = u.to_display(panel.high, quantity, units)
    most = 6 if panel.height > _WORDY_MM else 3
    for shown in value_ticks(low, high, most):
        y = panel.y(u.from_display(shown, quantity, units))
        sheet.stroke(_GRID, 0.15)
        sheet.pdf.line(panel.left, y, panel.left + panel.width, y)
        sheet.word(f"{shown:g}", panel.left - 1, y + 0.8, _SMALL_PT, align="right")
    sheet.word(u.label(quantity, units), MARGIN, panel.top + 2.5, _SMALL_PT)


def _times(panel: Panel, say: Say) -> None:
    """Print clock and date under the lower panel."""
    sheet, foot = panel.sheet, panel.top + panel.height
    before = ""
    for at in time_ticks(panel.begin_s, panel.end_s, say.words.zone):
        local = datetime.fromtimestamp(at, UTC).astimezone(say.words.zone)
        x, day = panel.x(at), f"{local:%Y-%m-%d}"
        sheet.stroke(AIR, 0.2)
        sheet.pdf.line(x, foot, x, foot + 1)
        sheet.word(f"{local:%H:%M}", x, foot + 3.6, _SMALL_PT, align="middle")
        if day != before:
            sheet.word(day, x, foot + 6.6, _SMALL_PT, align="middle")
        before = day


def _curve(panel: Panel, coat: CoatReview, values: FloatArray, ink: Colour, width: float) -> None:
    """Print one column; the form of the line tells the source, a cross a doubtful reading."""
    sheet, pdf = panel.sheet, panel.sheet.pdf
    for piece in pieces(coat, values):
        sheet.stroke(ink, width, *FORMS[piece.source])
        points = panel.points(piece.time_s, piece.values)
        if len(points) > 1:
            pdf.polyline(points)
        sheet.stroke(ink, width)
        if piece.source == "typed" or len(points) == 1:
            _marks(panel, coat, points, piece.time_s, typed=piece.source == "typed")
    _doubts(panel, coat, values)


def _doubts(panel: Panel, coat: CoatReview, values: FloatArray) -> None:
    """Print a cross on each reading in doubt, one for those that would stand in one place."""
    pdf = panel.sheet.pdf
    rows = np.flatnonzero(coat.readings.doubtful & ~np.isnan(values))
    found = panel.points(coat.readings.time_s[rows].astype(float), values[rows])
    panel.sheet.stroke(LIMIT, 0.25)
    for x, y in {(round(x, 0), round(y, 0)): (x, y) for x, y in found}.values():
        pdf.line(x - 0.9, y - 0.9, x + 0.9, y + 0.9)
        pdf.line(x - 0.9, y + 0.9, x + 0.9, y - 0.9)


def _marks(
    panel: Panel, coat: CoatReview, points: list[tuple[float, float]], times: FloatArray, *,
    typed: bool,
) -> None:  # fmt: skip
    """Print a square for each typed reading, a dot for one that stands alone."""
    for (x, y), at in zip(points, times, strict=True):
        row = int(np.searchsorted(coat.readings.time_s, int(at)))
        if typed and coat.readings.source[row] == "typed":
            panel.sheet.pdf.rect(x - _MARK_MM, y - _MARK_MM, 2 * _MARK_MM, 2 * _MARK_MM)
        elif not typed:
            panel.sheet.pdf.circle(x, y, 0.4)


def _margin(panel: Panel, coat: CoatReview) -> None:
    """Shade the space between surface and dew point; red where the surface is the lower."""
    for time_s, surface, dew in both(coat):
        at, top, foot = crossings(time_s, surface, dew)
        for ink, upper, lower in ((SHADE, np.maximum(top, foot), foot),
                                  (WET, np.maximum(foot, top), top)):  # fmt: skip
            if len(at) > 1 and (upper > lower).any():
                there, back = panel.points(at, upper), panel.points(at, lower)
                panel.sheet.pdf.set_fill_color(*ink)
                panel.sheet.pdf.polygon([*there, *reversed(back)], style="F")


def _names(panel: Panel, coat: CoatReview) -> None:
    """Name the lines at their last values, pushed apart where they would overlap."""
    readings = coat.readings
    columns = (("surface", readings.surface_temp_c), ("dew point", readings.dew_point_c),
               ("air", readings.air_temp_c))  # fmt: skip
    ends: list[tuple[float, str]] = []
    for text, values in columns:
        known = values[~np.isnan(values)]
        if len(known):
            ends.append((float(panel.y(float(known[-1]))), text))
    before = panel.top
    for y, text in sorted(ends):
        at = max(min(y, panel.top + panel.height - 3), before + 2.8)
        panel.sheet.word(text, panel.left + panel.width + 1.5, at + 0.8, _SMALL_PT)
        before = at
