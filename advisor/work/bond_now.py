"""Overcoating without a history: only what holds whatever the temperature has been since."""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.coatings.product import NextCoat
from advisor.coatings.tables import TimeTable
from advisor.planning.case import Previous, next_table
from advisor.planning.explain import Reason
from advisor.planning.verdict import Judged, Verdict
from advisor.planning.words import Words, duration
from advisor.work.coat_setup import CoatSetup
from advisor.work.views import Reading

ON_THE_LIMIT = 1e-9
ASK_LOG = "can't be told without the temperature since: give --conditions with a log"


@dataclass(frozen=True)
class BondNow:
    """What the coat below means for the start."""

    verdict: Verdict = Verdict.GO
    reasons: tuple[Reason, ...] = ()
    sand_first: bool = False


def bond_now(setup: CoatSetup, reading: Reading, lasting: Judged, words: Words) -> BondNow:
    """Test the first and the last patch by the hours since they were painted."""
    previous, row = setup.previous, lasting.case.next_row
    if previous is None:
        return BondNow()
    if row is None:
        text = "the data sheet below says nothing about this coat over it: ask the maker"
        return _found(Verdict.UNKNOWN, text)
    if row.forbidden:
        what = row.prepare or "test patch and barrier coat"
        return _found(Verdict.WAIT, f"these two do not go together: {what}")
    elapsed = _elapsed_h(previous, lasting)
    if any(math.isnan(hours) for hours in elapsed):
        return _found(Verdict.UNKNOWN, f"the coat below {ASK_LOG}")
    return max(
        (
            _minimum(previous, row, reading, min(elapsed)),
            _maximum(previous, row, reading, max(elapsed)),
        ),
        key=lambda found: found.verdict,
    )


def _elapsed_h(previous: Previous, lasting: Judged) -> tuple[float, float]:
    """Hours from painting each patch below until the brush reaches it; NaN where not known."""
    line, series = lasting.timeline, lasting.series
    reach = [
        series.time_at(float(line.application[0])),
        series.time_at(float(line.application_end[0])),
    ]
    if previous.reverse:
        reach.reverse()
    return (reach[0] - previous.start_s) / 3600.0, (reach[1] - previous.end_s) / 3600.0


def _minimum(previous: Previous, row: NextCoat, reading: Reading, hours: float) -> BondNow:
    """Surely reached when even the lowest row is over; surely not while today's is not."""
    table = next_table(previous.product, row.min_h, runs_out=False)
    if table is None:
        return _found(Verdict.UNKNOWN, "the minimum is not on the data sheet below: ask the maker")
    longest, since = float(table.hours[0]), duration(max(hours, 0.0))
    if hours >= longest - ON_THE_LIMIT:
        return _found(
            Verdict.GO, f"{since} since the coat below, minimum {duration(longest)} or less"
        )
    now_h = _at(table, reading.surface_temp_c)
    if hours < now_h - ON_THE_LIMIT:
        text = f"{since} since the coat below, minimum {duration(now_h)} at this temperature"
        return _found(Verdict.WAIT, text, (hours, now_h))
    return _found(
        Verdict.UNKNOWN, f"{since} since the coat below: whether its minimum is over {ASK_LOG}"
    )


def _maximum(previous: Previous, row: NextCoat, reading: Reading, hours: float) -> BondNow:
    """Surely open while the warmest row is not over; surely closed when the lowest is."""
    table = next_table(previous.product, row.max_h, runs_out=True)
    if table is None:
        return _found(Verdict.GO, "no maximum on the data sheet below")
    hot = reading.surface_hot_c if reading.surface_hot_c is not None else reading.surface_temp_c
    warmest = max(float(table.temp_c[-1]), -math.inf if hot is None else hot)
    shortest, longest = table.at_one(warmest), float(table.hours[0])
    since = duration(max(hours, 0.0))
    if hours <= shortest + ON_THE_LIMIT:
        return _found(Verdict.GO, f"{since} since the coat below, bond still open{_need(row)}")
    if hours > longest + ON_THE_LIMIT:
        todo = " or ".join(row.after_max) or "sand first"
        text = f"the bond has closed ({since}, maximum {duration(longest)}): {todo}"
        return _found(Verdict.WAIT, text, (hours, longest), closed=True)
    return _found(
        Verdict.UNKNOWN, f"{since} since the coat below: whether the bond is open {ASK_LOG}"
    )


def _at(table: TimeTable, surface_c: float | None) -> float:
    return math.nan if surface_c is None else table.at_one(surface_c)


def _need(row: NextCoat) -> str:
    return f"; {row.prepare}" if row.prepare else ""


def _found(
    verdict: Verdict,
    text: str,
    figures: tuple[float | None, float | None] = (None, None),
    *,
    closed: bool = False,
) -> BondNow:
    holds = {Verdict.GO: True, Verdict.WAIT: False}.get(verdict)
    reason = Reason("previous_coat", "application", holds, *figures, "h", None, "data sheet", text,
                    "Bond with the coat below")  # fmt: skip
    return BondNow(verdict, (reason,), closed)
