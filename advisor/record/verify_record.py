"""Checks an exported conditions record: was anything in it altered since it was written?

    python3 verify_record.py record.jsonl [--head HASH] [--key HEX]

Python 3.8 or newer and this one file are all it needs; it asks no network and changes nothing.
How it works, for anyone who wants to write their own: every line but the last is one entry in
canonical JSON (RFC 8785); its field "previous" is the SHA-256 of the line before, without line
feed (64 zeros in the first); the last line holds the number of entries and the hash of the last.
A sign-off may carry an Ed25519 signature (RFC 8032) over its own line without "signature".
Files named in entries lie in the folder "files" under their SHA-256.

Exit code 0: nothing was altered. 1: something was altered, or a file is missing, and it says which
and where. 2: it cannot be read.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from advisor.record.ed25519 import signature_fits
from advisor.record.exact_line import (
    BrokenError,
    canonical,
    field_at,
    is_hash,
    parse,
    shown,
    wrong_fields,
)
from advisor.record.proof import Problem, Result, Signature, words

LONGEST_LINE = 64 * 1024 * 1024
_SIGNATURE = re.compile(r"[0-9a-f]{128}")


class UnreadableError(Exception):
    """The record cannot be read at all; the message says why."""


@dataclass(frozen=True)
class NamedFile:
    """A file named by an entry, with the hashes of its blocks of lines where it has them."""

    line: int
    name: str
    blocks: object


class Checker:
    """Walks the lines of a record once; it holds 32 bytes for each."""

    def __init__(self, head: str = "") -> None:
        self.result = Result()
        self.files: dict[str, NamedFile] = {}
        self._head = head
        self._hashes = bytearray()
        self._job: object = None
        self._shifts = {0}
        self._told: set[int] = set()
        self._loose = 0
        self._written = ""
        self._ended = 0

    def take(self, number: int, raw: bytes) -> None:
        """Take the next line with its line feed."""
        if self._ended:
            self.result.tell(number, "", "stands after the end of the record")
        elif len(raw) > LONGEST_LINE:
            raise UnreadableError(f"line {number} is longer than {LONGEST_LINE} bytes")
        elif not raw.endswith(b"\n"):
            self._tell(number, "", "is cut off: its line feed is missing")
        elif raw.startswith(b'{"end":'):
            self._end(number, raw[:-1])
        else:
            self._entry(number, raw[:-1])

    def finish(self) -> None:
        """Say what is missing after the last line."""
        if not self._ended:
            self.result.tell(self.result.entries + 1, "", "the end line is missing: it was cut off")
        elif self._loose == self._ended:
            self._tell(self._loose - 1, "", "was altered, or the head in the end line was")
        elif self._loose:
            self._blame_before(self._loose)
        if self._head and not self.result.head_at:
            self.result.tell(0, "", "the head asked for is the hash of no entry: the record was "
                             "made anew, changed up to that head, or cut off")  # fmt: skip

    def hash_of(self, number: int) -> str:
        """Return the hash of a line taken, "" where there is none."""
        return self._hashes[number * 32 - 32 : number * 32].hex() if number > 0 else ""

    def _tell(self, number: int, where: str, text: str) -> None:
        """Tell a fault of the line itself: its hash need not be told as well."""
        self._told.add(number)
        self.result.tell(number, where, text)

    def _entry(self, number: int, line: bytes) -> None:
        entry: dict[str, object] = {}
        try:
            entry = parse(line)
        except BrokenError as error:
            where = "" if error.offset is None else field_at(line, error.offset)
            byte = "" if error.offset is None else f" (byte {error.offset + 1})"
            self._tell(number, where, f"{error}{byte}")
        wrong = wrong_fields(entry) if entry else []
        for where, fault in wrong:
            self._tell(number, where, fault)
        if entry and not wrong:
            self._place(number, entry)
            self._content(number, entry)
        self._link(number, entry.get("previous"))
        digest = hashlib.sha256(line)
        self._hashes += digest.digest()
        self.result.entries, self.result.head = number, digest.hexdigest()
        if digest.hexdigest() == self._head:
            self.result.head_at = number

    def _place(self, number: int, entry: dict[str, object]) -> None:
        said = entry["number"]
        if isinstance(said, int) and said - number not in self._shifts:
            self._shifts.add(said - number)
            self._tell(number, "number", f"says entry {said} where {number} is due: it was "
                       "changed, or entries were taken out, put in or moved")  # fmt: skip
        if self._job not in (None, entry["job"]):
            self.result.tell(number, "job", "is another job than that of the line before")
        self._job = entry["job"]

    def _content(self, number: int, entry: dict[str, object]) -> None:
        data, kind = entry["data"], entry["kind"]
        assert isinstance(data, dict)
        self._clock(number, str(entry["written"]))
        if kind == "correction" and len(self._shifts) == 1:
            self._correction(number, data)
        elif kind == "sign-off":
            self._sign_off(number, entry, data)
        elif kind in ("photo", "import") and is_hash(data.get("sha256")):
            self._file(number, data)

    def _file(self, number: int, data: dict[str, object]) -> None:
        named = NamedFile(number, shown(data.get("file_name")), data.get("blocks"))
        if "bytes" in data:
            self.files.setdefault(str(data["sha256"]), named)
        else:  # it was not at hand to be kept: the record has its hash, not the file
            self.result.notes.append(f"Entry {number} names the file {named.name} by its hash; the "
                                     "file itself was never kept with the record.")  # fmt: skip

    def _clock(self, number: int, written: str) -> None:
        moment = datetime.fromisoformat
        if self._written and moment(written) < moment(self._written):
            self.result.notes.append(f"Entry {number} says a time of writing before that of entry "
                                     f"{number - 1}: the clock had been set back, or two were "
                                     "writing at once.")  # fmt: skip
        self._written = written

    def _correction(self, number: int, data: dict[str, object]) -> None:
        text = str(data.get("corrects"))
        at = int(text) if re.fullmatch("[1-9][0-9]{0,14}", text) else 0
        if not 0 < at < number:
            self.result.tell(number, "data.corrects", "points at no earlier entry")
        elif self.hash_of(at) != data.get("corrects_hash"):
            self.result.tell(
                number, "data.corrects_hash", f"does not fit entry {at}, which it corrects"
            )

    def _sign_off(self, number: int, entry: dict[str, object], data: dict[str, object]) -> None:
        key, signature = str(data.get("public_key", "")), str(data.get("signature", ""))
        if not key and not signature:
            return
        rest = {name: value for name, value in data.items() if name != "signature"}
        if not is_hash(key) or not _SIGNATURE.fullmatch(signature):
            self.result.tell(number, "data.signature", "is not a signature with its key")
        elif signature_fits(bytes.fromhex(key), canonical({**entry, "data": rest}),
                            bytes.fromhex(signature)):  # fmt: skip
            self.result.signatures.append(Signature(number, key, shown(data.get("name", ""))))
        else:
            self.result.tell(
                number, "data.signature", "does not fit the key, this entry and all before"
            )

    def _link(self, number: int, previous: object) -> None:
        """Compare with the hash of the line before, and say which of the two was altered."""
        fits = previous == self.result.head
        known = number in self._told or number - 1 in self._told
        if self._loose and (fits or number in self._told):
            self._blame_before(self._loose)
        elif self._loose:
            self._tell(self._loose, "", "was altered: it fits neither the line before nor the "
                       "line after")  # fmt: skip
        self._loose = 0 if fits or known or self._loose else number

    def _blame_before(self, number: int) -> None:
        if number == 1:
            self._tell(1, "previous", "is not the first entry: the beginning was taken off")
        else:
            self._tell(number - 1, "", "was altered or exchanged: its hash is not the one that the "
                       "line after holds")  # fmt: skip

    def _end(self, number: int, line: bytes) -> None:
        self._ended = number
        try:
            end = parse(line).get("end")
        except BrokenError as error:
            self._tell(number, "end", str(error))
            return
        whole = canonical({"end": end}) == line
        if not whole or not isinstance(end, dict) or set(end) != {"entries", "head"}:
            self._tell(number, "end", "is not the end line of a record")
            return
        if type(end["entries"]) is not int or end["entries"] != self.result.entries:
            self._tell(number, "end.entries", f"says {shown(end['entries'])} entries where "
                       f"{self.result.entries} are here")  # fmt: skip
        if not is_hash(end["head"]):
            self._tell(number, "end.head", "is not a hash")
        self._link(number, end["head"])


# --- files beside the record -----------------------------------------------------------------


def check_files(folder: Path, named: dict[str, NamedFile], result: Result) -> None:
    """Compare the files of the folder with the hashes that entries name."""
    if not folder.is_dir():
        result.files_not_here = len(named)
        return
    here: dict[str, list[Path]] = {}
    for path in sorted(folder.iterdir()):
        here.setdefault(path.name.split(".")[0], []).append(path)
    for sha256, wanted in named.items():
        paths = here.pop(sha256, [])
        if not paths or not all(path.is_file() for path in paths):
            gone = f"its file {wanted.name} is missing from {folder.name}"
            result.missing.append(Problem(wanted.line, "", gone))
            continue
        # All that bear the hash: whoever opens one must not see another file than was entered.
        altered = next((path for path in paths if _file_hash(path) != sha256), None)
        if altered is None:
            result.files_intact += 1
        else:
            result.tell(wanted.line, "data.sha256", f"its file {wanted.name} was altered"
                        + _altered_lines(altered, wanted.blocks))  # fmt: skip
    for path in (path for paths in here.values() for path in paths):
        result.notes.append(f"{folder.name}/{shown(path.name)} is named by no entry: nothing is "
                            "proven of it.")  # fmt: skip


def _file_hash(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        for part in iter(lambda: file.read(1 << 20), b""):
            digest.update(part)
    return digest.hexdigest()


def _altered_lines(path: Path, blocks: object) -> str:
    """Name the blocks of lines whose hash differs; "" where the entry holds none."""
    wrong, at = [], 1
    with path.open("rb") as file:
        rows = blocks if isinstance(blocks, list) else []
        for row in (row for row in rows if isinstance(row, dict)):
            first, lines = (_count(row, name) for name in ("first_line", "lines"))
            digest = hashlib.sha256()
            while at < first + lines:
                body = file.readline()
                if not body:
                    break
                digest.update(body if at >= first else b"")
                at += 1
            if digest.hexdigest() != row.get("sha256"):
                wrong.append(f"{first} to {first + lines - 1}")
    return f" in lines {', '.join(wrong[:5])}" if wrong else ""


def _count(row: dict[str, object], name: str) -> int:
    text = str(row.get(name, ""))
    return int(text) if re.fullmatch("[0-9]{1,12}", text) else 0


# --- the answer ------------------------------------------------------------------------------


def verify(path: Path, head: str = "", key: str = "") -> Result:
    """Check a record and the files beside it. `head`, `key`: 64 hex digits, "" for none.

    Raises UnreadableError where there is nothing to check.
    """
    for name, value in (("head", head), ("key", key)):
        if value and not is_hash(value):
            raise UnreadableError(f"{name}: found {shown(value)}; accepted: 64 hexadecimal digits")
    checker = Checker(head)
    checker.result.key = key
    try:
        if not path.is_file():
            raise UnreadableError(f"{path}: found no such file; accepted: an exported record.jsonl")
        with path.open("rb") as file:
            lines = iter(lambda: file.readline(LONGEST_LINE + 1), b"")
            for number, raw in enumerate(lines, start=1):
                checker.take(number, raw)
        checker.finish()
        check_files(path.parent / "files", checker.files, checker.result)
    except OSError as error:
        where = error.filename or path  # a file beside the record may be the one
        raise UnreadableError(f"{where}: cannot be read ({error.strerror})") from error
    if key and not any(signature.key == key for signature in checker.result.signatures):
        checker.result.tell(0, "", "no signature here fits the key asked for")
    return checker.result


def main(words_given: list[str] | None = None) -> int:
    """Check the record named on the command line; returns the exit code."""
    parser = argparse.ArgumentParser(description="Was anything in this record altered?")
    parser.add_argument("record", type=Path, help="the exported record.jsonl")
    parser.add_argument("--head", default="", help="a head noted earlier: is it on this chain?")
    parser.add_argument("--key", default="", help="a public key: is a signature by it?")
    given = parser.parse_args(words_given)
    head, key = ("".join(text.split()).lower() for text in (given.head, given.key))
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="backslashreplace")  # any name on any console
    try:
        result = verify(given.record, head, key)
    except UnreadableError as error:
        print(f"verify_record: {error}", file=sys.stderr)
        return 2
    try:
        print("\n".join(words(result, head)), flush=True)
    except BrokenPipeError:  # whoever reads it has read enough, such as `head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0 if result.intact else 1


if __name__ == "__main__":
    sys.exit(main())
