"""A watched log file or folder: new whole lines, each once, whatever happens to the file.

Nothing is remembered as read before the caller has kept the rows: `take` reads, `keep` says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.base.errors import AdvisorError
from advisor.climate.live.marks import (
    CHUNK_BYTES,
    Mark,
    Seen,
    beside,
    forgotten,
    goes_on,
    kept_marks,
    last_line_end,
    line_end,
    logs_in,
    mark_of,
    opened,
    paired,
    touched,
    unchanged,
)
from advisor.climate.live.messages import AHEAD_S
from advisor.climate.live.sensor import Sensor
from advisor.climate.logs.growing import Choices, Grown, read_new
from advisor.climate.logs.plan import Options
from advisor.climate.readings import DroppedRow, Flag, ReadingTable

#: Bytes of the beginning that choices about a file are made from.
BEGIN_BYTES = 64 << 10
#: Bytes before the new lines that go along; more in the hour that comes twice.
CONTEXT_BYTES, LONG_CONTEXT_BYTES = 8 << 10, 512 << 10
#: A time as far from what came before asks for the choices to be made anew.
LEAP_S = 86400
_NOWHERE = -(2**62)
#: Files looked into at one look, fewer than are remembered; the rest waits for the next.
MOST_OPEN = 50
#: Files whose choices are remembered at once.
MOST_CHOICES = 8


@dataclass(frozen=True)
class TailState:
    """What is remembered of the files. `since_ns` is when the first one followed had changed."""

    marks: tuple[Mark, ...] = ()
    since_ns: int = 0


@dataclass(frozen=True, eq=False)
class Lines:
    """New rows of one file, the number of lines they came from, the lines left out."""

    table: ReadingTable
    lines: int
    dropped: tuple[DroppedRow, ...]


@dataclass(frozen=True, eq=False)
class Taken:
    """What one look brought, and the state once it is kept. `trouble` is one line, or empty."""

    parts: tuple[Lines, ...]
    state: TailState
    more: bool = False
    trouble: str = ""


@dataclass(frozen=True, eq=False)
class _There:
    """Files that changed, oldest first; the marks whose file is not as it was. `more` changed."""

    files: tuple[Seen, ...]
    waiting: tuple[Mark, ...]
    trouble: str = ""
    more: bool = False


@dataclass(frozen=True, eq=False)
class _Chosen:
    """Choices about one file, and how much of it they were made from."""

    choices: Choices
    made_at: int
    last_s: int


class Tail:
    """Follows one sensor's file or folder from a state; `zone` stands in where none is told."""

    def __init__(self, sensor: Sensor, state: TailState, zone: str = "") -> None:
        self.state = state
        self._sensor = sensor
        self._path = Path(sensor.path)
        told = dict(sensor.columns) or None
        self._options = Options(sensor.time_zone or None, None, None, told)
        self._spare = Options(zone or None, None, None, told)
        self._chosen: dict[tuple[str, str], _Chosen] = {}
        self._bad: dict[Path, tuple[tuple[int, int, int], str]] = {}
        self._refused = frozenset[Path]()  # changed and could not be opened: looked at again

    def keep(self, taken: Taken) -> None:
        """Go on from here: what was taken is kept."""
        self.state = taken.state

    def take(self, now_s: float) -> Taken:
        """Return the new rows; what cannot be reached or read is said, never raised."""
        with ExitStack() as stack:
            try:
                there = self._folder(stack) if self._sensor.kind == "folder" else self._file(stack)
                return self._read(there, now_s)
            except OSError as error:
                return Taken((), self.state, trouble=f"{self._path}: {_reason(error)}")

    def _file(self, stack: ExitStack) -> _There:
        """Look at the file and, where another stands in its place, at those beside it."""
        marks = self.state.marks
        active, trouble = [], ""
        try:
            if unchanged(self._path, marks) is not None and not self._refused:
                return _There((), marks)
            active = [_open(stack, self._path, active=True)]
        except FileNotFoundError:
            trouble = f"{self._path}: no such file"
        if any(_grew(seen, marks) for seen in active) and not self._refused:
            return _There(tuple(active), marks)
        older = list(beside(self._path, self.state.since_ns)) if marks else []
        there = self._changed(stack, older, trouble)
        if there.more:
            return there  # once it is read, nobody looks beside it any more
        return replace(there, files=(*there.files, *active))

    def _folder(self, stack: ExitStack) -> _There:
        """Look at the logs of a folder; at first at its newest alone."""
        logs = logs_in(self._path)
        since_ns = self.state.since_ns or max(logs.values(), default=0)
        paths = [path for path, changed_ns in logs.items() if changed_ns >= since_ns]
        trouble = "" if logs else f"{self._path}: no log in the folder"
        return self._changed(stack, paths, trouble)

    def _changed(self, stack: ExitStack, paths: Sequence[Path], trouble: str) -> _There:
        """Open the files that changed, oldest first; one that cannot be holds no other up."""
        marks, files = self.state.marks, list[Seen]()
        still = {path: unchanged(path, marks) for path in paths}
        changed = sorted((path for path, mark in still.items() if mark is None), key=self._turn)
        now, later = changed[:MOST_OPEN], changed[MOST_OPEN:]
        refused = set(self._refused.intersection(later))
        for path in now:
            try:
                files.append(_open(stack, path, active=False))
            except OSError as error:
                trouble = f"{path}: {_reason(error)}"
                refused.add(path)
        # What was of no use is tried again, but waited for it is not.
        more = any(not self._of_no_use(path) for path in later)
        self._refused = frozenset(refused)
        waiting = tuple(mark for mark in marks if mark not in still.values())
        return _There(tuple(sorted(files, key=_age)), waiting, trouble, more)

    def _turn(self, path: Path) -> tuple[bool, int, str]:
        """The oldest first; last what was of no use when it was looked at before."""
        return (self._of_no_use(path), path.stat().st_mtime_ns, path.name)

    def _of_no_use(self, path: Path) -> bool:
        """Whether a file was no log, or could not be opened, when it was looked at before."""
        return path in self._bad or path in self._refused

    def _read(self, there: _There, now_s: float) -> Taken:
        state = self.state
        since_ns = state.since_ns or (there.files[-1].changed_ns if there.files else 0)
        known = paired(there.files, there.waiting)
        taken = Taken((), TailState(state.marks, since_ns), there.more, there.trouble)
        for seen in there.files:
            taken = self._one(taken, seen, known.get(seen.path), now_s)
        return taken

    def _one(self, taken: Taken, seen: Seen, before: Mark | None, now_s: float) -> Taken:
        """Add what one file brings."""
        start = 0 if before is None else before.offset
        end, lines, why = self._part(seen, start, now_s)
        more = start + CHUNK_BYTES < seen.size and not why
        mark = touched(mark_of(seen, end), seen, again=more or bool(why))
        marks = kept_marks(taken.state.marks, mark, before)
        parts = taken.parts if lines is None else (*taken.parts, lines)
        state = TailState(*forgotten(marks, taken.state.since_ns))
        return Taken(parts, state, taken.more or more, why or taken.trouble)

    def _part(self, seen: Seen, offset: int, now_s: float) -> tuple[int, Lines | None, str]:
        """Read the new whole lines of one file: up to where, its rows, what is wrong."""
        now = (seen.inode, seen.size, seen.changed_ns)
        bad = self._bad.get(seen.path)
        if bad is not None and bad[0] == now:
            return offset, None, bad[1]
        new = seen.bytes_at(offset, offset + CHUNK_BYTES)
        end = last_line_end(new, offset, line_end(seen))
        if not end:  # a half-written line waits
            long = len(new) == CHUNK_BYTES
            return offset, None, f"{seen.path}: a line without end" if long else ""
        try:
            lines = self._lines(seen, offset, new[:end], now_s)
        except AdvisorError as error:
            self._bad[seen.path] = (now, str(error))
            return offset, None, str(error)
        self._bad.pop(seen.path, None)
        return offset + end, lines, ""

    def _lines(self, seen: Seen, offset: int, new: bytes, now_s: float) -> Lines:
        key = _key(seen)
        chosen = self._chosen.get(key) if offset else None
        if chosen is not None and chosen.made_at < BEGIN_BYTES and offset > 1.5 * chosen.made_at:
            chosen = None
        grown = self._grown(seen, offset, new, chosen, CONTEXT_BYTES)
        if chosen is not None and _surprising(grown, chosen.last_s, now_s):
            chosen = None
            grown = self._grown(seen, offset, new, None, CONTEXT_BYTES)
        if (grown.table.flags & np.uint16(Flag.AMBIGUOUS_TIME)).any():
            again = _Chosen(grown.choices, 0, 0)
            grown = self._grown(seen, offset, new, again, LONG_CONTEXT_BYTES)
        made_at = chosen.made_at if chosen is not None else offset + len(new)
        last = int(grown.table.time_s[-1]) if len(grown.table) else _NOWHERE
        self._chosen.pop(key, None)
        rest = list(self._chosen.items())[-MOST_CHOICES:]
        self._chosen = dict([*rest, (key, _Chosen(grown.choices, made_at, last))])
        return Lines(grown.table, grown.lines, grown.dropped)

    def _grown(
        self, seen: Seen, offset: int, new: bytes, chosen: _Chosen | None, context: int
    ) -> Grown:
        before = _context(seen, offset, context, begin=chosen is None)
        choices = None if chosen is None else chosen.choices
        args = (before + new, len(before), str(seen.path))
        try:
            return read_new(*args, self._options, choices)
        except AdvisorError:
            if self._options.time_zone or not self._spare.time_zone:
                raise
        return read_new(*args, self._spare, choices)


