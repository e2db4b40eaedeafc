"""What was seen on a film, as an entry: how long after the last patch, and of which table time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from advisor.planning.case import column_table
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.effective import counting
from advisor.record.entry import quantity
from advisor.record.in_force import number_text
from advisor.work.at_work import RowsAtWork
from advisor.work.live_rounds import GAP_S
from advisor.work.live_taps import coat_of
from advisor.work.observed import COLUMNS, seen_text, share_seen

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: What a film reaches that a person can feel or see; it is counted with.
MILESTONES = tuple(COLUMNS)
#: What is offered as one tap while a film dries; the rest is told by the form.
TAPS = ("tack-free", "tape-dry")


def taps_offered(bench: Kept, coat_id: str) -> tuple[str, ...]:
    """Return what may be seen next on a film: times its data sheet has and nobody noted yet."""
    coat = coat_of(bench.job_in_hand(), coat_id)
    if coat.laid is None:
        return ()
    product = bench.shelf.of_coat(coat)
    kinds = ("observation", "correction")
    kept = counting(chain.entries(bench.store, bench.job_in_hand().id, kinds=kinds))
    noted = {
        str(entry.data.get("what", ""))
        for entry in kept
        if entry.coat_id == coat_id and entry.at_s >= coat.laid.end_s
    }
    offered = [what for what in TAPS if what not in noted
               and column_table(product, COLUMNS[what]) is not None]  # fmt: skip
    # A film that was seen tape-dry is tack-free.
    return tuple(offered) if "tape-dry" not in noted else ()


def observation_data(
    bench: Kept, coat_id: str, at_s: float, said: Mapping[str, Json]
) -> dict[str, Json]:
    """Return the data of an observation: what was `said`, and the share of the table's time.

    Both where the coat is on and `said["what"]` is a time of its data sheet; else as it was said.
    InputError where the job has no such coat.
    """
    data, what = dict(said), str(said.get("what", ""))
    coat = coat_of(bench.job_in_hand(), coat_id)
    if coat.laid is None or at_s < coat.laid.end_s or what not in MILESTONES:
        return data
    product = bench.shelf.of_coat(coat)
    rows = RowsAtWork(bench).of(coat.area_id, coat.laid.end_s - GAP_S, at_s, 0)
    share = share_seen(product, coat, what, rows, at_s)
    data.setdefault("text", seen_text(share, coat.laid.end_s, at_s))
    if share is not None:
        data.setdefault("share", quantity(number_text(share, 3), "share", "computed"))
    return data
