"""Reasons as rows: the shape of how it stands, what was asked, what was found."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from advisor.planning.explain import Reason
from advisor.planning.words import Words
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import clear, text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark


def short(reason: Reason, words: Words) -> str:
    """Put a reason that holds into a few words; the whole sentence is its tooltip."""
    if reason.measured is None or reason.limit is None or reason.unit not in ("K", "°C", "%"):
        return reason.text
    when = f" at {words.moment(reason.at_s)}" if reason.at_s is not None else ""
    found = words.value(reason.measured, reason.unit)
    return f"{found}{when}, limit {words.value(reason.limit, reason.unit)}"


class ReasonList(QWidget):
    """Broken rules first with their full sentence, then what is unknown, then what holds."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)

    def show_reasons(self, reasons: tuple[Reason, ...], words: Words) -> None:
        """Replace the rows."""
        clear(self._column)
        for k, reason in enumerate(reasons):
            if k:
                self._column.addWidget(self._rule())
            self._column.addWidget(self._row(reason, words))

    def _row(self, reason: Reason, words: Words) -> QWidget:
        row = QWidget()
        grid = QGridLayout(row)
        grid.setContentsMargins(0, 5, 0, 5)
        grid.setHorizontalSpacing(10)
        kinds: dict[bool | None, Kind] = {True: "go", None: "unknown", False: "wait"}
        kind = "close" if reason.holds is False and reason.rule == "data" else kinds[reason.holds]
        grid.addWidget(VerdictMark(self._look, 16, kind), 0, 0)
        title = text(reason.title or reason.rule.replace("_", " "), wrap=True)
        grid.setColumnStretch(1, 5)
        grid.setColumnStretch(2, 6)
        if reason.holds:
            grid.addWidget(title, 0, 1)
            grid.addWidget(text(short(reason, words), "small", wrap=True), 0, 2)
        else:
            title.setProperty("role", "strong")
            grid.addWidget(title, 0, 1, 1, 2)
            grid.addWidget(text(reason.text, wrap=True), 1, 1, 1, 2)
        row.setToolTip(reason.text)
        return row

    def _rule(self) -> QFrame:
        rule = QFrame()
        rule.setFixedHeight(1)
        rule.setStyleSheet(f"background: {self._look.palette.line};")
        return rule
