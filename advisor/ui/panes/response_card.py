"""How the shop's air follows the weather: what that rests on, and how well it did so far."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout

from advisor.planning.words import Words
from advisor.ui.plots.skill import SkillPicture, rows
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import clear, text
from advisor.work.outlook_views import NightScore, ShopView, SkillView

NO_SKILL = (
    "No picture yet: it takes three days of log from inside the shop, with the outdoor weather "
    "of the same days. Import the log, or leave a logger there."
)
NO_NIGHTS = "No night to compare yet. Each morning adds one: what was said, and what came."
#: Nights shown, the newest first.
MOST_NIGHTS = 14


class ResponseCard(QFrame):
    """Shows a ShopView's right half."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("card")
        self._shown: object = None
        self.title = text("How the shop follows the weather", "title", wrap=True)
        self.rests_on = text("Working it out …", wrap=True)
        self.changed = QFrame()
        self.changed.setObjectName("caution")
        self.changed_text = text("", "strong", wrap=True)
        QVBoxLayout(self.changed).addWidget(self.changed_text)
        self.changed.hide()
        self.facts, self.figures = _grid(), _grid()
        self.facts.setColumnStretch(1, 2)
        self.picture = SkillPicture(look)
        self.no_skill = text(NO_SKILL, "small", wrap=True)
        self.nights = QVBoxLayout()
        self.nights.setSpacing(2)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        for part in (self.title, self.changed, self.rests_on):
            column.addWidget(part)
        column.addLayout(self.facts)
        column.addWidget(text("Said before, against what came", "strong", wrap=True))
        column.addWidget(self.picture)
        column.addWidget(self.no_skill)
        column.addLayout(self.figures)
        column.addWidget(text("Past nights", "strong", wrap=True))
        column.addLayout(self.nights)
        column.addStretch(1)
        self.picture.hide()

    def show_view(self, view: ShopView, words: Words) -> None:
        """Show what is known of the shop; nothing moves where nothing changed."""
        self.rests_on.setText(view.response_text)
        self.changed_text.setText(view.changed_text)
        self.changed.setVisible(bool(view.changed_text))
        clear(self.facts)
        for k, (name, value) in enumerate(view.facts):
            self.facts.addWidget(text(name, "grey", wrap=True), k, 0)
            self.facts.addWidget(text(value, "strong", wrap=True), k, 1)
        self._show_skill(view.skill, words)
        self._show_nights(view.nights)

    def show_failure(self, why: str) -> None:
        """Say why nothing is known."""
        self.rests_on.setText(f"Can't tell: {why}")

    def _show_skill(self, skill: SkillView | None, words: Words) -> None:
        self.picture.setVisible(skill is not None)
        self.no_skill.setVisible(skill is None)
        clear(self.figures)
        if skill is None:
            return
        self.picture.show_skill(skill, words)
        head = ("usual error over 48 h", "air", "dew point")
        for k, row in enumerate([head, *rows(skill, words.units)]):
            for column, cell in enumerate(row):
                role = "small" if k == 0 else "strong" if k == 1 else "grey"
                self.figures.addWidget(text(cell, role, wrap=column == 0), k, column)

    def _show_nights(self, nights: tuple[NightScore, ...]) -> None:
        clear(self.nights)
        if not nights:
            self.nights.addWidget(text(NO_NIGHTS, "small", wrap=True))
        newest = sorted(nights, key=lambda night: -night.dawn_s)
        for night in newest[:MOST_NIGHTS]:
            self.nights.addWidget(text(night.text, wrap=True))
        if len(newest) > MOST_NIGHTS:
            older = len(newest) - MOST_NIGHTS
            self.nights.addWidget(text(f"and {older} older", "small", wrap=True))


def _grid() -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(14)
    grid.setVerticalSpacing(3)
    grid.setColumnStretch(0, 3)
    return grid
