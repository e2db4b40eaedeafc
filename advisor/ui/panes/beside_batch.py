"""Beside the countdown: readings due, the film and its target, patches with their times."""

from __future__ import annotations

import re

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from advisor.base import units as u
from advisor.ui.desk import Desk
from advisor.ui.widgets.parts import BigButton, clear, text
from advisor.work.live_views import LiveBench, OnTheWork

#: How many patches are listed.
PATCHES = 6
NO_TARGET = "No wet film is given in the data sheet."
BAD = "accepted: thickness in µm such as 110, more than one with blanks between"
_READINGS = re.compile(r"\d{1,4}([.,]\d{1,2})?(\s+\d{1,4}([.,]\d{1,2})?)*")


def target_words(target_um: tuple[float | None, float | None], units: u.Units) -> str:
    """Return the wet film asked for; gauges are read in µm, so that µm come first."""
    low, high = target_um
    both = [value for value in (low, high) if value is not None]
    if not both:
        return NO_TARGET

    def spread(which: u.Units) -> str:
        ends = [u.format_film(value, which) for value in both]
        if len(ends) == 2 and ends[0] != ends[1]:
            return f"{ends[0].split()[0]} to {ends[1]}"
        least = "at least " if high is None else "up to " if low is None else ""
        return f"{least}{ends[0]}"

    mils = f" ({spread('us')})" if units == "us" else ""
    return f"Aim for {spread('metric')} wet{mils}"


class FilmEntry(QFrame):
    """`given` with readings as typed; the target stands beside the field."""

    given = Signal(tuple)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("inset")
        self.target = text("", "aim", wrap=True)
        self.field = QLineEdit()
        self.field.setAccessibleName("Wet film, µm")
        self.field.setPlaceholderText("Wet film, µm")
        self.field.returnPressed.connect(self.keep)
        self.button = BigButton("Keep")
        self.button.clicked.connect(self.keep)
        self.problem, self.told = text("", "bad", wrap=True), text("", wrap=True)
        self.problem.hide()
        row = QHBoxLayout()
        row.addWidget(self.field, 1)
        row.addWidget(self.button)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.addWidget(self.target)
        column.addLayout(row)
        column.addWidget(self.problem)
        column.addWidget(self.told)

    def keep(self) -> None:
        """Hand the readings on, or say what would do; what was typed stays until it is kept."""
        typed = self.field.text().strip()
        good = bool(_READINGS.fullmatch(typed))
        self.problem.setText("" if good else f"found {typed or 'nothing'}; {BAD}")
        self.problem.setVisible(not good)
        if good:
            self.given.emit(tuple(typed.replace(",", ".").split()))

    def kept(self) -> None:
        """Note that the readings are in the record."""
        self.field.clear()

    def set_waiting(self, waiting: bool) -> None:
        """Take nothing more while readings are being kept."""
        self.button.setEnabled(not waiting)

    def show_work(self, work: OnTheWork, units: u.Units) -> None:
        """Show target and readings so far."""
        self.target.setText(target_words(work.target_um, units))
        so_far = ", ".join(f"{value:.0f}" for value in work.wet_film_um[-8:])
        self.told.setText(work.film_text or (f"So far {so_far} µm." if so_far else ""))
        self.told.setVisible(bool(self.told.text()))


class BesideBatch(QFrame):
    """The right column of the bench."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.film = FilmEntry()
        self.patch = QLineEdit()
        self.patch.setAccessibleName("Name of the next patch")
        self.patch.setPlaceholderText("Next patch: name, or leave it")
        self.due, self.patches = QGridLayout(), QGridLayout()
        self.due_title = text("Readings to take", "title")
        self.film_title = text("Film", "title")
        self.patch_title = text("Patches", "title")
        self.nothing = text("Film, patches and readings to take show here.", "grey", wrap=True)
        self._lay_out()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(8)
        for grid in (self.due, self.patches):
            grid.setHorizontalSpacing(14)
            grid.setVerticalSpacing(4)
            grid.setColumnStretch(1, 1)
        parts: tuple[QWidget | QGridLayout, ...] = (
            self.due_title, self.due, self.film_title, self.film, self.patch_title, self.patch,
            self.patches, self.nothing,
        )  # fmt: skip
        for part in parts:
            if isinstance(part, QWidget):
                column.addWidget(part)
            else:
                column.addLayout(part)
        column.addStretch(1)

    def show_view(self, view: LiveBench) -> None:
        """Show what belongs to the bench now."""
        work = view.work
        for part in (self.film_title, self.film, self.patch_title, self.patch):
            part.setVisible(work is not None)
        if work is not None:
            self.film.show_work(work, self._desk.units)
        self._show_patches(work)
        self._show_due(view)
        self.nothing.setVisible(work is None and not view.readings_due)

    def _show_patches(self, work: OnTheWork | None) -> None:
        clear(self.patches)
        if work is None:
            return
        words, done = self._desk.words(), work.patches
        self.patch_title.setText(f"Patches: {len(done)}" if done else "Patches")
        for row, patch in enumerate(reversed(done[-PATCHES:])):
            number = len(done) - row
            self.patches.addWidget(text(words.moment(patch.at_s), "strong"), row, 0)
            self.patches.addWidget(text(patch.name or f"patch {number}", wrap=True), row, 1)
        if len(done) > PATCHES:
            self.patches.addWidget(text(f"{len(done) - PATCHES} before", "grey"), PATCHES, 1)

    def _show_due(self, view: LiveBench) -> None:
        clear(self.due)
        self.due_title.setVisible(bool(view.readings_due))
        words = self._desk.words()
        for row, due in enumerate(sorted(view.readings_due, key=lambda one: one.due_s)[:4]):
            now = due.due_s <= view.now_s
            when = "now" if now else words.moment(due.due_s)
            self.due.addWidget(text(when, "strong"), row, 0)
            self.due.addWidget(text(due.text, "strong" if now else "", wrap=True), row, 1)
