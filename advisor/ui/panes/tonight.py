"""Tonight: a card per film already down, and what the night does to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from advisor.base import units as u
from advisor.planning.words import Words
from advisor.ui.desk import Desk
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.flow import Flow
from advisor.ui.widgets.parts import Tall, capital, clear, fade, text
from advisor.ui.widgets.twice_pressed import TwicePressed
from advisor.ui.widgets.verdict_mark import Kind, VerdictMark
from advisor.work.live_views import STANDS
from advisor.work.views import FilmTonight, Reading

if TYPE_CHECKING:
    from advisor.work.workbench import Workbench


def kind_of_film(film: FilmTonight) -> Kind:
    """Return the shape of a film's night: can't tell, in trouble, or clear of dew."""
    if film.trouble:
        return "unknown" if film.dew_safe_s is None and film.wet_at_s is None else "wait"
    return "unknown" if film.dew_safe_s is None else "go"


def _asked(
    bench: Workbench, now_s: float, reading: Reading | None
) -> tuple[tuple[FilmTonight, tuple[str, ...]], ...]:
    """Return every film down with what can be noted of it by one tap; for a worker."""
    films = bench.tonight(now_s, reading)
    return tuple((film, bench.live.taps_of_film(film.coat.id)) for film in films)


class TonightPane(QWidget):
    """Films in order of trouble."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk = desk
        self.films: tuple[FilmTonight, ...] = ()
        self._shown: object = None
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        holder = self._holder = Tall()
        self._column = QVBoxLayout(holder)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(14)
        self._area.setWidget(holder)
        self.setFocusProxy(self._area)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.addWidget(self._area, 1)
        column.addWidget(CautionBar())
        desk.units_changed.connect(self.refresh)

    def refresh(self) -> None:
        """Work the night out again."""
        bench, now_s, reading = self._desk.bench, self._desk.now_s(), self._desk.in_hand
        if not self.films:
            self._say("Working it out", "…", "working")
        fade((self._holder,), True)
        self._desk.operations.run(
            "tonight",
            lambda: _asked(bench, now_s, reading),
            self._show,
            lambda failure: self._say("Can't tell", failure.text, "unknown"),
        )

    def tick(self) -> None:
        """A minute went by."""
        self.refresh()

    def _say(self, title: str, sentence: str, kind: Kind) -> None:
        fade((self._holder,), False)
        self.films, self._shown = (), None
        clear(self._column)
        frame = QFrame()
        frame.setObjectName("card")
        row = QHBoxLayout(frame)
        row.setContentsMargins(24, 24, 24, 24)
        row.setSpacing(20)
        row.addWidget(VerdictMark(self._desk.look, 60, kind))
        words = QVBoxLayout()
        words.addWidget(text(title, "hero", wrap=True))
        words.addWidget(text(sentence, wrap=True))
        row.addLayout(words, 1)
        self._column.addWidget(frame)
        self._column.addStretch(1)

    def _show(self, found: tuple[tuple[FilmTonight, tuple[str, ...]], ...]) -> None:
        if not found:
            self._say(
                "Nothing wet tonight",
                "No coat is down that still has to dry. After a coat, press “Coat is on” in "
                "Before you mix; it then stands here until it can take dew.",
                "go",
            )
            return
        fade((self._holder,), False)
        ordered = tuple(sorted(found, key=lambda one: not one[0].trouble))
        shown = (ordered, self._desk.units)
        if shown == self._shown:
            return  # nothing moves under the reader's eyes
        self.films, self._shown = tuple(film for film, _ in ordered), shown
        clear(self._column)
        words = self._desk.words()
        for film, taps in ordered:
            self._column.addWidget(self._card(film, words, taps))
        self._column.addStretch(1)

    def _card(self, film: FilmTonight, words: Words, taps: tuple[str, ...]) -> QFrame:
        frame = QFrame()
        frame.setObjectName("card")
        row = QHBoxLayout(frame)
        row.setContentsMargins(20, 14, 20, 14)
        row.setSpacing(18)
        row.addWidget(
            VerdictMark(self._desk.look, 52, kind_of_film(film)), 0, Qt.AlignmentFlag.AlignTop
        )
        row.addLayout(self._sentences(film, taps), 3)
        row.addWidget(self._figures(film, words), 2)
        return frame

    def _sentences(self, film: FilmTonight, taps: tuple[str, ...]) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        column.addWidget(text(capital(f"{film.coat.name}, {film.area.name}"), "title", wrap=True))
        column.addWidget(text(film.product_name, "grey", wrap=True))
        column.addWidget(text(capital(film.headline), "title", wrap=True))
        for words in (film.advice, film.next_text):
            if words:
                column.addWidget(text(words, wrap=True))
        if taps:
            column.addWidget(text(f"Seen on the film? {STANDS}", "grey", wrap=True))
        buttons = Flow(gap=10)
        for what in taps:
            buttons.addWidget(self._seen(film, what))
        buttons.addWidget(self._undo(film))
        column.addLayout(buttons)
        column.addStretch(1)
        return column

    def _seen(self, film: FilmTonight, what: str) -> QPushButton:
        button = QPushButton(f"{capital(what)} now")
        button.setAccessibleName(f"{film.coat.name}, {film.area.name}: {what} now")
        button.clicked.connect(lambda: self._note_seen(film, what))
        return button

    def _note_seen(self, film: FilmTonight, what: str) -> None:
        bench, coat_id, now_s = self._desk.bench, film.coat.id, self._desk.now_s()
        name = f"{capital(film.coat.name)}, {film.area.name}: {what}"
        self._desk.operations.write(
            lambda: bench.live.observe(what, coat_id, now_s),
            lambda entry: self._off(f"{name} {entry.data.get('text', 'noted')}. {STANDS}"),
        )

    def _undo(self, film: FilmTonight) -> QPushButton:
        button = TwicePressed("Not on after all", "Press again: it is not on")
        button.setAccessibleName(f"{film.coat.name}, {film.area.name}: not on after all")
        button.meant.connect(lambda: self._take_off(film))
        return button

    def _take_off(self, film: FilmTonight) -> None:
        bench, coat_id, now_s = self._desk.bench, film.coat.id, self._desk.now_s()
        told = f"{capital(film.coat.name)}, {film.area.name}: no longer noted as on."
        self._desk.operations.write(
            lambda: bench.unlay_coat(coat_id, now_s), lambda _: self._off(told)
        )

    def _off(self, told: str) -> None:
        self._desk.messages.note(told)
        self._desk.changed.emit()

    def _figures(self, film: FilmTonight, words: Words) -> QFrame:
        frame = QFrame()
        frame.setObjectName("inset")
        grid = QGridLayout(frame)
        grid.setContentsMargins(14, 10, 14, 10)
        grid.setColumnStretch(1, 1)
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(3)
        for row, (name, value, big) in enumerate(figures(film, words)):
            grid.addWidget(text(name, "grey", wrap=True), row, 1)
            grid.addWidget(text(value, "hero" if big else "strong"), row, 0)
        grid.setRowStretch(grid.rowCount(), 1)
        return frame


def figures(film: FilmTonight, words: Words) -> list[tuple[str, str, bool]]:
    """Return the figures of a film: what, value, whether it is the large one."""

    def moment(at_s: float | None) -> str:
        return "not known" if at_s is None else words.moment(at_s)

    rows = [("can take dew", moment(film.dew_safe_s), film.dew_safe_s is not None)]
    rows.append(("tack-free", moment(film.tack_free_s), False))
    if film.wet_at_s is not None:
        rows.append(("dew on it from", moment(film.wet_at_s), False))
    if film.carry_k is not None and film.trouble:
        until = f", until {moment(film.carry_until_s)}" if film.carry_until_s is not None else ""
        warmer = u.format_difference(film.carry_k, words.units)
        rows.append((f"warmer carries it{until}", warmer, False))
    if film.next_from_s is not None:
        rows.append(("next coat from", moment(film.next_from_s), False))
    if film.next_until_s is not None:
        rows.append(("bond sure until", moment(film.next_until_s), False))
    if film.next_likely_s is not None:
        rows.append(("bond likely until", moment(film.next_likely_s), False))
    return rows
