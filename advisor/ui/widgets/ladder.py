"""The ladder of clock times from mixing to "can take dew"."""

from __future__ import annotations

from types import MappingProxyType

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QGridLayout, QSizePolicy, QWidget

from advisor.planning.words import Words
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import clear, text
from advisor.work.views import Milestone

#: Milestones with a colour of their own; the others are ink.
ROLES = MappingProxyType(
    {"tightest": "dew", "dew_safe": "go", "batch_dead": "sand", "pot_life": "sand"}
)


class Rung(QWidget):
    """One dot on the spine of the ladder."""

    def __init__(self, look: Look, name: str, first: bool, last: bool, known: bool) -> None:
        super().__init__()
        self._look, self._role = look, ROLES.get(name, "ink")
        self._first, self._last, self._known = first, last, known
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return room for the dot."""
        return QSize(self._look.px(18), self._look.px(24))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the spine and the dot; an open dot where the time is not known."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        radius = self._look.px(6)
        middle = QPointF(self.width() / 2, self._look.px(11))
        painter.setPen(QPen(self._look.colour("line"), self._look.px(3)))
        top = middle.y() if self._first else 0
        bottom = middle.y() if self._last else self.height()
        painter.drawLine(QPointF(middle.x(), top), QPointF(middle.x(), bottom))
        colour = self._look.colour(self._role)
        painter.setPen(QPen(colour, self._look.px(2)))
        painter.setBrush(colour if self._known else self._look.colour("card"))
        painter.drawEllipse(
            QRectF(middle.x() - radius, middle.y() - radius, 2 * radius, 2 * radius)
        )
        painter.end()


class Ladder(QWidget):
    """Milestones in order: clock time, dot, words and a note."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setVerticalSpacing(0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setColumnStretch(2, 1)

    def show_milestones(self, milestones: tuple[Milestone, ...], words: Words) -> None:
        """Replace the rungs."""
        clear(self._grid)
        for row, stone in enumerate(milestones):
            known = stone.at_s is not None
            when = words.moment(stone.at_s) if stone.at_s is not None else "not known"
            time = text(when, "strong")
            time.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            rung = Rung(self._look, stone.name, row == 0, row == len(milestones) - 1, known)
            self._grid.addWidget(time, row, 0)
            self._grid.addWidget(rung, row, 1)
            self._grid.addWidget(self._words(stone), row, 2)

    def _words(self, stone: Milestone) -> QWidget:
        holder = QWidget()
        inner = QGridLayout(holder)
        inner.setContentsMargins(0, 0, 0, 10)
        inner.setSpacing(1)
        inner.addWidget(text(stone.label, wrap=True), 0, 0)
        if stone.note:
            inner.addWidget(text(stone.note, "small", wrap=True), 1, 0)
        return holder
