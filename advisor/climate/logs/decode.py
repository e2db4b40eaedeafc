"""Bytes to text: what kind of file it is, its encoding and its line ends."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from advisor.base.errors import FileFormatError

ACCEPTED = (
    "a text log: CSV, semicolon, tab or space separated, UTF-8, UTF-16 or a Western code page"
)
#: Bytes looked at to decide the encoding and the structure.
HEAD_BYTES = 1 << 20
#: Files larger than this are decoded and parsed piece by piece.
BLOCK_BYTES = 64 << 20

_MAGIC = (
    (b"PK\x03\x04", "a spreadsheet (.xlsx) or zip archive", "save it as CSV first"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet (.xls)", "save it as CSV first"),
    (b"{\\rtf", "an RTF document", "save it as plain text first"),
    (b"%PDF", "a PDF", "export the log as CSV"),
    (b"SQLite format 3\x00", "a database", "export the log as CSV"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"\x89PNG", "a picture", "export the log as CSV"),
)
_HTML = re.compile(rb"<\s*(!doctype\s+html|html|head|body|table|\?xml)", re.IGNORECASE)
#: Letters and signs a log in a Western language plausibly holds.
_LIKELY = frozenset("°éèêëàâäáãåæöôóõøüùúûßñçíìîïÄÖÜÅØÉµ²³±–’")


@dataclass(frozen=True, eq=False)
class Decoded:
    """A file as text. `head` is its first megabyte; `blocks()` yields all of it, whole lines."""

    file: str
    raw: bytes
    codec: str
    encoding: str
    line_ends: str
    head: str
    sha256: str
    notes: tuple[str, ...]

    def blocks(self) -> Iterator[str]:
        """Yield the text with LF line ends, cut only at line ends."""
        if len(self.raw) <= HEAD_BYTES:
            yield self.head
            return
        for part in _pieces(self.raw, self.codec):
            yield to_text(part, self.codec)

    @property
    def ends_with_newline(self) -> bool:
        """Whether the last line is closed; an open one may have been cut short."""
        tail = self.raw[-8:].rstrip(b"\x00\x1a ")
        return tail.endswith((b"\n", b"\r"))


def decode(path: Path) -> Decoded:
    """Read a file and decide its encoding; FileFormatError if it is no text log."""
    return decode_bytes(_read(path), str(path))


def decode_bytes(raw: bytes, file: str) -> Decoded:
    """Decide the encoding of bytes; FileFormatError, naming `file`, if they are no text log."""
    digest = hashlib.sha256(raw).hexdigest()
    _refuse_other_kinds(raw, file)
    codec, why = _encoding(raw)
    notes = []
    tail = len(raw) - len(raw.rstrip(b"\x00\x1a"))
    if tail and not codec.startswith("utf-16"):
        raw = raw[:-tail]
        notes.append(f"{tail} filler bytes (NUL or 0x1A) at the end of the file left out")
    if b"\x00" in raw and not codec.startswith("utf-16"):
        notes.append(f"{raw.count(0)} NUL bytes inside the file left out")
    head = to_text(_head(raw, codec), codec)
    if not head.strip():
        raise FileFormatError(file, "", "an empty file", ACCEPTED)
    return Decoded(file, raw, codec, why, _line_ends(raw, codec), head, digest, tuple(notes))


def _read(path: Path) -> bytes:
    try:
        raw = path.read_bytes()
    except OSError as error:
        found = error.strerror or type(error).__name__
        raise FileFormatError(str(path), "", found, "a file that can be read") from error
    if not raw:
        raise FileFormatError(str(path), "", "an empty file", ACCEPTED)
    return raw


def _refuse_other_kinds(raw: bytes, file: str) -> None:
    for magic, kind, advice in _MAGIC:
        if raw.startswith(magic):
            raise FileFormatError(file, "first bytes", kind, f"{ACCEPTED}; {advice}")
    start = raw[:2048].lstrip(b"\xef\xbb\xbf \t\r\n")
    if _HTML.match(start):
        raise FileFormatError(file, "line 1", "an HTML or XML page", f"{ACCEPTED}; export as CSV")


def _encoding(raw: bytes) -> tuple[str, str]:
    for mark, codec, name in (
        (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8 (byte order mark)"),
        (b"\xff\xfe", "utf-16-le", "UTF-16 little endian (byte order mark)"),
        (b"\xfe\xff", "utf-16-be", "UTF-16 big endian (byte order mark)"),
    ):
        if raw.startswith(mark):
            return codec, name
    sample = raw[:4096]
    for codec, zeros in (("utf-16-le", sample[1::2]), ("utf-16-be", sample[0::2])):
        if len(zeros) > 8 and zeros.count(0) > 0.8 * len(zeros):
            return codec, f"{codec.upper()} without mark (every other byte is zero)"
    return _single_byte(raw)


def _single_byte(raw: bytes) -> tuple[str, str]:
    if raw.isascii():
        return "utf-8", "plain ASCII"
    # A last character cut in two by a flat battery must not decide the encoding.
    for cut in range(4):
        try:
            raw[: len(raw) - cut].decode("utf-8")
        except UnicodeDecodeError:
            continue
        return "utf-8", "UTF-8 (all its multi-byte characters are valid)"
    high = bytes(sorted(byte for byte in set(raw) if byte > 127))
    return _code_page(raw, high)


def _code_page(raw: bytes, high: bytes) -> tuple[str, str]:
    best = max(("cp1252", "latin-1", "mac_roman"), key=lambda codec: _plausible(raw, high, codec))
    name = {"cp1252": "Windows-1252", "latin-1": "Latin-1", "mac_roman": "Mac Roman"}[best]
    return best, f"{name} (not valid UTF-8; its letters and degree signs read best so)"


def _plausible(raw: bytes, high: bytes, codec: str) -> float:
    """Score a code page by how many of its high bytes become characters a log would hold."""
    score = 0.0
    for byte in high:
        text = bytes([byte]).decode(codec, errors="replace")
        count = min(raw.count(byte), 50)
        score += count * (1.0 if text in _LIKELY else 0.1 if text.isprintable() else -1.0)
    return score


def _head(raw: bytes, codec: str) -> bytes:
    if len(raw) <= HEAD_BYTES:
        return raw
    return next(_pieces(raw, codec, HEAD_BYTES))


def _pieces(raw: bytes, codec: str, size: int = BLOCK_BYTES) -> Iterator[bytes]:
    """Cut at line ends, on whole code units."""
    newline = "\n".encode(codec.replace("-sig", ""))
    if newline not in raw[:HEAD_BYTES]:
        newline = "\r".encode(codec.replace("-sig", ""))
    start, width = 0, len(newline)
    while start < len(raw):
        end = start + size
        while end < len(raw):
            end = raw.find(newline, end)
            if end < 0:
                end = len(raw)
            elif end % width == 0:
                end += width
                break
            else:
                end += 1
        yield raw[start:end]
        start = end


def to_text(raw: bytes, codec: str) -> str:
    """Return bytes as text with LF line ends, without marks and filler."""
    text = raw.decode(codec.replace("-sig", ""), errors="replace")
    if "\x00" in text:
        text = text.replace("\x00", "")
    if text[:1] == "\ufeff":
        text = text[1:]
    text = text.rstrip("\x1a")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text


def _line_ends(raw: bytes, codec: str) -> str:
    head = raw[:65536].decode(codec.replace("-sig", ""), errors="replace")
    both = head.count("\r\n")
    counts = {
        "CRLF": both,
        "LF": head.count("\n") - both,
        "CR": head.count("\r") - both,
    }
    used = [name for name, count in counts.items() if count]
    return " and ".join(used) if used else "none (a single line)"
