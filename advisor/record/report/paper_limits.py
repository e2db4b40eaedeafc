"""The limits in force on the chart of a coat, each with its name beside it."""

from __future__ import annotations

from advisor.planning.timeline import Phase
from advisor.record.report.curves import extent, pieces
from advisor.record.report.name_places import Line, NamePlaces
from advisor.record.report.panel import Panel
from advisor.record.report.paper_legend import LIMIT, LIMIT_DASH
from advisor.record.report.say import Say
from advisor.record.review_types import CoatReview, LimitReview

_PT = 5.5
#: Height of capitals and of what hangs below the line, mm, at that size.
_CAPITALS_MM, _HANGS_MM = 1.5, 0.4

#: A line with what is said of it.
Named = tuple[Line, str]


def print_margin_limits(panel: Panel, coat: CoatReview, say: Say) -> list[Named]:
    """Print the dew point plus the margin asked over its phase; return what is to be named."""
    named: list[Named] = []
    for limit in coat.limits:
        asked, (begin, end) = limit.limit.low, phase_of(coat, limit)
        if limit.limit.rule not in ("margin", "hold_margin") or asked is None:
            continue
        lines = [
            panel.points(piece.time_s[inside], piece.values[inside] + asked)
            for piece in pieces(coat, coat.readings.dew_point_c)
            if (inside := (piece.time_s >= begin) & (piece.time_s <= end)).sum() > 1
        ]
        for line in lines:
            _print_line(panel, line)
        if lines:  # a line goes on in pieces where the source changes; its name stands once
            named.append((max(lines, key=_length), f"{say.value(asked, 'K')} above dew point"))
    return named


def print_level_limits(
    panel: Panel, coat: CoatReview, say: Say, rules: tuple[str, ...]
) -> list[Named]:  # fmt: skip
    """Print limits that are levels where they lie in the picture; one name for one level."""
    texts: dict[tuple[float, float], list[str]] = {}
    ends: dict[tuple[float, float], float] = {}
    for limit in coat.limits:
        if limit.limit.rule not in rules:
            continue
        begin, end = (float(panel.x(at)) for at in phase_of(coat, limit))
        for value in (limit.limit.low, limit.limit.high):
            if value is not None and panel.low < value < panel.high:
                place = round(begin, 1), round(float(panel.y(value)), 1)
                _print_line(panel, ((begin, place[1]), (end, place[1])))
                text = f"{limit.limit.label.lower()} {say.value(value, limit.limit.unit)}"
                texts.setdefault(place, []).append(text)
                ends[place] = max(end, ends.get(place, end))
    return [(((x, y), (ends[x, y], y)), ", ".join(said)) for (x, y), said in texts.items()]


def print_names(panel: Panel, places: NamePlaces, named: list[Named]) -> None:
    """Print what each limit is where it covers no other name, and no line if there is room."""
    # A short line has fewer places for its name than a long one.
    for line, text in sorted(named, key=lambda one: _length(one[0])):
        wide = panel.sheet.letters.width(text, _PT)
        others = [other for other, _ in named if other is not line]
        box = places.place(line, wide, _CAPITALS_MM + _HANGS_MM, others)
        panel.sheet.word(text, box.left, box.foot - _HANGS_MM, _PT, tone="bad")


def _length(line: Line) -> float:
    return line[-1][0] - line[0][0]


def _print_line(panel: Panel, line: Line) -> None:
    panel.sheet.stroke(LIMIT, 0.25, *LIMIT_DASH)
    panel.sheet.pdf.polyline(list(line))


def phase_of(coat: CoatReview, limit: LimitReview) -> tuple[float, float]:
    """Return from when to when a limit is drawn, UTC seconds; an unknown end is the chart's."""
    end = extent(coat)[1]
    tack_free = coat.tack_free_s if coat.tack_free_s is not None else end
    dew_safe = coat.dew_safe_s if coat.dew_safe_s is not None else end
    first = min([coat.started_s, *(b.mixed_s for b in coat.batches)])
    spans = {Phase.START: (first, first), Phase.APPLICATION: (first, coat.ended_s),
             Phase.TO_DEW_SAFE: (first, dew_safe), Phase.HOLD: (tack_free, dew_safe)}  # fmt: skip
    return {str(k): v for k, v in spans.items()}.get(limit.phase, (first, tack_free))
