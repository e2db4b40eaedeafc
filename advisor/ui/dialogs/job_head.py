"""The head of the job form: name, place, time zone, working hours."""

from __future__ import annotations

from PySide6.QtCore import QTimeZone, Signal
from PySide6.QtWidgets import QFrame, QGridLayout

from advisor.base.errors import RangeError
from advisor.planning.hours import parse_hours
from advisor.planning.job import Job
from advisor.ui.dialogs.fields import Field, LineField, zone_field, zone_names
from advisor.work.workbench import Workbench

_HOURS = "mon-fri 17:00-21:00, sat 08:00-18:00"


def zone_problem(name: str) -> str:
    """Say what is wrong with the name of a time zone; "" when nothing is."""
    return "" if name in zone_names() else "a time zone such as Europe/London"


def hours_problem(words: str) -> str:
    """Say what is wrong with working hours; "" when nothing is. Empty means any hour."""
    if not words:
        return ""
    try:
        parse_hours(words)
    except RangeError as error:
        return f"found {error.found}; accepted: {error.accepted}"
    return ""


def likely_zone(bench: Workbench) -> str:
    """Time zone to begin with: the setting's, else this computer's, else none."""
    own = bytes(QTimeZone.systemTimeZoneId().data()).decode("ascii", "replace")
    wanted = bench.settings.text("time_zone") or own
    return wanted if wanted in zone_names() else ""


class JobHead(QFrame):
    """`changed` when edited."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self.name = LineField("Job", hint="what you paint")
        self.place = LineField("Place", hint="the shop")
        self.zone = zone_field("Time zone", "", "Europe/London")
        self.hours = LineField("Hours you work, empty for any", hint=_HOURS)
        grid = QGridLayout(self)
        for k, field in enumerate(self.fields()):
            grid.addWidget(field, k // 2, k % 2)
            field.changed.connect(self.changed)

    def fields(self) -> list[Field]:
        """Return the fields in reading order."""
        return [self.name, self.place, self.zone, self.hours]

    def show_job(self, job: Job) -> None:
        """Fill the fields from a job."""
        shown = (job.name, job.place, job.time_zone, job.working_hours)
        lines = (self.name, self.place, self.zone, self.hours)
        for field, value in zip(lines, shown, strict=True):
            field.show_text(value)

    def check(self, *, always: bool) -> list[Field]:
        """Return the fields with a problem."""
        found: dict[Field, str] = {
            self.name: "" if self.name.value else "give it a name",
            self.zone: zone_problem(self.zone.value),
            self.hours: hours_problem(self.hours.value),
        }
        return [
            field for field, problem in found.items() if not field.judge(problem, always=always)
        ]

    def values(self) -> tuple[str, ...]:
        """Return what the form holds, to tell whether anything changed."""
        return (self.name.value, self.place.value, self.zone.value, self.hours.value)
