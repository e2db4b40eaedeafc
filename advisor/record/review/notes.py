"""What a reader must know of how a review was found, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.planning.case import dew_safe_assumption
from advisor.planning.rules import ASSUMED
from advisor.record.in_force import TYPICAL
from advisor.record.review.look import Look
from advisor.record.review.told import Told
from advisor.record.review_types import LimitInForce, TimeSpan
from advisor.record.telling import LATE_S


def product_then(tale: Told, key: str) -> str:
    """Return what was kept of the product when the coat was begun; empty where nothing."""
    kept = None if tale.decided is None else tale.decided.known.get("product")
    return str(kept.get(key, "")) if isinstance(kept, Mapping) else ""


def notes_of(
    look: Look, tale: Told, span: TimeSpan, limits: Sequence[LimitInForce]
) -> tuple[str, ...]:
    """What a reader must know of how this was found."""
    product, notes = look.product, []
    if not tale.limits_then:
        notes.append("no limits were kept with this coat: they are those of the product now")
    if any(limit.whose == TYPICAL for limit in limits):
        notes.append("limits are typical values of its class: no data sheet was entered")
    if any(limit.whose == ASSUMED for limit in limits):
        notes.append("what is an assumption of this program is no limit and was not counted")
    then = product_then(tale, "revision")
    if then and then != product.source.revision:
        now = product.source.revision or "not told"
        notes.append(f"it went on under revision {then}; times are by the file now, {now}")
    if tale.mixed_s is None:
        notes.append("when it was mixed is not in the record: looked at from the first patch on")
    if dew_safe := dew_safe_assumption(product):
        notes.append(f"when the film can take dew is not on the data sheet; {dew_safe}")
    return (*notes, *_about_readings(look, span, tale))


def _about_readings(look: Look, span: TimeSpan, tale: Told) -> list[str]:
    notes = []
    at = (look.seen.time_s >= span.from_s) & (look.seen.time_s <= span.to_s) & look.seen.doubtful
    if at.any():
        notes.append(f"{int(at.sum())} doubtful readings are shown and counted neither way")
    written = [
        one
        for one in look.record
        if one.entry.kind == "reading" and span.from_s <= one.entry.at_s <= span.to_s
    ]
    own = [*(one.entry for one in written), *tale.entries]
    late = sorted({e.number for e in own if e.late_s > LATE_S})
    if late:
        notes.append(f"written late, over {LATE_S // 60} min after: entries {_list(late)}")
    changed = sorted({one.entry.number for one in written if one.changes})
    if changed:
        notes.append(f"corrected, the value now counts and the first stays to be read: "
                     f"entries {_list(changed)}")  # fmt: skip
    return notes


def _list(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)
