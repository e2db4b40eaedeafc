"""What a data sheet asks before the first patch: dry timber, fresh preparation, tins not cold.

Under paint nobody can measure timber and no steel is bare, and inside the interval nobody has to
sand: over another coat these are asked only where they were done. Whatever is asked and not in the
record is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from advisor.climate.series import on_grid
from advisor.planning.rules import ASSUMED
from advisor.planning.timeline import Phase
from advisor.record.entry import Entry, number_of
from advisor.record.in_force import BARE_STEEL, MOISTURE, SANDED_FOR, TINS
from advisor.record.review.limits import RULES, Found, slack_of
from advisor.record.review.look import Look
from advisor.record.review.told import SANDED, Told
from advisor.record.review.track import ROUNDING
from advisor.record.review_types import LimitInForce, LimitReview, Standing, TimeSpan


@dataclass(frozen=True)
class Seen:
    """A value held against a limit, when it was so (UTC s), and where it is from."""

    value: float
    at_s: float
    source: str


@dataclass(frozen=True)
class Start:
    """The first patch of a coat, UTC seconds; `bare` where there is no coat below."""

    look: Look
    tale: Told
    first_s: float
    bare: bool

    @property
    def prepared(self) -> tuple[Entry, ...]:
        """Preparation between the coat below and the first patch; none where its end is unknown."""
        return self.tale.prepared_between(self.look.prepared_from_s, self.first_s)


def prepared(limits: Iterable[LimitInForce], tale: Told, look: Look) -> tuple[Found, ...]:
    """Hold a begun coat against its limits that no reading is held against.

    They are about what comes before the coat; one that this version cannot read is not known.
    """
    bare = look.job.below(look.coat) is None
    start = Start(look, tale, tale.first_s, bare)
    found = []
    for limit in limits:
        if limit.rule in RULES or limit.whose == ASSUMED:
            continue
        if limit.rule != "prepared" or limit.label not in _READ:
            # Of a later version, perhaps: what cannot be judged is not inside.
            found.append(Found(_reviewed(limit, None), "prepared", ()))
        else:
            seen = _READ[limit.label](start)
            if bare or seen is not None or limit.label == TINS:
                found.append(Found(_reviewed(limit, seen), "prepared", ()))
    return tuple(found)


def _reviewed(limit: LimitInForce, seen: Seen | None) -> LimitReview:
    if seen is None:
        return LimitReview(limit, Phase.START.value, "not known", (), None, None, "", 0.0, 0.0)
    within = slack_of(limit, np.array([seen.value]))[0] >= -ROUNDING
    standing: Standing = "inside" if within else "outside"
    out = () if within else (TimeSpan(seen.at_s, seen.at_s),)
    return LimitReview(limit, Phase.START.value, standing, out, seen.value, seen.at_s, seen.source,
                       0.0, 0.0)  # fmt: skip


def _moisture(start: Start) -> Seen | None:
    """The newest moisture content."""
    for entry in reversed(start.prepared):
        kept = entry.data.get("moisture")
        value = number_of(kept)
        if value is not None and isinstance(kept, Mapping):
            return Seen(value, entry.at_s, str(kept.get("source", "")))
    return None


def _bare_for(start: Start) -> Seen | None:
    return _sanded_for(start) if start.bare else None


def _sanded_for(start: Start) -> Seen | None:
    """Hours from the last preparation that gives a key to the first patch."""
    done = [e.at_s for e in start.prepared if e.data.get("what") in SANDED]
    known = start.look.sanded_s  # from before the record began
    if known is not None and start.look.prepared_from_s < known <= start.first_s:
        done.append(known)
    if not done:
        return None
    return Seen((start.first_s - max(done)) / 3600.0, start.first_s, "by the record")


def _tins(start: Start) -> Seen | None:
    """The least that the material of a batch was above the dew point of the air it was mixed in."""
    seen = [_tin(start.look, batch) for batch in start.tale.of("batch")]
    known = [one for one in seen if one is not None]
    if not known or len(known) < len(seen):
        return None
    return min(known, key=lambda one: one.value)


def _tin(look: Look, batch: Entry) -> Seen | None:
    mix_c = number_of(batch.data.get("mix_temp"))
    at = np.array([int(batch.at_s)], dtype=np.int64)
    dew_c = float(on_grid(look.seen.time_s, look.tracks.dew, at)[0])
    if mix_c is None or np.isnan(dew_c):
        return None
    return Seen(mix_c - dew_c, batch.at_s, "by the record")


_READ: Mapping[str, Callable[[Start], Seen | None]] = MappingProxyType(
    {MOISTURE: _moisture, BARE_STEEL: _bare_for, SANDED_FOR: _sanded_for, TINS: _tins}
)
