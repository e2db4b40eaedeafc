"""One way to take what a sensor brought, whether from files or from a broker."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Protocol, TypeAlias

import numpy as np

from advisor.climate.live.marks import Mark
from advisor.climate.live.messages import AHEAD, AHEAD_S, Parser
from advisor.climate.live.mqtt import Listener, Message
from advisor.climate.live.sensor import Sensor
from advisor.climate.live.tail import Lines, Tail, TailState, Taken
from advisor.climate.readings import IntArray, Origin, ReadingTable

#: What a follower remembers over a restart, as it is stored.
Memory: TypeAlias = Mapping[str, object]
TOO_MANY = "too many, too long, or of a topic that is no text"


@dataclass(frozen=True, eq=False)
class Portion:
    """Rows not judged yet, [n]; `weights` [n] is how many lines or messages each is made of."""

    table: ReadingTable
    weights: IntArray


@dataclass(frozen=True, eq=False)
class Batch:
    """What one look brought: every line or message is in a row, repeated or refused.

    `memory` is to be stored with the rows, or None where nothing changed.
    """

    portions: tuple[Portion, ...] = ()
    came: int = 0
    repeated: int = 0
    refused: Mapping[str, int] = field(default_factory=dict)
    memory: Memory | None = None
    trouble: str = ""
    note: str = ""


class Follower(Protocol):
    """Follows one sensor. After `take` either `keep` or `drop` is called."""

    def take(self, now_s: float) -> Batch:
        """Return what is new."""

    def keep(self) -> None:
        """The rows taken are in the store."""

    def drop(self) -> None:
        """The rows taken could not be kept: they come again."""

    def stop(self) -> None:
        """End; harmless twice."""


class FileFollower:
    """Follows a log file or a folder of them."""

    def __init__(self, sensor: Sensor, memory: Memory, zone: str) -> None:
        self._tail = Tail(sensor, _state_of(memory), zone)
        self._taken: Taken | None = None

    def take(self, now_s: float) -> Batch:
        """Read what was written since."""
        taken = self._taken = self._tail.take(now_s)
        changed = taken.state != self._tail.state
        repeated, refused, portions = 0, Counter[str](), []
        for part in taken.parts:
            portion, ahead = _portion(part, now_s)
            portions.append(portion)
            doubles = sum(row.reason.startswith("duplicate of") for row in part.dropped)
            repeated += doubles
            refused.update(_shortened(row.reason) for row in part.dropped
                           if not row.reason.startswith("duplicate of"))  # fmt: skip
            refused[AHEAD] += ahead
        return Batch(tuple(portions), sum(part.lines for part in taken.parts), repeated, +refused,
                     _memory_of(taken.state) if changed else None, taken.trouble)  # fmt: skip

    def keep(self) -> None:
        """Go on behind what was taken."""
        if self._taken is not None:
            self._tail.keep(self._taken)

    def drop(self) -> None:
        """Read the same again the next time."""
        self._taken = None

    def stop(self) -> None:
        """Nothing runs by itself."""


class BrokerFollower:
    """Follows the topics of a broker."""

    def __init__(self, sensor: Sensor, listener: Listener, zone: str) -> None:
        self._listener, self._parser = listener, Parser(sensor, zone)
        self._came: tuple[tuple[Message, ...], int] = ((), 0)

    def take(self, now_s: float) -> Batch:
        """Drain what came."""
        self._came = messages, lost = self._listener.drain()
        parsed = self._parser.parse(messages)
        counted, arrived = parsed.counted, parsed.arrived
        refused = dict(counted.refused) | ({TOO_MANY: lost} if lost else {})
        flags = np.zeros(len(arrived.time_s), dtype=np.uint16)
        table = ReadingTable(arrived.time_s.astype(np.int64), dict(arrived.columns), flags,
                             Origin.MEASURED)  # fmt: skip
        portions = (Portion(table, parsed.weights),) if len(table) else ()
        memory: Memory | None = {} if messages or lost else None
        note = "only a message the broker had kept; its age is not known"
        return Batch(portions, counted.messages + lost, counted.repeated, refused, memory,
                     self._listener.trouble, note if parsed.retained_only else "")  # fmt: skip

    def keep(self) -> None:
        """Forget what was drained."""
        self._came = ((), 0)

    def drop(self) -> None:
        """Let what was drained wait again."""
        self._listener.give_back(*self._came)
        self._parser.forget()
        self._came = ((), 0)

    def stop(self) -> None:
        """End the connection."""
        self._listener.stop()


def _portion(part: Lines, now_s: float) -> tuple[Portion, int]:
    """Return rows up to now with their weights, and how many lines told a time ahead."""
    rows = len(part.table)
    weights = np.ones(rows, dtype=np.int64)
    if rows:  # in a file of one quantity a line, several lines make a row
        weights[0] += part.lines - len(part.dropped) - rows
    past = part.table.time_s <= now_s + AHEAD_S
    table = replace(part.table.part(past), origin=Origin.MEASURED)
    return Portion(table, weights[past]), int(weights[~past].sum())


def _shortened(reason: str) -> str:
    """Return a reason without what is told of one line, so that equal ones are counted together."""
    return reason.split(" line ", maxsplit=1)[0].split(":", maxsplit=1)[0]


def _memory_of(state: TailState) -> Memory:
    return {"since_ns": state.since_ns, "marks": [asdict(mark) for mark in state.marks]}


def _state_of(memory: Memory) -> TailState:
    marks, since_ns = memory.get("marks", []), memory.get("since_ns", 0)
    assert isinstance(marks, list)
    assert isinstance(since_ns, int)
    return TailState(tuple(Mark(**mark) for mark in marks), since_ns)
