"""The live bench in words: which step it is at, its headline, the taps that make sense now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from advisor.base import units as u
from advisor.planning.job import Coat, Job
from advisor.planning.words import Words
from advisor.record.bench_state import Going
from advisor.record.entry import Entry
from advisor.work.live_views import ConditionsChanged, Step

if TYPE_CHECKING:
    from advisor.work.live_look import Counted


def step_of(going: Going | None, batches: Sequence[Counted], now_s: float) -> Step:
    """Return the step the bench is at."""
    if going is not None:
        return "applying" if going.stopped_s is None else "stopped"
    waiting = [batch for batch in batches if not batch.left]
    if not waiting:
        return "ready" if batches else "nothing"
    ready = [b for b in waiting if (b.count.induction_until_s or 0.0) <= now_s]
    return "ready" if ready else "induction"


def headline(
    step: Step, job: Job, going: Going | None, batches: Sequence[Counted], words: Words
) -> str:
    """Return the one line that says how the bench stands."""
    over = [b for b in batches if past_use(b, words.now_s or 0.0)]
    if over:
        return f"{over[0].view.title}: past use, discard it"
    if going is not None:
        return _going_on(job, going, batches, words)
    waiting = [batch for batch in batches if not batch.left]
    if not waiting:
        return "The coat is on: what became of the batch?" if batches else "No batch is mixed"
    if step == "induction":
        ready_s = min(b.count.induction_until_s or 0.0 for b in waiting)
        return f"Let it stand until {words.moment(ready_s)}"
    return f"Ready{_until(waiting, words)}"


def _going_on(job: Job, going: Going, batches: Sequence[Counted], words: Words) -> str:
    name = _coat_name(job, going.coat_id)
    if going.stopped_s is not None:
        return f"{name}: stopped at {words.moment(going.stopped_s)}"
    return f"{name} is going on{_until(batches, words)}"


def _until(batches: Sequence[Counted], words: Words) -> str:
    ends = [b.count.usable_until_s for b in batches if b.count.usable_until_s is not None]
    return f", past use at {words.moment(min(ends))}" if ends else ""


def past_use(batch: Counted, now_s: float) -> bool:
    """Whether the pot life of a batch is over."""
    end = batch.count.usable_until_s
    return end is not None and end <= now_s


def taps(
    step: Step, batches: Sequence[Counted], changed: ConditionsChanged | None, now_s: float
) -> tuple[str, ...]:
    """Return the events that make sense now, the likeliest first."""
    ends = ("batch used up", "batch discarded") if batches else ()
    over = any(past_use(batch, now_s) for batch in batches)
    stop = changed is not None and changed.advice == "stop"
    if step == "nothing":
        return ("reading",)
    if step == "applying":
        found = ("patch", "film", "stop", "finish", *ends, "reading")
        found = _first("stop", found) if stop else found
    elif step == "stopped":
        found = ("carry on", "finish", *reversed(ends), "reading", "film")
    elif all(batch.left for batch in batches):
        found = (*ends, "reading")
    else:
        found = ("start", "reading", *reversed(ends))
        if step == "induction" or stop:
            found = ("reading", "start", *reversed(ends))
    return _first("batch discarded", found) if over else found


def _first(event: str, events: tuple[str, ...]) -> tuple[str, ...]:
    return (event, *(one for one in events if one != event))


def film_text(
    values: Sequence[float], target_um: tuple[float, float] | None, units: u.Units
) -> str:
    """Say what the film readings in µm come to, in mil too for US, beside what is asked."""
    asked = ""
    if target_um is not None:
        low, high = (round(value) for value in target_um)
        asked = f"asked {low} µm" if low == high else f"asked {low} to {high} µm"
    if not values:
        return f"no readings yet{', ' + asked if asked else ''}"
    mean = sum(values) / len(values)
    count = f"{len(values)} reading{'s' if len(values) > 1 else ''}"
    told = f"{count}: {min(values):g} to {max(values):g} µm, mean {mean:.0f}"
    if units == "us":
        low_mil, high_mil, mean_mil = (
            u.to_display(value, u.FILM, units) for value in (min(values), max(values), mean)
        )
        told += f" ({low_mil:.1f} to {high_mil:.1f} mil, mean {mean_mil:.1f})"
    return f"{told}, {asked}" if asked else told


def batch_title(coat: Coat, entry: Entry, words: Words) -> str:
    """Return how a batch is called: its coat and when it was mixed."""
    return f"{coat.name}, mixed {words.moment(entry.at_s)}"


def _coat_name(job: Job, coat_id: str) -> str:
    """A coat may have been taken off the job since: then it goes by its id."""
    return next((coat.name for coat in job.coats if coat.id == coat_id), coat_id)


def no_end(job: Job, entry: Entry, words: Words) -> str:
    """Say that nobody noted what became of a batch."""
    name = _coat_name(job, entry.coat_id)
    return f"{name}, batch mixed {words.moment(entry.at_s)}: its end was never noted"
