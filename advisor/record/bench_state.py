"""What is going on at the bench, read from the record alone: a restart changes nothing of it.

Entries count as their corrections have them, in the order of when things happened.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from advisor.record.canonical import Json
from advisor.record.effective import counting
from advisor.record.entry import Entry, moment_of, numbers_of
from advisor.record.taken_back import since_taken_back

#: The kinds this is read from.
KINDS_READ = ("batch", "batch end", "application", "film", "correction")


@dataclass(frozen=True)
class Patch:
    """A patch with the moment it was done, UTC seconds."""

    name: str
    at_s: float


@dataclass(frozen=True)
class Going:
    """A coat going on. `batches` are the entry numbers it was laid from; film in µm."""

    coat_id: str
    started_s: float
    last_s: float
    stopped_s: float | None = None
    patches: tuple[Patch, ...] = ()
    wet_um: tuple[float, ...] = ()
    batches: tuple[int, ...] = ()


@dataclass(frozen=True)
class Finished:
    """A coat that is on: from its first to its last patch, UTC seconds."""

    coat_id: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class BenchState:
    """Batches mixed and not ended, oldest first; coats going on, that touched last at the end.

    `finished` has every coat that is on, oldest first.
    """

    batches: tuple[Entry, ...] = ()
    going: tuple[Going, ...] = ()
    finished: tuple[Finished, ...] = ()

    def at_work(self, coat_id: str = "") -> Going | None:
        """Return the coat going on that was touched last, or the named one."""
        fit = [one for one in self.going if coat_id in ("", one.coat_id)]
        return fit[-1] if fit else None

    def batch(self, number: int) -> Entry | None:
        """Return an open batch by its entry number."""
        return next((one for one in self.batches if one.number == number), None)


@dataclass
class _Fold:
    """The bench while entries pass by."""

    batches: dict[int, Entry] = field(default_factory=dict)
    going: dict[str, Going] = field(default_factory=dict)
    finished: dict[str, Finished] = field(default_factory=dict)

    def take(self, entry: Entry) -> None:
        """Let one entry change the bench."""
        steps = {
            "batch": self._batch,
            "batch end": self._batch_end,
            "application": self._application,
            "film": self._film,
        }
        step = steps.get(entry.kind)
        if step is not None:
            step(entry)

    def _batch(self, entry: Entry) -> None:
        self.batches[entry.number] = entry

    def _batch_end(self, entry: Entry) -> None:
        self.batches.pop(_number(entry.data.get("batch")), None)

    def _application(self, entry: Entry) -> None:
        event, coat = str(entry.data.get("event", "")), entry.coat_id
        if event == "finish":
            self._finish(entry)
        elif event:
            self.going[coat] = _moved(self._touched(entry), event, entry)

    def _touched(self, entry: Entry) -> Going:
        """Return the coat as it goes on, begun by this entry where nothing began it."""
        going = self.going.pop(entry.coat_id, None)
        return going or Going(entry.coat_id, entry.at_s, entry.at_s)

    def _finish(self, entry: Entry) -> None:
        going = self.going.pop(entry.coat_id, None)
        begun = moment_of(entry.data.get("began"))
        if begun is None:
            begun = entry.at_s if going is None else going.started_s
        self.finished[entry.coat_id] = Finished(entry.coat_id, begun, entry.at_s)

    def _film(self, entry: Entry) -> None:
        going = self.going.get(entry.coat_id)
        if going is not None and entry.data.get("film") == "wet":
            values = numbers_of(entry.data.get("readings"))
            self.going[entry.coat_id] = replace(going, wet_um=going.wet_um + values)


def fold(entries: Iterable[Entry]) -> BenchState:
    """Return the bench after these entries of one job; kinds it is not read from are passed by."""
    bench = _Fold()
    # A late entry belongs where it happened; what happened at once goes by its number.
    told = since_taken_back(counting(entries))
    for entry in sorted(told, key=lambda e: (e.at_s, e.number)):
        bench.take(entry)
    finished = sorted(bench.finished.values(), key=lambda one: one.end_s)
    return BenchState(
        tuple(bench.batches.values()),
        tuple(bench.going.values()),
        tuple(finished),
    )


def _moved(going: Going, event: str, entry: Entry) -> Going:
    going = replace(going, last_s=entry.at_s)
    batch = _number(entry.data.get("batch"))
    if batch and batch not in going.batches:
        going = replace(going, batches=(*going.batches, batch))
    named = str(entry.data.get("patch", ""))
    if event == "patch" or (event == "start" and named):
        name = named or f"patch {len(going.patches) + 1}"
        return replace(going, patches=(*going.patches, Patch(name, entry.at_s)), stopped_s=None)
    if event == "stop":
        return replace(going, stopped_s=entry.at_s)
    return replace(going, stopped_s=None)


def _number(value: Json) -> int:
    text = str(value or "")
    return int(text) if text.isdecimal() else 0
