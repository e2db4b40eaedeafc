"""What happens if I do? The batch, and the ladder of clock times."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QVBoxLayout

from advisor.base import units as u
from advisor.planning.words import Words, duration
from advisor.ui.desk import Desk
from advisor.ui.widgets.ladder import Ladder
from advisor.ui.widgets.parts import fade, text
from advisor.work.views import BeforeMixing, Milestone

if TYPE_CHECKING:
    from advisor.coatings.batch import Batch, BatchPlan, Part

PART_NAMES = ("base", "hardener", "third part")


def part_words(part: Part, name: str, units: u.Units) -> str:
    """Write one component, such as "735 mL base"."""
    if part.unit == "kg":
        return f"{u.format_value(part.amount, u.MASS, units)} {name}"
    return f"{u.format_volume(part.amount, units)} {name}"


def batch_title(plan: BatchPlan, units: u.Units) -> str:
    """Say how many batches of how much, or that it can't be told."""
    if not plan.batches:
        total = u.format_volume(plan.litres, units)
        return "Batch: can't tell" if plan.litres is None else f"{total} in all"
    count, each = len(plan.batches), u.format_volume(plan.batches[0].litres, units)
    return f"One batch of {each}" if count == 1 else f"{count} batches of {each}"


def batch_lines(plan: BatchPlan, at_s: float, words: Words) -> list[str]:
    """What goes into a batch, when it must be used up, panels and trays, what is missing."""
    units = words.units
    lines: list[str] = []
    if plan.batches:
        lines += _first_batch(plan.batches[0], at_s, words)
    if plan.panels is not None and plan.panels > 1 and plan.panel_m2 is not None:
        size = u.format_area(plan.panel_m2, units)
        lines.append(f"{plan.panels} panels of up to {size} (wet edge)")
    if plan.tray_refresh_min is not None:
        lines.append(f"fresh tray every {plan.tray_refresh_min:.0f} min")
    return lines + list(plan.missing)


def _first_batch(batch: Batch, at_s: float, words: Words) -> list[str]:
    names = PART_NAMES if len(batch.parts) > 1 else ("paint",)
    parts = [part_words(p, n, words.units) for p, n in zip(batch.parts, names, strict=False)]
    if batch.thinner_l:
        parts.append(f"{u.format_volume(batch.thinner_l, words.units)} thinner")
    lines = [" + ".join(parts)] if parts else []
    mixed_s = at_s + (batch.mixed_at_h or 0.0) * 3600
    if batch.use_up_by_h is not None:
        lines.append(f"use the first up by {words.moment(mixed_s + batch.use_up_by_h * 3600)}")
    if batch.dead_after_h is not None:
        dead = words.moment(mixed_s + batch.dead_after_h * 3600)
        lines.append(f"past use at {dead}, {duration(batch.dead_after_h)} after mixing")
    return lines


def tightest(answer: BeforeMixing, words: Words) -> tuple[Milestone, ...]:
    """Return the hour with the least room above the dew point, as a rung of the ladder."""
    found = [
        (reason.measured - reason.limit, reason)
        for reason in answer.reasons
        if reason.rule in ("margin", "hold_margin")
        and reason.unit == "K"
        and reason.measured is not None
        and reason.limit is not None
    ]
    if not found:
        return ()
    least = min(found, key=lambda pair: pair[0])[1]
    assert least.measured is not None
    assert least.limit is not None
    gap, limit = words.value(least.measured, "K"), words.value(least.limit, "K")
    note = f"{gap} above, needs {limit}"
    return (Milestone("tightest", "tightest hour", least.at_s, note),)


class IfYouMix(QFrame):
    """The batch above, the ladder under it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("card")
        self._desk = desk
        self.title = text("If you mix now", "title", wrap=True)
        self.batch = text("", "strong", wrap=True)
        self.lines = text("", wrap=True)
        self.ladder = Ladder(desk.look)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 12)
        column.setSpacing(6)
        for widget in (self.title, self.batch, self.lines):
            column.addWidget(widget)
        column.addSpacing(8)
        column.addWidget(self.ladder)
        column.addStretch(1)

    def show_working(self) -> None:
        """Fade what is no longer known to be true."""
        self.title.setText("If you mix now: working it out")
        fade((self.batch, self.lines, self.ladder), True)

    def show_nothing(self, sentence: str) -> None:
        """Show no times, and why."""
        self.title.setText("If you mix now")
        fade((self.batch, self.lines, self.ladder), False)
        self.batch.setText("")
        self.lines.setText(sentence)
        self.ladder.show_milestones((), self._desk.words())

    def show_answer(self, answer: BeforeMixing) -> None:
        """Show batch and milestones of the answer."""
        fade((self.batch, self.lines, self.ladder), False)
        words = self._desk.words()
        self.title.setText(f"If you mix now: from {words.moment(answer.at_s)}")
        plan = answer.batch
        self.batch.setText(batch_title(plan, words.units) if plan else "Batch: can't tell")
        self.lines.setText("\n".join(batch_lines(plan, answer.at_s, words)) if plan else "")
        stones = sorted(
            (*answer.milestones, *tightest(answer, words)),
            key=lambda m: (m.at_s is None, m.at_s or 0.0),
        )
        self.ladder.show_milestones(tuple(stones), words)
