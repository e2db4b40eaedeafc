"""Reasons as rows: the shape of how it stands, what was asked, what was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from advisor.planning.words import Words
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import capital, clear, text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark

if TYPE_CHECKING:
    from advisor.planning.explain import Reason

#: Holding rules that get a row of their own, in this order; the others share one line.
FOREMOST = ("margin", "hold_margin", "previous_coat", "humidity", "surface_temp", "dry")
_SHORT_UNITS = ("K", "°C", "%")


def short(group: Sequence[Reason], words: Words) -> str:
    """Put reasons of one title that hold into a few words."""
    first = group[0]
    if len(group) == 1 or any(not _figures(reason) for reason in group):
        return _one(first, words)
    units = first.unit
    found = _span([r.measured for r in group if r.measured is not None], units, words)
    limits = _span([r.limit for r in group if r.limit is not None], units, words)
    return f"{found}, limits {limits}"


def _figures(reason: Reason) -> bool:
    known = reason.measured is not None and reason.limit is not None
    return known and reason.unit in _SHORT_UNITS


def _one(reason: Reason, words: Words) -> str:
    if reason.measured is None or reason.limit is None or not _figures(reason):
        return reason.text.split(";")[0]
    moment = "" if reason.at_s is None else words.moment(reason.at_s)
    when = f" {'at ' if ' ' not in moment else ''}{moment}".rstrip()
    found = words.value(reason.measured, reason.unit)
    least = reason.measured > reason.limit  # what holds is over a least and under a most
    asks = "needs" if reason.unit == "K" else "needs at least" if least else "limit"
    return f"{found}{when}, {asks} {words.value(reason.limit, reason.unit)}"


def _span(values: list[float], unit: str, words: Words) -> str:
    low, high = words.value(min(values), unit), words.value(max(values), unit)
    return low if low == high else f"{low.split()[0].rstrip('%')} to {high}"


def grouped(reasons: Sequence[Reason]) -> list[list[Reason]]:
    """Gather reasons of one title, the foremost rules first."""
    found: dict[str, list[Reason]] = {}
    for reason in reasons:
        found.setdefault(title_of(reason), []).append(reason)
    rank = {rule: k for k, rule in enumerate(FOREMOST)}
    return sorted(found.values(), key=lambda group: rank.get(group[0].rule, len(rank)))


def foremost(reason: Reason) -> bool:
    """Whether a reason that holds gets a row of its own."""
    return reason.rule in FOREMOST and (_figures(reason) or reason.measured is None)


def title_of(reason: Reason) -> str:
    """Return the words for what was tested."""
    return reason.title or reason.rule.replace("_", " ")


class ReasonList(QWidget):
    """Broken rules first with their full sentence, then what is unknown, then what holds."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)

    def show_reasons(
        self, reasons: tuple[Reason, ...], words: Words, *, sand: bool = False
    ) -> None:
        """Replace the rows; `sand` marks a broken bond with grain."""
        clear(self._column)
        rows = [self._against(reason, sand) for reason in reasons if reason.holds is not True]
        also = []
        for group in grouped([reason for reason in reasons if reason.holds]):
            if foremost(group[0]):
                rows.append(self._holding(group, words))
            else:
                also.append(title_of(group[0]))
        if also:
            rows.append(self._also(also, reasons))
        for k, row in enumerate(rows):
            if k:
                self._column.addWidget(self._rule())
            self._column.addWidget(row)

    def _row(self, kind: Kind) -> tuple[QWidget, QGridLayout]:
        row = QWidget()
        grid = QGridLayout(row)
        grid.setContentsMargins(0, 5, 0, 5)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(1, 6)
        grid.setColumnStretch(2, 5)
        grid.addWidget(VerdictMark(self._look, 16, kind), 0, 0)
        return row, grid

    def _against(self, reason: Reason, sand: bool) -> QWidget:
        template = reason.rule == "data" and reason.holds is False
        kind: Kind = "unknown" if reason.holds is None else "close" if template else "wait"
        if sand and reason.rule == "previous_coat" and reason.holds is False:
            kind = "sand"
        row, grid = self._row(kind)
        grid.addWidget(text(title_of(reason), "strong", wrap=True), 0, 1, 1, 2)
        grid.addWidget(text(capital(reason.text), wrap=True), 1, 1, 1, 2)
        return row

    def _holding(self, group: Sequence[Reason], words: Words) -> QWidget:
        row, grid = self._row("go")
        grid.addWidget(text(title_of(group[0]), wrap=True), 0, 1)
        grid.addWidget(text(short(group, words), "small", wrap=True), 0, 2)
        row.setToolTip("\n".join(reason.text for reason in group))
        return row

    def _also(self, titles: list[str], reasons: Sequence[Reason]) -> QWidget:
        row, grid = self._row("go")
        told = "; ".join(title[:1].lower() + title[1:] for title in titles)
        grid.addWidget(text(f"Also held: {told}", "small", wrap=True), 0, 1, 1, 2)
        row.setToolTip("\n".join(reason.text for reason in reasons if reason.holds))
        return row

    def _rule(self) -> QFrame:
        rule = QFrame()
        rule.setFixedHeight(1)
        rule.setObjectName("rule")
        return rule