def _grew(seen: Seen, marks: Sequence[Mark]) -> bool:
    """Whether this is the file followed so far; one of which nothing was read proves nothing."""
    same = (mark for mark in marks if mark.inode == seen.inode and mark.offset)
    return any(goes_on(mark, seen) for mark in same)


def _reason(error: OSError) -> str:
    return (error.strerror or "it cannot be read").lower()


def _age(seen: Seen) -> tuple[int, str]:
    return (seen.changed_ns, seen.path.name)


def _open(stack: ExitStack, path: Path, *, active: bool) -> Seen:
    seen = opened(path, active)
    stack.callback(seen.file.close)
    return seen


def _key(seen: Seen) -> tuple[str, str]:
    return (str(seen.path), str(seen.inode))


def _context(seen: Seen, offset: int, size: int, *, begin: bool) -> bytes:
    """Return lines read before: the newest and, where choices are to be made, the first."""
    if begin and offset <= BEGIN_BYTES + size:
        return seen.bytes_at(0, offset)
    mark = line_end(seen)
    near = _whole(seen.bytes_at(max(0, offset - size), offset), max(0, offset - size), mark)
    if not begin:
        return near
    head = seen.bytes_at(0, BEGIN_BYTES)
    return head[: last_line_end(head, 0, mark)] + near


def _whole(part: bytes, start: int, mark: bytes) -> bytes:
    """Leave out the line that `part` begins in the middle of."""
    if not start:
        return part
    at = part.find(mark)
    while at >= 0 and (start + at) % len(mark):
        at = part.find(mark, at + 1)
    return part[at + len(mark) :] if at >= 0 else b""


def _surprising(grown: Grown, last_s: int, now_s: float) -> bool:
    """Whether the choices about the file look wrong by what came now."""
    times = grown.table.time_s
    if grown.dropped or not len(times):
        return True
    leaps = last_s != _NOWHERE and abs(int(times[0]) - last_s) > LEAP_S
    return bool(times[-1] > now_s + AHEAD_S) or leaps
