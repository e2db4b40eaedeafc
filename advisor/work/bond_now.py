"""Overcoating without a history: only what holds whatever the temperature has been since.

A minimum stands still in the cold and a maximum runs out faster in the heat, so hours alone
hardly ever prove that a minimum is over or that a bond is open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.climate.quality import POSSIBLE
from advisor.coatings.clocks import pause_point_c
from advisor.coatings.product import NextCoat
from advisor.coatings.tables import TimeTable
from advisor.planning.case import Previous, cure_min_c, next_table
from advisor.planning.explain import Reason
from advisor.planning.verdict import Judged, Verdict
from advisor.planning.words import Words, duration
from advisor.work.coat_setup import CoatSetup
from advisor.work.views import Reading

ON_THE_LIMIT = 1e-9
#: Between these any surface may have been since the coat below, °C.
COLDEST_C, HOTTEST_C = POSSIBLE["surface_temp_c"]
NOT_KNOWN = "the surface since the coat below is not known"
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
            _maximum(previous, row, max(elapsed)),
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
    """Surely not reached while today's row is not over; hours alone hardly ever prove it is."""
    table = next_table(previous.product, row.min_h, runs_out=False)
    if table is None:
        return _found(Verdict.UNKNOWN, "the minimum is not on the data sheet below: ask the maker")
    longest, since = float(np.max(table.hours)), duration(max(hours, 0.0))
    if _never_pauses(table, previous) and hours >= longest - ON_THE_LIMIT:
        return _found(
            Verdict.GO, f"{since} since the coat below, minimum {duration(longest)} or less"
        )
    now_h = _at(table, reading.surface_temp_c)
    if hours < now_h - ON_THE_LIMIT:
        text = f"{since} since the coat below, minimum {duration(now_h)} at this temperature"
        return _found(Verdict.WAIT, text, (hours, now_h))
    # Where the bond may close, waiting is no advice.
    closes = not previous.sanded and not all(math.isinf(limit) for limit in row.max_h)
    todo = "give a log" if closes else "give a log, or wait longer"
    return _found(Verdict.UNKNOWN, f"{since} since the coat below, but {NOT_KNOWN}: {todo}")


def _never_pauses(table: TimeTable, previous: Previous) -> bool:
    """Whether no surface could have stopped this clock, nor slowed it below its lowest row."""
    return not table.one_row and pause_point_c(table, cure_min_c(previous.product)) <= COLDEST_C


def _maximum(previous: Previous, row: NextCoat, hours: float) -> BondNow:
    """Surely open while not over in any heat; surely closed when over in any cold."""
    if previous.sanded:
        return _found(Verdict.GO, "the coat below was sanded since, no maximum is left")
    table = next_table(previous.product, row.max_h, runs_out=True)
    if table is None:
        return _found(Verdict.GO, "no maximum on the data sheet below")
    # A blank row makes both NaN, so that neither is sure.
    shortest = float(np.min([*table.hours, table.at_one(HOTTEST_C)]))
    longest = float(np.max([*table.hours, table.at_one(COLDEST_C)]))
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
