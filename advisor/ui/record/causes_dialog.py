"""Why did it dull, peel, bubble? Causes ranked, with what this coat's own record says of each."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFrame, QScrollArea, QVBoxLayout, QWidget

from advisor.record.review_types import Cause, Evidence
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import button
from advisor.ui.operations import Failure
from advisor.ui.widgets.parts import Tall, clear, size_to_screen, text

_TOLD = (
    "Likeliest first, by what stands in the record of this coat. It narrows the search down; it "
    "proves nothing. What is not known is said."
)
_NONE = "No cause is listed for this defect. Ask the maker, with the page for this coat in hand."


class CausesDialog(QDialog):
    """Shows the causes of one logged defect."""

    def __init__(self, desk: Desk, number: int, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Why did it?")
        self._desk = desk
        self.causes: tuple[Cause, ...] = ()
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        self._column = QVBoxLayout(holder)
        self._column.setContentsMargins(0, 0, 8, 0)
        self._column.setSpacing(10)
        area.setWidget(holder)
        away = button("Close")
        away.clicked.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(text(f"Why the {name}?", "title", wrap=True))
        column.addWidget(text(_TOLD, "small", wrap=True))
        column.addWidget(area, 1)
        column.addWidget(away, 0, Qt.AlignmentFlag.AlignRight)
        size_to_screen(self, 900, 700, desk.look.scale_pct)
        self._ask(number)

    def _ask(self, number: int) -> None:
        self._say("Looking through the record …")
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._desk.slow.run(
            "causes", lambda: bench.reviews.causes(number, now_s), self.show_causes, self._failed
        )

    def _failed(self, failure: Failure) -> None:
        self._say(failure.text)

    def _say(self, words: str) -> None:
        clear(self._column)
        self._column.addWidget(text(words, "grey", wrap=True))
        self._column.addStretch(1)

    def show_causes(self, causes: Sequence[Cause]) -> None:
        """Show causes, the likeliest first."""
        self.causes = tuple(causes)
        if not causes:
            self._say(_NONE)
            return
        clear(self._column)
        for place, cause in enumerate(causes, start=1):
            self._column.addWidget(_card(place, cause))
        self._column.addStretch(1)


def _card(place: int, cause: Cause) -> QFrame:
    frame = QFrame()
    frame.setObjectName("card")
    column = QVBoxLayout(frame)
    column.setContentsMargins(18, 12, 18, 12)
    column.setSpacing(4)
    column.addWidget(text(f"{place}. {cause.name}", "title", wrap=True))
    _facts(column, "For it", [_told(one) for one in cause.for_it])
    _facts(column, "Against it", [_told(one) for one in cause.against])
    _facts(column, "Not known", list(cause.not_known))
    if cause.next_step:
        _facts(column, "What to do", [cause.next_step])
    column.addWidget(text(f"Source: {cause.source}", "small", wrap=True))
    return frame


def _facts(column: QVBoxLayout, name: str, texts: list[str]) -> None:
    if texts:
        column.addWidget(text(name, "strong"))
    for one in texts:
        column.addWidget(text(one, wrap=True))


def _told(found: Evidence) -> str:
    return (
        found.text if found.entry_number is None else f"{found.text} (entry {found.entry_number})"
    )
