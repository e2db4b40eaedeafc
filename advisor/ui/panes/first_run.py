"""The first page of all: no job yet."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.parts import BigButton, text
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark

_PURPOSE = (
    "From your readings, the dew point and the data sheet's own tables: which hours "
    "suit each coat, and what the night does to it."
)
_SHAPES: tuple[tuple[Kind, str], ...] = (
    ("go", "Go: every limit holds until the film can take dew."),
    ("close", "Close call: the limits hold, but with little room or on typical values."),
    ("wait", "Wait: a limit is broken, and it says which and when."),
    ("unknown", "Can't tell: something is missing, and it says what to read."),
    ("sand", "Sand first: the bond has closed, waiting makes it worse."),
)


class FirstRun(QWidget):
    """Two ways in; `set_up` or `demo` when one is taken."""

    set_up = Signal()
    demo = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("page")
        self.job = BigButton("&Set up my job", main=True)
        self.look_at_demo = BigButton("Look at the &demo job")
        self.job.clicked.connect(self.set_up)
        self.look_at_demo.clicked.connect(self.demo)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(20, 14, 20, 14)
        outer.addStretch(1)
        middle = QHBoxLayout()
        middle.addStretch(1)
        middle.addWidget(self._card(look), 6)
        middle.addStretch(1)
        outer.addLayout(middle)
        outer.addStretch(2)
        outer.addWidget(CautionBar())
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def _card(self, look: Look) -> QFrame:
        frame = QFrame()
        frame.setObjectName("card")
        column = QVBoxLayout(frame)
        column.setContentsMargins(36, 30, 36, 30)
        column.setSpacing(12)
        column.addWidget(text("May I mix, or do I wait?", "hero", wrap=True))
        column.addWidget(text(_PURPOSE, wrap=True))
        column.addSpacing(8)
        for kind, words in _SHAPES:
            column.addLayout(_shape_row(look, kind, words))
        column.addSpacing(12)
        column.addLayout(self._buttons())
        return frame

    def _buttons(self) -> QHBoxLayout:
        buttons = QHBoxLayout()
        buttons.setSpacing(14)
        buttons.addWidget(self.job)
        buttons.addWidget(self.look_at_demo)
        buttons.addStretch(1)
        return buttons


def _shape_row(look: Look, kind: Kind, words: str) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(14)
    row.addWidget(VerdictMark(look, 28, kind))
    row.addWidget(text(words, wrap=True), 1)
    return row
