"""What the record tells of one coat: when it was mixed and went on, and what was done before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass

from advisor.planning.job import Coat
from advisor.record.effective import Effective
from advisor.record.entry import Entry, moment_of, number_of
from advisor.record.in_force import from_known
from advisor.record.review_types import LimitInForce
from advisor.record.taken_back import event_of, since_taken_back

#: No batch lives longer than from one day to the next.
OLDEST_BATCH_S = 86400
#: Preparation that renews the bond of the coat below.
SANDED = ("sanded and wiped", "abraded", "blasted")


@dataclass(frozen=True)
class Told:
    """One coat as the record tells it now; times UTC seconds, None where it does not say.

    `entries` are the batches it was laid from and the coat's own, `prepared` those of its area,
    each kind in the order of when things happened; struck-out ones are left out.
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
    def first_s(self) -> float:
        """When the first patch was painted; when it was mixed where that is not known."""
        return self.from_s if self.started_s is None else self.started_s

    @property
    def decided(self) -> Entry | None:
        """The entry with what was known and shown when the coat was begun."""
        return next((entry for entry in self._begun if entry.known), None)

    @property
    def limits_then(self) -> tuple[LimitInForce, ...]:
        """The limits that entry was kept with; none where it has none."""
        return next((found for entry in self._begun if (found := from_known(entry.known))), ())

    @property
    def _begun(self) -> list[Entry]:
        """Its batches and events; what was known of a batch of another coat is not of this."""
        begun = [*self.of("batch"), *self.of("application")]
        return [entry for entry in begun if entry.coat_id == self.coat.id]

    def prepared_between(self, first_s: float, last_s: float, *what: str) -> tuple[Entry, ...]:
        """Return preparation of the area in a stretch of time, of some kinds where asked."""
        return tuple(
            entry
            for entry in self.prepared
            if first_s <= entry.at_s <= last_s and (not what or entry.data.get("what") in what)
        )


def told(coat: Coat, record: Iterable[Effective]) -> Told:
    """Read a coat from the record with its corrections; where that is silent, from the job."""
    kept = [found.now for found in record if not found.struck_out]
    now = sorted(kept, key=lambda entry: (entry.at_s, entry.number))
    own = since_taken_back(entry for entry in now if entry.coat_id == coat.id)
    started, ended = _applied(own)
    if coat.laid is not None and not any(event_of(entry) == "finish" for entry in own):
        started = coat.laid.start_s if started is None else started
        ended = coat.laid.end_s
    named = _batches_named(own)
    batches = [
        e
        for e in now
        if e.kind == "batch" and (e.number in named or _of_this_try(e, coat, started, ended))
    ]
    mixed = [e.at_s for e in batches if not _long_before(e, started)]
    entries = (*batches, *(e for e in own if e.kind != "batch"))
    prepared = [e for e in now if e.kind == "preparation" and e.area_id == coat.area_id]
    return Told(coat, entries, tuple(prepared), min(mixed, default=None), started, ended)


def _batches_named(own: Iterable[Entry]) -> Set[int]:
    """Entry numbers of the batches that a coat's own events say it was laid from."""
    named = [str(e.data.get("batch", "")) for e in own if e.kind == "application"]
    return {int(number) for number in named if number.isdecimal()}


def _of_this_try(batch: Entry, coat: Coat, started: float | None, ended: float | None) -> bool:
    """Whether a batch was mixed for this coat as it is on, not for a start given up long before."""
    early = _long_before(batch, started)
    return batch.coat_id == coat.id and not early and (ended is None or batch.at_s <= ended)


def _long_before(batch: Entry, started: float | None) -> bool:
    return started is not None and batch.at_s < started - OLDEST_BATCH_S


def _applied(own: Sequence[Entry]) -> tuple[float | None, float | None]:
    """When the first and the last patch were painted, as the events say, which are in time order.

    Begun or carried on again after the last patch, a coat has no end until it is told anew.
    """
    finish = max((e for e in own if event_of(e) == "finish"), key=_number, default=None)
    begun = [e.at_s for e in own if event_of(e) in ("start", "patch")]
    if finish is None:
        return min(begun, default=None), None
    if not any(event_of(e) == "start" for e in own):
        begun.append(moment_of(finish.data.get("began")) or finish.at_s)
    first = min([*begun, finish.at_s])
    after = [e for e in own if e.at_s > finish.at_s]
    if any(event_of(e) in ("start", "carry on") for e in after):
        return first, None
    return first, max([finish.at_s, *(e.at_s for e in after if event_of(e) == "patch")])


def _number(entry: Entry) -> int:
    return entry.number


def numbers_in(entries: Iterable[Entry], field: str) -> list[tuple[float, int]]:
    """Return the numbers kept in a field, each with its entry's number; blank ones left out."""
    found = ((number_of(entry.data.get(field)), entry.number) for entry in entries)
    return [(value, number) for value, number in found if value is not None]
