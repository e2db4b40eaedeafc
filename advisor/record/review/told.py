"""What the record tells of one coat: when it was mixed and went on, and what was done before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.planning.job import Coat
from advisor.record.effective import Effective
from advisor.record.entry import Entry, moment_of, number_of
from advisor.record.in_force import from_known
from advisor.record.review_types import LimitInForce

#: No batch lives longer than from one day to the next.
OLDEST_BATCH_S = 86400
#: Preparation that renews the bond of the coat below.
SANDED = ("sanded and wiped", "abraded", "blasted")


@dataclass(frozen=True)
class Told:
    """One coat as the record tells it now; times UTC seconds, None where it does not say.

    `entries` are the coat's own, struck-out ones left out; `prepared` those of its area.
    """

    coat: Coat
    entries: tuple[Entry, ...]
    prepared: tuple[Entry, ...]
    mixed_s: float | None
    started_s: float | None
    ended_s: float | None

    def of(self, kind: str) -> tuple[Entry, ...]:
        """Return the coat's entries of a kind."""
        return tuple(entry for entry in self.entries if entry.kind == kind)

    @property
    def from_s(self) -> float:
        """When the first batch was mixed; the first patch where that is not known."""
        known = [at for at in (self.mixed_s, self.started_s) if at is not None]
        return min(known)

    @property
    def decided(self) -> Entry | None:
        """The entry with what was known and shown when the coat was begun."""
        begun = [*self.of("batch"), *self.of("application")]
        return next((entry for entry in begun if entry.known), None)

    @property
    def limits_then(self) -> tuple[LimitInForce, ...]:
        """The limits that entry was kept with; none where it has none."""
        begun = [*self.of("batch"), *self.of("application")]
        return next((found for entry in begun if (found := from_known(entry.known))), ())

    def prepared_between(self, first_s: float, last_s: float, *what: str) -> tuple[Entry, ...]:
        """Return preparation of the area in a stretch of time, of some kinds where asked."""
        return tuple(
            entry
            for entry in self.prepared
            if first_s <= entry.at_s <= last_s and (not what or entry.data.get("what") in what)
        )


def told(coat: Coat, record: Iterable[Effective]) -> Told:
    """Read a coat from the record with its corrections; where that is silent, from the job."""
    now = [found.now for found in record if not found.struck_out]
    own = _since_taken_back([entry for entry in now if entry.coat_id == coat.id])
    started, ended = _applied(own)
    if ended is None and coat.laid is not None:
        laid = coat.laid
        started, ended = laid.start_s if started is None else started, laid.end_s
    own = [e for e in own if e.kind != "batch" or _of_this_try(e, started, ended)]
    mixed = [e.at_s for e in own if e.kind == "batch"]
    prepared = [e for e in now if e.kind == "preparation" and e.area_id == coat.area_id]
    return Told(coat, tuple(own), tuple(prepared), min(mixed, default=None), started, ended)


def _since_taken_back(own: Sequence[Entry]) -> list[Entry]:
    """Leave out the application told before the coat was said not to be on after all."""
    back = [k for k, e in enumerate(own) if _event(e) == "not on"]
    first = back[-1] + 1 if back else 0
    return [e for k, e in enumerate(own) if k >= first or e.kind not in ("application", "film")]


def _of_this_try(batch: Entry, started: float | None, ended: float | None) -> bool:
    """Whether a batch was mixed for this coat as it is on, not for a start given up long before."""
    early = started is not None and batch.at_s < started - OLDEST_BATCH_S
    return not early and (ended is None or batch.at_s <= ended)


def _event(entry: Entry) -> str:
    return str(entry.data.get("event", "")) if entry.kind == "application" else ""


def _applied(own: Sequence[Entry]) -> tuple[float | None, float | None]:
    """When the first and the last patch were painted, as the events say."""
    finish = [e for e in own if _event(e) == "finish"]
    ended = finish[-1].at_s if finish else None
    begun = [e.at_s for e in own if _event(e) in ("start", "patch")]
    if not begun and finish:
        begun = [moment_of(finish[-1].data.get("began")) or finish[-1].at_s]
    return min(begun, default=None), ended


def numbers_in(entries: Iterable[Entry], field: str) -> list[tuple[float, int]]:
    """Return the numbers kept in a field, each with its entry's number; blank ones left out."""
    found = ((number_of(entry.data.get(field)), entry.number) for entry in entries)
    return [(value, number) for value, number in found if value is not None]
