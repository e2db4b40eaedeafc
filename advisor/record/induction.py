"""Whether a batch stood as long as its data sheet asks before it was put on."""

from __future__ import annotations

import math

from advisor.record.entry import Entry, number_of

#: Events that put paint of a batch on.
BEGINS = frozenset({"start", "patch", "carry on"})
#: Early by less than this is rounding: hours are kept to four digits, 10 h to 2 s.
ROUNDED_S = 5.0


def induction_end_s(batch: Entry) -> float | None:
    """Return the end of the induction kept with a batch, UTC seconds; None where it is blank."""
    hours = number_of(batch.data.get("induction"))
    return None if hours is None or hours <= 0 else batch.at_s + hours * 3600.0


def early_words(early_s: float) -> str:
    """Return how much too early paint went on, such as "17 min before the end ..."."""
    return f"{math.ceil(early_s / 60.0)} min before the end of its induction"
