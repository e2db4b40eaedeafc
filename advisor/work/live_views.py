"""What the bench shows while a batch is live; the window only counts down and colours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: Said wherever what was seen on a film is noted.
STANDS = "The data sheet's minimum stands."
#: What the alarm is called and the headline of a change begins with.
CHANGED = "Conditions changed"
Step = Literal["nothing", "induction", "ready", "applying", "stopped"]


@dataclass(frozen=True)
class PartMixed:
    """One component of a batch as it is typed: its lot number, expiry and amount."""

    part: str
    batch: str = ""
    expiry: str = ""
    amount: str = ""
    unit: str = "L"


@dataclass(frozen=True)
class BatchForm:
    """A batch to be started, as offered and as typed; numbers are text as entered.

    `ratio_asked` such as "2 : 1 by volume"; `warnings` what looks wrong in what was typed;
    `mix_temp_entered` such as "65.3 °F" where it was not typed in °C.
    """

    coat_id: str
    product_name: str
    parts: tuple[PartMixed, ...]
    ratio_asked: str
    ratio_by: Literal["volume", "mass"]
    colour: str = ""
    thinner_pct: str = ""
    mix_temp_c: str = ""
    mix_temp_entered: str = ""
    strained: str = ""
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class BatchInHand:
    """A batch that is mixed and not ended. Times UTC seconds, None where the table is blank.

    `used_share` 0 to 1 of its pot life; `comfortable_until_s` the common-practice share of it.
    """

    number: int
    coat_id: str
    title: str
    product_name: str
    mixed_s: float
    induction_until_s: float | None
    comfortable_until_s: float | None
    usable_until_s: float | None
    used_share: float | None
    temp_text: str
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class PatchDone:
    """A patch with its own time."""

    name: str
    at_s: float


@dataclass(frozen=True)
class OnTheWork:
    """The coat going on. `target_um` is the wet film asked for; readings in µm."""

    coat_id: str
    title: str
    started_s: float
    stopped_s: float | None
    patches: tuple[PatchDone, ...]
    target_um: tuple[float | None, float | None]
    wet_film_um: tuple[float, ...]
    film_text: str


@dataclass(frozen=True)
class Alarm:
    """Something a person must hear. `key` stays the same over restarts; `due_s` UTC seconds.

    `of_batch` where it is about the pot life of a batch, of whichever job.
    """

    key: str
    due_s: float
    title: str
    text: str
    urgent: bool = False
    of_batch: bool = False


@dataclass(frozen=True)
class ConditionsChanged:
    """Conditions left their limits with a batch open: where to stop, what is left, and why."""

    headline: str
    advice: Literal["carry on", "stop", "look"]
    stopping_line: str
    batch_left_s: float | None
    why: tuple[str, ...]
    since_s: float


@dataclass(frozen=True)
class ReadingDue:
    """A reading the record asks for: why, since when it is due (may be ahead)."""

    reason: str
    due_s: float
    text: str


@dataclass(frozen=True)
class LiveBench:
    """The bench now. `alarms` are due and not heard, oldest first; `coming` those ahead.

    `taps` are the events that make sense now, the likeliest first: "start", "patch", "stop",
    "carry on", "finish", "batch used up", "batch discarded", "reading", "film".
    """

    now_s: float
    step: Step
    headline: str
    batches: tuple[BatchInHand, ...]
    work: OnTheWork | None
    alarms: tuple[Alarm, ...]
    coming: tuple[Alarm, ...]
    readings_due: tuple[ReadingDue, ...]
    changed: ConditionsChanged | None
    taps: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def counting(self) -> bool:
        """Whether a batch is counted down, here or in a job that is not in hand."""
        return bool(self.batches) or any(one.of_batch for one in (*self.alarms, *self.coming))
