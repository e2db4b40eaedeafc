"""Exports crafted line by line: each is told in plain words by the verifier given away with it.

The verifier runs as its own program, as anyone would run it, and its exit code is looked at.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from advisor.record.canonical import NO_HASH, Json, canonical
from advisor.record.export import verifier_text
from advisor.record.proof import Result
from advisor.record.signing import SigningKey, make_key
from advisor.record.verify_record import verify
from tests.unit.test_verify_attacks import line, written

NOTE: dict[str, Json] = {"text": "as it was"}
#: Whole runs of a program: far over the tenth of a second that one takes.
PATIENCE_S = 60


@pytest.fixture(scope="module")
def verifier(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("verifier") / "verify_record.py"
    path.write_text(verifier_text(), encoding="utf-8")
    return path


@pytest.fixture
def lines(tmp_path: Path) -> list[bytes]:
    """Three entries and the end line of a record that fits."""
    path = written(tmp_path, [("observation", NOTE, None)] * 3)
    return path.read_bytes().splitlines()


def run(verifier: Path, folder: Path, body: bytes, *options: str) -> tuple[int, str]:
    path = folder / "record.jsonl"
    path.write_bytes(body)
    done = subprocess.run(
        [sys.executable, str(verifier), str(path), *options],
        capture_output=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert b"Traceback" not in done.stderr
    return done.returncode, (done.stdout + done.stderr).decode()


def joined(lines: Sequence[bytes], end: bytes = b"\n") -> bytes:
    return b"".join(one + end for one in lines)


def sealed(lines: Sequence[bytes]) -> bytes:
    head = hashlib.sha256(lines[-1]).hexdigest()
    return joined([*lines, canonical({"end": {"entries": len(lines), "head": head}})])


def test_as_it_is_it_is_intact(verifier: Path, tmp_path: Path, lines: list[bytes]) -> None:
    code, said = run(verifier, tmp_path, joined(lines))
    assert code == 0
    assert said.startswith("INTACT. The record holds 3 entries")


def test_what_another_program_saved_anew_is_told(
    verifier: Path, tmp_path: Path, lines: list[bytes]
) -> None:
    bodies = {
        "line 1: is not written in the canonical form: it ends in a carriage return":
            joined(lines, b"\r\n"),
        "line 1: is not JSON: it begins with a byte order mark": b"\xef\xbb\xbf" + joined(lines),
        "line 2: is not written in the canonical form: it ends in a space":
            joined([lines[0], lines[1] + b" ", *lines[2:]]),
        "line 4: is cut off: its line feed is missing": joined(lines)[:-1],
        "line 1: is not UTF-8": joined(lines).decode().encode("utf-16"),
    }  # fmt: skip
    for told, body in bodies.items():
        code, said = run(verifier, tmp_path, body)
        assert (code, told in said) == (1, True), said


@pytest.mark.parametrize(("was", "now", "told"), [
    (b'"by":"crew"', b'"by":"crew","by":"crew"', "holds the field by twice"),
    (b'"text":', b'"text":"other","text":', "holds the field text twice"),
    (b'"text":', b'"te\\u0078t":"other","text":', "holds the field text twice"),
    (b'"number":2', b'"number":-0', "field number: is not written in the canonical form"),
    (b'"number":2', b'"number":' + b"9" * 5000, "holds a number too large"),
    (b'"number":2', b'"number":2e0', "holds the number 2e0, which no entry does"),
    (b'"known":{}', b'"known":NaN', "holds the number NaN, which no entry does"),
    (b'"kind":"observation"', b'"kind":5', "field kind: is not text"),
    (b'"by":"crew"', b'"by":"cr\\ud800ew"', "holds half a character"),
    (b'"by":"crew"', b'"by":"cr\xed\xa0\x80ew"', "field by: is not UTF-8"),
    (b'"form":1', b'"form":2', "field form: is not 1, the only form this verifier knows"),
    (b"+01:00", b"+24:00", "is not a time with its offset"),
])  # fmt: skip
def test_a_line_in_a_chain_made_anew_is_told(
    verifier: Path, tmp_path: Path, lines: list[bytes], was: bytes, now: bytes, told: str
) -> None:
    assert was in lines[1]
    code, said = run(verifier, tmp_path, sealed([lines[0], lines[1].replace(was, now, 1)]))
    assert code == 1
    assert "line 2" in said
    assert told in said


@pytest.mark.parametrize("depth", [*range(28, 36), *range(484, 500), 5000])
def test_no_depth_stops_the_verifier(tmp_path: Path, depth: int) -> None:
    """At the edge of what a reader can follow a signature goes a step deeper than the reading."""
    shape = '"name":"n","public_key":"' + "a" * 64 + '","signature":"' + "b" * 128
    data = "{" + shape + '","x":' + "[" * depth + "]" * depth + "}"
    bare = line(("sign-off", {"name": "x"}, None), 1, NO_HASH)
    path = tmp_path / "record.jsonl"
    path.write_bytes(sealed([bare.replace(b'{"name":"x"}', data.encode())]))
    (problem,) = verify(path).problems
    assert problem.line == 1
    deep = problem.text == "is nested deeper than any entry"
    assert deep == (depth > 31), "inside the entry and its data"


def test_two_ends_or_heads_are_told(verifier: Path, tmp_path: Path, lines: list[bytes]) -> None:
    twice = lines[-1].replace(b'"head":', b'"head":"%s","head":' % NO_HASH.encode())
    early = sealed(lines[:2]).splitlines()[-1]
    bodies = {
        "line 5: stands after the end of the record": joined([*lines, lines[-1]]),
        "line 4, field end: holds the field head twice": joined([*lines[:-1], twice]),
        "line 4: stands after the end of the record":
            joined([*lines[:2], early, *lines[2:]]),
        "line 4, field end.entries: says 2 entries where 3 are here":
            joined([*lines[:-1], lines[-1].replace(b'"entries":3', b'"entries":2')]),
    }  # fmt: skip
    for told, body in bodies.items():
        code, said = run(verifier, tmp_path, body)
        assert (code, told in said) == (1, True), said


def test_a_tail_cut_off_with_a_new_end_is_told_by_the_head(
    verifier: Path, tmp_path: Path, lines: list[bytes]
) -> None:
    head = hashlib.sha256(lines[2]).hexdigest()
    cut = sealed(lines[:2])
    code, said = run(verifier, tmp_path, cut)
    assert code == 0
    assert "NOT PROVEN: that the whole was not made anew, or its end cut off" in said
    code, said = run(verifier, tmp_path, cut, "--head", head)
    assert code == 1
    assert "the head asked for is the hash of no entry" in said
    assert run(verifier, tmp_path, joined(lines), "--head", f" {head.upper()}\n")[0] == 0
    code, said = run(verifier, tmp_path, joined(lines), "--head", "xyz")
    assert (code, "64 hexadecimal digits" in said) == (2, True)


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    return make_key(tmp_path_factory.mktemp("keys"), "Owner")


def test_the_signature_of_another_entry_is_told(tmp_path: Path, key: SigningKey) -> None:
    path = written(tmp_path, [("sign-off", {"name": "O"}, key), ("sign-off", {"name": "O"}, key)])
    assert verify(path).intact
    first, second, _ = path.read_bytes().splitlines()
    moved = json.loads(second)
    moved["data"]["signature"] = json.loads(first)["data"]["signature"]
    path.write_bytes(sealed([first, canonical(moved)]))
    (problem,) = verify(path).problems
    assert (problem.line, problem.field) == (2, "data.signature")
    assert "does not fit the key" in problem.text


@pytest.mark.parametrize("corrects", ["01", "\u0661", "1.0", "+1", " 1", "2", "", "1" * 5000])
def test_a_correction_points_at_its_entry_by_its_number_as_it_is_written(
    tmp_path: Path, lines: list[bytes], corrects: str
) -> None:
    """Read as a number by one and as text by another, it would count for one reader only."""
    data: dict[str, Json] = {"corrects": corrects, "reason": "x",
                             "corrects_hash": hashlib.sha256(lines[0]).hexdigest()}  # fmt: skip
    path = written(tmp_path, [("observation", NOTE, None), ("correction", data, None)])
    (problem,) = verify(path).problems
    assert (problem.line, problem.field) == (2, "data.corrects")


def test_a_number_in_a_list_is_looked_at_as_one_alone(tmp_path: Path) -> None:
    """Film readings are a list: each is a number as entered, or the record was never written so."""
    kept: list[Json] = [{"value": value, "unit": "µm", "source": "typed"} for value in ("75", "8O")]
    path = written(tmp_path, [("film", {"film": "wet", "readings": kept}, None)])
    (problem,) = verify(path).problems
    assert (problem.field, problem.text) == ("data.readings.2.value", "is not a number")
    path = written(tmp_path, [("film", {"film": "wet", "readings": kept[:1]}, None)])
    assert verify(path).intact


def test_problems_are_told_in_the_order_of_lines() -> None:
    result = Result()
    for at in (7, 0, 3, 7, 5):
        result.tell(at, "", f"{len(result.problems)}")
    assert [p.line for p in result.problems] == [3, 5, 7, 7, 0]
    assert [p.text for p in result.problems if p.line == 7] == ["0", "3"]


def test_an_altered_line_before_one_without_a_fit_is_told_in_order(
    tmp_path: Path, lines: list[bytes]
) -> None:
    """The line before is blamed only once the line after was read."""
    path = tmp_path / "record.jsonl"
    altered = lines[0].replace(b"as it was", b"as it is.")
    third = lines[2].replace(b'"job":"gig"', b'"job":"gag"')
    path.write_bytes(joined([altered, lines[1], third, lines[3]]))
    told = [problem.line for problem in verify(path).problems]
    assert told == sorted(told)
    assert told[0] == 1


def test_a_file_that_cannot_be_read_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = b"\xff\xd8\xff"
    sha256 = hashlib.sha256(body).hexdigest()
    photo: dict[str, Json] = {"file_name": "bow.jpg", "sha256": sha256, "bytes": "3"}
    path = written(tmp_path, [("photo", photo, None)])
    (tmp_path / "files").mkdir()
    named = tmp_path / "files" / f"{sha256}.jpg"
    named.write_bytes(body)
    opened = Path.open

    def refused(self: Path, *args: object, **options: object) -> object:
        if self == named:
            raise PermissionError(13, "Permission denied", str(named))
        return opened(self, *args, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(Exception, match=f"{sha256}.jpg: cannot be read"):
        verify(path)
