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

#: Bytes kept free in front, so that eight bytes can be read before any cell's end.
PAD = 8
_CHUNK = 1 << 14  # rows at a time: the eight or so words per row then stay in the cache


def _spread(byte: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes([byte]) * 8, "little"))


_ONES, _HIGH, _ZEROS, _SIX = _spread(0x01), _spread(0x80), _spread(0x30), _spread(0x76)
_PAIRS = np.uint64(0x000000FF000000FF)
_MILLIONS, _HUNDREDS = np.uint64(0x000F424000000064), np.uint64(0x0000271000000001)
#: For a text of 0–8 bytes: which bytes of the eight that end with it are its own.
_OWN = np.array(
    [(0xFFFFFFFFFFFFFFFF << (64 - 8 * length)) & 0xFFFFFFFFFFFFFFFF for length in range(9)],
    np.uint64,
)
#: Divisor by the number of bits below the decimal mark's byte (64: there is no mark).
_DIVISOR = np.array([10.0 ** max(7 - bits // 8, 0) if bits < 64 else 1.0 for bits in range(65)])


class ByteColumn(Sequence[str]):
    """A column of n ASCII cells: `raw` padded by `PAD`, `starts` [n] and `ends` [n] into it."""

    def __init__(self, raw: ByteArray, starts: IntArray, ends: IntArray) -> None:
        self.raw, self.starts, self.ends = raw, starts, ends

    def __len__(self) -> int:
        """Return the number of cells."""
        return len(self.starts)

    @overload
    def __getitem__(self, place: int) -> str: ...
    @overload
    def __getitem__(self, place: slice) -> ByteColumn: ...
    def __getitem__(self, place: int | slice) -> str | ByteColumn:
        """Return one cell as text, or a part of the column."""
        if isinstance(place, slice):
            return ByteColumn(self.raw, self.starts[place], self.ends[place])
        return self.raw[self.starts[place] : self.ends[place]].tobytes().decode("ascii")

    def same_width(self) -> int | None:
        """Return the width of the cells if all are of one."""
        width = self.ends - self.starts
        first = int(width[0]) if len(width) else 0
        return first if first and bool((width == first).all()) else None

    def characters(self, width: int) -> ByteArray:
        """Return cells of one width as [width, n] bytes."""
        count = len(self.raw) - width + 1
        windows = np.ndarray((count,), f"V{width}", self.raw, strides=(1,))
        rows = windows[self.starts].view(np.uint8).reshape(len(self), width)
        return np.ascontiguousarray(rows.T)

    def floats(self, decimal: str) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return plain numbers of up to eight bytes as float64 [n] and where that succeeded.

        Exactly what `float` gives: mantissa and power of ten are exact, one division rounds.
        """
        values, good = np.empty(len(self)), np.empty(len(self), np.bool_)
        words = np.ndarray((len(self.raw) - 7,), "<u8", self.raw, strides=(1,))
        for start in range(0, len(self), _CHUNK):
            part = slice(start, start + _CHUNK)
            values[part], good[part] = _parse(
                words, self.raw, self.starts[part], self.ends[part], decimal
            )
        return values, good


def _parse(
    words: WordArray, raw: ByteArray, starts: IntArray, ends: IntArray, decimal: str
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Read the last eight bytes of each cell as one word and all digits of it at once."""
    negative = raw[starts] == ord("-")
    length = ends - starts - negative
    good = (length > 0) & (length <= 8)
    own = _OWN[np.where(good, length, 0)]
    word = words[ends - 8] & own
    # The decimal mark: the one byte that is zero after the exclusive or.
    other = word ^ _spread(ord(decimal))
    mark = ((other - _ONES) & ~other & _HIGH) >> np.uint64(7)
    below = mark - np.uint64(1)
    has_mark = mark != 0
    good &= (length > has_mark) & (mark & below == 0)
    # Close the gap the mark leaves: what stood before it moves up by one byte.
    digits = ((word ^ _ZEROS) & own) & ~(mark * np.uint64(255))
    after = ~below & ~(mark * np.uint64(255))
    closed = np.where(has_mark, ((digits & below) << np.uint64(8)) | (digits & after), digits)
    good &= ((closed + _SIX) | closed) & _HIGH == 0
    pairs = closed * np.uint64(10) + (closed >> np.uint64(8))
    high = (pairs & _PAIRS) * _MILLIONS
    low = ((pairs >> np.uint64(16)) & _PAIRS) * _HUNDREDS
    whole = ((high + low) >> np.uint64(32)).astype(np.float64)
    values = whole / _DIVISOR[np.bitwise_count(below)]
    return np.where(negative, -values, values), good


def cut_bytes(body: str, mark: str, width: int) -> list[ByteColumn] | None:
    """Cut ASCII text, every line with the same number of marks, into columns; else None."""
    rows = body.count("\n") + 1
    padded = b"\x00" * PAD + body.encode("ascii") + b"\n"
    raw = np.frombuffer(padded, np.uint8)
    places = np.flatnonzero((raw == ord("\n")) | (raw == ord(mark)))
    if len(places) != rows * width:
        return None
    ends = np.ascontiguousarray(places.reshape(rows, width).T)
    if (raw[ends[-1]] != ord("\n")).any():
        return None
    starts = np.empty_like(ends)
    starts[1:] = ends[:-1] + 1
    starts[0, 1:] = ends[-1, :-1] + 1
    starts[0, 0] = PAD
    return [ByteColumn(raw, starts[place], ends[place]) for place in range(width)]
