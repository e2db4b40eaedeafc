"""What a person must hear while a batch is live.

An alarm's key comes from the record alone, so that one heard before a restart stays heard and
one that came due with the lid closed is still there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from advisor.planning.words import Words, duration
from advisor.work.live_views import (
    CHANGED,
    Alarm,
    BatchInHand,
    ConditionsChanged,
    ReadingDue,
)

#: What a batch is in use for: not begun, being laid, or what is left when its coat is on.
Use = Literal["waiting", "laying", "left over"]
#: The first warning before the end of a pot life: this long, or a quarter of it if shorter.
AHEAD_S, AHEAD_SHARE = 900.0, 0.25


@dataclass(frozen=True)
class Sounding:
    """Alarms due and not heard, the longest overdue first, and those ahead, the next first."""

    due: tuple[Alarm, ...]
    coming: tuple[Alarm, ...]


def alarms(
    batches: Sequence[tuple[BatchInHand, Use]],
    readings: Iterable[ReadingDue],
    changed: ConditionsChanged | None,
    words: Words,
) -> tuple[Alarm, ...]:
    """Return every alarm there is. A batch comes with what it is in use for."""
    told = (a for batch, use in batches for a in _of_batch(batch, use, words))
    found = [replace(alarm, of_batch=True) for alarm in told]
    found += [_of_reading(due) for due in readings]
    if changed is not None and changed.advice != "carry on":
        found.append(_of_change(changed))
    return tuple(found)


def sounding(found: Iterable[Alarm], heard: Collection[str], now_s: float) -> Sounding:
    """Part alarms that nobody heard yet into due and coming."""
    left = in_turn(a for a in found if a.key not in heard)
    due = tuple(alarm for alarm in left if alarm.due_s <= now_s)
    return Sounding(due, tuple(alarm for alarm in left if alarm.due_s > now_s))


def in_turn(alarms: Iterable[Alarm]) -> tuple[Alarm, ...]:
    """Return alarms by when they are due."""
    return tuple(sorted(alarms, key=lambda alarm: (alarm.due_s, alarm.key)))


def _of_batch(batch: BatchInHand, use: Use, words: Words) -> list[Alarm]:
    found: list[Alarm] = []
    if batch.induction_until_s is not None and use == "waiting":
        found.append(Alarm(f"induction:{batch.number}", batch.induction_until_s,
                           "Batch ready", f"{batch.title}: its induction is over. "
                           "Thin, strain and start."))  # fmt: skip
    end = batch.usable_until_s
    if end is None:
        return found
    if use != "left over":
        found += _running_out(batch, end, words)
    found.append(Alarm(f"over:{batch.number}", end, "Batch past use",
                       f"{batch.title}: its pot life ended at {words.moment(end)}. Discard it: "
                       "a large leftover heats itself, let it stand open outside.",
                       urgent=True))  # fmt: skip
    return found


def _running_out(batch: BatchInHand, end: float, words: Words) -> list[Alarm]:
    found: list[Alarm] = []
    if batch.comfortable_until_s is not None:
        found.append(Alarm(f"comfortable:{batch.number}", batch.comfortable_until_s,
                           "Use it up now", f"{batch.title}: its comfortable part is over, "
                           f"past use at {words.moment(end)}."))  # fmt: skip
    ahead = min(AHEAD_S, AHEAD_SHARE * (end - batch.mixed_s))
    found.append(Alarm(f"nearly:{batch.number}", end - ahead, f"{duration(ahead / 3600)} left",
                       f"{batch.title}: past use at {words.moment(end)}. "
                       "Finish the panel in hand.", urgent=True))  # fmt: skip
    return found


def _of_reading(due: ReadingDue) -> Alarm:
    # By the minute: rows are thinned to minutes, a restart may find the next second.
    key = f"reading:{due.reason}:{int(due.due_s // 60)}"
    return Alarm(key, due.due_s, "Reading due", due.text)


def _of_change(changed: ConditionsChanged) -> Alarm:
    key = f"changed:{changed.advice}:{int(changed.since_s // 60)}"
    what = changed.headline.removeprefix(f"{CHANGED}: ")  # the title says it already
    text = f"{what[:1].upper()}{what[1:]}. {changed.stopping_line}"
    return Alarm(key, changed.since_s, CHANGED, text, changed.advice == "stop")
