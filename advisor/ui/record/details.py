"""One entry whole: its fields, what was known then, its place in the chain, what to do with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
)

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.planning.job import Job
from advisor.planning.words import Words
from advisor.record.canonical import Json
from advisor.record.effective import Effective
from advisor.record.kinds import KINDS
from advisor.record.telling import day_and_clock, facts, late, title
from advisor.ui.record.entry_row import struck, why_corrected
from advisor.ui.record.places import place_of
from advisor.ui.widgets.parts import BigButton, Tall, clear, text

_PICTURE = 320
#: A correction and a signature stand; the job's heading is told anew under Job and instruments.
_NOT_CORRECTED = ("correction", "sign-off", "job")


class Details(QScrollArea):
    """`correct_wanted` and `causes_wanted` with the entry's number. Hidden until one is chosen."""

    correct_wanted = Signal(int)
    causes_wanted = Signal(int)
    closed = Signal()

    def __init__(self, attachments: Attachments) -> None:
        super().__init__()
        self._attachments = attachments
        self.told: Effective | None = None
        self.correct: BigButton | None = None
        self.why: BigButton | None = None
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        holder = Tall()
        outer = QVBoxLayout(holder)
        outer.setContentsMargins(0, 0, 0, 0)
        self._card = QFrame()
        self._card.setObjectName("card")
        self._column = QVBoxLayout(self._card)
        self._column.setContentsMargins(18, 14, 18, 14)
        self._column.setSpacing(6)
        outer.addWidget(self._card)
        outer.addStretch(1)
        self.setWidget(holder)
        self.show_nothing()

    def show_nothing(self) -> None:
        """No entry is chosen: give the room back."""
        self._begin(None)
        self.hide()

    def show_entry(self, told: Effective, job: Job | None, words: Words, *, correct: bool) -> None:
        """Show an entry; `correct` where corrections may be written."""
        self._begin(told)
        self.show()
        entry = told.entry
        headline = title(told.now, words)
        top = QHBoxLayout()
        top.addWidget(
            struck(headline) if told.struck_out else text(headline, "title", wrap=True), 1
        )
        top.addWidget(self._close(), 0, Qt.AlignmentFlag.AlignTop)
        self._column.addLayout(top)
        when = [day_and_clock(told.now.at_s, words), place_of(job, told.now), entry.by]
        self._column.addWidget(text(", ".join(part for part in when if part), wrap=True))
        if late(entry):
            written = day_and_clock(entry.written_s, words)
            self._column.addWidget(text(f"Written {written}: {late(entry)}", "small", wrap=True))
        self._fields(told, words)
        self._file(entry.data)
        self._known(entry.known)
        self._chain(told)
        self._buttons(told, correct)

    def _close(self) -> QPushButton:
        close = QPushButton("Close")
        close.setAccessibleName("Close this entry")
        close.clicked.connect(self.show_nothing)
        close.clicked.connect(self.closed)
        return close

    def _begin(self, told: Effective | None) -> None:
        self.told = told
        self.correct = self.why = None
        clear(self._column)
        self.verticalScrollBar().setValue(0)

    def _fields(self, told: Effective, words: Words) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 2)
        grid.setColumnStretch(1, 3)
        for fact in facts(told, words):
            row = grid.rowCount()
            grid.addWidget(text(fact.label, "grey", wrap=True), row, 0, Qt.AlignmentFlag.AlignTop)
            inner = QVBoxLayout()
            inner.setSpacing(0)
            for was in fact.was:
                inner.addWidget(struck(was.text))
            inner.addWidget(text(fact.text or "nothing", "strong", wrap=True))
            if fact.source:
                inner.addWidget(text(fact.source, "small", wrap=True))
            for was in fact.was:
                inner.addWidget(text(why_corrected(was, words), "small", wrap=True))
            grid.addLayout(inner, row, 1)
        self._column.addLayout(grid)

    def _file(self, data: Mapping[str, Json]) -> None:
        """Show the photo; say so where a file is no longer there, or not what was entered."""
        sha256 = str(data.get("sha256", ""))
        try:
            path = self._attachments.path(sha256)
        except InputError:
            return
        if not path.is_file():
            # Without its size it was never kept: the entry has its hash alone.
            if "bytes" in data:
                self._column.addWidget(text("The file is missing.", "bad", wrap=True))
            return
        picture = QPixmap(str(path))
        if picture.isNull():
            return
        if not self._attachments.intact(sha256):
            self._column.addWidget(text("The file was altered: not the photo that was entered.",
                                        "bad", wrap=True))  # fmt: skip
        label = QLabel()
        mode = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        label.setPixmap(picture.scaled(_PICTURE, _PICTURE, *mode))
        label.setAccessibleName("The photo")
        self._column.addWidget(label)

    def _known(self, known: Mapping[str, Json]) -> None:
        lines = known_lines(known)
        if not lines:
            return
        self._column.addWidget(text("Known and shown then", "strong"))
        for line in lines:
            self._column.addWidget(text(line, "small", wrap=True))

    def _chain(self, told: Effective) -> None:
        entry, kind = told.entry, KINDS.get(told.entry.kind)
        label = entry.kind if kind is None else kind.label
        told_by = f"Entry {entry.number}, {label.lower()}, program {entry.app}"
        self._column.addWidget(text(told_by, "small", wrap=True))
        line = text(f"Hash {entry.hash[:16]}…, after {entry.previous[:16]}…", "small", wrap=True)
        line.setToolTip(f"{entry.hash}\nafter {entry.previous}")
        self._column.addWidget(line)

    def _buttons(self, told: Effective, correct: bool) -> None:
        number = told.entry.number
        if correct and told.entry.kind not in _NOT_CORRECTED and not told.struck_out:
            self.correct = BigButton("&Correct this entry")
            self.correct.clicked.connect(lambda: self.correct_wanted.emit(number))
            self._column.addWidget(self.correct)
        if told.entry.kind == "defect":
            self.why = BigButton("&Why did it?")
            self.why.clicked.connect(lambda: self.causes_wanted.emit(number))
            self._column.addWidget(self.why)


def known_lines(known: Mapping[str, Json]) -> list[str]:
    """Return what was known when an entry was written, a line each."""
    found = [str(known["shown"])] if known.get("shown") else []
    product = known.get("product")
    if isinstance(product, Mapping):
        revision = product.get("revision") or "no revision given"
        found.append(f"{product.get('name', '')}: {product.get('title', '')}, {revision}")
    for limit in _rows(known.get("limits")):
        low, high, unit = (str(limit.get(key) or "") for key in ("low", "high", "unit"))
        bounds = f"{low} to {high}" if low and high else f"at least {low}" if low else f"to {high}"
        found.append(f"{limit.get('label', '')}: {bounds} {unit} ({limit.get('whose', '')})")
    for one in _rows(known.get("instruments")):
        due = f", calibration out of date since {one.get('due')}"
        late_due = due if one.get("out_of_date") == "yes" else ""
        found.append(f"{one.get('id', '')}, serial {one.get('serial') or 'not given'}{late_due}")
    return found


def _rows(value: Json) -> list[Mapping[str, Json]]:
    if not isinstance(value, Sequence) or isinstance(value, str):
        return []
    return [one for one in value if isinstance(one, Mapping)]
