"""Which file is which: a log grown, renamed, replaced, copied or cut is told by what stands in it.

A mark is what is remembered of one file: a fingerprint of its first bytes and of those just
before the place read up to, its number on the disk, and that place. Names tell nothing.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

#: Bytes at the beginning, and before the place read up to, that a fingerprint is taken of.
HEAD_BYTES, NEAR_BYTES = 4096, 256
#: As many files are remembered at most; the oldest are forgotten first.
MOST_MARKS = 60
#: Read at most so many bytes of new lines at once; the rest is read the next time.
CHUNK_BYTES = 2 << 20
_LOG_SUFFIXES = frozenset({".csv", ".txt", ".log", ".tsv", ".dat", ".asc", ".prn"})
_PACKED = frozenset({".gz", ".zip", ".bz2", ".xz", ".zst", ".7z", ".part", ".tmp", ".swp"})


@dataclass(frozen=True)
class Mark:
    """A file as it was last seen. `offset` is how many bytes of it have been read."""

    name: str
    inode: int
    size: int
    changed_ns: int
    offset: int
    head_bytes: int
    head_sha: str
    near_sha: str


@dataclass(frozen=True, eq=False)
class Seen:
    """A file that is there now; `active` where it is the one followed, no older one beside it."""

    path: Path
    file: BinaryIO
    inode: int
    size: int
    changed_ns: int
    active: bool

    def bytes_at(self, start: int, end: int) -> bytes:
        """Return bytes from `start` up to `end`, fewer where the file ends before."""
        self.file.seek(start)
        return self.file.read(max(0, end - start))


def opened(path: Path, active: bool) -> Seen:
    """Open a file; OSError where that cannot be. The caller closes `file`."""
    file = path.open("rb")
    stat = os.fstat(file.fileno())
    return Seen(path, file, stat.st_ino, stat.st_size, stat.st_mtime_ns, active)


def unchanged(path: Path, marks: Sequence[Mark]) -> Mark | None:
    """Return the mark of a file to which nothing happened since, else None; OSError."""
    stat = path.stat()
    now = (stat.st_ino, stat.st_size, stat.st_mtime_ns)
    return next((m for m in marks if (m.inode, m.size, m.changed_ns) == now), None)


def mark_of(seen: Seen, offset: int) -> Mark:
    """Return the mark of a file read up to `offset`."""
    head = seen.bytes_at(0, min(HEAD_BYTES, offset))
    near = seen.bytes_at(max(0, offset - NEAR_BYTES), offset)
    return Mark(seen.path.name, seen.inode, seen.size, seen.changed_ns, offset, len(head),
                _sha(head), _sha(near))  # fmt: skip


def goes_on(mark: Mark, seen: Seen) -> bool:
    """Whether a file holds what was read before, and perhaps more behind it."""
    if seen.size < mark.offset or _sha(seen.bytes_at(0, mark.head_bytes)) != mark.head_sha:
        return False
    near = seen.bytes_at(max(0, mark.offset - NEAR_BYTES), mark.offset)
    return _sha(near) == mark.near_sha


def paired(files: Sequence[Seen], waiting: Sequence[Mark]) -> dict[Path, Mark]:
    """Return which mark each file goes on from; a file that is new has none.

    `waiting` are the marks whose file is not where it was. The number on the disk counts first: of
    a log copied and about to be cut, the log itself. A file that only begins like one read before
    has none: it is read again, since what was kept already is told apart by its row, a line
    skipped is lost.
    """
    found: dict[Path, Mark] = {}
    left = list(waiting)
    active_first = sorted(files, key=lambda seen: not seen.active)
    for same_inode in (True, False):
        for seen in active_first:
            for mark in reversed(left):
                wanted = not same_inode or mark.inode == seen.inode
                if seen.path not in found and wanted and goes_on(mark, seen):
                    found[seen.path] = mark
                    left.remove(mark)
    return found


def line_end(seen: Seen) -> bytes:
    """Return the bytes a line of this file ends with."""
    head = seen.bytes_at(0, HEAD_BYTES)
    little = head.startswith(b"\xff\xfe") or _zeros(head[1::2])
    big = head.startswith(b"\xfe\xff") or _zeros(head[0::2])
    mark = b"\r" if b"\r" in head and b"\n" not in head else b"\n"
    return mark + b"\x00" if little else b"\x00" + mark if big else mark


def _zeros(part: bytes) -> bool:
    return len(part) > 8 and part.count(0) > 0.8 * len(part)


def last_line_end(part: bytes, start: int, mark: bytes) -> int:
    """Return how many bytes of `part`, which begins at `start`, are whole lines."""
    at = part.rfind(mark)
    while at >= 0 and (start + at) % len(mark):
        at = part.rfind(mark, 0, at + len(mark) - 1)
    return at + len(mark) if at >= 0 else 0


def kept_marks(marks: Sequence[Mark], new: Mark, before: Mark | None) -> tuple[Mark, ...]:
    """Return the marks with one put in the place of an earlier one of the same file."""
    return (*(mark for mark in marks if mark != before), new)


def forgotten(marks: Sequence[Mark], since_ns: int) -> tuple[tuple[Mark, ...], int]:
    """Return the newest marks, and from when on a file without one counts as new."""
    gone = marks[:-MOST_MARKS]
    return tuple(marks[-MOST_MARKS:]), max([since_ns, *(mark.changed_ns + 1 for mark in gone)])


def touched(mark: Mark, seen: Seen, *, again: bool) -> Mark:
    """Return a mark with the file's present name; `again`: look at it even if nothing changes."""
    size = -1 if again else seen.size
    return replace(mark, name=seen.path.name, size=size)


def beside(path: Path, since_ns: int) -> Iterator[Path]:
    """Yield older files of a log that is renamed when full, written to since a moment."""
    stem, suffix = re.escape(path.stem), re.escape(path.suffix)
    numbered = re.compile(rf"{stem}(\.\d{{1,3}}|[-_.]?\d[\d\-_.T]{{5,}}){suffix}")
    for other in path.parent.iterdir():
        name = other.name
        older = name.startswith((f"{path.name}.", f"{path.name}-")) or numbered.fullmatch(name)
        late = older and _is_log(other, every=True) and other.stat().st_mtime_ns >= since_ns
        if late and name != path.name:
            yield other


def logs_in(folder: Path) -> dict[Path, int]:
    """Return the log files of a folder, with when each was last written to."""
    logs = (path for path in folder.iterdir() if _is_log(path, every=False))
    return {path: path.stat().st_mtime_ns for path in logs}


def _is_log(path: Path, *, every: bool) -> bool:
    suffix = path.suffix.lower()
    if path.name.startswith(".") or suffix in _PACKED or not path.is_file():
        return False
    return every or suffix in _LOG_SUFFIXES


def _sha(part: bytes) -> str:
    return hashlib.sha256(part).hexdigest()
