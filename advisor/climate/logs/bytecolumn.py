"""Columns of a clean file as places in its bytes, so that numbers need no text of their own.

A year of minutes has two million cells; making each a Python string costs more than all the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

from advisor.climate.readings import FloatArray, IntArray

ByteArray = NDArray[np.uint8]
WordArray = NDArray[np.uint64]
PlaceArray = NDArray[np.int32]

#: Bytes kept free in front, so that eight bytes can be read before any cell's end.
PAD = 8
_CHUNK = 1 << 14  # rows at a time: the eight or so words per row then stay in the cache
_PIECE = 1 << 18  # bytes searched for marks at a time, for the same reason


def _spread(byte: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes([byte]) * 8, "little"))


_ONES, _HIGH, _ZEROS, _SIX = _spread(0x01), _spread(0x80), _spread(0x30), _spread(0x76)
_PAIRS = np.uint64(0x000000FF000000FF)
_MILLIONS, _HUNDREDS = np.uint64(0x000F424000000064), np.uint64(0x0000271000000001)
#: For a text of 0–8 bytes (9: longer): which bytes of the eight that end with it are its own.
_OWN = np.array(
    [(0xFFFFFFFFFFFFFFFF << (64 - 8 * length)) & 0xFFFFFFFFFFFFFFFF for length in range(9)] + [0],
    np.uint64,
)
#: Divisor by the number of bits below the decimal mark's byte (64: there is no mark).
_DIVISOR = np.array([10.0 ** max(7 - bits // 8, 0) if bits < 64 else 1.0 for bits in range(65)])


class ByteColumn(Sequence[str]):
    """A column of n ASCII cells in `raw` (padded by `PAD`).

    `before` [n] and `ends` [n] are the places of the marks around each cell; they may be views
    with steps, so that cutting a file copies nothing.
    """

    def __init__(self, raw: ByteArray, before: PlaceArray, ends: PlaceArray) -> None:
        self.raw, self.before, self.ends = raw, before, ends

    def __len__(self) -> int:
        """Return the number of cells."""
        return len(self.ends)

    @overload
    def __getitem__(self, place: int) -> str: ...
    @overload
    def __getitem__(self, place: slice) -> ByteColumn: ...
    def __getitem__(self, place: int | slice) -> str | ByteColumn:
        """Return one cell as text, or a part of the column."""
        if isinstance(place, slice):
            return ByteColumn(self.raw, self.before[place], self.ends[place])
        return self.raw[self.before[place] + 1 : self.ends[place]].tobytes().decode("ascii")

    def at(self, rows: IntArray) -> list[str]:
        """Return the texts of some rows."""
        return [self[row] for row in rows.tolist()]

    def same_width(self) -> int | None:
        """Return the width of the cells if all are of one."""
        width = self.ends - self.before
        first = int(width[0]) - 1 if len(width) else 0
        return first if first > 0 and bool((width == first + 1).all()) else None

    def characters(self, width: int) -> ByteArray:
        """Return cells of one width as [width, n] bytes."""
        windows = np.ndarray((len(self.raw) - width + 1,), f"V{width}", self.raw, strides=(1,))
        out = np.empty((width, len(self)), np.uint8)
        for start in range(0, len(self), _CHUNK):
            rows = windows[self.before[start : start + _CHUNK] + 1]
            out[:, start : start + _CHUNK] = rows.view(np.uint8).reshape(len(rows), width).T
        return out

    def floats(self, decimal: str) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return plain numbers of up to eight bytes as float64 [n] and where that succeeded.

        Exactly what `float` gives: mantissa and power of ten are exact, one division rounds.
        """
        values, good = np.empty(len(self)), np.empty(len(self), np.bool_)
        words = np.ndarray((len(self.raw) - 7,), "<u8", self.raw, strides=(1,))
        for start in range(0, len(self), _CHUNK):
            part = slice(start, start + _CHUNK)
            starts = self.before[part].astype(np.int64) + 1
            ends = self.ends[part].astype(np.int64)
            values[part], good[part] = _parse(words, self.raw, starts, ends, decimal)
        return values, good


def _parse(
    words: WordArray, raw: ByteArray, starts: IntArray, ends: IntArray, decimal: str
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Read the last eight bytes of each cell as one word and all digits of it at once."""
    negative = raw[starts] == ord("-")
    length = ends - starts - negative
    own = _OWN[np.minimum(length, 9)]
    word = words[ends - 8] & own
    # The decimal mark: the one byte that is zero after the exclusive or.
    other = word ^ _spread(ord(decimal))
    mark = ((other - _ONES) & ~other & _HIGH) >> np.uint64(7)
    below = mark - np.uint64(1)
    has_mark = mark != 0
    good = (length > has_mark) & (length <= 8) & (mark & below == 0)
    # Close the gap the mark leaves: what stood before it moves up by one byte.
    gap = mark * np.uint64(255)
    digits = (word ^ _ZEROS) & own & ~gap
    closed = ((digits & below) << np.uint64(8)) | (digits & ~(below | gap))
    if not has_mark.all():
        closed = np.where(has_mark, closed, digits)
    good &= ((closed + _SIX) | closed) & _HIGH == 0
    pairs = closed * np.uint64(10) + (closed >> np.uint64(8))
    whole = (pairs & _PAIRS) * _MILLIONS
    whole += ((pairs >> np.uint64(16)) & _PAIRS) * _HUNDREDS
    whole >>= np.uint64(32)
    values = whole.astype(np.float64)
    values /= _DIVISOR[np.bitwise_count(below)]
    if negative.any():
        np.negative(values, out=values, where=negative)
    return values, good


def cut_text(body: str, mark: str, width: int) -> list[ByteColumn] | None:
    """Cut ASCII text without a closing line end; see `cut_bytes`."""
    padded = b"".join((b"\x00" * PAD, body.encode("ascii")))
    return cut_bytes(padded, PAD, len(padded), mark, width)


def cut_bytes(data: bytes, begin: int, end: int, mark: str, width: int) -> list[ByteColumn] | None:
    """Cut `data[begin:end]`, ASCII, into columns if every line has `width` cells; else None.

    At least `PAD` bytes stand before `begin`; `end` is where the last line ends, LF or CRLF.
    Files come in blocks of 64 MB, so places fit 32 bits.
    """
    raw = np.frombuffer(data, np.uint8)
    parts = [np.array([begin - 1], np.int32)]
    for start in range(begin, end, _PIECE):
        piece = raw[start : min(start + _PIECE, end)]
        is_mark = piece == ord("\n")
        is_mark |= piece == ord(mark)
        parts.append(np.flatnonzero(is_mark).astype(np.int32) + np.int32(start))
    places = np.concatenate([*parts, np.array([end], np.int32)])
    rows, rest = divmod(len(places) - 1, width)
    if rest:
        return None
    before, ends = places[:-1].reshape(rows, width), places[1:].reshape(rows, width)
    # As many line ends as rows, each after the last cell: then no other cell ends a line.
    if (raw[ends[:-1, -1]] != ord("\n")).any() or data.count(b"\n", begin, end) != rows - 1:
        return None
    columns = [ByteColumn(raw, before[:, place], ends[:, place]) for place in range(width)]
    if rows > 1 and raw[ends[0, -1] - 1] == ord("\r"):
        columns[-1] = _without_return(columns[-1])
    return columns


def _without_return(column: ByteColumn) -> ByteColumn:
    """Leave the CR of CRLF out of the last cells."""
    has_return = column.raw[column.ends - 1] == ord("\r")
    return ByteColumn(column.raw, column.before, column.ends - has_return)
