"""One forecast source: how it stands, whose it is, and what can be done about it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from advisor.planning.words import Words
from advisor.ui.dialogs.fields import button
from advisor.ui.theme import Look
from advisor.ui.widgets.parts import card, text
from advisor.ui.widgets.source_mark import STATES, SourceMark, ages
from advisor.work.views import SourceView


class SourceRow(QFrame):
    """`chosen` with the id and whether its terms were agreed to; `fetch` to ask it now."""

    chosen = Signal(str, bool)
    fetch = Signal()

    def __init__(self, look: Look, source: SourceView, words: Words) -> None:
        super().__init__()
        self.setObjectName("box")
        self.setProperty("lit", source.chosen)
        self.source = source
        self.mark = SourceMark(look)
        self.mark.set_state(source.state)
        self.use = button("Use this one", f"Use {source.name}")
        self.use.clicked.connect(self._use)
        self.fetch_now = button("Fetch now", f"Fetch from {source.name} now")
        self.fetch_now.clicked.connect(self.fetch)
        self.use.setVisible(not source.chosen)
        self.fetch_now.hide()
        self.terms = self._terms()
        self.terms.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(4)
        column.addLayout(self._head(source, words))
        column.addWidget(self.terms)

    def _head(self, source: SourceView, words: Words) -> QHBoxLayout:
        told = QVBoxLayout()
        told.setSpacing(1)
        told.addWidget(text(source.name, "strong", wrap=True))
        state = STATES.get(source.state, source.state)
        if source.chosen:
            state = "asked once fetching is on" if source.state == "off" else f"in use, {state}"
        told.addWidget(text("; ".join(p for p in (state, *self._ages(source, words)) if p),
                            "small", wrap=True))  # fmt: skip
        if source.text and source.state != "off":
            told.addWidget(text(source.text, "bad" if source.state == "failed" else "small",
                                wrap=True))  # fmt: skip
        if source.credit:
            told.addWidget(text(source.credit, "small", wrap=True))
        row = QHBoxLayout()
        row.setSpacing(10)
        row.addWidget(self.mark)
        row.addLayout(told, 1)
        row.addWidget(self.use)
        row.addWidget(self.fetch_now)
        return row

    def _ages(self, source: SourceView, words: Words) -> list[str]:
        found = [ages(source, words)]
        if source.ends_s is not None:
            found.append(f"reaches to {words.moment(source.ends_s)}")
        if source.next_try_s is not None and source.state == "failed":
            found.append(f"asks again {words.moment(source.next_try_s)}")
        return found

    def _terms(self) -> QFrame:
        frame, column = card("caution")
        column.addWidget(text(self.source.terms, wrap=True))
        self.agree = button("I agree, use it", f"Agree to the terms of {self.source.name}")
        self.not_now = button("Not now")
        self.agree.clicked.connect(lambda: self.chosen.emit(self.source.id, True))
        self.not_now.clicked.connect(self._put_away)
        row = QHBoxLayout()
        row.addWidget(self.agree)
        row.addWidget(self.not_now)
        row.addStretch(1)
        column.addLayout(row)
        return frame

    def _use(self) -> None:
        if not self.source.terms:
            self.chosen.emit(self.source.id, False)
            return
        self.use.hide()
        self.terms.show()
        self.agree.setFocus()

    def _put_away(self) -> None:
        self.terms.hide()
        self.use.show()
        self.use.setFocus()
