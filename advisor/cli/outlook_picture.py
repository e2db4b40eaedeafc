"""The outlook of one area as a picture: surface and dew point with their spread, as SVG text."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from html import escape
from types import MappingProxyType

import numpy as np

from advisor.base.units import TEMPERATURE, Units, label, to_display
from advisor.planning.words import Words
from advisor.work.outlook_views import FloatArray, OutlookView

WIDTH, HEIGHT = 1200, 460
LEFT, RIGHT, TOP, BOTTOM = 64, 1180, 56, 396
INK, QUIET, PAPER, SURFACE, DEW = "#1d2429", "#5b666e", "#ffffff", "#b4531c", "#1f5fa8"
FONT = "font-family='DejaVu Sans, sans-serif'"


class _Frame:
    """Maps hours and degrees to the page."""

    def __init__(self, view: OutlookView, words: Words) -> None:
        self.view, self.words = view, words
        shown = [view.columns[n] for n in ("surface_temp_c", "dew_point_c")]
        shown += [part[n] for part in (view.low, view.high) for n in part if n in _LINES]
        every = np.concatenate(shown) if shown else np.array([0.0])
        known = every[~np.isnan(every)]
        low, high = (known.min(), known.max()) if len(known) else (0.0, 10.0)
        self.low_c, self.high_c = float(np.floor(low - 1)), float(np.ceil(high + 1))
        self.first_s, self.last_s = float(view.time_s[0]), float(view.time_s[-1])

    def x(self, time_s: FloatArray | float) -> FloatArray:
        share = (np.asarray(time_s) - self.first_s) / max(self.last_s - self.first_s, 1.0)
        return np.asarray(LEFT + share * (RIGHT - LEFT))

    def y(self, temp_c: FloatArray | float) -> FloatArray:
        share = (np.asarray(temp_c) - self.low_c) / (self.high_c - self.low_c)
        return np.asarray(BOTTOM - share * (BOTTOM - TOP))


_LINES = MappingProxyType(
    {
        "surface_temp_c": (SURFACE, "coldest spot", ""),
        "dew_point_c": (DEW, "dew point", "stroke-dasharray='9 5'"),
    }
)


def picture(view: OutlookView, words: Words, credit: str) -> str:
    """Return a whole SVG file. Lines break where nothing is known."""
    frame = _Frame(view, words)
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {HEIGHT}' role='img'>",
        f"<title>{escape(view.area_name)}: surface and dew point in the coming days</title>",
        f"<rect width='{WIDTH}' height='{HEIGHT}' fill='{PAPER}'/>",
        _text(LEFT, 34, f"{view.area_name}: surface and dew point", 20, INK),
        *_degrees(frame),
        *_days(frame),
        *_bands(frame),
        *_curves(frame),
        *_legend(),
        _text(LEFT, HEIGHT - 12, credit, 13, QUIET),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _text(x: float, y: float, words: str, size: int, fill: str, anchor: str = "start") -> str:
    return (
        f"<text x='{x:.1f}' y='{y:.1f}' {FONT} font-size='{size}' fill='{fill}' "
        f"text-anchor='{anchor}'>{escape(words)}</text>"
    )


def _degrees(frame: _Frame) -> Iterator[str]:
    """Draw a line each five degrees of the reader's scale."""
    units: Units = frame.words.units
    for celsius in np.arange(np.ceil(frame.low_c / 5) * 5, frame.high_c + 0.1, 5.0):
        y = float(frame.y(float(celsius)))
        shown = to_display(float(celsius), TEMPERATURE, units)
        yield f"<path d='M{LEFT} {y:.1f}H{RIGHT}' stroke='#d8dde1'/>"
        yield _text(LEFT - 8, y + 5, f"{shown:.0f}", 14, QUIET, "end")
    yield _text(LEFT - 8, TOP - 8, label(TEMPERATURE, units), 14, QUIET, "end")


def _days(frame: _Frame) -> Iterator[str]:
    """Draw a mark at each local midnight, with the day's name."""
    last_day = None
    for time_s in frame.view.time_s:
        local = datetime.fromtimestamp(int(time_s), frame.words.zone)
        if last_day is not None and local.date() != last_day:
            x = float(frame.x(float(time_s)))
            yield f"<path d='M{x:.1f} {TOP}V{BOTTOM}' stroke='#b9c1c7'/>"
            yield _text(x + 6, BOTTOM + 22, f"{local:%a} {local.day}", 14, QUIET)
        last_day = local.date()


def _bands(frame: _Frame) -> Iterator[str]:
    for name, (colour, _, _) in _LINES.items():
        low, high = frame.view.low.get(name), frame.view.high.get(name)
        if low is None or high is None:
            continue
        for a, b in _runs(~np.isnan(low) & ~np.isnan(high)):
            x = frame.x(frame.view.time_s[a:b].astype(float))
            there = _points(x, frame.y(high[a:b]))
            back = _points(x[::-1], frame.y(low[a:b])[::-1])
            yield f"<polygon points='{there} {back}' fill='{colour}' fill-opacity='0.14'/>"


def _curves(frame: _Frame) -> Iterator[str]:
    for name, (colour, _, dash) in _LINES.items():
        values = frame.view.columns[name]
        for a, b in _runs(~np.isnan(values)):
            points = _points(frame.x(frame.view.time_s[a:b].astype(float)), frame.y(values[a:b]))
            pen = f"stroke='{colour}' stroke-width='2.5' {dash}"
            yield f"<polyline points='{points}' fill='none' {pen}/>"


def _legend() -> Iterator[str]:
    x = 760.0
    for colour, name, dash in _LINES.values():
        yield f"<path d='M{x} 29h44' stroke='{colour}' stroke-width='3' {dash}/>"
        yield _text(x + 52, 34, name, 15, INK)
        x += 200


def _points(x: FloatArray, y: FloatArray) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def _runs(known: np.ndarray) -> Iterator[tuple[int, int]]:
    """Return the stretches of true values as half-open pairs."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(int), [0]))))
    yield from zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
